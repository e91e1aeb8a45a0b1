"""The usual plan with figures that are invented."""

from dataclasses import replace
from functools import cache

import lensyard

usual_plan = cache(lensyard.plan)


def invented_row(key, title, **given):
    """Return a phase or zone."""
    values = {
        "key": key, "title": title, "plays_per_game": 20.0, "where": "26 yd ahead of the ball",
        "ball": "own 30", "yardline_100": 70, "label": "offense's right sideline, opponent's 44",
        "x_yd": 66.0, "y_yd": -4.0, "ahead_yd": 26.0, "in_from_pylon_yd": None,
        "end_line_from": None, "side": "either", "p_usable_there": 0.5, "p_usable": 0.42,
        "habit_p_usable": 0.31, "value_share": 0.4, "habit_value_share": 0.3,
        "habit": "20 yd ahead of the ball", "note": "", "toward": "", "closed_there": "",
        "plan_value_share": None,
    }  # fmt: skip
    row = replace(usual_plan().zones[0], **(values | given))
    if "x_yd" in given:
        return row
    behind = row.ahead_yd is None or row.yardline_100 <= (row.end_line_from or 0)
    if behind:
        return replace(row, x_yd=124.0, y_yd=row.in_from_pylon_yd or -4.0)
    return replace(row, x_yd=110.0 - row.yardline_100 + (row.ahead_yd or 0.0))


def invented_card(*towards):
    """Return a rule for both ends, or one for each that is named."""
    card = usual_plan().rule_card
    ends = tuple(
        replace(
            card.ends[0],
            toward=toward,
            text=f"stand {25 + i} yd ahead of the ball",
            inside_text=f"stand {25 + i} yd ahead of the ball; farther in",
            ahead_yd=25.0 + i,
        )
        for i, toward in enumerate(towards or ("",))
    )
    return replace(card, ends=ends)


def invented_plan(request=None, **given):
    """Return a plan with two phases and two zones, for another venue or kit where one is given."""
    plan = usual_plan()
    request = plan.request if request is None else request
    values = {
        "request": request,
        "setup": request.names,
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
        "rule_card": invented_card(),
    }
    return replace(plan, **(values | given))
