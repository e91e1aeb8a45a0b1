"""The ranking of spots for one situation, and what the usual habits would get.

A spot is *as good as the best* when the difference of their values is within its error. The error
comes from how many comparable plays the model has seen: values of two spots are paired play by
play, so the difference has variance ``Var(w (u1 - u2)) / n`` with outcome weights ``w``, best
qualities ``u`` of the play's path and n comparable plays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np

from lensyard.arrays import BoolArray, FloatArray
from lensyard.domain.assignment import Faces
from lensyard.domain.field import CENTER_Y_YD, OPPONENT_GOAL_LINE_X_YD
from lensyard.domain.kit import Mounted
from lensyard.domain.perimeter import PACE_YD_S, walk_s
from lensyard.domain.situation import Situation
from lensyard.errors import InvalidInputError
from lensyard.model.outcome_grid import X_YD, Y_YD
from lensyard.records import Record
from lensyard.spots.masses import Masses
from lensyard.spots.position_rule import PositionRule, targets, usual_habits
from lensyard.spots.scorer import PathQuality, Scorer
from lensyard.stats import Z_95, wilson

if TYPE_CHECKING:
    from lensyard.spots.kicks import FourthDowns

# Two recommended spots are at least this far apart, or they are one place with two names.
APART_YD = 6.0
SAME_WITHIN = 1e-5
"""Values so close to the highest count as it."""


class SpotScore(Record):
    """One place to stand (play frame), and what it is good for in one situation.

    - ``station_index``: in the scorer's numbering.
    - ``label``, ``x_yd``, ``y_yd``: name and place. [yd]
    - ``p_in_reach``, ``p_facing``, ``p_clear``, ``p_usable``: expected best quality of the play's
      path: by distance, by facing, by clear lines, and with all three. With a crop margin of 1 they
      are probabilities of a frame.
    - ``p_usable_low``, ``p_usable_high``: 95 % interval from the number of comparable plays.
    - ``value``: expected value of the play from there.
    - ``as_good``: whether it is as good as the best within the error.
    - ``walk_yd``, ``walk_s``: from where one stands; None when that is not known.
    - ``run_out_exposure``: P(the play runs out of bounds, or into the end zone, within 5 yd of the
      spot).
    - ``lens``: what to have at the eye.
    - ``reason``: one sentence.
    """

    station_index: int = field(metadata={"json": None})
    label: str
    x_yd: float
    y_yd: float
    p_in_reach: float
    p_facing: float
    p_clear: float
    p_usable: float
    p_usable_low: float
    p_usable_high: float
    value: float
    as_good: bool
    walk_yd: float | None
    walk_s: float | None
    run_out_exposure: float
    lens: str
    reason: str


class Habit(Record):
    """A usual habit and the spot it leads to."""

    name: str
    title: str
    spot: SpotScore


class Ranking(Record):
    """The answer for one situation: the spots in order, the habits, and stations asked about."""

    spots: tuple[SpotScore, ...]
    habits: tuple[Habit, ...]
    named: tuple[SpotScore, ...] = ()


class _Chances(Record):
    """What explains P(usable) at a station; see `SpotScore`.

    ``end_zone_share``: how much of what it has of plays ends in the opponent's end zone.
    """

    lens: Mounted
    p_in_reach: float
    p_facing: float
    p_clear: float
    run_out_exposure: float
    end_zone_share: float


class _Field:
    """Everything about one situation that is shared by all spots."""

    def __init__(
        self,
        scorer: Scorer,
        masses: Masses,
        situation: Situation,
        *,
        standing: int | None,
        by_value: bool,
        factor: FloatArray | None,
        kicks: FourthDowns | None,
        kick_value: float,
        pace_yd_s: float,
    ) -> None:
        self.pace_yd_s = pace_yd_s
        self.by_value = by_value
        self.factor = np.ones(len(scorer.open)) if factor is None else factor
        self.scorer, self.masses, self.situation, self.standing = (
            scorer,
            masses,
            situation,
            standing,
        )
        both = scorer.expected_value_by_lens_set(masses.paths)
        self.hand = both[:, 1 if by_value else 0].argmax(axis=0)
        rows = np.arange(len(self.hand))
        self.p_usable = np.clip(both[self.hand, 0, rows], 0.0, 1.0).astype(np.float64)
        self.value = np.maximum(both[self.hand, 1, rows], 0.0).astype(np.float64)
        self.x, self.y = scorer.xy_yd
        filled = masses.filled_x
        self.cells = slice(filled.start * Y_YD.size, filled.stop * Y_YD.size)
        if kicks is not None:
            self.p_usable = kicks.mixed(self.p_usable[np.newaxis])[0]
            self.value = kicks.mixed(self.value[np.newaxis], kick_value=kick_value)[0]

    @property
    def by(self) -> FloatArray:
        """What the spots are ranked by, shape (n,)."""
        chosen: FloatArray = (self.value if self.by_value else self.p_usable) * self.factor
        return chosen

    def paths_of(self, station_index: int) -> PathQuality:
        """What paths are worth from there with its best lenses at hand."""
        return self.scorer.paths[int(self.hand[station_index])]

    def difference_errors(self, best: int, others: Sequence[int]) -> FloatArray:
        """Standard errors of differences to a station in what they are ranked by, (k,)."""
        both = [best, *others]
        reach, missed = (
            np.stack(
                [
                    self.factor[station]
                    * getattr(self.paths_of(station), name)[station, self.cells]
                    for station in both
                ]
            ).reshape(len(both), -1, Y_YD.size)
            for name in ("reach_from", "missed_from")
        )
        square = self.masses.second_moments(
            reach[:1] - reach[1:], missed[:1] - missed[1:], by_value=self.by_value
        )
        difference = self.by[best] - self.by[list(others)]
        variance = np.maximum(square - difference**2, 0.0)
        return np.asarray(np.sqrt(variance / self.masses.comparable_plays))

    def chances(self, stations: Sequence[int]) -> dict[int, _Chances]:
        """Return what explains P(usable) at some stations."""
        rows, scorer = np.array(sorted(set(stations)), dtype=np.int64), self.scorer
        geometry, kit, k = scorer.geometry, scorer.kit, len(set(stations))
        # The lanes between the first and the last cell that the play may touch.
        cells = self.cells
        distance = geometry.distance_yd[rows, cells]
        facing, clear = geometry.facing[rows, cells], geometry.clear[rows, cells]
        at_hand = scorer.at_hand[self.hand[rows]].T
        by_lens = np.zeros((len(kit.mounted), *distance.shape), dtype=np.float32)
        for i, mounted in enumerate(kit.mounted):
            if at_hand[i].any():
                np.multiply(kit.quality(distance, (mounted,)), at_hand[i, :, None], out=by_lens[i])
        explains = [by_lens.max(axis=0), facing, clear]
        if (at_hand.sum(axis=0) > 1).any():  # else the lens at hand is the lens
            explains.extend(by_lens * (facing & clear))
        paths = self.masses.paths.filled()
        found = PathQuality.of(np.concatenate(explains)).expected(paths).reshape(2, -1, k)
        p = np.minimum(found[0, :3], 1.0).T.astype(float)
        lens = np.where(at_hand, found[1, 3:] if len(explains) > 3 else 0.0, -1.0).argmax(axis=0)
        exposure = scorer.run_out_exposure(self.masses.ends, rows)
        reached = np.stack([self.paths_of(row).reach_from[row, cells] for row in rows.tolist()])
        reached *= paths.ends[0]
        # The end zone is the last of the rows.
        end_zone = int((X_YD <= OPPONENT_GOAL_LINE_X_YD).sum()) * Y_YD.size
        share = reached[:, max(end_zone - cells.start, 0) :].sum(axis=1) / np.maximum(
            reached.sum(axis=1), 1e-9
        )
        return {
            int(row): _Chances(
                lens=kit.mounted[lens[i]],
                p_in_reach=float(p[i, 0]),
                p_facing=float(p[i, 1]),
                p_clear=float(p[i, 2]),
                run_out_exposure=float(exposure[i]),
                end_zone_share=float(share[i]),
            )
            for i, row in enumerate(rows)
        }

    def interval(self, p: float) -> tuple[float, float]:
        """Wilson's 95 % interval with the number of comparable plays."""
        return wilson(p, self.masses.comparable_plays)

    def score(self, station_index: int, chances: _Chances, *, as_good: bool) -> SpotScore:
        """Return everything about one station."""
        p = float(self.p_usable[station_index])
        low, high = self.interval(p)
        walk = (
            None
            if self.standing is None
            else float(self.scorer.walk_yd[self.standing, station_index])
        )
        return SpotScore(
            station_index=station_index,
            label=self.scorer.label(station_index),
            x_yd=float(self.x[station_index]),
            y_yd=float(self.y[station_index]),
            p_in_reach=chances.p_in_reach,
            p_facing=chances.p_facing,
            p_clear=chances.p_clear,
            p_usable=p,
            p_usable_low=low,
            p_usable_high=high,
            value=float(self.value[station_index]),
            as_good=as_good,
            walk_yd=walk,
            walk_s=None if walk is None else walk_s(walk, pace_yd_s=self.pace_yd_s),
            run_out_exposure=chances.run_out_exposure,
            lens=chances.lens.text,
            reason=self._reason(station_index, chances),
        )

    def _reason(self, station_index: int, chances: _Chances) -> str:
        ahead = float(self.x[station_index]) - self.situation.line_of_scrimmage_x_yd
        where = (
            f"{ahead:.0f} yd ahead of the ball"
            if ahead >= 0.5
            else f"{-ahead:.0f} yd behind the ball"
            if ahead <= -0.5
            else "level with the ball"
        )
        whose = "the play" if self.scorer.faces is Faces.OFFENSE else "the defense"
        story = (
            "the end zone lies open before you"
            if chances.end_zone_share > 0.4 and self.x[station_index] > OPPONENT_GOAL_LINE_X_YD
            else f"{whose} comes toward you {chances.p_facing:.0%} of the time"
        )
        reaches = f"the {chances.lens.text} reaches {chances.p_in_reach:.0%} of plays"
        return f"{where}, {reaches}, and {story}"


def rank(
    scorer: Scorer,
    masses: Masses,
    situation: Situation,
    *,
    top: int = 5,
    standing: int | None = None,
    limit_yd: float = np.inf,
    by_value: bool = False,
    factor: FloatArray | None = None,
    kicks: FourthDowns | None = None,
    kick_value: float = 1.0,
    pace_yd_s: float = PACE_YD_S,
    named: Sequence[int] = (),
) -> Ranking:
    """Return the best spots for one situation and what habit would get.

    - ``scorer``: venue, kit, direction and faces.
    - ``masses``: the outcome mass of the situation.
    - ``situation``: down, distance, spot.
    - ``top``: how many spots; neighbors closer than 6 yd count as one place.
    - ``standing``: the station where one stands; then each spot has its walk.
    - ``limit_yd``: how far one can walk before the snap. Spots farther away are left out. [yd]
    - ``by_value``: rank by the assignment's value of the play instead of by P(usable).
    - ``factor``: a soft preference for each station, at least 0, shape (n,): what the spots are
      ranked by is multiplied with it. No probability changes.
    - ``kicks``, ``kick_value``: on fourth down what punts and field goals add, by how likely they
      are, and what a usable frame of one counts. What explains a spot (`p_in_reach`, `reason`) is
      of going for it.
    - ``pace_yd_s``: how fast one walks. [yd/s]
    - ``named``: stations to say everything about besides, in the scorer's numbering.

    Raises `InvalidInputError` if the kit reaches nothing from any open spot.
    """
    field = _Field(
        scorer,
        masses,
        situation,
        standing=standing,
        by_value=by_value,
        factor=factor,
        kicks=kicks,
        kick_value=kick_value,
        pace_yd_s=pace_yd_s,
    )
    allowed = scorer.open if kicks is None else kicks.may_stand(scorer.open)
    value = np.where(allowed, field.by, -1.0)
    if value.max() <= 1e-6:
        raise InvalidInputError(
            f"with {scorer.kit.text} no play is usable from any open spot; "
            "take a longer lens (reach is 10 yd for every 100 mm), or open more of the venue"
        )
    walk_yd = np.zeros(value.size) if standing is None else scorer.walk_yd[standing]
    value = np.where(walk_yd <= limit_yd + 1e-6, value, -1.0)
    chosen = _spread_out(value, scorer.walk_yd, walk_yd, top)
    best = int(value.argmax()) if not chosen else chosen[0]
    habits = _habits(field, best)
    chances = field.chances([*chosen, *(station for _, station in habits), *named])
    others = chosen[1:]
    errors = dict(zip(others, field.difference_errors(best, others), strict=True))
    spots = tuple(
        field.score(
            p, chances[p], as_good=bool(p == best or value[best] - value[p] <= Z_95 * errors[p])
        )
        for p in chosen
    )
    return Ranking(
        spots,
        tuple(
            Habit(rule.name, rule.title, field.score(p, chances[p], as_good=False))
            for rule, p in habits
        ),
        tuple(field.score(p, chances[p], as_good=False) for p in named),
    )


def among_the_best(value: FloatArray) -> BoolArray:
    """Return which values are as high as the highest of their row, but for rounding, (..., n).

    Mirrored places differ in the last bits only; a grid of rounded values would tell some apart.
    """
    equal: BoolArray = value >= value.max(axis=-1, keepdims=True) - SAME_WITHIN
    return equal


def _spread_out(
    value: FloatArray, apart_yd: FloatArray, walk_yd: FloatArray, top: int
) -> list[int]:
    """The best stations, none within `APART_YD` of a better one; the nearest among equals."""
    ranked = np.where(among_the_best(value), value.max(), value)
    order = np.lexsort((walk_yd, -np.round(ranked, 5)))
    order = order[: int((value > 1e-6).sum())]
    chosen: list[int] = []
    while order.size and len(chosen) < top:
        chosen.append(int(order[0]))
        order = order[apart_yd[chosen[-1], order] >= APART_YD]
    return chosen


def _habits(field: _Field, best: int) -> list[tuple[PositionRule, int]]:
    """The usual habits and their stations, on the side where one stands or the best spot is."""
    left = bool(field.y[best if field.standing is None else field.standing] > CENTER_Y_YD)

    rules = usual_habits(field.scorer.faces)
    found = targets(
        rules,
        yardline_100=np.array([field.situation.yardline_100]),
        left_side=np.array([left]),
        xy_yd=field.scorer.xy_yd,
        may_shoot=field.scorer.open,
    )
    return list(zip(rules, found[:, 0].tolist(), strict=True))
