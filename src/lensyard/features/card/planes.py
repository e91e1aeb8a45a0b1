"""The tables of a card by name: outcomes, kicks and answers, for hash marks and moments."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from lensyard.arrays import ByteArray
from lensyard.domain.assignment import LEAST_USABLE
from lensyard.domain.field import Direction, FieldRules
from lensyard.domain.perimeter import DRIVE_LIMIT_YD, Tempo, WalkTime
from lensyard.domain.situation import HASH_CODES, UNKNOWN_HASH, Kick, PlayKind
from lensyard.errors import ModelError
from lensyard.features.card.grid import USUAL, CardGrid, Moment, percent_codes
from lensyard.features.card.packing import Plane
from lensyard.features.card.tables import NO_SPOT, CardGround, Plays
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
        self._made: dict[tuple[int, str, int], list[Plane]] = {}

    def planes(
        self, longest_yd: int, hash_codes: tuple[int, ...], moments: tuple[Moment, ...]
    ) -> list[Plane]:
        """Return the tables for distances up to so many yards.

        ``hash_codes``, of the usual moment, and ``moments`` besides it; both in order.
        """
        asked = [(USUAL, code) for code in hash_codes]
        asked += [(moment, UNKNOWN_HASH) for moment in moments]
        keys = [(longest_yd, moment.name, code) for moment, code in asked]
        self._make(
            {key: one for key, one in zip(keys, asked, strict=True) if key not in self._made}
        )
        return [plane for key in keys for plane in self._made[key]]

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

    def _make(self, asked: dict[tuple[int, str, int], tuple[Moment, int]]) -> None:
        """Make the tables of moments and hash marks, by what `_made` has them under."""
        new = [
            (CardGrid.of(longest_yd, moment), code)
            for (longest_yd, _, _), (moment, code) in asked.items()
        ]
        pairs = [(i, k) for i in range(len(new)) for k in range(len(self._grounds))]
        self.context.transition()
        for ground in self._grounds:
            ground.scorer.paths  # noqa: B018  # what both processes need

        def played(i: int) -> list[Any]:
            grid, code = new[i]
            forecast = self.context.model.forecast(grid.batch(code).take(grid.distinct[0]))
            tables = _outcomes(forecast, grid) if code == UNKNOWN_HASH else {}
            return [tables, [of.plays(grid, forecast) for of in self._grounds]]

        def chosen(pair: int) -> dict[str, ByteArray]:
            (i, k), ground = pairs[pair], self._grounds[pairs[pair][1]]
            (grid, code), plays = new[i], Plays(*found[i][1][k])
            choices = ground.choices(self.plan(grid.moment), grid, code, plays)
            return _tables_of(ground, grid, code, plays, choices)

        found = in_two(played, len(new), meanwhile=lambda: [self.plan(g.moment) for g, _ in new])
        answers = in_two(chosen, len(pairs))
        for i, key in enumerate(asked):
            tables = found[i][0]
            for k in range(len(self._grounds)):
                tables |= answers[pairs.index((i, k))]
            self._made[key] = [Plane(name, table) for name, table in tables.items()]


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


def _tables_of(
    ground: CardGround,
    grid: CardGrid,
    hash_code: int,
    plays: Plays,
    choices: list[tuple[ByteArray, ByteArray]],
) -> dict[str, ByteArray]:
    """Return the tables of one direction, moment and hash mark by name."""
    letter, is_usual = direction_letter(ground.direction), grid.moment == USUAL
    where = f"{letter}:{hash_name(hash_code) if is_usual else grid.moment.name}"
    found = {f"usable:{where}": plays.p_usable, f"best:{where}": plays.best}
    for team, (near, far) in zip(("ours", "theirs"), choices, strict=False):
        found |= {f"choice:{where}:{team}": near, f"far:{where}:{team}": far}
    if plays.lens is not None and plays.exposure is not None:
        found |= {f"lens:{letter}": plays.lens, f"exposure:{letter}": plays.exposure}
        found |= {f"{name}:{letter}": table for name, table in _kicks(ground).items()}
    return found


def _outcomes(forecast: Forecast, grid: CardGrid) -> dict[str, ByteArray]:
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
    return {f"outcome:{grid.moment.name}": outcomes[of], f"fourth:{grid.moment.name}": fourth}


def card_kicks(rules: FieldRules) -> tuple[Kick, ...]:
    """Return the kicks that a card answers besides fourth downs, from their usual lines."""
    plays = (PlayKind.KICKOFF, PlayKind.FREE_KICK, PlayKind.TRY)
    return tuple(Kick.of(play, rules) for play in plays)


def _kicks(ground: CardGround) -> dict[str, ByteArray]:
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
    return {
        "kick": percent_codes(np.stack(usable)),
        "kick-choice": np.array(choice, dtype=np.uint8),
        "kick-best": np.array(best, dtype=np.uint8),
    }
