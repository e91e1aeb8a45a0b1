"""The rule card: the two numbers that one can remember, fitted on training seasons.

"Stand k yards ahead of the ball; from the z in, go behind the end line." The search is coarse and
then fine; what the pair earns on a held-out season is measured elsewhere, beside habit and plan.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lensyard.planner.simulate import SeasonData, rule_policy, simulate_policy, tune_rule
from lensyard.spots.habits import TwoNumberRule

FloatArray = NDArray[np.float64]

AHEAD_YD = (-15.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0)
END_LINE_FROM = (0, 5, 10, 15, 20, 25, 30, 40, 50)
IN_FROM_PYLON_YD = (0.0, 4.0, 8.0, 12.0, 16.0, 20.0)


@dataclass(frozen=True, slots=True)
class RuleCard:
    """A fitted rule.

    Attributes
    ----------
    rule
        The two numbers, standing in the corner of the perimeter behind the end line.
    value_share
        What it earns on the seasons it was fitted on.
    inside
        The same two numbers' best with a third: how far in from the pylon to stand.
    inside_value_share
        What that earns there.
    """

    rule: TwoNumberRule
    value_share: float
    inside: TwoNumberRule
    inside_value_share: float

    def text(self) -> str:
        """Return the rule as one says it."""
        return rule_text(self.rule)


def rule_text(rule: TwoNumberRule) -> str:
    """Return a two-number rule as one says it.

    >>> rule_text(TwoNumberRule(15, 30))
    'stand 15 yd ahead of the ball; from the 30 in, behind the end line in the corner'
    """
    k = rule.ahead_yd
    first = (
        f"stand {k:g} yd ahead of the ball"
        if k > 0
        else f"stand {-k:g} yd behind the ball"
        if k < 0
        else "stand level with the ball"
    )
    if rule.end_line_from == 0:
        return first
    place = (
        "in the corner"
        if rule.in_from_pylon_yd is None
        else f"{rule.in_from_pylon_yd:g} yd in from the pylon"
    )
    return f"{first}; from the {rule.end_line_from} in, behind the end line {place}"


def fit_rule_card(season_data: SeasonData) -> RuleCard:
    """Return the rule that earns the most value on these seasons (exact on its grid).

    Parameters
    ----------
    season_data
        Training seasons, ready for one kit, venue and assignment.
    """
    coarse, _ = tune_rule(season_data, ahead_yd=AHEAD_YD, end_line_from=END_LINE_FROM)
    near_k = _around(coarse.ahead_yd, 2.5, low=-60.0, high=100.0)
    near_z = [int(z) for z in _around(float(coarse.end_line_from), 2.5, low=0.0, high=60.0)]
    rule, table = tune_rule(season_data, ahead_yd=near_k, end_line_from=near_z)
    inside, best = rule, -1.0
    for in_yd in IN_FROM_PYLON_YD:
        variant = TwoNumberRule(rule.ahead_yd, rule.end_line_from, "rule", in_yd)
        share = _value_share(season_data, variant)
        if share > best + 1e-9:
            inside, best = variant, share
    return RuleCard(rule, float(table.max()), inside, best)


def _around(center: float, step: float, *, low: float, high: float) -> Sequence[float]:
    return [float(np.clip(center + i * step, low, high)) for i in (-1, 0, 1)]


def _value_share(season_data: SeasonData, rule: TwoNumberRule) -> float:
    trace = simulate_policy(season_data, rule_policy(season_data, rule))
    rows = np.arange(len(season_data.replay))
    hit = season_data.usable[rows, trace.station_index] & season_data.counted
    return float((hit * season_data.value).sum() / (season_data.value * season_data.counted).sum())
