"""``lensyard next --play``, and what stands behind its spots."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from lensyard.domain.assignment import Faces
from lensyard.domain.field import RULES
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import SituationBatch
from lensyard.domain.venue import standard_venue
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.model.paths import PathMasses
from lensyard.plays.store import load_plays
from lensyard.spots import kicks
from lensyard.spots.scorer import Scorer

Run = Callable[..., tuple[int, str, str]]
Document = Callable[..., dict[str, Any]]
KICKS = ("kickoff", "punt", "field-goal", "try", "free-kick")


@pytest.mark.parametrize("play", KICKS)
@pytest.mark.parametrize("rules", list(RULES))
def test_every_kick_names_open_places_clear_of_the_goal(
    document: Document, play: str, rules: str
) -> None:
    ball = ("--ball", "opp22") if play == "field-goal" else ()
    found = document("next", "--play", play, "--rules", rules, *ball)
    assert found["situation"]["play"] == play
    assert found["spots"]
    assert any("decide" in caution for caution in found["cautions"])
    perimeter = perimeter_of(standard_venue(rules), step_yd=1.0)
    for spot in found["spots"]:
        away = np.hypot(perimeter.x_yd - spot["x_yd"], perimeter.y_yd - spot["y_yd"])
        assert perimeter.open[away.argmin()], spot["label"]
        half = RULES[rules].goal_width_yd / 2
        behind = spot["x_yd"] > 120
        assert not behind or abs(spot["y_yd"] - 80 / 3) >= half + 3 - 1e-6 or not found["practice"]
    assert found["practice"] == (play in ("field-goal", "try"))


def test_a_high_school_kickoff_comes_from_its_40_and_says_what_was_counted(run: Run) -> None:
    code, out, err = run("next", "--play", "kickoff", "--rules", "high-school")
    assert (code, err) == (0, "")
    words = " ".join(out.split())
    assert words.startswith("Kickoff from its own 40: stand on the ")
    assert "Counted on professional kickoffs from the 35 and moved to the 40" in words
    assert "were returned" not in words


def test_practice_is_marked_and_fakes_and_the_net_are_cautions(run: Run) -> None:
    _, out, _ = run("next", "--play", "field-goal", "--ball", "opp22")
    words = " ".join(out.split())
    assert words.startswith("Field goal from the opponent's 22 (40 yd): stand on the ")
    assert "common practice, from memory" in words
    assert "Keep clear of the posts and the net" in words
    assert "fakes and blocks" in words


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--play", "field-goal"), "say --ball"),
        (("--play", "field-goal", "--ball", "own10"), "nobody tries one"),
        (("--ball", "own20"), "--down and --ball"),
    ],
)
def test_a_kick_that_cannot_be_is_refused(
    run: Run, arguments: tuple[str, ...], message: str
) -> None:
    code, _, err = run("next", *arguments)
    assert code == 2
    assert message in err


def test_a_walk_is_counted_from_where_one_stands(document: Document) -> None:
    found = document("next", "--play", "kickoff", "--standing", "left:own30")
    assert all(spot["walk_yd"] is not None for spot in found["spots"])


def _scorer() -> Scorer:
    return Scorer(perimeter_of(standard_venue("pro"), step_yd=2.0), kit_of(["70-200", "400"]))


def test_frames_of_a_kick_have_mass_one_and_moving_them_keeps_it() -> None:
    model = load_context().kicks()
    for line in (40, 55, 67, 80, 95):
        frames = kicks.punt_frames(model.punt(yardline_100=line), yardline_100=line)
        assert frames.both.sum() == pytest.approx(1.0, abs=1e-5)
    for line in (20, 35, 40, 50):
        frames = kicks.kickoff_frames(model, from_yard_line=line)
        assert frames.both.sum() == pytest.approx(1.0, abs=1e-5)
        assert frames.both[111:].sum() == 0.0
    near, far = (kicks.kickoff_frames(model, from_yard_line=line).both for line in (35, 40))
    along = np.arange(121)
    assert (far.sum(axis=1) @ along) - (near.sum(axis=1) @ along) == pytest.approx(5.0, abs=0.1)


def return_ends(kind: str, season: int) -> tuple[np.ndarray, np.ndarray]:
    """Where returns end, predicted and counted: shares of all such kicks, shape (121,) each."""
    plays, model = (
        load_plays(seasons=[season], season_type="REG", kinds=[kind]),
        load_context(BASE_MODEL).kicks(),
    )
    if kind == "kickoff":
        line = 100 - round(float(model.kickoff_yard_line[0]))
        plays = plays[plays["yardline_100"].to_numpy() == line]
        predicted = kicks.return_ends(model.kickoff())
    else:
        outlooks = [model.punt(yardline_100=int(y)) for y in plays["yardline_100"]]
        predicted = np.mean([kicks.return_ends(outlook) for outlook in outlooks], axis=0)
    end = 110 - plays["end_yardline_100"].to_numpy(float)
    end = np.where(plays["return_touchdown"].to_numpy(bool), 9.0, end)
    alive = ~np.isin(plays["kick_result"].to_numpy(), ["touchback", "out_of_bounds"])
    end = end[alive & ~np.isnan(end)]
    places = np.clip(np.round(end), 0, 109).astype(int)
    return predicted, np.bincount(places, minlength=121) / len(plays)


def in_reach(scorer: Scorer, *ends: np.ndarray) -> np.ndarray:
    """Share of kicks whose return ends in reach of each open station, shape (k, stations)."""
    masses = np.zeros((len(ends), 121, 18), dtype=np.float32)
    masses[:, :, 1:-1] = np.stack(ends)[:, :, None] / 16
    found = scorer.showing(Faces.DEFENSE).expected_value(PathMasses.of_points(masses))
    return found[:, scorer.open]


@pytest.mark.statistical
@pytest.mark.parametrize("kind", ["kickoff", "punt"])
def test_kicks_in_reach_of_a_spot_are_as_many_as_predicted_on_the_held_out_season(
    kind: str,
) -> None:
    # The bar: 2 points at every open station, over the season.
    shares = in_reach(_scorer(), *return_ends(kind, 2019))
    assert shares[0].max() > 0.08
    assert np.abs(shares[0] - shares[1]).max() <= 0.02


def test_kicks_count_by_how_likely_they_are_on_fourth_down() -> None:
    context, scorer = load_context(), _scorer()
    batch = SituationBatch.neutral(
        down=np.array([4]), distance_yd=np.array([8]), yardline_100=np.array([22])
    )
    found = kicks.kicks_of(context, context.model.forecast(batch), scorer)
    assert found is not None
    go, punt, kick = found.choice[0]
    assert go + punt + kick == pytest.approx(1.0)
    assert kick > 0.7
    x, y = scorer.xy_yd
    behind = (x > 120) & (np.abs(y - 80 / 3) < 6)
    assert found.field_goal[0, behind].max() == 0.0
    np.testing.assert_allclose(
        found.mixed(np.full((1, len(scorer.perimeter)), 0.5)),
        go * 0.5 + punt * found.punt + kick * found.field_goal,
    )


def _words(run: Run, *arguments: str) -> str:
    code, out, err = run("next", *arguments)
    assert (code, err) == (0, "")
    return " ".join(out.split())


@pytest.mark.parametrize("rules", list(RULES))
def test_a_fourth_down_in_range_reads_as_a_colleague_says_it(
    run: Run, document: Document, rules: str
) -> None:
    play = ("--down", "4", "--distance", "8", "--ball", "opp22", "--rules", rules)
    words = _words(run, *play)
    assert words.startswith("Field goal likely (")
    assert "common practice, from memory" in words
    assert "keep clear of the posts, the net" in words
    assert "Keep clear of the posts and the net" in _words(run, *play, "--more")
    found = document("next", *play)
    choice = found["outcome"]["play"]
    assert set(choice) == {"p_go", "p_punt", "p_field_goal"}
    assert sum(choice.values()) == pytest.approx(1.0, abs=1e-6)
    for spot in found["spots"]:
        beside = abs(spot["y_yd"] - 80 / 3) < RULES[rules].goal_width_yd / 2 + 3
        assert not (spot["x_yd"] > 120 and beside), spot["label"]


def test_a_fourth_down_out_of_range_is_a_punt_and_third_down_says_nothing_of_kicks(
    run: Run, document: Document
) -> None:
    words = _words(run, "--down", "4", "--distance", "12", "--ball", "own38")
    assert words.startswith("Punt likely (")
    assert "Of a punt the return comes back at you" in words
    assert "Field goal" not in words
    third = ("--down", "3", "--distance", "12", "--ball", "own38")
    assert "Punt likely" not in _words(run, *third)
    assert document("next", *third)["outcome"]["play"] is None


def test_score_and_clock_change_what_comes_on_fourth_down(document: Document) -> None:
    play = ("next", "--down", "4", "--distance", "4", "--ball", "opp30")
    early = document(*play)["outcome"]["play"]
    late = ("--quarter", "4", "--clock", "1:00")
    desperate = document(*play, *late, "--score", "-6")["outcome"]["play"]
    assert early["p_field_goal"] > 0.7
    assert desperate["p_go"] > 0.7  # three points would not do


@pytest.mark.parametrize("model", [BASE_MODEL, "pro", "college"])
def test_no_drive_ends_in_a_touchdown_from_fourth_and_20_or_more_deep(model: str) -> None:
    distance, line = (a.ravel() for a in np.mgrid[20:41, 80:100])
    batch = SituationBatch.neutral(
        down=np.full(line.shape, 4), distance_yd=np.minimum(distance, line), yardline_100=line
    )
    assert load_context(model).model.forecast(batch).p_drive_outcome[:, 0].max() < 0.03


def test_a_drive_from_deep_on_fourth_and_very_long_ends_with_a_punt(document: Document) -> None:
    found = document("next", "--down", "4", "--distance", "30", "--ball", "own5")
    assert found["outcome"]["drive"]["p_touchdown"] < 0.03
    assert found["outcome"]["drive"]["p_punt"] > 0.9
