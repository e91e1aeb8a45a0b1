"""Where along the sideline a lens works best, beside published bands."""

import numpy as np
import pytest

from lensyard.domain.assignment import USABLE_WEIGHTS
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import SituationBatch
from lensyard.domain.venue import standard_venue
from lensyard.model.context import load_context
from lensyard.spots.scorer import Scorer

LINE_X_YD = 45
YARDS_AHEAD = np.arange(0, 66)


def curve(lens):
    """Expected quality by yards ahead of the ball on a sideline where nothing is closed."""
    context, venue = load_context(), standard_venue("pro", team_area_from_yard_line=50)
    scorer = Scorer(perimeter_of(venue, step_yd=1.0), kit_of([lens]))
    batch = SituationBatch.neutral(
        down=np.array([1, 2, 3]), distance_yd=np.array([10, 7, 5]),
        yardline_100=np.full(3, 110 - LINE_X_YD),
    )  # fmt: skip
    mass = context.model.forecast(batch).cells(context.prior(venue.rules), USABLE_WEIGHTS)[0]
    value = scorer.expected_value(mass).mean(axis=0)
    x, y = scorer.xy_yd
    side = np.flatnonzero((y < 0) & scorer.open)
    order = side[np.argsort(x[side])]
    return np.interp(LINE_X_YD + YARDS_AHEAD, x[order], value[order])


@pytest.mark.parametrize(
    ("lens", "ours", "published"),
    # Published: "Football photos", community.the-digital-picture.com/showthread.php?t=3946: 200 mm
    # 20 to 25 yd, 300 and 400 mm 30 to 40 yd from the line of scrimmage.
    [("200", (15, 30), (20, 25)), ("400", (25, 50), (30, 40))],
)
def test_a_lens_works_best_where_published_practice_uses_it(lens, ours, published):
    found = curve(lens)
    best = int(found.argmax())
    assert ours[0] <= best <= ours[1]
    band = found[published[0] : published[1] + 1]
    assert band.mean() >= 0.8 * found[best]
    # Level with the ball and twice as far as the band's middle it is worth clearly less.
    assert found[0] < 0.6 * found[best]
