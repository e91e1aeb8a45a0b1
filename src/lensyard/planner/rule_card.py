"""The rule card: the position rule that one can remember, fitted on training seasons.

"Stand k yards ahead of the ball; from the z in, go behind the end line." The search is coarse and
then fine; what the rule brings on a held-out season is measured elsewhere, beside habit and plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from lensyard.planner.season_data import SeasonData
from lensyard.planner.simulate import rule_policy, simulate_policy
from lensyard.spots.position_rule import PositionRule

AHEAD_YD = (-15.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0)
END_LINE_FROM = (0, 5, 10, 15, 20, 25, 30, 40, 50)
IN_FROM_PYLON_YD = (0.0, 4.0, 8.0, 12.0, 16.0, 20.0)
_FINE_STEP = 2.5


@dataclass(frozen=True, slots=True)
class RuleCard:
    """A fitted rule.

    Attributes
    ----------
    rule
        The two numbers, standing in the corner of the perimeter behind the end line.
    value_share
        Its share of the value on the seasons it was fitted on.
    inside
        The same two numbers' best with a third: how far in from the pylon to stand.
    inside_value_share
        Its share there.
    """

    rule: PositionRule
    value_share: float
    inside: PositionRule
    inside_value_share: float


def fit_rule_card(season_data: SeasonData) -> RuleCard:
    """Return the rule with the largest share of the value on these seasons (exact on its grid).

    Parameters
    ----------
    season_data
        Training seasons, ready for one kit, venue and assignment.
    """

    def share(rule: PositionRule) -> float:
        trace = simulate_policy(season_data, rule_policy(season_data, rule))
        return season_data.value_share(season_data.hits(trace.station_index))

    def best_pair(
        ahead_yd: Iterable[float], end_line_from: Sequence[int]
    ) -> tuple[PositionRule, float]:
        rules = [PositionRule(k, z) for k in ahead_yd for z in end_line_from]
        shares = [share(rule) for rule in rules]
        return rules[int(np.round(shares, 6).argmax())], max(shares)

    coarse, _ = best_pair(AHEAD_YD, END_LINE_FROM)
    rule, value_share = best_pair(
        _around(coarse.ahead_yd, low=-60.0, high=100.0),
        [int(z) for z in _around(coarse.end_line_from, low=0.0, high=60.0)],
    )
    inside, best = rule, -1.0
    for in_yd in IN_FROM_PYLON_YD:
        variant = PositionRule(rule.ahead_yd, rule.end_line_from, in_from_pylon_yd=in_yd)
        found = share(variant)
        if found > best + 1e-9:
            inside, best = variant, found
    return RuleCard(rule, value_share, inside, best)


def _around(center: float, *, low: float, high: float) -> list[float]:
    return [float(np.clip(center + i * _FINE_STEP, low, high)) for i in (-1, 0, 1)]
