"""Several photographers on one play: the spots that together have the most of it.

Each photographer has a kit. The crew's value is the expected value of the play to whoever of them
has it best, so two people side by side have little more than one. The choice is the covering
problem of `lensyard.planner.max_coverage`: its cells are the places where plays end, weighted by
expected value, each as often as there are `LEVELS` of quality: a site covers a level where the
expected quality of the paths that end there is as good as that. Its groups are the photographers
with one kit (they are exchangeable); a site is an open spot together with the lenses at hand there.
It is solved exactly, and the answer carries the bound that proves it for these levels. Then single
sites are exchanged while that gains without the levels' rounding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from lensyard.arrays import BoolArray, Float32Array, FloatArray, IntArray
from lensyard.domain.assignment import DROP_BACK_YD, Faces
from lensyard.domain.field import (
    CENTER_Y_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    FieldRules,
)
from lensyard.domain.situation import Situation
from lensyard.errors import InvalidInputError
from lensyard.model.outcome_grid import X_YD, Y_YD
from lensyard.planner.max_coverage import CoverageProblem, greedy_coverage, solve_coverage
from lensyard.spots.masses import Masses
from lensyard.spots.scorer import Scorer

MOST_SHOOTERS = 12
LEVELS = 4
"""Qualities are told apart in so many steps when spots are chosen; values are exact."""
DECIMALS = 6
_GAIN = 1e-5


@dataclass(frozen=True, slots=True)
class CrewSpot:
    """Where one photographer (from 1) of the crew stands (play frame). [yd]

    - ``value``: expected value from there alone.
    - ``added``: what the photographer adds to those with lower numbers; sums to the crew's value.
    - ``only``: what nobody else of the crew has: lost if they stayed at home.
    - ``role``: what they are there for, in words.
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

    - ``spots``, ``idle``: one for each who adds something, and the numbers of those who would add
      nothing.
    - ``value``, ``total_value``: expected value of the play if at least one has it, and altogether.
    - ``p_usable``: P(the play is usable for at least one).
    - ``bound``, ``gap``, ``proven``: no crew gets more than the bound, qualities being rounded to
      `LEVELS`; how far it lies above the value as a share; whether that proves the answer the best.
    - ``greedy_value``: what the usual way gets: the best spot, then the best beside it, and so on.
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

    ``had``: expected quality of paths by how they start and where they end, float32 (sites, paths);
    ``lens_set`` and ``station_index`` of each site (sites,).
    """

    scorer: Scorer
    shooters: tuple[int, ...]
    had: Float32Array
    lens_set: IntArray
    station_index: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """A photographer at a site: number, scorer, station, lenses, what they have of each path."""

    shooter: int
    scorer: Scorer
    station_index: int
    lens_set: int
    had: Float32Array


def standing_at(scorer: Scorer, station_index: int) -> Scorer:
    """Return a scorer of somebody who stands at one station and nowhere else."""
    found = Scorer(
        scorer.perimeter, scorer.kit, scorer.direction, scorer.faces, scorer.facing_limit_deg
    )
    vars(found)["open"] = np.arange(scorer.open.size) == station_index  # in place of its own
    return found


def crew_for(scorers: Sequence[Scorer | None], masses: Masses, situation: Situation) -> Crew:
    """Return where a crew stands for one play.

    Scorers are one a photographer, of one field and direction, None for somebody who is there for
    no play; kits, faces and where each may stand may differ.

    Raises `InvalidInputError` if no kit reaches anything from an open spot.
    """
    groups = _groups(scorers, masses)
    total_value = masses.by_start[1].ravel()
    problem = _levels_of(groups, masses)
    best = solve_coverage(problem)
    if best.value <= 1e-6:
        kits = "; ".join(dict.fromkeys(s.kit.text for s in scorers if s is not None))
        raise InvalidInputError(
            f"with {kits} no play is usable from any open spot; take a longer lens (reach is "
            "10 yd for every 100 mm), or open more of the venue"
        )
    chosen = _exchanged(groups, best.chosen, total_value)
    placed = _number(groups, chosen, total_value)
    value = float(np.max([someone.had for someone in placed], axis=0) @ total_value)
    greedy = _value(groups, greedy_coverage(problem).chosen, total_value)
    return Crew(
        spots=_spots(placed, masses, total_value, situation),
        idle=tuple(
            sorted(set(range(1, len(scorers) + 1)) - {someone.shooter for someone in placed})
        ),
        value=value,
        total_value=float(total_value.sum()),
        p_usable=_p_any(placed, masses),
        bound=value + best.bound - best.value,
        gap=best.gap,
        proven=best.proven,
        greedy_value=min(greedy, value),
    )


def _groups(scorers: Sequence[Scorer | None], masses: Masses) -> list[_Group]:
    members: dict[object, tuple[Scorer, list[int]]] = {}
    for number, scorer in enumerate(scorers, start=1):
        if scorer is not None:
            key = (scorer.kit.optics, scorer.faces, scorer.open.tobytes())
            members.setdefault(key, (scorer, []))[1].append(number)
    return [_group(scorer, tuple(numbers), masses) for scorer, numbers in members.values()]


def _group(scorer: Scorer, shooters: tuple[int, ...], masses: Masses) -> _Group:
    spots = np.flatnonzero(scorer.open)
    lines = np.full(spots.size, masses.yardline_100)
    had = [of.had_by_start(spots, lines).reshape(spots.size, -1) for of in scorer.paths]
    return _Group(
        scorer=scorer,
        shooters=shooters,
        had=np.concatenate(had),
        lens_set=np.repeat(np.arange(len(had)), spots.size),
        station_index=np.tile(spots, len(had)),
    )


def _levels_of(groups: Sequence[_Group], masses: Masses) -> CoverageProblem:
    """Return the covering problem of cells by levels of quality."""
    value = masses.by_start[1].reshape(3, -1)
    by_cell = value.sum(axis=0)
    filled = np.flatnonzero(by_cell > 0)
    # What paths that end in a cell are worth on average, over how they may have started.
    share = (value / np.maximum(by_cell, np.float32(1e-30)))[:, filled]
    levels = (np.arange(LEVELS) + 0.5) / LEVELS
    covers = []
    for group in groups:
        mean = (group.had.reshape(-1, *value.shape)[:, :, filled] * share).sum(axis=1)
        covers.append(np.hstack([mean >= level for level in levels]))
    weight = np.tile(by_cell[filled].astype(np.float64) / LEVELS, LEVELS)
    return CoverageProblem(weight, tuple(covers), tuple(len(g.shooters) for g in groups))


def _value(
    groups: Sequence[_Group], chosen: Sequence[Sequence[int]], total_value: Float32Array
) -> float:
    """Return the value of the paths to whoever of some sites has them best."""
    had = [g.had[list(sites)] for g, sites in zip(groups, chosen, strict=True)]
    return float(np.concatenate(had).max(axis=0, initial=0.0) @ total_value)


def _exchanged(
    groups: Sequence[_Group], chosen: Sequence[Sequence[int]], total_value: Float32Array
) -> list[list[int]]:
    """Return the choice after exchanging one site at a time while that gains, without rounding."""
    sites = [list(some) for some in chosen]
    best, gained = _value(groups, sites, total_value), True
    while gained:
        gained = False
        for g, group in enumerate(groups):
            for place in range(len(sites[g])):
                others = [
                    [*s[:place], *s[place + 1 :]] if k == g else s for k, s in enumerate(sites)
                ]
                had = [of.had[rest] for of, rest in zip(groups, others, strict=True)]
                rest = np.concatenate(had).max(axis=0, initial=0.0)
                value = np.maximum(group.had, rest) @ total_value
                if value.max() > best * (1 + _GAIN):
                    sites[g][place], best, gained = int(value.argmax()), float(value.max()), True
    return sites


def _number(
    groups: Sequence[_Group], chosen: Sequence[Sequence[int]], total_value: Float32Array
) -> list[_Placed]:
    """Hand the chosen sites to the photographers: within a kit, who adds most comes first."""
    placed: list[_Placed] = []
    for group, sites in zip(groups, chosen, strict=True):
        before, open_sites = np.zeros_like(total_value), sorted(sites)
        for shooter in group.shooters[: len(sites)]:
            gain = np.maximum(group.had[open_sites] - before, 0) @ total_value
            site = open_sites.pop(int(np.round(gain, DECIMALS).argmax()))
            had = group.had[site]
            before = np.maximum(before, had)
            station, lens_set = int(group.station_index[site]), int(group.lens_set[site])
            placed.append(_Placed(shooter, group.scorer, station, lens_set, had))
    return sorted(placed, key=lambda someone: someone.shooter)


def _p_any(placed: Sequence[_Placed], masses: Masses) -> float:
    anyone = np.max([someone.had for someone in placed], axis=0)
    return min(float(anyone @ masses.by_start[0].ravel()), 1.0)


def _spots(
    placed: Sequence[_Placed], masses: Masses, total_value: Float32Array, situation: Situation
) -> tuple[CrewSpot, ...]:
    had, value = np.stack([someone.had for someone in placed]), total_value.astype(np.float64)
    held = share_out(value, had.astype(np.float64)).reshape(len(placed), 3, -1).sum(axis=1)
    by_cell = value.reshape(3, -1).sum(axis=0)
    plain = masses.by_start[0].ravel()
    before = np.zeros_like(value)
    drop_back = drop_back_cell(situation, placed[0].scorer.perimeter.venue.rules)
    result = []
    for i, someone in enumerate(placed):
        x, y = (float(a[someone.station_index]) for a in someone.scorer.xy_yd)
        others = np.delete(had, i, axis=0).max(axis=0, initial=0.0)
        result.append(
            CrewSpot(
                shooter=someone.shooter,
                kit=someone.scorer.kit.text,
                station_index=someone.station_index,
                label=someone.scorer.label(someone.station_index),
                x_yd=x,
                y_yd=y,
                p_usable=min(float(someone.had @ plain), 1.0),
                value=float(someone.had @ value),
                added=float(np.maximum(someone.had - before, 0.0) @ value),
                only=float(np.maximum(someone.had - others, 0.0) @ value),
                role=role_words(
                    held[i],
                    by_cell,
                    situation=situation,
                    faces=someone.scorer.faces,
                    drop_back=_sees(someone, drop_back),
                ),
            )
        )
        before = np.maximum(before, someone.had)
    return tuple(result)


def _sees(someone: _Placed, cell: int) -> bool:
    """Whether a frame of one cell is worth at least half from there."""
    paths = someone.scorer.paths[someone.lens_set]
    return bool(paths.point[someone.station_index, cell] >= 0.5)


# Runs within three yards of the line end in the pile; twenty yards are the usual "long gain".
AT_THE_LINE_YD = 3.0
DEEP_YD = 20.0
# Along the goal line within this of a sideline, a carrier can dive for the pylon.
PYLON_LANE_YD = 6.0
# More than this share on one half of the field makes a side; a second part is named when it
# scores at least this share of the first.
ONE_SIDED = 0.6
SECOND_PART = 0.5


class Part(StrEnum):
    """The parts of the field, as a play sees it from its line of scrimmage."""

    BACKFIELD = "backfield"
    LINE = "line"
    OPEN_FIELD = "open field"
    DEEP = "deep"
    PYLON = "pylon"
    END_ZONE = "end zone"


# By part: for the offense's faces, for the defense's; {side} is left side, right side, both sides.
_WORDS = {
    Part.BACKFIELD: (
        "quarterback drop-back and the backfield",
        "the rush and the sack in the backfield",
    ),
    Part.LINE: ("carrier through the line, {side}", "the tackle at the line, {side}"),
    Part.OPEN_FIELD: (
        "carrier in the open field, {side}",
        "the tackle in the open field, {side}",
    ),
    Part.DEEP: (
        "the deep ball and the long run, {side}",
        "the interception and the last tackle deep, {side}",
    ),
    Part.PYLON: ("goal line and the dive at the {pylon}",) * 2,
    Part.END_ZONE: (
        "the catch in the end zone, {side}",
        "the ball broken up in the end zone, {side}",
    ),
}
_PYLONS = {"left side": "left pylon", "right side": "right pylon", "both sides": "pylons"}


def part_cells(line_of_scrimmage_x_yd: float) -> dict[Part, BoolArray]:
    """Return which cells belong to each part, shape (121 * 18,); every cell to exactly one."""
    x, y = (grid.ravel() for grid in np.meshgrid(X_YD, Y_YD, indexing="ij"))
    ahead = x - line_of_scrimmage_x_yd
    goal = x >= OPPONENT_GOAL_LINE_X_YD - 1.0
    lane = (np.minimum(y, FIELD_WIDTH_YD - y) <= PYLON_LANE_YD) & (
        x <= OPPONENT_GOAL_LINE_X_YD + 2.0
    )
    return {
        Part.BACKFIELD: ~goal & (ahead < 0),
        Part.LINE: ~goal & (ahead >= 0) & (ahead <= AT_THE_LINE_YD),
        Part.OPEN_FIELD: ~goal & (ahead > AT_THE_LINE_YD) & (ahead < DEEP_YD),
        Part.DEEP: ~goal & (ahead >= DEEP_YD),
        Part.PYLON: goal & lane,
        Part.END_ZONE: goal & ~lane,
    }


def drop_back_cell(situation: Situation, rules: FieldRules) -> int:
    """Return the cell where the quarterback sets up, straight behind the ball."""
    x = int(np.abs(X_YD - (situation.line_of_scrimmage_x_yd - DROP_BACK_YD)).argmin())
    return x * Y_YD.size + int(np.abs(Y_YD - rules.ball_y_yd(situation.hash_mark)).argmin())


def share_out(total_value: FloatArray, covers: FloatArray) -> FloatArray:
    """Return the value that falls to each spot, (spots, c); shared parts go by how well one has it.

    ``covers`` says how much of each part a spot has, 0 to 1; what the best has is given out.
    """
    together = np.maximum(covers.sum(axis=0), 1e-12)
    shared: FloatArray = covers * (total_value * covers.max(axis=0) / together)
    return shared


def role_words(
    held: FloatArray,
    total_value: FloatArray,
    *,
    situation: Situation,
    faces: Faces = Faces.OFFENSE,
    drop_back: bool = False,
) -> str:
    """Return in words what a spot is there for: the parts of the field of which it holds most.

    A part scores value held times share held; a second one that comes near is named too. ``held``
    is of `share_out`; both arrays by cell, shape (c,).

    Raises `InvalidInputError` if the spot holds nothing.
    """
    parts = part_cells(situation.line_of_scrimmage_x_yd)
    score = {}
    for part, cells in parts.items():
        here, there = float(held[cells].sum()), float(total_value[cells].sum())
        score[part] = here * here / there if there > 0 else 0.0
    ranked = sorted(parts, key=lambda p: (-score[p], list(Part).index(p)))
    if score[ranked[0]] <= 0:
        raise InvalidInputError("a spot that has no play has no role; leave it out of the crew")
    named = [p for p in ranked[:2] if score[p] >= SECOND_PART * score[ranked[0]]]
    words = []
    for part in named:
        side = side_words(np.where(parts[part], held, 0.0))
        form = _WORDS[part][0 if faces is Faces.OFFENSE else 1]
        words.append(form.format(side=side, pylon=_PYLONS[side]))
    if drop_back and faces is Faces.OFFENSE and Part.BACKFIELD not in named:
        words.append("the quarterback's drop-back")
    return ", and ".join(dict.fromkeys(words))


def side_words(held: FloatArray) -> str:
    """Return on which half of the field most of the value lies: left, right or both sides."""
    across = held.reshape(-1, Y_YD.size).sum(axis=0)
    total = float(across.sum())
    left = float(across[Y_YD > CENTER_Y_YD].sum()) / total if total > 0 else 0.5
    if left > ONE_SIDED:
        return "left side"
    return "right side" if left < 1 - ONE_SIDED else "both sides"
