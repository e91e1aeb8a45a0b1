"""Zones: one definition, which every part of the program uses."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from lensyard.domain.situation import RED_ZONE_FROM, Zone, zone_indices, zone_named, zone_of
from lensyard.errors import UnknownNameError
from lensyard.features.game_plan.phases import ZONES as PLAN_ZONES
from lensyard.model.evaluation.scores import check_zones
from lensyard.spots.position_rule import AHEAD_20


def test_every_line_of_scrimmage_lies_in_one_zone() -> None:
    lines = np.arange(1, 100)
    found = [zone_of(int(line)) for line in lines]
    for line, zone in zip(lines, found, strict=True):
        assert [one for one in Zone if one.low <= line <= one.high] == [zone]
    np.testing.assert_array_equal(zone_indices(lines), [list(Zone).index(zone) for zone in found])
    assert [zone.middle for zone in Zone] == [89, 69, 50, 30, 13, 3]


@pytest.mark.parametrize("zone", Zone)
def test_zones_are_named_in_short(zone: Zone) -> None:
    assert zone_named(zone.key.replace("-", " ").upper()) is zone


def test_an_unknown_zone_is_refused_with_the_names() -> None:
    with pytest.raises(UnknownNameError, match="Did you mean 'red-zone'"):
        zone_named("rad-zone")


def test_the_red_zone_is_the_same_for_plan_habit_and_calibration() -> None:
    # The calibration check began it at the 19, and its other zones a yard beside those of the plan.
    assert Zone.RED_ZONE.high == AHEAD_20.end_line_from == RED_ZONE_FROM == 20
    assert [phase.title for phase in PLAN_ZONES] == [zone.value for zone in Zone]
    ones = np.ones(99)
    forecast = SimpleNamespace(p={"touchdown": ones, "first_down": ones})
    truth = SimpleNamespace(happened={"touchdown": ones, "first_down": ones})
    batch = SimpleNamespace(yardline_100=np.arange(1, 100))
    checks = check_zones(forecast, truth, batch)  # type: ignore[arg-type]
    assert {check.zone: check.plays for check in checks} == {
        zone.value: zone.high - zone.low + 1 for zone in Zone
    }
