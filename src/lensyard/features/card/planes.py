"""The tables of a card by name: outcomes, kicks and answers, for hash marks and moments."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any, NamedTuple

import numpy as np

from lensyard.arrays import ByteArray
from lensyard.domain.assignment import LEAST_USABLE
from lensyard.domain.field import Direction, FieldRules
from lensyard.domain.perimeter import DRIVE_LIMIT_YD, Tempo, WalkTime
from lensyard.domain.situation import HASH_CODES, UNKNOWN_HASH, Kick, PlayKind
from lensyard.errors import ModelError
from lensyard.features.card.grid import USUAL, YARD_LINES, CardGrid, Moment, percent_codes
from lensyard.features.card.packing import Plane
from lensyard.features.card.tables import NO_SPOT, CardGround, Choices, Plays
from lensyard.model.context import Context
from lensyard.model.outcome import Forecast
from lensyard.model.outcome_grid import GAINS_YD, SACK
from lensyard.planner.plans import PlanRequest, SolvedPlan, plan_for, problem_of
from lensyard.planner.sides import sides_of
from lensyard.planner.solve import Walking
from lensyard.running import in_two
from lensyard.spots.kicks import frames_of, kick_limit_yd, p_usable_of, place_for, places_for

# Gains are stored as bytes; the smallest is a loss of 20 yd.
GAIN_OFFSET_YD = 20


class _Part(NamedTuple):
    """Tables of one moment and hash mark: for both directions, and toward each."""

    shared: list[Plane]
    toward: list[list[Plane]]


class CardTables:
    """The tables of one card by name, made as they are asked for, in two processes.

    ``directions``: those that the card tells apart.
    """

    def __init__(self, context: Context, request: PlanRequest, solved: SolvedPlan | None) -> None:
        self.context, self.request, self._given = context, request, solved
        perimeter = request.scorers[0].perimeter
        sides = solved.sides if solved else sides_of(perimeter, request.assignment)
        self.directions = tuple(dict.fromkeys(side.direction for side in sides))
        self._grounds = [CardGround(context, request, one) for one in self.directions]
        self._plans: dict[Walking, SolvedPlan] = {}
        self._problem = cache(
            lambda: problem_of(context, request.scorers, request.assignment, request.walking)
        )
        self._made: dict[tuple[int, str, int], _Part] = {}

    def planes(
        self, longest_yd: int, hash_codes: tuple[int, ...], moments: tuple[Moment, ...]
    ) -> list[Plane]:
        """Return the tables for distances up to so many yards.

        ``hash_codes``, of the usual moment, and ``moments`` besides it; both in order.
        """
        by_moment = [[(USUAL, code) for code in hash_codes]]
        by_moment += [[(moment, UNKNOWN_HASH)] for moment in moments]
        self._make(longest_yd, [one for these in by_moment for one in these])
        planes = []
        for these in by_moment:
            parts = [self._made[longest_yd, moment.name, code] for moment, code in these]
            planes += [plane for part in parts for plane in part.shared]
            for i in range(len(self.directions)):
                planes += [plane for part in parts for plane in part.toward[i]]
        return planes

    def plan(self, moment: Moment = USUAL) -> SolvedPlan:
        """Return the plan for the time that a moment's tempo leaves to walk."""
        walks = walking_at(self.request, moment)
        if walks not in self._plans:
            request, given = replace(self.request, walks=walks), self._given
            if given is not None and walks == self.request.walking:
                self._plans[walks] = given
            elif given is not None and given.left is not None:
                # What the others of a crew leave was found for the usual walks.
                self._plans[walks] = replace(given, request=request)
            else:
                self._plans[walks] = plan_for(self.context, request, problem=self._problem)
        return self._plans[walks]

    def _make(self, longest_yd: int, asked: list[tuple[Moment, int]]) -> None:
        """Make what there is not yet of moments and hash marks."""
        keys = [(longest_yd, moment.name, code) for moment, code in asked]
        new = [i for i, key in enumerate(keys) if key not in self._made]
        grids = [CardGrid.of(longest_yd, asked[i][0]) for i in new]
        codes = [asked[i][1] for i in new]
        pairs = [(i, k) for i in range(len(new)) for k in range(len(self._grounds))]

        def played(i: int) -> list[Any]:
            grid, code = grids[i], codes[i]
            forecast = self.context.model.forecast(grid.batch(code).take(grid.distinct[0]))
            usual = grid.moment == USUAL and code == UNKNOWN_HASH
            return [
                _outcomes(forecast, grid) if code == UNKNOWN_HASH else [],
                [_kicks(of) if usual else [] for of in self._grounds],
                [of.plays(grid, forecast) for of in self._grounds],
            ]

        def chosen(pair: int) -> list[Choices]:
            i, k = pairs[pair]
            plan, plays = self.plan(grids[i].moment), Plays(*found[i][2][k])
            return self._grounds[k].choices(plan, grids[i], codes[i], plays)

        def solve() -> None:
            for grid in grids:
                self.plan(grid.moment)

        if new:
            self._get_ready()
        found = in_two(played, len(new), meanwhile=solve)
        choices = in_two(chosen, len(pairs))
        for i, (grid, code) in enumerate(zip(grids, codes, strict=True)):
            outcomes, kicks, plays = found[i]
            moment = grid.moment.name
            name = hash_name(code) if grid.moment == USUAL else moment
            toward = []
            for k, direction in enumerate(self.directions):
                letter = direction_letter(direction)
                of_kicks = zip(("kick", "kick-choice", "kick-best"), kicks[k], strict=False)
                toward.append(
                    [Plane(f"{what}:{letter}", table) for what, table in of_kicks]
                    + _answer_planes(
                        Plays(*plays[k]),
                        [Choices(*one) for one in choices[pairs.index((i, k))]],
                        letter,
                        name,
                        longest_yd * YARD_LINES,
                    )
                )
            of_plays = zip(("outcome", "fourth"), outcomes, strict=False)
            shared = [Plane(f"{what}:{moment}", table) for what, table in of_plays]
            self._made[keys[new[i]]] = _Part(shared, toward)

    def _get_ready(self) -> None:
        """Have what both processes need."""
        self.context.transition()
        for ground in self._grounds:
            ground.scorer.paths  # noqa: B018


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


def _answer_planes(
    plays: Plays, choices: list[Choices], letter: str, name: str, block: int
) -> list[Plane]:
    where = f"{letter}:{name}"
    planes = [
        Plane(f"usable:{where}", plays.p_usable, block=block),
        Plane(f"best:{where}", plays.best),
    ]
    for team, of in zip(("ours", "theirs"), choices, strict=False):
        planes.append(Plane(f"choice:{where}:{team}", of.near, are_places=True, block=block))
        planes.append(Plane(f"far:{where}:{team}", of.far, are_places=True))
    for what, values in (("lens", plays.lens), ("exposure", plays.exposure)):
        if values is not None:
            planes.append(Plane(f"{what}:{letter}", values, block=block))
    return planes


def _outcomes(forecast: Forecast, grid: CardGrid) -> list[ByteArray]:
    """Return what the distinct rows of a grid lead to, and what is done on fourth down.

    Gains (p10, p50, p90) and codes (touchdown, first down, pass, sack), (m, 7); codes of going for
    it, a punt and a field goal, (m / 4, 3).
    """
    cumulative, (_, of) = np.cumsum(forecast.gain_pmf, axis=1), grid.distinct
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
    outcomes = np.column_stack([*gains, *(percent_codes(p) for p in shares)]).astype(np.uint8)
    fourth = percent_codes(forecast.p_fourth_down_choice)[of][grid.down == 4]
    return [outcomes[of], fourth]


def card_kicks(rules: FieldRules) -> tuple[Kick, ...]:
    """Return the kicks that a card answers besides fourth downs, from their usual lines."""
    plays = (PlayKind.KICKOFF, PlayKind.FREE_KICK, PlayKind.TRY)
    return tuple(Kick.of(play, rules) for play in plays)


def _kicks(ground: CardGround) -> list[ByteArray]:
    """Return for each of `card_kicks` P(usable), where to be from everywhere, and the best place.

    One row a kick; `NO_SPOT` in place of the best where no open place has a frame.
    """
    scorer, request, walking = ground.scorer, ground.request, ground.request.walking
    usable, choice, best = [], [], []
    for kick in card_kicks(request.venue.rules):
        try:
            p = p_usable_of(scorer, frames_of(ground.context, kick), kick)
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
    places = (np.array(of, dtype=np.uint8) for of in (choice, best))
    return [percent_codes(np.stack(usable)), *places]
