"""Where to stand for the next play: one forecast, the ranked spots, the plan's decision."""

from __future__ import annotations

from dataclasses import field, replace
from typing import TYPE_CHECKING, cast

import numpy as np

from lensyard.domain.assignment import LEAST_USABLE, Assignment, LightPreference
from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT, Kit
from lensyard.domain.perimeter import STEP_YD, WalkTime, perimeter_of
from lensyard.domain.places import standing_on
from lensyard.domain.situation import Situation
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import InvalidInputError
from lensyard.features.next_play.answer import Answer, answer_of
from lensyard.model.context import Context
from lensyard.model.outcome import Forecast
from lensyard.model.outcome_grid import GAINS_YD, UNTOLD_CHOICES
from lensyard.records import Record
from lensyard.spots.masses import Masses
from lensyard.spots.ranking import Ranking, SpotScore, rank
from lensyard.spots.scorer import Scorer, shared_scorer

if TYPE_CHECKING:
    from datetime import datetime

    from lensyard.features.next_play.light import NextLight, SpotLightFigures
    from lensyard.planner.decision import Decision
    from lensyard.spots.kicks import FourthDowns


class DriveEnd(Record):
    """How the drive is likely to end, kicks on fourth down included; the five sum to 1.

    ``p_turnover`` is an interception, a lost fumble, or on downs; ``p_other`` a missed field goal,
    a safety, or the end of the half.
    """

    p_touchdown: float
    p_field_goal: float
    p_punt: float
    p_turnover: float
    p_other: float


class PlayChoice(Record):
    """What the offense is likely to do on fourth down; the three sum to 1.

    ``borrowed``: whether that is what professionals do, as nothing of this level is counted.
    """

    p_go: float
    p_punt: float
    p_field_goal: float
    borrowed: bool = field(default=False, metadata={"json": None})


class Outcome(Record):
    """What is likely to happen: gains at three quantiles in yards, and probabilities.

    Gains and chances of the play are those of a run or pass; ``play`` says on fourth down how
    likely that is, and is None elsewhere.
    """

    gain_p10_yd: int
    gain_p50_yd: int
    gain_p90_yd: int
    p_touchdown: float
    p_first_down: float
    p_turnover: float
    p_out_of_bounds: float
    p_pass: float
    drive: DriveEnd
    play: PlayChoice | None = None


def outcome_of(forecast: Forecast) -> Outcome:
    """Return the outcome of the first situation of a forecast."""
    cumulative = np.cumsum(forecast.gain_pmf[0])
    p10, p50, p90 = (
        int(GAINS_YD[min(int(np.searchsorted(cumulative, p - 1e-9)), GAINS_YD.size - 1)])
        for p in (0.1, 0.5, 0.9)
    )
    play = None
    if forecast.batch.down[0] == 4:
        go, punt, kick = (float(p) for p in forecast.p_fourth_down_choice[0])
        play = PlayChoice(go, punt, kick)
    return Outcome(
        gain_p10_yd=p10,
        gain_p50_yd=p50,
        gain_p90_yd=p90,
        p_touchdown=float(forecast.p_touchdown[0]),
        p_first_down=float(forecast.p_first_down[0]),
        p_turnover=float(forecast.p_turnover[0]),
        p_out_of_bounds=float(forecast.p_out_of_bounds[0]),
        p_pass=float(forecast.p_pass[0]),
        drive=DriveEnd(*(float(p) for p in forecast.p_drive_outcome[0])),
        play=play,
    )


class NextRequest(Record):
    """What a photographer asks.

    - ``kit``, ``venue``, ``assignment``: lenses, field, and what counts
    - ``direction``: the direction of attack; it matters only where the venue is not symmetric
    - ``standing``: where one stands, as text for `parse_standing`; None when not said
    - ``by_value``: rank by the assignment's value instead of by how likely the play is usable
    - ``ball_changed_hands``: whether there is time for the longer walk before this snap
    - ``walk_time``: how far one gets before a snap, and how fast
    - ``least_usable``: below this chance within the walk nothing pays on this snap
    - ``have``: keys of frames of the shot list that are ticked: what is left of their bonus counts
    - ``at``: when; then each spot has its light. None says nothing about light
    - ``light``: what light should do to the rank; None is the assignment's own preference. It takes
      a time
    """

    situation: Situation
    kit: Kit = DEMO_KIT
    venue: Venue = field(default_factory=standard_venue)
    assignment: Assignment = field(default_factory=Assignment)
    direction: Direction = Direction.TOWARD_B
    standing: str | None = None
    top: int = 5
    by_value: bool = False
    ball_changed_hands: bool = False
    walk_time: WalkTime = WalkTime()
    least_usable: float = LEAST_USABLE
    have: tuple[str, ...] = ()
    at: datetime | None = None
    light: LightPreference | None = None

    @property
    def limit_yd(self) -> float:
        """How far one can walk before the snap. [yd]"""
        time = self.walk_time
        return max(time.change_yd, time.drive_yd) if self.ball_changed_hands else time.drive_yd

    @property
    def remaining_assignment(self) -> Assignment:
        """The assignment with the bonus left for frames that are not ticked."""
        if not self.have:
            return self.assignment
        from lensyard.domain.shot_list import weights_after

        return replace(self.assignment, weights=weights_after(self.assignment, self.have))


def decision_for(
    context: Context,
    request: NextRequest,
    standing: int | None,
    forecast: Forecast,
    kicks: FourthDowns | None,
    *,
    keep: bool = False,
) -> Decision | None:
    """Return the plan's decision from where one stands; None where that is not said.

    ``standing`` is in the scorer's numbering; ``forecast`` and ``kicks`` are of the situation;
    ``keep`` as in `next_play`.
    """
    if standing is None:
        return None
    from lensyard.planner.decision import decide
    from lensyard.planner.plans import PlanRequest, kept_plan, plan_for
    from lensyard.planner.usual_walks import walking_of

    # The plan of the whole assignment is at hand; ticked frames change the value of this play.
    walks = walking_of(request.kit, request.assignment, request.walk_time)
    planned = PlanRequest(request.kit, request.venue, request.assignment, walks)
    solved = kept_plan(context, planned) if keep else plan_for(context, planned)
    return decide(
        context,
        solved,
        request.situation,
        standing=standing,
        direction=request.direction,
        limit_yd=request.limit_yd,
        assignment=request.remaining_assignment,
        forecast=forecast,
        kicks=kicks,
    )


class NextAnswer(Record):
    """The answer.

    - ``outcome``, ``masses``: what the play is likely to bring: figures, and the mass by cell
    - ``answer``, ``spot``: the decision, and everything about its place
    - ``ranking``: the spots within the walk, best first, and what usual habits get
    - ``scorer``: the stations in play coordinates, and what each can photograph
    - ``standing_index``: where one stands, in the scorer's numbering; None when not said
    - ``standing_is_closed``: whether one may only wait there, not shoot
    - ``kicks``: what kicks add to each station on fourth down; None elsewhere
    """

    request: NextRequest
    outcome: Outcome
    answer: Answer
    spot: SpotScore
    ranking: Ranking
    masses: Masses
    scorer: Scorer
    standing_index: int | None
    standing_is_closed: bool
    model: dict[str, object]
    light: NextLight | None = None
    kicks: FourthDowns | None = None

    @property
    def choice(self) -> PlayChoice | None:
        """What is likely on fourth down, where the spots count it; None elsewhere."""
        choice, untold = self.outcome.play, self.model["from_prior"]
        if self.kicks is None or choice is None:
            return None
        return replace(choice, borrowed=UNTOLD_CHOICES in cast("list[str]", untold))

    def light_at(self, spot: SpotScore) -> SpotLightFigures | None:
        """Return the light from a spot; None where no time was given."""
        return None if self.light is None else self.light.spot(spot.station_index)


def next_play(context: Context, request: NextRequest, *, keep: bool = False) -> NextAnswer:
    """Answer where to stand for the next play; the model is asked once.

    ``keep``: whether plan and geometry stay in memory for the next question, as on a page.

    Raises `InvalidInputError` if the standing place cannot be read or is closed even for waiting,
    or the kit reaches nothing.
    """
    venue, assignment = request.venue, request.remaining_assignment
    forecast = context.forecast(request.situation)
    masses = Masses.of(forecast, context.prior(venue.rules), assignment.weights)
    # Over the whole field, as plan and card look at it: a part of it would round paths otherwise.
    perimeter = perimeter_of(venue, step_yd=STEP_YD)
    scorer = shared_scorer(perimeter, request.kit, request.direction, assignment.faces)
    station = _station(request, scorer)
    standing = None if station is None else int(np.flatnonzero(scorer.stations == station)[0])
    light = _light(request, scorer, masses)
    kicks = None
    if request.situation.down == 4:
        from lensyard.spots.kicks import kicks_of

        kicks = kicks_of(context, forecast, scorer)
    decision = decision_for(context, request, standing, forecast, kicks, keep=keep)
    ranking = rank(
        scorer,
        masses,
        request.situation,
        top=request.top,
        standing=standing,
        limit_yd=request.limit_yd,
        by_value=request.by_value,
        factor=None if light is None else light.factor,
        kicks=kicks,
        kick_value=assignment.weights.other,
        pace_yd_s=request.walk_time.pace_yd_s,
        named=() if decision is None else (decision.station, decision.standing),
    )
    return NextAnswer(
        request=request,
        outcome=outcome_of(forecast),
        answer=answer_of(request, ranking, decision, forecast),
        spot=ranking.spots[0] if decision is None else ranking.named[0],
        ranking=ranking,
        masses=masses,
        scorer=scorer,
        standing_index=standing,
        standing_is_closed=station is not None and not bool(scorer.perimeter.open[station]),
        model=context.model_facts(),
        light=light,
        kicks=kicks,
    )


def _station(request: NextRequest, scorer: Scorer) -> int | None:
    """The station of the perimeter where one stands; one may at least wait there."""
    if request.standing is None:
        return None
    return standing_on(request.standing, scorer.perimeter, request.direction)


def _light(request: NextRequest, scorer: Scorer, masses: Masses) -> NextLight | None:
    """The light from every position, where a time was given."""
    if request.at is None:
        if request.light is not None:
            raise InvalidInputError(
                f"what light should do ({request.light.value}) needs to know when; give a time, "
                "such as --at 2026-10-03T15:30, or leave the light out"
            )
        return None
    from lensyard.features.next_play.light import next_light

    return next_light(
        scorer,
        masses,
        request.venue,
        at=request.at,
        preference=request.light or request.assignment.light,
    )
