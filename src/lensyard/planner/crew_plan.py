"""Several photographers on one play: the spots that together have the most of it.

Each photographer has a kit. The crew's value is the expected value of the play if at least one of
them has it, so two people side by side have little more than one. The choice is the covering
problem of `lensyard.planner.max_coverage`: its cells are the places where plays end, weighted by
expected value; its groups are the photographers with one kit (they are exchangeable); a site is an
open spot together with the lenses at hand there. It is solved exactly, and the answer carries the
bound that proves it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import Faces
from lensyard.domain.field import (
    Direction,
)
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import Perimeter
from lensyard.domain.places import spot_label
from lensyard.domain.situation import Situation
from lensyard.errors import InvalidInputError
from lensyard.planner.crew_roles import drop_back_cell, role_words, share_out
from lensyard.planner.max_coverage import greedy_coverage, grouped_problem, solve_coverage
from lensyard.spots.ranking import Masses
from lensyard.spots.scorer import Scorer
from lensyard.spots.visibility import FACING_LIMIT_DEG

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

MOST_SHOOTERS = 12


@dataclass(frozen=True, slots=True)
class CrewSpot:
    """Where one photographer of the crew stands (play frame).

    Attributes
    ----------
    shooter
        Number in the crew, from 1.
    kit
        What they carry, as text.
    station_index, label, x_yd, y_yd
        The spot in the scorer's numbering, its name and place. [yd]
    p_usable
        P(the play is usable from there).
    value
        Expected value from there alone.
    added
        What the photographer adds to those with lower numbers; sums to the crew's value.
    only
        What nobody else of the crew has: lost if they stayed at home.
    role
        What they are there for, in words.
    """

    shooter: int
    kit: str
    station_index: int = field(metadata={"json": None})
    label: str
    x_yd: float
    y_yd: float
    p_usable: float
    value: float
    added: float
    only: float
    role: str


@dataclass(frozen=True, slots=True)
class Crew:
    """The answer for one situation.

    Attributes
    ----------
    spots
        One for each photographer who adds something, by number.
    idle
        Numbers of those who would add nothing to the others.
    value
        Expected value of the play if at least one has it.
    total_value
        Expected value of the play altogether.
    p_usable
        P(the play is usable for at least one).
    bound, gap, proven
        No crew gets more than the bound; how far it lies above the value as a share; whether that
        proves the answer the best.
    greedy_value
        What the usual way gets: the best spot, then the best beside it, and so on.
    """

    spots: tuple[CrewSpot, ...]
    idle: tuple[int, ...]
    value: float
    total_value: float
    p_usable: float
    bound: float
    gap: float
    proven: bool
    greedy_value: float


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Photographers with one kit, and the sites they can choose from.

    ``covers`` (sites, cells); ``station_index`` of each site (sites,).
    """

    scorer: Scorer
    shooters: tuple[int, ...]
    covers: BoolArray
    station_index: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """A photographer at a site: number, scorer, station and the cells they have."""

    shooter: int
    scorer: Scorer
    station_index: int
    cells: BoolArray


def crew_scorers(
    perimeter: Perimeter,
    kits: Sequence[Kit],
    *,
    direction: Direction = Direction.TOWARD_B,
    faces: Faces = Faces.OFFENSE,
    facing_limit_deg: float = FACING_LIMIT_DEG,
) -> list[Scorer]:
    """Return one scorer a photographer; equal kits share one."""
    made: dict[object, Scorer] = {}
    for kit in kits:
        if _same_kit(kit) not in made:
            made[_same_kit(kit)] = Scorer(perimeter, kit, direction, faces, facing_limit_deg)
    return [made[_same_kit(kit)] for kit in kits]


def _same_kit(kit: Kit) -> object:
    """What makes two kits one, whatever they are called."""
    return kit.mounted, kit.bodies


def crew_for(
    scorers: Sequence[Scorer],
    masses: Masses,
    situation: Situation,
    *,
    node_limit: int | None = None,
) -> Crew:
    """Return where a crew stands for one play.

    Parameters
    ----------
    scorers
        One a photographer, of one perimeter and direction; kits and faces may differ.
    masses
        The outcome mass of the situation.
    situation
        Where the play starts.
    node_limit
        See `lensyard.planner.max_coverage.solve_coverage`.

    Raises
    ------
    InvalidInputError
        If there is nobody, more than `MOST_SHOOTERS`, or no kit reaches anything from an open spot.
    """
    groups = _groups(scorers)
    total_value = np.maximum(masses.value.reshape(-1).astype(np.float64), 0.0)
    problem = grouped_problem(
        total_value, [g.covers for g in groups], picks=[len(g.shooters) for g in groups]
    )
    best = solve_coverage(problem, node_limit=node_limit)
    if best.value <= 1e-6:
        kits = "; ".join(dict.fromkeys(s.kit.text for s in scorers))
        raise InvalidInputError(
            f"with {kits} no play is usable from any open spot; take a longer lens (reach is "
            "10 yd for every 100 mm), or open more of the venue"
        )
    placed = _number(groups, best.chosen, total_value)
    return Crew(
        spots=_spots(placed, masses, total_value, situation),
        idle=tuple(
            sorted(set(range(1, len(scorers) + 1)) - {someone.shooter for someone in placed})
        ),
        value=best.value,
        total_value=float(total_value.sum()),
        p_usable=_p_any(placed, masses),
        bound=best.bound,
        gap=best.gap,
        proven=best.proven,
        greedy_value=greedy_coverage(problem).value,
    )


def _groups(scorers: Sequence[Scorer]) -> list[_Group]:
    if not 1 <= len(scorers) <= MOST_SHOOTERS:
        raise InvalidInputError(
            f"a crew has 1 to {MOST_SHOOTERS} photographers; got {len(scorers)}"
        )
    first = scorers[0]
    if any(s.perimeter is not first.perimeter or s.direction != first.direction for s in scorers):
        raise InvalidInputError(
            "a crew works one play: give every photographer a scorer of the same perimeter and "
            "direction"
        )
    members: dict[object, list[int]] = {}
    for number, scorer in enumerate(scorers, start=1):
        key = (_same_kit(scorer.kit), scorer.faces, scorer.facing_limit_deg)
        members.setdefault(key, []).append(number)
    return [_group(scorers[numbers[0] - 1], tuple(numbers)) for numbers in members.values()]


def _group(scorer: Scorer, shooters: tuple[int, ...]) -> _Group:
    spots = np.flatnonzero(scorer.open)
    lens_sets = scorer.usable
    return _Group(
        scorer=scorer,
        shooters=shooters,
        covers=np.concatenate([usable[spots] > 0 for usable in lens_sets]),
        station_index=np.tile(spots, len(lens_sets)),
    )


def _number(
    groups: Sequence[_Group], chosen: Sequence[Sequence[int]], total_value: FloatArray
) -> list[_Placed]:
    """Hand the chosen sites to the photographers: within a kit, who adds most comes first."""
    placed: list[_Placed] = []
    for group, sites in zip(groups, chosen, strict=True):
        left, open_sites = total_value.copy(), sorted(sites)
        for shooter in group.shooters[: len(sites)]:
            gain = group.covers[open_sites] @ left
            site = open_sites.pop(int(np.round(gain, 9).argmax()))
            cells = group.covers[site]
            left = np.where(cells, 0.0, left)
            placed.append(_Placed(shooter, group.scorer, int(group.station_index[site]), cells))
    return sorted(placed, key=lambda someone: someone.shooter)


def _p_any(placed: Sequence[_Placed], masses: Masses) -> float:
    anyone = np.any([someone.cells for someone in placed], axis=0)
    return min(float(masses.plain.reshape(-1)[anyone].sum()), 1.0)


def _spots(
    placed: Sequence[_Placed], masses: Masses, total_value: FloatArray, situation: Situation
) -> tuple[CrewSpot, ...]:
    covers = np.stack([someone.cells for someone in placed])
    held = share_out(total_value, covers)
    plain = masses.plain.reshape(-1)
    before = np.zeros(total_value.shape, dtype=bool)
    drop_back = drop_back_cell(situation, placed[0].scorer.perimeter.venue.rules)
    result = []
    for i, someone in enumerate(placed):
        x, y = (float(a[someone.station_index]) for a in someone.scorer.xy_yd)
        others = np.delete(covers, i, axis=0).any(axis=0)
        result.append(
            CrewSpot(
                shooter=someone.shooter,
                kit=someone.scorer.kit.text,
                station_index=someone.station_index,
                label=spot_label(x_yd=x, y_yd=y),
                x_yd=x,
                y_yd=y,
                p_usable=min(float(plain[someone.cells].sum()), 1.0),
                value=float(total_value[someone.cells].sum()),
                added=float(total_value[someone.cells & ~before].sum()),
                only=float(total_value[someone.cells & ~others].sum()),
                role=role_words(
                    held[i],
                    total_value,
                    situation=situation,
                    faces=someone.scorer.faces,
                    drop_back=bool(someone.cells[drop_back]),
                ),
            )
        )
        before |= someone.cells
    return tuple(result)
