"""An invented play for the views: 3rd and 7 at the opponent's 35, left hash."""

from dataclasses import replace

import numpy as np
import pytest
from tests.support.field import FIELD_WIDTH_YD

from lensyard.domain.field import Direction, HashMark, PlayPoint
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import spot_label
from lensyard.domain.venue import standard_venue
from lensyard.render.field.picture import (
    FieldPicture,
    ReachRing,
    SpotMark,
    SpotRole,
    station_marks,
)

X_CELLS = np.arange(121.0)[:, None]
Y_CELLS = ((np.arange(18.0) + 0.5) * FIELD_WIDTH_YD / 18)[None, :]


def blob(x_yd, y_yd, *, wide_x_yd, wide_y_yd):
    """A Gaussian mass on the cells, shape (121, 18), sum 1."""
    mass = np.exp(
        -0.5 * ((X_CELLS - x_yd) / wide_x_yd) ** 2 - 0.5 * ((Y_CELLS - y_yd) / wide_y_yd) ** 2
    )
    return np.asarray(mass / mass.sum())


def spot(x_yd, y_yd, rank, p, role):
    """A mark with its own label."""
    return SpotMark(x_yd, y_yd, rank, spot_label(x_yd=x_yd, y_yd=y_yd), p, role, station=7)


def example_picture(rules_name="pro", direction=Direction.TOWARD_B, **changes):
    """The invented play as a picture with everything in it."""
    venue = standard_venue(rules_name)
    side, end = venue.side_setback_yd, venue.end_setback_yd
    left, right = FIELD_WIDTH_YD + side, -side
    picture = FieldPicture(
        rules=venue.rules,
        ball=PlayPoint(75.0, venue.rules.ball_y_yd(HashMark.LEFT)),
        line_to_gain_x_yd=82.0,
        mass=0.7 * blob(80, 28, wide_x_yd=5, wide_y_yd=9)
        + 0.3 * blob(92, 30, wide_x_yd=9, wide_y_yd=14),
        spots=(
            spot(92, left, 1, 0.583, SpotRole.BEST),
            spot(98, right, 2, 0.566, SpotRole.EQUAL),
            spot(100, left, 3, 0.557, SpotRole.EQUAL),
            spot(120 + end, 38, 4, 0.41, SpotRole.OTHER),
            spot(95, right, None, 0.47, SpotRole.HABIT),
            spot(75, left, None, 0.21, SpotRole.HABIT),
        ),
        rings=(ReachRing("70-200", 20.0, 1.9), ReachRing("400", 40.0, 11.1)),
        closed=FieldPicture.of(venue, direction).closed,
        standing=PlayPoint(112.0, left),
        path=(PlayPoint(112.0, left), PlayPoint(92.0, left)),
        walk_text="20 yd, 13 s",
        stations=station_marks(perimeter_of(venue), direction),
        direction=direction,
        tappable=True,
    )
    return replace(picture, **changes)


@pytest.fixture(scope="session")
def make_picture():
    """The builder of the example, with fields to change."""
    return example_picture


@pytest.fixture(scope="session")
def make_blob():
    """The builder of Gaussian masses."""
    return blob
