"""The main use case: where to stand for the next play.

What the model says of one situation: figures for people, and the mass that spots earn from.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from lensyard.domain.assignment import Assignment, LightPreference
from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT, Kit
from lensyard.domain.perimeter import perimeter_of, require_open, walk_s
from lensyard.domain.places import parse_standing, spot_label
from lensyard.domain.situation import Situation
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import InvalidInputError
from lensyard.model.cells import x_support
from lensyard.model.context import SCHEMA_VERSION, Context
from lensyard.model.outcome import Forecast
from lensyard.model.outcome_grid import GAINS_YD
from lensyard.planner.solve import Walking
from lensyard.spots.ranking import Masses, Ranking, SpotScore, rank
from lensyard.spots.scorer import Scorer
from lensyard.sun.cautions import DEFERRAL, run_out_caution

if TYPE_CHECKING:
    from datetime import datetime

    from lensyard.features.next_play.light import NextLight, SpotLightFigures


@dataclass(frozen=True, slots=True)
class Outcome:
    """What is likely to happen, in the units of the contract (yards and probabilities)."""

    gain_p10_yd: int
    gain_p50_yd: int
    gain_p90_yd: int
    p_touchdown: float
    p_first_down: float
    p_turnover: float
    p_out_of_bounds: float
    p_pass: float
    drive_p_touchdown: float
    drive_p_field_goal: float


def outcome_of(forecast: Forecast) -> Outcome:
    """Return the outcome of the first situation of a forecast."""
    cumulative = np.cumsum(forecast.gain_pmf[0])
    p10, p50, p90 = (
        int(GAINS_YD[min(int(np.searchsorted(cumulative, p - 1e-9)), GAINS_YD.size - 1)])
        for p in (0.1, 0.5, 0.9)
    )
    drive = forecast.p_drive_end[0]
    return Outcome(
        gain_p10_yd=p10,
        gain_p50_yd=p50,
        gain_p90_yd=p90,
        p_touchdown=float(forecast.p_touchdown[0]),
        p_first_down=float(forecast.p_first_down[0]),
        p_turnover=float(forecast.p_turnover[0]),
        p_out_of_bounds=float(forecast.p_out_of_bounds[0]),
        p_pass=float(forecast.p_pass[0]),
        drive_p_touchdown=float(drive[0]),
        drive_p_field_goal=float(drive[1]),
    )


__all__ = [
    "Advice",
    "NextAnswer",
    "NextRequest",
    "Outcome",
    "advice_for",
    "cautions_of",
    "next_document",
    "next_play",
    "outcome_of",
    "spot_document",
]


@dataclass(frozen=True, slots=True)
class NextRequest:
    """What a photographer asks.

    Attributes
    ----------
    situation
        Down, distance, spot, hash, score, clock.
    kit, venue, assignment
        Lenses, ground, and what counts.
    direction
        The direction of attack; it matters only where the venue is not symmetric.
    standing
        Where one stands, as text for `parse_standing`; None when not said.
    top
        How many spots to name.
    by_value
        Rank by the assignment's value instead of by how likely the play is usable.
    ball_changed_hands
        Whether there is time for the longer walk before this snap.
    have
        Keys of frames of the shot list that are ticked: what is left of their bonus counts.
    at
        When; then each spot has its light. None says nothing about light.
    light
        What light should do to the rank; None is the assignment's own preference. It takes a time.
    """

    situation: Situation
    kit: Kit = DEMO_KIT
    venue: Venue | None = None
    assignment: Assignment | None = None
    direction: Direction = Direction.TOWARD_B
    standing: str | None = None
    top: int = 5
    by_value: bool = False
    ball_changed_hands: bool = False
    have: tuple[str, ...] = ()
    at: datetime | None = None
    light: LightPreference | None = None

    @property
    def limit_yd(self) -> float:
        """How far one can walk before the snap. [yd]"""
        walking = Walking()
        return walking.change_limit_yd if self.ball_changed_hands else walking.drive_limit_yd

    @property
    def chosen_venue(self) -> Venue:
        """The venue, or any professional field."""
        return self.venue or standard_venue("pro")

    @property
    def chosen_assignment(self) -> Assignment:
        """The assignment, or both teams' offense, with nothing ticked."""
        return self.assignment or Assignment()

    @property
    def remaining_assignment(self) -> Assignment:
        """The assignment as it is once the frames one has are ticked."""
        if not self.have:
            return self.chosen_assignment
        from lensyard.domain.shot_list import weights_after

        return replace(
            self.chosen_assignment, weights=weights_after(self.chosen_assignment, self.have)
        )

    @property
    def light_preference(self) -> LightPreference:
        """What light does to the rank."""
        return self.chosen_assignment.light if self.light is None else self.light


@dataclass(frozen=True, slots=True)
class Advice:
    """What the plan says to somebody who stands somewhere.

    Attributes
    ----------
    action
        ``stay`` or ``walk``.
    label, x_yd, y_yd
        Where to be (play frame). [yd]
    walk_yd, walk_s, limit_yd
        The walk, and how far one could go.
    value_over_staying
        In units of the assignment's value.
    serves
        ``this play`` or ``the plays after``: where most of the gain lies.
    """

    action: str
    label: str
    x_yd: float
    y_yd: float
    walk_yd: float
    walk_s: float
    limit_yd: float
    value_over_staying: float
    serves: str


def advice_for(
    context: Context, request: NextRequest, forecast: Forecast | None = None
) -> Advice | None:
    """Return the plan's decision from where the photographer stands."""
    from lensyard.planner.plans import PlanRequest, decide, plan_for

    if request.standing is None:
        return None
    # The plan of the whole assignment is at hand; ticked frames change what this play is worth.
    solved = plan_for(
        context, PlanRequest(request.kit, request.chosen_venue, request.chosen_assignment)
    )
    scorer = solved.scorer(request.direction)
    station = parse_standing(request.standing, scorer.perimeter, request.direction)
    decision = decide(
        context,
        solved,
        request.situation,
        standing=int(np.flatnonzero(scorer.stations == station)[0]),
        direction=request.direction,
        limit_yd=request.limit_yd,
        assignment=request.remaining_assignment,
        forecast=forecast,
    )
    choice = decision.choice
    x, y = (float(axis[choice.station]) for axis in scorer.xy_yd)
    return Advice(
        action="stay" if choice.stay else "walk",
        label=spot_label(x_yd=x, y_yd=y),
        x_yd=x,
        y_yd=y,
        walk_yd=choice.walk_yd,
        walk_s=walk_s(choice.walk_yd),
        limit_yd=request.limit_yd,
        value_over_staying=decision.value_over_staying,
        serves="this play" if decision.for_this_play else "the plays after",
    )


@dataclass(frozen=True, slots=True)
class NextAnswer:
    """The answer: outcome, ranked spots, habits, cautions, and who says so.

    ``light`` is None where no time was given.
    """

    request: NextRequest
    outcome: Outcome
    ranking: Ranking
    masses: Masses
    scorer: Scorer
    standing_index: int | None
    advice: Advice | None
    cautions: tuple[str, ...]
    model: dict[str, object]
    light: NextLight | None = None

    def light_at(self, spot: SpotScore) -> SpotLightFigures | None:
        """Return the light from a spot; None where no time was given."""
        return None if self.light is None else self.light.spot(spot.station_index)


def next_play(context: Context, request: NextRequest) -> NextAnswer:
    """Answer where to stand for the next play.

    Raises
    ------
    InvalidInputError
        If the standing place cannot be read or is closed even for waiting, or the kit reaches
        nothing.
    """
    venue, assignment = request.chosen_venue, request.remaining_assignment
    perimeter = perimeter_of(venue, step_yd=1.0)
    forecast = context.forecast(request.situation)
    masses = Masses.of(forecast, context.prior(venue.rules), assignment.weights)
    first, last = (int(x) for x in x_support(masses.plain, tolerance=0.0))
    scorer = Scorer(
        perimeter,
        request.kit,
        request.direction,
        assignment.faces,
        x_cells=slice(first, last + 1),
    )
    standing, notes = _standing(request, scorer)
    light = _light(request, scorer, masses)
    ranking = rank(
        scorer,
        masses,
        request.situation,
        top=request.top,
        standing=standing,
        limit_yd=request.limit_yd,
        by_value=request.by_value,
        factor=None if light is None else light.factor,
    )
    walk_yd = ranking.spots[0].walk_yd
    if walk_yd is not None and walk_yd > request.limit_yd + 1e-6:
        notes += (
            f"no spot within a walk of {request.limit_yd:.0f} yd has a usable frame of this play; "
            "the ones named are farther.",
        )
    return NextAnswer(
        request=request,
        outcome=outcome_of(forecast),
        ranking=ranking,
        masses=masses,
        scorer=scorer,
        standing_index=standing,
        advice=None if standing is None else advice_for(context, request, forecast),
        cautions=(*notes, *cautions_of(venue, ranking.spots[0])),
        model=context.model_facts(),
        light=light,
    )


def _standing(request: NextRequest, scorer: Scorer) -> tuple[int | None, tuple[str, ...]]:
    """The position where one stands, and what to say about it."""
    if request.standing is None:
        return None, ()
    perimeter = scorer.perimeter
    station = parse_standing(request.standing, perimeter, request.direction)
    require_open(perimeter, station, text=request.standing)
    standing = int(np.flatnonzero(scorer.stations == station)[0])
    if perimeter.open[station]:
        return standing, ()
    x, y = (float(axis[standing]) for axis in scorer.xy_yd)
    return standing, (
        f"{spot_label(x_yd=x, y_yd=y)} lies behind a closed stretch: one may wait there, "
        "but not shoot; the walk is counted from there.",
    )


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
        request.chosen_venue,
        at=request.at,
        preference=request.light_preference,
    )


def cautions_of(venue: Venue, spot: SpotScore) -> tuple[str, ...]:
    """Return the usual cautions for a spot, ending with who decides."""
    behind_end = spot.x_yd < 0 or spot.x_yd > 120
    setback = venue.end_setback_yd if behind_end else venue.side_setback_yd
    return (run_out_caution(setback_yd=setback).sentence, DEFERRAL)


def spot_document(
    spot: SpotScore, rank_number: int | None, light: SpotLightFigures | None = None
) -> dict[str, Any]:
    """Return one spot in the fields of the contract; ``light`` only where a time was given."""
    document = {k: v for k, v in asdict(spot).items() if k != "position"}
    if light is not None:
        document["light"] = asdict(light)
    for key in ("walk_yd", "walk_s"):
        if document[key] is not None and not np.isfinite(document[key]):
            document[key] = None
    if rank_number is None:
        document.pop("as_good")
        return document
    return {"rank": rank_number, **document}


def shot_list_document(request: NextRequest) -> dict[str, Any]:
    """Return what is ticked and what is missing of a shot list; nothing where there is none."""
    assignment = request.chosen_assignment
    if not assignment.must_have and not request.have:
        return {}
    from lensyard.domain.shots import missing

    return {
        "have": list(request.have),
        "missing": [frame.key for frame in missing(assignment.action, request.have)],
        "weights": asdict(request.remaining_assignment.weights),
    }


def next_document(answer: NextAnswer) -> dict[str, Any]:
    """Return the answer as one JSON document (the contract of ``lensyard next --json``)."""
    outcome = asdict(answer.outcome)
    outcome["drive"] = {
        "p_touchdown": outcome.pop("drive_p_touchdown"),
        "p_field_goal": outcome.pop("drive_p_field_goal"),
    }
    situation = answer.request.situation
    return {
        "schema_version": SCHEMA_VERSION,
        "situation": {
            "down": situation.down,
            "distance_yd": situation.distance_yd,
            "yardline_100": situation.yardline_100,
            "hash_mark": situation.hash_mark.value if situation.hash_mark else None,
            "score_diff": situation.score_diff,
            "quarter": situation.quarter,
            "clock_s": situation.clock_s,
            "text": situation.text(),
        },
        "kit": answer.request.kit.text,
        "venue": answer.request.chosen_venue.name,
        "assignment": answer.request.remaining_assignment.name,
        "outcome": outcome,
        "spots": [
            spot_document(s, i, answer.light_at(s))
            for i, s in enumerate(answer.ranking.spots, start=1)
        ],
        "habits": [
            {
                "name": h.name,
                "title": h.title,
                **spot_document(h.spot, None, answer.light_at(h.spot)),
            }
            for h in answer.ranking.habits
        ],
        **({} if answer.light is None else {"light": answer.light.document()}),
        **shot_list_document(answer.request),
        "plan": None if answer.advice is None else asdict(answer.advice),
        "comparable_plays": round(answer.masses.comparable_plays),
        "model": answer.model,
        "cautions": list(answer.cautions),
    }
