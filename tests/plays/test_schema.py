"""The canonical schema and its checks."""

from typing import Any

import pytest
from data.recipes.bundled_plays.build import plays_table
from data.recipes.tests.feed_games import a_short_game

from lensyard.errors import DataError
from lensyard.plays import schema

Frame = Any


@pytest.fixture
def frame():
    return plays_table(a_short_game().plays()).to_pandas()


@pytest.mark.parametrize(
    "name", ["kind", "gain_yd", "side", "touchdown", "drive_end", "end_yardline_100", "penalty"]
)
def test_what_the_play_decides_is_no_input_of_a_model(name):
    assert not schema.column(name).known_before_snap


def test_every_dimensioned_column_ends_in_its_unit():
    units = {"yd": "_yd", "s": "_s"}
    for spec in schema.COLUMNS:
        if spec.unit in units and not spec.name.endswith("yardline_100"):
            assert spec.name.endswith(units[spec.unit]), spec.name


def _set(name, value):
    def change(frame):
        changed = frame.astype({name: object})
        changed.loc[1, name] = value
        return changed.infer_objects()

    return change


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda f: f.drop(columns="down"), r"missing \['down'\]"),
        (lambda f: f.assign(extra=1), r"unexpected \['extra'\]"),
        (lambda f: f[f.columns[::-1]], "in their order"),
        (_set("down", 5), r"down is not a whole number from 0 to 4 on 1 plays"),
        (_set("yardline_100", 0), "yardline_100 is not a whole number from 1 to 99"),
        (_set("gain_yd", 1.5), "gain_yd is not a whole number"),
        (_set("gain_yd", None), "gain_yd is not a whole number"),
        (_set("game_id", None), "game_id is missing"),
        (_set("kind", "pass"), "kind is none of run, complete"),
        (_set("side", "LEFT"), "side is none of"),
        (lambda f: f.assign(down="1"), "down must be int16, is VARCHAR"),
        (lambda f: f.assign(touchdown=1), "touchdown must be bool"),
        (lambda f: f.assign(game_id=7), "game_id must be text"),
        (lambda f: f.assign(gap="end"), "gap is filled on .* plays"),
        (lambda f: f.assign(kick_distance_yd=40), "kick_distance_yd is filled on"),
    ],
)
def test_a_table_that_breaks_the_schema_is_refused_with_the_column_named(frame, change, message):
    with pytest.raises(DataError, match=message):
        schema.validate(change(frame))
