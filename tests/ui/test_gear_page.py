"""The page "Gear": what is compared, what it says of a comparison, and its pictures."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from streamlit.testing.v1 import AppTest

from lensyard.dashboard.address import from_address, to_address
from lensyard.dashboard.controls import Controls
from lensyard.domain.kit import parse_kit
from lensyard.errors import InvalidInputError
from lensyard.features.gear import page as gear_state
from lensyard.features.gear import report as words
from lensyard.features.gear.charts import (
    BandRow,
    GainRow,
    ZoneBarGroup,
    bands_svg,
    gain_rows_svg,
    zone_bars_svg,
)
from lensyard.features.gear.compare import GearReport, KitFigures, KitZone, gains_over_first
from lensyard.model.context import load_context
from lensyard.planner.season import Evidence
from lensyard.render.html import csv_text
from lensyard.render.theme import SUNLIGHT, THEMES

Open = Callable[..., AppTest]
Said = Callable[[AppTest], str]
Finished = Callable[[AppTest], AppTest]

ZONES = ("own 21-40", "red zone 20-6")
GAMES = 12


def figures(kit: str, usable: tuple[float, float]) -> KitFigures:
    """Invented figures of a kit: usable plays a game of ten in each zone."""
    parsed = parse_kit(kit)
    total = sum(usable)
    return KitFigures(
        kit=parsed.text,
        reach_yd=parsed.reach_yd,
        coverage_gaps_yd=parsed.coverage_gaps_yd(),
        gap_plays_per_game=1.5,
        changes_lenses=parsed.bodies < len(parsed.mounted),
        usable_per_game=total,
        p_usable=total / 20.0,
        value_per_game=2 * total,
        value_share=total / 20.0,
        p_usable_touchdown=0.5,
        walk_yd_per_game=1000.0,
        zones=tuple(
            KitZone(zone, 10.0, n, n / 10.0, 2 * n, n / 10.0)
            for zone, n in zip(ZONES, usable, strict=True)
        ),
        usable_by_game=(total - 0.5, total + 0.5) * (GAMES // 2),
        value_by_game=(2 * total,) * GAMES,
    )


def report_of(*kits: tuple[str, tuple[float, float]]) -> GearReport:
    found = tuple(figures(kit, usable) for kit, usable in kits)
    return GearReport(
        venue="any pro field",
        assignment="offense",
        kits=found,
        gains=gains_over_first(found),
        light=tuple(() for _ in found),
        evidence=Evidence(2019, GAMES, 240, True),
        cautions=("Mind the sideline.",),
        model=load_context().model_facts(),
    )


@pytest.fixture
def report() -> GearReport:
    return report_of(("70-200", (3.0, 5.0)), ("400", (6.0, 2.5)), ("70-200 + 400", (6.5, 7.0)))


# What is compared.


def test_one_kit_alone_is_compared_with_what_one_usually_thinks_of_next() -> None:
    request = gear_state.request_of(Controls())
    assert request.kits[0].text.startswith("70-200 + 400 (2 bodies")
    assert len(request.kits) == 4  # 24-70, 300, and a converter; 400 is there already


@pytest.mark.parametrize(
    "controls",
    [
        Controls(),
        Controls(lenses="70-200, 300", converter=1.4),
        Controls(lenses="70-200, 400", crop_factors="1, 1.5"),
        Controls(lenses="24-70, 70-200, 400", bodies=2),
    ],
)
def test_the_first_kit_is_the_own_one(controls: Controls) -> None:
    first = gear_state.request_of(replace(controls, kits="600")).kits[0]
    own = controls.kit()
    assert (first.text, first.bodies) == (own.text, own.bodies)
    assert first.coverage_gaps_yd() == own.coverage_gaps_yd()


@pytest.mark.parametrize("what", [*gear_state.ADDED, gear_state.CONVERTER])
def test_what_is_added_with_a_tap_is_a_kit_that_can_be_read(what: str) -> None:
    line = gear_state.with_added(Controls(lenses="70-200", kits="400"), what).splitlines()[1]
    own = Controls(lenses="70-200").kit()
    more = parse_kit(line)
    assert len(more.mounted) - len(own.mounted) == (what != gear_state.CONVERTER)
    assert more.bodies == len(more.mounted)


def test_a_line_is_added_once() -> None:
    controls = Controls(lenses="70-200")
    once = gear_state.with_added(controls, "300")
    assert gear_state.with_added(replace(controls, kits=once), "300") == once


@given(
    kits=st.lists(st.sampled_from(["400", "70-200 + 300 x1.4", "70-200 on 1.5"]), max_size=4),
    carried=st.lists(st.sampled_from(["24-70 + 70-200", "600, 1 body"]), max_size=3),
    shooters=st.integers(2, 6),
    whole_game=st.booleans(),
    game=st.sampled_from(["", "demo", "2026-10-03-kites-marmots"]),
    season=st.none() | st.integers(1920, 2100),
    own_reach=st.booleans(),
)
def test_an_address_leads_back_to_these_pages(
    kits: list[str], carried: list[str], **chosen: Any
) -> None:
    controls = Controls(kits="\n".join(kits), carried="\n".join(carried), **chosen)
    address = from_address(to_address(controls))
    assert address.controls == controls
    assert address.problems == ()


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ({"shooters": ["0"]}, "Shooters must be between 1 and 12"),
        ({"crew": ["match"]}, "Crew must be one of play, game"),
        ({"season": ["soon"]}, "a whole number from 1900 to 2200"),
        ({"reach": ["long"]}, "Reach must be one of usual, own"),
        ({"kit": ["wide"]}, "lenses joined by +"),
        ({"carried": ["4000000"]}, "must be between"),
    ],
)
def test_a_bad_address_of_these_pages_is_told(query: dict[str, list[str]], told: str) -> None:
    address = from_address(query)
    assert told in " ".join(address.problems)
    assert address.controls == Controls()


# The page.


@pytest.fixture
def compared(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, ...]]:
    """What the service was asked, answered with invented figures."""
    asked: list[tuple[str, ...]] = []

    def answer(_: object, kits: Any, **how: Any) -> GearReport:
        asked.append(tuple(kit.text for kit in kits))
        how["progress"]("a plan")
        made = report_of(*((kit.text, (3.0 + i, 5.0)) for i, kit in enumerate(kits)))
        return replace(made, venue=how["venue"].name)

    monkeypatch.setattr(gear_state, "gear_report", answer)
    return asked


def test_the_page_compares_and_says_the_best_kit(
    open_page: Open, finished: Finished, said: Said, compared: list[tuple[str, ...]]
) -> None:
    app = finished(open_page("gear", lens="100-400", kit=["600", "200 x1.4"], rules="college"))
    assert not app.exception
    assert [text.split(" (")[0] for text in compared[-1]] == ["100-400", "600", "200 x1.4"]
    assert "200 x1.4 (1 body, reach 28 yd) brings the most" in said(app)
    assert "any college field" in said(app)
    assert app.text_area(key="next_kits").value == "600\n200 x1.4"


def test_a_tap_adds_a_kit_and_the_address_keeps_it(
    open_page: Open, finished: Finished, compared: list[tuple[str, ...]]
) -> None:
    app = finished(open_page("gear", lens="135"))
    app = finished(app.button(key="ly_add_400").click().run())
    assert [text.split(",")[0] for text in compared[-1]] == ["135 (1 body", "135 + 400 (2 bodies"]
    assert app.query_params["kit"] in ("135 + 400 (2 bodies)", ["135 + 400 (2 bodies)"])
    app = finished(app.button(key="ly_gear_clear").click().run())
    assert "kit" not in app.query_params


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("wide", "Cannot read"),
        ("\n".join(str(mm) for mm in range(100, 1000, 100)), "at most 8 kits"),
    ],
)
def test_what_is_no_kit_is_a_sentence_in_place(
    open_page: Open,
    finished: Finished,
    compared: list[tuple[str, ...]],
    lines: str,
    told: str,
) -> None:
    app = finished(open_page("gear", lens="50"))
    app.text_area(key="next_kits").set_value(lines).run()
    assert not app.exception
    assert told.lower() in app.error[0].value.replace("\\", "").lower()


def test_an_address_with_a_bad_kit_is_told(
    open_page: Open, finished: Finished, compared: list[tuple[str, ...]]
) -> None:
    app = finished(open_page("gear", kit="wide angle"))
    assert not app.exception
    assert "Cannot read" in app.warning[0].value


# Its words.


def test_the_lead_says_what_the_best_kit_adds(report: GearReport) -> None:
    title, sentences = words.lead_words(report)
    assert title == "70-200 + 400 (2 bodies, reach 40 yd) brings the most"
    # 13.5 usable plays with it, 8.0 with the first.
    assert "5.5 more usable plays a game" in sentences[0]


def test_it_is_said_where_nothing_brings_notably_more() -> None:
    title, sentences = words.lead_words(
        report_of(("400", (6.0, 6.0)), ("400 + 24-70", (6.0, 6.1)), ("200", (1.0, 1.0)))
    )
    assert title == "None of these brings more than your own kit, 400 (1 body, reach 40 yd)"
    assert "No notable change with B" in sentences[1]


def test_tables_have_a_cell_for_each_column(report: GearReport) -> None:
    for header, rows in (
        words.totals_table(report),
        words.value_table(report),
        words.zone_figures(report),
        words.gain_figures(report),
        words.band_figures(report),
    ):
        assert rows
        assert {len(row) for row in rows} == {len(header)}


def test_the_figures_of_the_zones_are_the_reports(report: GearReport) -> None:
    rows = list(csv.DictReader(io.StringIO(csv_text(*words.zone_figures(report)))))
    assert [(row["zone"], float(row["usable_per_game"])) for row in rows] == [
        (zone.zone, zone.usable_per_game) for kit in report.kits for zone in kit.zones
    ]


def test_the_hole_of_a_long_prime_is_said(report: GearReport) -> None:
    # A player 0.915 m wide overflows the 36 mm of a 400 mm lens nearer than 400 x 0.915 / 36 m,
    # 11.1 yd (pinhole).
    told = words.bands_said(report)
    assert "B: under 11 yd no lens of it works" in told
    assert "A: under" not in told


# Its pictures.


def rects(svg: str) -> list[dict[str, str]]:
    return [e.attrib for e in ElementTree.fromstring(svg).iter() if e.tag.endswith("rect")]


def words_in(svg: str) -> str:
    return " ".join(e.text or "" for e in ElementTree.fromstring(svg).iter() if e.text)


@pytest.mark.parametrize("theme", THEMES.values(), ids=list(THEMES))
@pytest.mark.parametrize("wide", [True, False])
def test_bars_are_as_long_as_their_plays(report: GearReport, theme: Any, wide: bool) -> None:
    svg = zone_bars_svg(words.zone_groups(report), words.names_of(report), theme=theme, wide=wide)
    outlines = [float(r["width"]) for r in rects(svg) if r.get("fill") == "none"]
    bars = [float(r["width"]) for r in rects(svg)[1:] if r.get("fill") != "none"]
    usable = [n for group in words.zone_groups(report) for n in group.usable_per_game]
    for outline, bar, n in zip(outlines, bars, usable, strict=True):
        # Coordinates have one decimal.
        assert bar / outline == pytest.approx(n / 10.0, abs=0.2 / outline)


def test_most_of_a_zone_has_the_accent() -> None:
    svg = zone_bars_svg(
        [ZoneBarGroup("red zone", 10.0, (2.0, 4.0))], ["70-200", "400"], theme=SUNLIGHT
    )
    fills = [r["fill"] for r in rects(svg)[1:] if r.get("fill") != "none"]
    assert fills == [SUNLIGHT.ink_soft, SUNLIGHT.accent]


@pytest.mark.parametrize("wide", [True, False])
def test_gains_lie_on_the_right_side_of_no_gain(wide: bool) -> None:
    rows = [GainRow("B: 400", -2.0, -3.0, -1.0), GainRow("C: 600", 4.0, 3.0, 5.0)]
    tree = ElementTree.fromstring(gain_rows_svg(rows, theme=SUNLIGHT, wide=wide))
    zero = next(float(e.attrib["x1"]) for e in tree.iter() if "stroke-dasharray" in e.attrib)
    dots = [float(e.attrib["cx"]) for e in tree.iter() if e.tag.endswith("circle")]
    assert dots[0] < zero < dots[1]
    # Twice as far to the right as to the left, to the tenth of a pixel that is drawn.
    assert (dots[1] - zero) == pytest.approx(2 * (zero - dots[0]), abs=0.4)


def test_no_gain_at_all_can_be_drawn() -> None:
    assert "+0.0" in words_in(gain_rows_svg([GainRow("B", 0.0, 0.0, 0.0)], theme=SUNLIGHT))


@pytest.mark.parametrize("wide", [True, False])
def test_a_hole_is_drawn_where_it_is(wide: bool) -> None:
    svg = bands_svg([BandRow("A: 400", 40.0, ((0.0, 10.0),))], theme=SUNLIGHT, wide=wide)
    band = next(float(r["width"]) for r in rects(svg) if r.get("fill") == SUNLIGHT.accent)
    hole = next(r for r in rects(svg) if r.get("fill") == "url(#hole)")
    assert float(hole["x"]) == 0.0
    assert float(hole["width"]) == pytest.approx(band / 4, abs=0.1)


@pytest.mark.parametrize("wide", [True, False])
def test_names_of_kits_are_text_and_never_markup(wide: bool) -> None:
    name = "A: <b>400</b> & more"
    for svg in (
        bands_svg([BandRow(name, 40.0, ())], theme=SUNLIGHT, wide=wide),
        gain_rows_svg([GainRow(name, 1.0, 0.0, 2.0)], theme=SUNLIGHT, wide=wide),
        zone_bars_svg([ZoneBarGroup(name, 5.0, (1.0,))], [name], theme=SUNLIGHT, wide=wide),
    ):
        assert name in words_in(svg)
        assert not re.search(r"<b>", svg)


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(InvalidInputError, match="2 bars each"):
        zone_bars_svg([ZoneBarGroup("z", 5.0, (1.0,))], ["a", "b"], theme=SUNLIGHT)
    with pytest.raises(InvalidInputError, match="1 to 8 kits"):
        bands_svg([], theme=SUNLIGHT)
    with pytest.raises(InvalidInputError, match="inside its interval"):
        GainRow("a", 3.0, 0.0, 2.0)
