"""The page "Review": the demo where there is no log, what a game brought, files, and pictures."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from streamlit.testing.v1 import AppTest
from tests.support.logs import start

from lensyard.dashboard.controls import Controls
from lensyard.errors import InvalidInputError
from lensyard.features.captions.compute import match_captures
from lensyard.features.captions.exif import read_times
from lensyard.features.game_log.demo import DEMO_ID, demo_folder, install_demo
from lensyard.features.review import facts as review_facts
from lensyard.features.review import page as review_state
from lensyard.features.review import report as words
from lensyard.features.review.charts import (
    DistanceBar,
    ShareBar,
    ZoneBars,
    keep_curve_svg,
    zone_shares_svg,
)
from lensyard.features.review.compute import Review, review_game
from lensyard.features.review.report import review_plot_of
from lensyard.game.document import GameLog
from lensyard.game.entry import Capture
from lensyard.game.logbook import open_log
from lensyard.model.context import load_context
from lensyard.render.html import csv_text
from lensyard.render.theme import SUNLIGHT, THEMES

Open = Callable[..., AppTest]
Said = Callable[[AppTest], str]
Finished = Callable[[AppTest], AppTest]

CHOICE = review_state.CHOICE_KEY


@pytest.fixture(autouse=True, scope="module")
def _quick(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Stations far apart, so that a plan is solved in a few seconds, and kept between tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(review_facts, "STEP_YD", 10.0)
        patch.setenv("LENSYARD_CACHE_DIR", str(tmp_path_factory.mktemp("plans")))
        yield


def put_demo(folder: Path) -> None:
    with open_log(folder) as book:
        install_demo(book)


def logs_in(folder: Path) -> tuple[GameLog, ...]:
    with open_log(folder) as book:
        return book.logs()


@pytest.fixture
def demo(data_folder: Path) -> Path:
    put_demo(data_folder)
    return data_folder


@pytest.fixture(scope="module")
def review(_quick: None, tmp_path_factory: pytest.TempPathFactory) -> Review:
    folder = tmp_path_factory.mktemp("demo")
    put_demo(folder)
    return review_game(load_context(), folder=folder, own_reach=True)


# The page.


def test_without_a_log_the_demo_is_offered_and_nothing_is_made(
    open_page: Open, said: Said, data_folder: Path
) -> None:
    app = open_page("review")
    assert not app.exception
    assert "No game is in your log yet" in said(app)
    assert list(data_folder.iterdir()) == []


def test_the_demo_is_installed_with_a_tap_and_reviewed(
    open_page: Open, finished: Finished, said: Said, data_folder: Path
) -> None:
    app = open_page("review")
    app = finished(app.button(key="ly_review_demo").click().run())
    assert not app.exception
    (log,) = logs_in(data_folder)
    assert log.game.game_id == DEMO_ID
    found = review_game(load_context(), folder=data_folder)
    told = said(app)
    assert words.lead_words(found)[0] in told
    assert "missing:" in told
    assert log.game.title in told


def test_a_season_can_be_chosen_and_stands_in_the_address(
    open_page: Open, finished: Finished, said: Said, demo: Path
) -> None:
    app = finished(open_page("review"))
    assert app.selectbox(key=CHOICE).value == f"game {DEMO_ID}"
    app = finished(app.selectbox(key=CHOICE).set_value("season 2026").run())
    assert not app.exception
    assert app.query_params["season"] in ("2026", ["2026"])
    assert "season 2026" in said(app)
    again = finished(open_page("review", season="2026"))
    assert again.selectbox(key=CHOICE).value == "season 2026"


def test_the_own_reach_is_counted_beside_the_usual_one(
    open_page: Open, finished: Finished, said: Said, demo: Path
) -> None:
    app = finished(open_page("review"))
    assert "With the usual reach" not in said(app)
    app = finished(app.button_group(key="next_own_reach").set_value(True).run())
    assert "With the usual reach" in said(app)
    assert app.query_params["reach"] in ("own", ["own"])


@pytest.mark.parametrize(
    ("query", "told"),
    [({"game": "nowhere"}, "nowhere"), ({"season": "1999"}, "no game of season 1999")],
)
def test_what_is_not_in_the_log_is_a_sentence_in_place(
    open_page: Open, finished: Finished, demo: Path, query: dict[str, str], told: str
) -> None:
    app = finished(open_page("review", **query))
    assert not app.exception
    assert told in app.error[0].value.replace("\\", "")
    app = finished(app.selectbox(key=CHOICE).set_value(f"game {DEMO_ID}").run())
    assert not app.error


def test_a_game_without_plays_is_a_sentence_in_place(
    open_page: Open, finished: Finished, data_folder: Path
) -> None:
    start(data_folder)
    app = finished(open_page("review"))
    assert not app.exception
    assert "nothing to review" in app.error[0].value


def test_the_game_going_on_comes_first(demo: Path) -> None:
    start(demo)
    games = logs_in(demo)
    assert review_state.latest(games) == "g"
    assert review_state.chosen_key(Controls(), games) == "game g"
    assert review_state.chosen_key(Controls(game=DEMO_ID), games) == f"game {DEMO_ID}"
    assert review_state.chosen_key(Controls(season=2026), games) == "season 2026"


def test_a_log_that_changed_is_read_again(demo: Path) -> None:
    before = review_state.request_of(Controls(), logs_in(demo))
    assert review_state.request_of(Controls(), logs_in(demo)) == before
    start(demo)
    assert review_state.request_of(Controls(), logs_in(demo)) != before


# Its words.


def test_the_lead_says_what_the_review_counted(review: Review) -> None:
    title, sentences = words.lead_words(review)
    shares = [float(n) for n in re.findall(r"(\d+)%", title)]
    you, plan, _ = review.figures.policies
    assert shares == [pytest.approx(100 * p.p_usable, abs=0.5) for p in (you, plan)]
    low, high = review.figures.plan_over_you[1:]
    assert ("do not tell the two apart" in sentences[0]) == (low <= 0 <= high)


def test_tables_and_figures_have_a_cell_for_each_column(review: Review) -> None:
    for header, rows in (
        words.spots_table(review),
        words.rates_table(review.figures.zones, title="Zone"),
        words.rate_figures(review.figures.spots, by="spot"),
        words.policy_figures(review),
        words.keeping_figures(review),
        words.reach_table(review),
        words.play_figures(review),
    ):
        assert rows
        assert {len(row) for row in rows} == {len(header)}


def test_the_plays_as_csv_are_those_of_the_log(review: Review) -> None:
    rows = list(csv.DictReader(io.StringIO(csv_text(*words.play_figures(review)))))
    assert len(rows) == review.figures.plays
    usable = [float(row["p_usable"]) for row in rows if row["p_usable"]]
    # The share that the lead tells is the mean of these; cells have four decimals.
    assert sum(usable) / len(usable) == pytest.approx(review.figures.policies[0].p_usable, abs=1e-4)


def test_the_printed_page_is_a_pdf(review: Review) -> None:
    made = review_state.pdf_bytes(review)
    assert made.startswith(b"%PDF-")
    assert made == review_state.pdf_bytes(review)


def test_spots_are_named_and_lie_where_the_log_says(review: Review) -> None:
    assert words.place_of("left:opp29") == "offense's left sideline, opponent's 29"
    assert words.place_of("on the roof") == "on the roof"
    # The opponent's 29 is 29 yards before its goal line, at x = 110; stations are a yard apart.
    point = words.point_of("left:opp29")
    assert point is not None
    assert point.x_yd == pytest.approx(81.0, abs=0.51)
    assert point.y_yd > 160 / 3
    marks = words.spots_picture(review).spots
    assert [mark.rank for mark in marks] == list(range(1, len(marks) + 1))
    plays = [spot.plays for spot in review.figures.spots]
    assert plays == sorted(plays, reverse=True)


def test_where_keepers_were_not_noted_nothing_is_said_of_keeping(review: Review) -> None:
    none = replace(review.figures.overall.kept, plays=0.0, hits=0.0)
    group = replace(review.figures.overall, kept=none)
    assert words.rates_table([group], title="Spot")[1][0][-1] == "not noted"
    assert words.rate_figures([group], by="spot")[1][0][-3:] == (None, None, None)
    bare = replace(review, figures=replace(review.figures, keep=None, reach=None))
    assert "nothing is said about keeping" in " ".join(words.lead_words(bare)[1])
    assert "needs plays with keepers" in words.reach_words(bare)[0]


def test_capture_times_are_summed_up(demo: Path, review: Review) -> None:
    (log,) = logs_in(demo)
    assert "No capture times are matched yet" in " ".join(words.frame_lines(review, [log]))
    times = read_times(demo_folder() / "times.csv")
    answer = match_captures(log, times, offsets={}, find_clocks=True)
    with open_log(demo) as book:
        book.set_captures(log, answer.counted, answer.captures)
    (log,) = logs_in(demo)
    told = " ".join(words.frame_lines(review, [log]))
    assert f"{answer.frames_in_plays:,} in {answer.plays_with_frames} plays" in told
    # What the demo's cameras are off by, corrected to within a frame or two.
    for body, seconds in (("Invented One 0001", 47.3), ("Invented Two 0002", -3605.5)):
        shown = float(re.search(rf"{body}: .*? by ([+-][\d.]+) s", told)[1])  # type: ignore[index]
        assert shown == pytest.approx(seconds, abs=2.0)


def test_captures_outside_every_play_ask_for_the_clocks(demo: Path) -> None:
    (log,) = logs_in(demo)
    start = datetime(2026, 10, 3, 12, tzinfo=UTC)
    lost = Capture("a.jpg", start, start + timedelta(seconds=5))
    (line, camera) = words.capture_lines(replace(log, captures=(lost,)))
    assert "check the cameras' clocks" in line
    assert "corrected by +5.0 s" in camera


# Its pictures.


def share(p: float) -> ShareBar:
    return ShareBar(p, max(p - 0.2, 0.0), min(p + 0.2, 1.0))


@pytest.mark.parametrize("theme", THEMES.values(), ids=list(THEMES))
@pytest.mark.parametrize("wide", [True, False])
def test_shares_lie_on_one_scale(theme: Any, wide: bool) -> None:
    zones = [ZoneBars("red zone", 6, 0.5, share(0.25), share(0.75))]
    tree = ElementTree.fromstring(zone_shares_svg(zones, kept=True, theme=theme, wide=wide))
    ring = [float(e.attrib["cx"]) for e in tree.iter() if e.tag.endswith("circle")][-1]
    bar = [e.attrib for e in tree.iter() if e.tag.endswith("rect")][-1]
    start, width = float(bar["x"]), float(bar["width"])
    # A quarter lies half way along a bar of one half.
    assert ring - start == pytest.approx(width / 2, abs=0.2)


def test_kept_is_left_out_where_it_is_not_known() -> None:
    zones = [ZoneBars("red zone", 6, 0.5, share(0.25), share(0.75))]
    told = zone_shares_svg(zones, kept=False, theme=SUNLIGHT)
    assert "kept" not in told
    assert "kept" in zone_shares_svg(zones, kept=True, theme=SUNLIGHT)


@pytest.mark.parametrize("wide", [True, False])
def test_reach_lines_stand_at_their_distance(wide: bool) -> None:
    bars = [DistanceBar(0, 10, share(0.9), 0.9), DistanceBar(10, 20, share(0.5), 0.5)]
    svg = keep_curve_svg(bars, default_reach_yd=40.0, own_reach_yd=20.0, theme=SUNLIGHT, wide=wide)
    tree = ElementTree.fromstring(svg)
    upright = [
        float(e.attrib["x1"])
        for e in tree.iter()
        if e.tag.endswith("line") and e.attrib["x1"] == e.attrib["x2"]
    ]
    zero = next(float(e.attrib["x1"]) for e in tree.iter() if e.tag.endswith("line"))
    assert upright[1] - zero == pytest.approx((upright[0] - zero) / 2, abs=0.2)
    assert svg.count("stroke-dasharray") == 2  # the own reach, and the falling curve


def test_no_curve_where_one_band_speaks_against_it() -> None:
    bars = [DistanceBar(0, 10, share(0.2), None), DistanceBar(10, 20, share(0.9), None)]
    svg = keep_curve_svg(bars, default_reach_yd=40.0, own_reach_yd=None, theme=SUNLIGHT)
    assert "stroke-dasharray" not in svg


def test_the_pictures_of_a_real_review_are_whole(review: Review) -> None:
    plot = review_plot_of(review)
    for svg in (
        zone_shares_svg(plot.zones, kept=True, theme=SUNLIGHT),
        keep_curve_svg(
            plot.distances,
            default_reach_yd=plot.default_reach_yd,
            own_reach_yd=plot.own_reach_yd,
            theme=SUNLIGHT,
        ),
    ):
        told = " ".join(e.text or "" for e in ElementTree.fromstring(svg).iter())
        assert "nan" not in svg.lower()
        assert told.strip()


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(InvalidInputError, match="at least one"):
        zone_shares_svg([], kept=True, theme=SUNLIGHT)
    with pytest.raises(InvalidInputError, match="at least one"):
        keep_curve_svg([], default_reach_yd=40.0, own_reach_yd=None, theme=SUNLIGHT)
