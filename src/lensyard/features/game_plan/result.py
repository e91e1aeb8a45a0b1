"""A plan for a game: plain values, of which report, sheet and JSON document are made.

Places are in the play frame of the row's usual ball spot. [yd]
"""

from __future__ import annotations

from dataclasses import field

from lensyard.domain.assignment import OutcomeWeights
from lensyard.features.game_plan.filing import Filing
from lensyard.planner.plans import PlanRequest, SetupNames
from lensyard.planner.season import EvaluationSample
from lensyard.planner.simulate import PolicyFigures
from lensyard.records import Record


class PlanRow(Record):
    """Where to stand in one phase of the game or one zone of the field.

    - ``plays_per_game``: plays of both teams, or of the one that counts, that fall in it.
    - ``where``: the rule of this row in words: "26 yd ahead of the ball, either sideline".
    - ``ball``, ``yardline_100``: the usual ball spot of the row, in words and as yards to the
      opponent's goal line.
    - ``label``, ``x_yd``, ``y_yd``: the spot for that ball spot, as photographers say it, and its
      place. [yd]
    - ``ahead_yd``, ``in_from_pylon_yd``: how far ahead of the ball the rule stands, None when
      always behind the end line; how far in from the back pylon, None when always on a sideline.
      [yd]
    - ``end_line_from``: from this yard line in behind the end line, where the rule has both parts;
      else None.
    - ``side``: which sideline or half of the end line: ``either``, or its name at this venue.
    - ``p_usable_there``: share of these plays usable for somebody who stands there at the snap
      (model).
    - ``p_usable``, ``habit_p_usable``: share usable for somebody who walked the whole season: the
      plan, and the usual habit.
    - ``value_share``, ``habit_value_share``: the same in the assignment's weights.
    - ``toward``: the end that is attacked, where the row does not hold for both; else empty.
    - ``closed_there``: what closes the place that the rule asks for with the usual ball: ``label``
      is the nearest open one. Empty where it is open.
    - ``plan_value_share``: where the row is the usual habit, because it has more: what the plan
      had. Else None.
    """

    key: str
    title: str
    plays_per_game: float
    where: str
    ball: str
    yardline_100: int
    label: str
    x_yd: float
    y_yd: float
    ahead_yd: float | None
    in_from_pylon_yd: float | None
    end_line_from: int | None
    side: str
    p_usable_there: float
    p_usable: float
    habit_p_usable: float
    value_share: float
    habit_value_share: float
    habit: str
    note: str = ""
    toward: str = ""
    closed_there: str = ""
    plan_value_share: float | None = None

    @property
    def is_habit(self) -> bool:
        """Whether it is the usual habit that stands here."""
        return self.plan_value_share is not None


class KickRow(Record):
    """Where to stand for one kind of kick, and P(a usable frame of it) from there.

    The spot is for the usual ball spot, in the frame of the kicking team; None where only common
    practice speaks. [yd]
    """

    key: str
    title: str
    where: str
    label: str | None = None
    x_yd: float | None = None
    y_yd: float | None = None
    p_usable: float | None = None
    note: str = ""


class MustHaveRow(Record):
    """One frame of the shot list.

    - ``kind``: ``action`` or ``life``.
    - ``p_a_play``: P(a play makes it) from where the plan stands, averaged over a game; None for
      life frames and for frames of one's own, of which nobody knows how likely they are.
    - ``plays_expected``, ``p_in_game``: following the plan: plays from kickoff until it can be
      ticked, None where unknown or where it may never come; P(it comes in a game).
    - ``go_phase``, ``go_label``: where going to get it costs least for what it brings; empty where
      the plan's own spots are as good.
    - ``p_go``, ``p_stay``: P(a play of that phase makes it) from there, and from the plan's line
      for that phase.
    - ``go_cost``: what being there instead costs a play, in ordinary usable plays.
    - ``break_even``: it pays to go when the frame is worth more than so many ordinary usable plays;
      None where going brings nothing.
    - ``go_from_plays_left``: with fewer plays left than this the plan alone gets it in fewer than 9
      games of 10.
    - ``slot``, ``plays_lost``: life frames: the break it is scheduled for, None where none has room
      or it is action; and without a break, about how many plays it costs.
    """

    key: str
    title: str
    kind: str
    have: bool
    when: str
    where: str
    p_a_play: float | None = None
    plays_expected: float | None = None
    p_in_game: float | None = None
    go_phase: str = ""
    go_label: str = ""
    p_go: float | None = None
    p_stay: float | None = None
    go_cost: float | None = None
    break_even: float | None = None
    go_from_plays_left: int | None = None
    slot: str | None = None
    plays_lost: float = 0.0


class BreakRow(Record):
    """One break of the game, ``quarter`` quarters played, and what to get in it.

    ``now`` are titles of the life frames to get, ``where`` each is had, ``last_chance`` those for
    which no later break comes; ``missing`` the action frames that are not ticked.
    """

    name: str
    minutes: float
    quarter: int
    now: tuple[str, ...]
    where: tuple[str, ...]
    last_chance: tuple[str, ...]
    missing: tuple[str, ...]


class EndRule(Record):
    """The rule toward one end, in words and numbers. [yd]

    ``toward`` is empty where it holds for both; ``text`` stands in the corner behind the end line,
    ``inside_text`` farther in from the pylon.
    """

    toward: str
    text: str
    inside_text: str
    ahead_yd: float
    end_line_from: int
    in_from_pylon_yd: float | None


class RuleCardFigures(Record):
    """The rule that one can remember, toward each end, and what it brings home.

    ``rule`` stands in the corner behind the end line, ``inside`` farther in from the pylon;
    ``plan_over_rule`` is over the better of the two. Numbers were fitted on ``fitted_on``.
    """

    ends: tuple[EndRule, ...]
    rule: PolicyFigures
    inside: PolicyFigures
    plan: PolicyFigures
    habit: PolicyFigures
    plan_over_rule: float
    plan_over_habit: float
    fitted_on: tuple[int, ...]

    @property
    def best(self) -> PolicyFigures:
        """The better of the two rules."""
        return self.inside if self.is_inside else self.rule

    @property
    def is_inside(self) -> bool:
        """Whether the better rule stands farther in from the pylon."""
        return self.inside.value_share > self.rule.value_share


class WalkingFigures(Record):
    """How much one walks, following the plan and the habit; moves in long breaks left out. [yd]

    The limits and the price are what the plan was solved with; nine of ten moves stay under
    ``longest_usual_yd``. ``open_end_line_value_share``: what the plan would have if nothing of the
    end lines were closed; None where nothing is.
    """

    drive_limit_yd: float
    change_limit_yd: float
    price_per_yd: float
    yd_per_game: float
    minutes_per_game: float
    walks_per_game: float
    longest_usual_yd: float
    habit_yd_per_game: float
    open_end_line_value_share: float | None = None


class GamePlan(Record):
    """A plan for a game.

    - ``weights``: what a usable frame of each outcome is worth, after what is ticked.
    - ``phases``: opening series, own half, past midfield, red zone, goal to go, two-minute drill,
      and the other side's faces.
    - ``filing``: when to leave for each deadline of the assignment.
    - ``light``: sentences about light that the kit cannot do; empty where none is known to matter.
    - ``gaps``: what the kit leaves out and what the plan does not know.
    - ``key``: hash of everything that went into the plan.
    """

    request: PlanRequest = field(metadata={"json": None})
    setup: SetupNames = field(metadata={"json": "*"})
    weights: OutcomeWeights
    have: tuple[str, ...]
    phases: tuple[PlanRow, ...]
    zones: tuple[PlanRow, ...]
    kicks: tuple[KickRow, ...]
    must_have: tuple[MustHaveRow, ...]
    breaks: tuple[BreakRow, ...]
    rule_card: RuleCardFigures
    walking: WalkingFigures
    evaluation_sample: EvaluationSample = field(metadata={"json": "evidence"})
    light: tuple[str, ...]
    gaps: tuple[str, ...]
    key: str
    model: dict[str, object]
    cautions: tuple[str, ...]
    filing: tuple[Filing, ...] = ()

    def row(self, key: str) -> PlanRow:
        """Return a phase or zone by key; `KeyError` if there is none."""
        return {row.key: row for row in (*self.phases, *self.zones)}[key]
