"""What goes on the printed sheet of a game: the plan, its places, the light and what is closed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lensyard.domain.assignment import FRAMES, MustHave
from lensyard.domain.field import CENTER_Y_YD, FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.domain.perimeter import perimeter_of
from lensyard.features.game_plan.result import GamePlan, PlanRow
from lensyard.planner.plans import PlanRequest, scorers_of
from lensyard.spots.position_rule import ANYWHERE, PositionRule, targets
from lensyard.spots.scorer import Scorer
from lensyard.sun.game_light import KickoffLight


@dataclass(frozen=True, slots=True)
class SheetRow:
    """A phase or zone of the plan with the places that its rule gives at the end drawn.

    - ``x_yd``, ``y_yd``: the spot for the usual ball; behind the end line it lies
      ``end_line_in_yd`` in. [yd]
    - ``end_line_in_yd``: how far in from the back pylon one stands where the rule goes behind the
      end line: the rule's own number, or where that place is closed, the open one nearest to it.
      None where the rule never goes there, or the whole end line is closed. [yd]
    """

    row: PlanRow
    x_yd: float
    y_yd: float
    end_line_in_yd: float | None


@dataclass(frozen=True, slots=True)
class SheetContent:
    """Everything on the sheet.

    - ``plan``, ``phases``, ``zones``: the plan, and its rows with their places
    - ``light``: when the game begins, and the light; None without a kickoff
    """

    plan: GamePlan
    phases: tuple[SheetRow, ...]
    zones: tuple[SheetRow, ...]
    light: KickoffLight | None

    @property
    def request(self) -> PlanRequest:
        """Kit, venue, assignment, walking."""
        return self.plan.request

    @property
    def frames(self) -> tuple[MustHave, ...]:
        """The shot list, or the usual frames where the assignment has none."""
        return self.request.assignment.must_have or tuple(FRAMES.values())


def sheet_content(plan: GamePlan, light: KickoffLight | None = None) -> SheetContent:
    """Return what goes on the sheet of a plan; ``light`` is that of the game, where it is known."""
    request = plan.request
    scorer, _ = scorers_of(
        perimeter_of(request.venue, step_yd=request.step_yd), request.kit, request.assignment
    )
    phases, zones = (
        tuple(sheet_row(row, scorer) for row in rows) for rows in (plan.phases, plan.zones)
    )
    return SheetContent(plan, phases, zones, light)


def sheet_row(row: PlanRow, scorer: Scorer) -> SheetRow:
    """Return where the rule of a row puts one toward end B; ``scorer`` is that of the plan."""
    x, y = scorer.xy_yd
    rule = _rule_of(row)
    on_sideline_a = row.side in ("either", scorer.perimeter.venue.sideline_names[0])
    # For the usual ball, and at the goal line.
    usual, inmost = targets(
        rule,
        yardline_100=np.array([row.yardline_100, 1]),
        left_side=np.full(2, not on_sideline_a),
        xy_yd=scorer.xy_yd,
        may_shoot=scorer.open,
        along_yd=(float(x.min()), float(x.max())),
    )
    end_in_yd = None
    if rule.in_from_pylon_yd is not None and x[inmost] > FIELD_LENGTH_YD:
        end_in_yd = min(float(y[inmost]), FIELD_WIDTH_YD - float(y[inmost]))
        # The station nearest to an open place is at most half a step away, and is that place.
        away = abs(end_in_yd - rule.in_from_pylon_yd)
        gives_way = away > 0.55 * scorer.perimeter.step_yd
        end_in_yd = float(round(end_in_yd)) if gives_way else rule.in_from_pylon_yd
    at_x, at_y = float(x[usual]), float(y[usual])
    if at_x > FIELD_LENGTH_YD and end_in_yd is not None:
        at_y = end_in_yd if at_y < CENTER_Y_YD else FIELD_WIDTH_YD - end_in_yd
    return SheetRow(row, at_x, at_y, end_in_yd)


def _rule_of(row: PlanRow) -> PositionRule:
    end_line_from = row.end_line_from or 0
    if row.ahead_yd is None:
        end_line_from = ANYWHERE
    return PositionRule(row.ahead_yd or 0.0, end_line_from, in_from_pylon_yd=row.in_from_pylon_yd)
