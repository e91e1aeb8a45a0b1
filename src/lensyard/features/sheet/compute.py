"""What goes on the printed sheet of a game: the plan, its places, the light and what is closed."""

from __future__ import annotations

from dataclasses import replace

from lensyard.domain.assignment import FRAMES, MustHave
from lensyard.domain.field import (
    CENTER_Y_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    Direction,
)
from lensyard.features.game_plan.result import EndRule, GamePlan, PlanRow
from lensyard.planner.plans import PlanRequest
from lensyard.records import Record
from lensyard.sun.game_light import KickoffLight


class SheetSide(Record):
    """The plan toward one end; ``toward`` is empty where one side of paper holds for both.

    Rows stand where their words say, in the play frame of that direction of attack.
    """

    direction: Direction
    toward: str
    rule: EndRule
    phases: tuple[PlanRow, ...]
    zones: tuple[PlanRow, ...]


class SheetContent(Record):
    """Everything on the sheet.

    - ``light``: when the game begins, and the light; None without a kickoff
    """

    plan: GamePlan
    light: KickoffLight | None

    @property
    def request(self) -> PlanRequest:
        """Kit, venue, assignment, walking."""
        return self.plan.request

    @property
    def frames(self) -> tuple[MustHave, ...]:
        """The shot list, or the usual frames where the assignment has none."""
        return self.request.assignment.must_have or tuple(FRAMES.values())

    @property
    def sides(self) -> tuple[SheetSide, ...]:
        """One side of paper, or one for each end where the plan differs: front and back."""
        plan, venue = self.plan, self.request.venue
        ends = [row.toward for row in (*plan.phases, *plan.zones)]
        differ = any((*ends, *(rule.toward for rule in plan.rule_card.ends)))
        wanted = (Direction.TOWARD_B, Direction.TOWARD_A) if differ else (Direction.TOWARD_B,)
        return tuple(
            _side(self.plan, one, venue.end_names[one is Direction.TOWARD_B], said=differ)
            for one in wanted
        )


def _side(plan: GamePlan, direction: Direction, end: str, *, said: bool) -> SheetSide:
    names = plan.request.venue.sideline_names

    def placed(rows: tuple[PlanRow, ...]) -> tuple[PlanRow, ...]:
        return tuple(
            _as_its_words(row, direction, row.toward or row.side not in names)
            for row in rows
            if row.toward in ("", end)
        )

    rules = [rule for rule in plan.rule_card.ends if rule.toward in ("", end)]
    return SheetSide(
        direction, end if said else "", rules[0], placed(plan.phases), placed(plan.zones)
    )


def _as_its_words(row: PlanRow, direction: Direction, is_here: object) -> PlanRow:
    """Return a row with its spot exactly where its numbers say, rather than at a station.

    ``is_here``: whether its spot is that of this direction, or on either side; a named side that
    holds for both ends lies across toward end A.
    """
    x, y = row.x_yd, row.y_yd
    if not is_here and direction is Direction.TOWARD_A:
        y = FIELD_WIDTH_YD - y
    behind = row.ahead_yd is None or row.yardline_100 <= (row.end_line_from or 0)
    if behind and row.in_from_pylon_yd is not None:
        in_yd = row.in_from_pylon_yd
        y = in_yd if y < CENTER_Y_YD else FIELD_WIDTH_YD - in_yd
    elif row.ahead_yd is not None and not behind and not row.closed_there:
        asked = OPPONENT_GOAL_LINE_X_YD - row.yardline_100 + row.ahead_yd
        x = asked if abs(asked - x) < 2.0 else x
    return replace(row, x_yd=x, y_yd=y)


def sheet_content(plan: GamePlan, light: KickoffLight | None = None) -> SheetContent:
    """Return what goes on the sheet of a plan; ``light`` is that of the game, where it is known."""
    return SheetContent(plan, light)
