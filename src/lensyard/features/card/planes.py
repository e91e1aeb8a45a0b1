"""The tables of a card by name: outcomes, kicks and answers, for hash marks and moments."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import (
    LEAST_USABLE,
)
from lensyard.domain.field import Direction, FieldRules
from lensyard.domain.perimeter import (
    DRIVE_LIMIT_YD,
    Tempo,
    WalkTime,
)
from lensyard.domain.situation import HASH_CODES, UNKNOWN_HASH, Kick, PlayKind
from lensyard.errors import ModelError
from lensyard.features.card.grid import (
    MOMENTS,
    YARD_LINES,
    CardGrid,
    Moment,
    percent_codes,
)
from lensyard.features.card.packing import Plane
from lensyard.features.card.tables import NO_SPOT, Answers, CardAnswers, CardGround
from lensyard.model.context import Context
from lensyard.model.outcome_grid import GAINS_YD, SACK
from lensyard.planner.plans import PlanRequest, SolvedPlan, plan_for
from lensyard.planner.solve import Walking
from lensyard.running import beside
from lensyard.spots.kicks import frames_of, kick_limit_yd, p_usable_of, place_for, places_for

# Gains are stored as bytes; the smallest is a loss of 20 yd.
GAIN_OFFSET_YD = 20


def card_planes(
    context: Context,
    solved: SolvedPlan,
    grid: CardGrid,
    directions: tuple[Direction, ...],
    hash_codes: tuple[int, ...],
) -> list[Plane]:
    """Return every table of a card, the moments made in a second process."""
    context.transition().transition_matrices()  # both processes need them
    with beside(
        lambda: [one.to_plain() for one in _moment_planes(context, solved, grid, directions)]
    ) as of_moments:
        planes = _usual_planes(context, solved, grid, directions, hash_codes)
        return planes + [Plane.of_plain(one) for one in of_moments()]


def _usual_planes(
    context: Context,
    solved: SolvedPlan,
    grid: CardGrid,
    directions: tuple[Direction, ...],
    hash_codes: tuple[int, ...],
) -> list[Plane]:
    planes = [
        Plane("outcome:usual", _outcomes(context, grid)),
        Plane("fourth:usual", _fourth(context, grid)),
    ]
    block = grid.longest_yd * YARD_LINES
    for direction in directions:
        letter = direction_letter(direction)
        ground = CardGround(context, solved, direction, hash_codes)
        of_direction = CardAnswers(ground, solved, grid, direction)
        planes += _kick_planes(context, solved, direction)
        for code in hash_codes:
            answers = of_direction.answers(code)
            planes += _answer_planes(answers, f"{letter}:{hash_name(code)}", block)
            for name, values in (("lens", answers.lens), ("exposure", answers.exposure)):
                if values is not None:
                    planes.append(Plane(f"{name}:{letter}", values, block=block))
    return planes


def _moment_planes(
    context: Context, solved: SolvedPlan, grid: CardGrid, directions: tuple[Direction, ...]
) -> list[Plane]:
    planes, block = [], grid.longest_yd * YARD_LINES
    grounds = [CardGround(context, solved, one, (UNKNOWN_HASH,)) for one in directions]
    for moment in MOMENTS:
        then = replace(grid, moment=moment)
        plan = plan_at(context, solved, moment)
        planes.append(Plane(f"outcome:{moment.name}", _outcomes(context, then)))
        planes.append(Plane(f"fourth:{moment.name}", _fourth(context, then)))
        for direction, ground in zip(directions, grounds, strict=True):
            answers = CardAnswers(ground, plan, then, direction).answers(UNKNOWN_HASH)
            where = f"{direction_letter(direction)}:{moment.name}"
            planes += _answer_planes(answers, where, block)
    return planes


def plan_at(context: Context, solved: SolvedPlan, moment: Moment) -> SolvedPlan:
    """Return the plan for the time that a moment's tempo leaves to walk."""
    walks = walking_at(solved.request, moment)
    if walks == solved.request.walking:
        return solved
    request = replace(solved.request, walks=walks)
    # What the others of a crew leave was found for the usual walks.
    return plan_for(context, request) if solved.left is None else replace(solved, request=request)


def walking_at(request: PlanRequest, moment: Moment) -> Walking:
    """Return how far one walks at a moment.

    Whoever walks faster than usual does so in a hurry, too; nobody walks farther than otherwise.
    """
    walking = request.walking
    if moment.tempo is Tempo.USUAL:
        return walking
    faster = max(walking.drive_limit_yd / DRIVE_LIMIT_YD, 1.0)
    limit = min(WalkTime.of(moment.tempo).drive_yd * faster, walking.drive_limit_yd)
    return replace(walking, drive_limit_yd=limit)


def hash_name(hash_code: int) -> str:
    """Return the name of a hash mark; ``any`` where nobody said.

    >>> [hash_name(code) for code in range(4)]
    ['left', 'middle', 'right', 'any']
    """
    mark = HASH_CODES[hash_code]
    return "any" if mark is None else mark.value


def direction_letter(direction: Direction) -> str:
    """Return the letter of the end that is attacked."""
    return "B" if direction is Direction.TOWARD_B else "A"


def _answer_planes(answers: Answers, where: str, block: int) -> list[Plane]:
    planes = [
        Plane(f"usable:{where}", answers.p_usable, block=block),
        Plane(f"best:{where}", np.column_stack([answers.best, answers.best_p])),
    ]
    for team, near, far in zip(
        ("ours", "theirs"), answers.choice, answers.long_choice, strict=False
    ):
        planes.append(Plane(f"choice:{where}:{team}", near, are_places=True, block=block))
        planes.append(Plane(f"far:{where}:{team}", far, are_places=True))
    return planes


def _outcomes(context: Context, grid: CardGrid) -> NDArray[np.uint8]:
    """Return gains (p10, p50, p90), and codes (touchdown, first down, pass, sack), (m, 7)."""
    forecast = context.model.forecast(grid.batch(UNKNOWN_HASH))
    cumulative = np.cumsum(forecast.gain_pmf, axis=1)
    last = GAINS_YD.size - 1
    gains = [
        GAINS_YD[np.minimum((cumulative < p - 1e-9).sum(axis=1), last)] + GAIN_OFFSET_YD
        for p in (0.1, 0.5, 0.9)
    ]
    shares = (
        forecast.p_touchdown,
        forecast.p_first_down,
        forecast.p_pass,
        forecast.p_kind[:, SACK],
    )
    return np.column_stack([*gains, *(percent_codes(p) for p in shares)]).astype(np.uint8)


def _fourth(context: Context, grid: CardGrid) -> NDArray[np.uint8]:
    """Return the codes of going for it, a punt and a field goal on fourth down, (m / 4, 3)."""
    fourth = grid.batch(UNKNOWN_HASH).take(np.flatnonzero(grid.down == 4))
    return percent_codes(context.model.forecast(fourth).p_fourth_down_choice)


def card_kicks(rules: FieldRules) -> tuple[Kick, ...]:
    """Return the kicks that a card answers besides fourth downs, from their usual lines."""
    plays = (PlayKind.KICKOFF, PlayKind.FREE_KICK, PlayKind.TRY)
    return tuple(Kick.of(play, rules) for play in plays)


def _kick_planes(context: Context, solved: SolvedPlan, direction: Direction) -> list[Plane]:
    """Return for each of `card_kicks` P(usable), where to be from everywhere, and the best place.

    One row a kick; `NO_SPOT` in place of the best where no open place has a frame.
    """
    scorer, walking = solved.scorer(direction), solved.request.walking
    usable, choice, best = [], [], []
    for kick in card_kicks(solved.request.venue.rules):
        try:
            p = p_usable_of(scorer, frames_of(context, kick), kick)
        except ModelError:
            p = np.where(scorer.open, 0.0, -1.0)
        limit = kick_limit_yd(kick, walking.drive_limit_yd, walking.change_limit_yd)
        usable.append(np.maximum(p, 0.0))
        choice.append(
            [
                place_for(
                    scorer,
                    p,
                    places_for(scorer, p, kick, standing=i, limit_yd=limit),
                    standing=i,
                    least=LEAST_USABLE,
                )
                for i in range(p.size)
            ]
        )
        best.append([one[0] if (one := places_for(scorer, p, kick)) else NO_SPOT])
    letter = direction_letter(direction)
    return [
        Plane(f"kick:{letter}", percent_codes(np.stack(usable))),
        Plane(f"kick-choice:{letter}", np.array(choice, dtype=np.uint8)),
        Plane(f"kick-best:{letter}", np.array(best, dtype=np.uint8)),
    ]
