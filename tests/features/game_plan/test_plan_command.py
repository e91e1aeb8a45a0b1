"""``lensyard plan`` from the outside, over part of a season."""

import json

import numpy as np
import pytest
from tests.support.field import FIELD_WIDTH_YD
from tests.support.logs import run
from tests.support.part_of_season import part_of_season

from lensyard.domain.perimeter import perimeter_of
from lensyard.planner import season_data
from lensyard.settings.files import load_venue

STEP_YD = 2.0

pytestmark = pytest.mark.slow


@pytest.fixture(autouse=True)
def _part_of_a_season(monkeypatch):
    plays = part_of_season(games=12, training_games=6)
    monkeypatch.setattr(season_data, "stored_season", lambda *_: plays)


def test_plan_says_what_to_remember_first_and_the_json_is_one_document(capsys):
    common = ("plan", "--lens", "70-200", "--lens", "400", "--assignment", "newspaper")
    code, out, err = run(capsys, *common)
    assert code == 0
    assert out.startswith("To remember: stand ")
    for part in ("red zone", "inside the 5", "Exceptions", "Kicking plays", "Shot list"):
        assert part in out
    assert "…" in err  # what takes a while is said on standard error
    code, out, err = run(capsys, *common, "--json")
    document = json.loads(out)
    assert (code, err) == (0, "")  # at hand by now
    assert document["assignment"] == "newspaper"
    assert {row["key"] for row in document["must_have"]} >= {"drop-back", "touchdown", "handshake"}


def test_a_row_for_each_end_where_they_differ_and_none_in_a_closed_place(capsys):
    """Tamarack Fork: a student section at the creek end's home side, a wall at the road end."""
    common = ("plan", "--lens", "70-200", "--lens", "400", "--venue", "tamarack-fork")
    code, out, _ = run(capsys, *common, "--json")
    assert code == 0
    document, venue = json.loads(out), load_venue("tamarack-fork")
    assert {end["toward"] for end in document["rule_card"]["ends"]} <= {"", *venue.end_names}
    rows = [*document["zones"], *document["phases"]]
    assert {row["toward"] for row in rows} >= set(venue.end_names)
    perimeter = perimeter_of(venue, step_yd=STEP_YD)
    for row in rows:
        ends = [row["toward"]] if row["toward"] else venue.end_names
        for end in ends:
            x, y = perimeter.play_xy_yd(venue.toward(end))
            across = not row["toward"] and end != venue.end_names[1]
            place_y = FIELD_WIDTH_YD - row["y_yd"] if across else row["y_yd"]
            station = np.hypot(x - row["x_yd"], y - place_y).argmin()
            assert perimeter.open[station], (row["title"], end)
    # One table of places in the short answer; it says the ends, and the habit by its name.
    text = run(capsys, *common)[1]
    assert text.count("Where to stand") == 1
    column = " ".join(line[:18].strip() for line in text.splitlines())
    assert "toward the road end" in column


def test_no_row_of_the_plan_has_less_than_the_habit_and_hides_it(capsys):
    common = ("plan", "--lens", "70-200", "--faces", "defense")
    document = json.loads(run(capsys, *common, "--json")[1])
    text = " ".join(run(capsys, *common, "--more")[1].split())
    taken = [row for row in document["zones"] if row["plan_value_share"] is not None]
    for row in document["zones"]:
        if row in taken:
            assert row["value_share"] > row["plan_value_share"]
    losing = [r for r in document["zones"] if r["habit_value_share"] > r["value_share"]]
    assert text.count("the habit has more here, but not coming from") >= len(losing) - len(taken)
    assert text.count("the habit, which has more here than the plan") >= len(taken)


def test_plan_under_lamps_of_20_footcandles_tells_a_kit_that_cannot_freeze_action(capsys, tmp_path):
    venue = tmp_path / "lamps.toml"
    venue.write_text(
        'name = "Lamps"\nrules = "pro"\n[floodlights]\nclass = "class-4"\n', encoding="utf-8"
    )
    common = ("--lens", "70-200", "--lens", "400", "--assignment", "newspaper")
    code, out, _ = run(capsys, "plan", *common, "--venue", str(venue))
    assert code == 0
    assert "Under the floodlights alone, 215 lx (20 footcandles" in " ".join(out.split())
    code, out, _ = run(capsys, "plan", *common, "--venue", str(venue), "--iso-max", "51200")
    assert "Light for this kit" not in out
