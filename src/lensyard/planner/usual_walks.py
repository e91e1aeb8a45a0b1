"""How far one usually walks between plays, and the price at which a walk pays."""

from __future__ import annotations

from dataclasses import replace

from lensyard.domain.assignment import Assignment, OutcomeWeights
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import WalkTime
from lensyard.planner.solve import Walking

# How often scrimmage plays end so, rounded from the bundled seasons 2016 to 2018.
_TYPICAL_SHARES = OutcomeWeights(
    touchdown=0.039, gain20=0.052, incompletion=0.188, interception=0.013, sack=0.040, other=0.668
)
# A yard costs this share of a typical play for each yard that the kit reaches.
_PRICE_SHARE = 1 / 7000


def usual_walking(kit: Kit, assignment: Assignment) -> Walking:
    """Return the usual limits of a walk, and the price at which it pays.

    The value that a kit brings grows about as its reach does, and so does what a walk may cost: at
    a reach of 20, 30 and 40 yd and the usual weights a yard costs .004, .006 and .008. Measured on
    the season held out this keeps the walk under 2,000 yd a game and loses about 1 % of the value
    that a plan with no price has (``lensyard plan --price-curve``).
    """
    reach_yd = max(mounted.reach_yd for lens_sets in kit.lens_sets for mounted in lens_sets)
    value = sum(
        getattr(assignment.weights, name) * getattr(_TYPICAL_SHARES, name)
        for name in OutcomeWeights.__dataclass_fields__
    )
    return Walking(price_per_yd=_PRICE_SHARE * reach_yd * value)


def walking_of(kit: Kit, assignment: Assignment, time: WalkTime) -> Walking:
    """Return the walking in the time that there is, at the usual price of a yard."""
    return replace(
        usual_walking(kit, assignment),
        drive_limit_yd=time.drive_yd,
        change_limit_yd=time.change_yd,
    )
