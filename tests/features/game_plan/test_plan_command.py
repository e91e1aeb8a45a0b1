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
    # Without lamps in the venue file nothing is said of light.
    assert json.loads(run(capsys, "plan", *common, "--json")[1])["light"] == []


def test_what_a_closed_end_line_costs_is_said(capsys):
    common = ("plan", "--lens", "70-200", "--lens", "400")
    whole = json.loads(run(capsys, *common, "--json")[1])
    assert whole["walking"]["open_end_line_value_share"] is None
    found = json.loads(run(capsys, *common, "--end-line-open", "6", "--json")[1])
    opened = found["walking"]["open_end_line_value_share"]
    assert opened > found["rule_card"]["plan"]["value_share"] + 0.01
    text = " ".join(run(capsys, *common, "--end-line-open", "6", "--more")[1].split())
    assert f"would have {opened:.0%} with all of it open" in text


def test_words_and_spot_of_a_row_agree_where_the_end_is_partly_closed(capsys, tmp_path):
    """At end B all but 12 yd at each corner is closed, at end A nothing is."""
    venue = tmp_path / "wall.toml"
    venue.write_text(
        'name = "Wall"\nrules = "pro"\n[[closed]]\nedge = "end B"\nfrom = 12.0\nto = 41.3\n'
        'kind = "wall"\n',
        encoding="utf-8",
    )
    found = json.loads(run(capsys, "plan", "--lens", "70-200", "--venue", str(venue), "--json")[1])
    behind = [row for row in found["zones"] if row["ahead_yd"] is None]
    assert behind
    for row in behind:
        in_yd = min(row["y_yd"], FIELD_WIDTH_YD - row["y_yd"])
        assert row["in_from_pylon_yd"] == pytest.approx(in_yd, abs=2.1)
        assert f"{row['in_from_pylon_yd']:g} yd in" in row["where"]


def test_gaps_say_what_the_figures_leave_out(capsys):
    long = ("plan", "--lens", "400", "--rules", "high-school", "--json")
    told = json.loads(run(capsys, *long)[1])["gaps"]
    assert told[0].startswith("Under 11 yd")
    assert any("high-school" in line and "college" in line for line in told)
    plain = json.loads(run(capsys, "plan", "--lens", "70-200", "--lens", "400", "--json")[1])
    assert len(plain["gaps"]) == 1  # left and right, which nobody can foresee


@pytest.fixture
def curve(capsys, tmp_path):
    code, out, err = run(
        capsys, "plan", "--lens", "70-200", "--price-curve", str(tmp_path / "a.svg"), "--json"
    )
    assert code == 0, err
    return json.loads(out)


def test_a_higher_price_walks_less_and_the_default_is_marked(curve, capsys, tmp_path):
    points = curve["points"]
    walks = [point["walk_yd_per_game"] for point in points]
    assert walks == sorted(walks, reverse=True)
    (default,) = (point for point in points if point["is_default"])
    assert default["price_per_yd"] == curve["walking"]["price_per_yd"]
    # Far beyond what a walk brings, one stands still and has less.
    free = points[0]["value_share"]
    assert points[-1]["value_share"] < free
    assert default["value_share"] > 0.9 * free
    assert {"schema_version", "kit", "walking", "evidence", "model", "cautions"} <= set(curve)
    again = ("plan", "--lens", "70-200", "--price-curve", str(tmp_path / "b.svg"))
    text = " ".join(run(capsys, *again)[1].split())
    assert text.startswith("At the default price of")
    assert "Why: the default keeps" in text
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    assert run(capsys, *again[:-1], str(tmp_path / "a.txt"))[0] == 2
