"""An invented plan and an invented price curve."""

from dataclasses import replace
from typing import Any

from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.shot_list import breaks_of
from lensyard.features.game_plan.price_curve import PriceCurve, PricePoint
from lensyard.features.game_plan.result import (
    BreakRow,
    EndRule,
    GamePlan,
    KickRow,
    MustHaveRow,
    PlanRow,
    RuleCardFigures,
    WalkingFigures,
)
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import EvaluationSample
from lensyard.planner.simulate import PolicyFigures
from lensyard.planner.solve import Walking

MODEL = {
    "id": "invented",
    "level": "invented",
    "seasons": [2018],
    "plays": 1000,
    "attribution": "Plays: invented.",
    "license": "none",
}
SAMPLE = EvaluationSample(2019, 256, 30000, True)


def invented_row(key, title, **given):
    """Return a phase or zone."""
    values: dict[str, Any] = {
        "key": key, "title": title, "plays_per_game": 20.0, "where": "26 yd ahead of the ball",
        "ball": "own 30", "yardline_100": 70, "label": "offense's right sideline, opponent's 44",
        "x_yd": 66.0, "y_yd": -4.0, "ahead_yd": 26.0, "in_from_pylon_yd": None,
        "end_line_from": None, "side": "either", "p_usable_there": 0.5, "p_usable": 0.42,
        "habit_p_usable": 0.31, "value_share": 0.4, "habit_value_share": 0.3,
        "habit": "20 yd ahead of the ball",
    }  # fmt: skip
    row = PlanRow(**{**values, **given})
    if "x_yd" in given:
        return row
    behind = row.ahead_yd is None or row.yardline_100 <= (row.end_line_from or 0)
    if behind:
        return replace(row, x_yd=124.0, y_yd=row.in_from_pylon_yd or -4.0)
    return replace(row, x_yd=110.0 - row.yardline_100 + (row.ahead_yd or 0.0))


def invented_card(*towards):
    """Return a rule for both ends, or one for each that is named."""
    policy = PolicyFigures("rule", "the rule card", 0.4, 0.41, 46.0, 1600.0, 0.5)
    inside = PolicyFigures("inside", "farther in", 0.43, 0.48, 54.0, 1900.0, 0.7)
    ends = tuple(
        EndRule(
            toward,
            f"stand {25 + i} yd ahead of the ball",
            f"stand {25 + i} yd ahead of the ball; farther in",
            25.0 + i,
            30,
            16.0,
        )
        for i, toward in enumerate(towards or ("",))
    )
    return RuleCardFigures(ends, policy, inside, inside, policy, 1.0, 1.2, (2016, 2018))


def invented_plan(request=None, **given):
    """Return a plan with two phases, two zones, a kick, three frames and a break."""
    request = PlanRequest(DEMO_KIT) if request is None else request
    values: dict[str, Any] = {
        "request": request,
        "setup": request.names,
        "weights": request.assignment.weights,
        "have": (),
        "phases": (
            invented_row("opening", "opening series", note="both teams' first series"),
            invented_row(
                "red-zone", "red zone", ahead_yd=None, in_from_pylon_yd=16.0, x_yd=124.0, y_yd=16.0
            ),
        ),
        "zones": (
            invented_row("zone-own-1-20", "own 1-20"),
            invented_row("zone-red-zone", "red zone 20-6", x_yd=124.0, y_yd=16.0),
        ),
        "kicks": (
            KickRow("punt", "punt return", "level", "a sideline", 60.0, -4.0, 0.45, "from own 33"),
            KickRow("field-goal", "field goal", "ahead of it", None, None, None, None, "practice"),
        ),
        "must_have": (
            MustHaveRow("touchdown", "touchdown", "action", True, "when scored", ""),
            MustHaveRow(
                "catch", "catch", "action", False, "any pass", "", 0.1, 9.6, 0.99, "red zone",
                "behind the end line", 0.14, 0.1, 0.2, 5.1, 22,
            ),
            MustHaveRow("fans", "fans", "life", False, "any stop", "the stands", plays_lost=1.4),
        ),
        "breaks": (
            BreakRow(breaks_of()[0].name, 60.0, 0, ("coach",), ("the bench",), (), ("catch",)),
        ),
        "rule_card": invented_card(),
        "walking": WalkingFigures(30.0, 110.0, 0.008, 1900.0, 21.0, 54.0, 100.0, 1500.0),
        "evaluation_sample": SAMPLE,
        "light": ("Under the floodlights alone nothing freezes.",),
        "gaps": ("Nobody can foresee left or right.",),
        "key": "0123456789abcdef" * 4,
        "model": MODEL,
        "cautions": ("Run-outs: sit nowhere.", "Local rules decide."),
    }  # fmt: skip
    return GamePlan(**{**values, **given})


def invented_curve():
    """Return three prices, the middle one the default."""
    return PriceCurve(
        setup=PlanRequest(DEMO_KIT).names,
        walking=Walking(price_per_yd=0.008),
        points=(
            PricePoint(0.0, 4900.0, 0.41, 0.452, False),
            PricePoint(0.008, 1850.0, 0.4, 0.447, True),
            PricePoint(0.032, 640.0, 0.36, 0.401, False),
        ),
        reason="the default keeps 98.9% of the value",
        evaluation_sample=SAMPLE,
        model=MODEL,
    )
