"""The ranking of spots for one situation, and what the usual habits would get.

A spot is *as good as the best* when the difference of their values is within its error. The error
comes from how many comparable plays the model has seen: values of two spots are paired play by
play, so the difference has variance ``Var(w (u1 - u2)) / n`` with outcome weights ``w``, usable
indicators ``u`` and n comparable plays.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import USABLE_WEIGHTS, Faces, OutcomeWeights
from lensyard.domain.field import CENTER_Y_YD, OPPONENT_GOAL_LINE_X_YD
from lensyard.domain.kit import Mounted, in_band
from lensyard.domain.perimeter import walk_s
from lensyard.domain.situation import Situation
from lensyard.errors import InvalidInputError
from lensyard.model.lateral import LateralPrior
from lensyard.model.outcome import Forecast
from lensyard.records import Record
from lensyard.spots.position_rule import targets, usual_habits
from lensyard.spots.scorer import CELL_X_YD, Scorer
from lensyard.stats import Z_95, wilson

Float32Array = NDArray[np.float32]
FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Two recommended spots are at least this far apart, or they are one place with two names.
APART_YD = 6.0


@dataclass(frozen=True, slots=True)
class Masses:
    """Outcome mass of one situation by cell, shape (121, 18) each, float32.

    ``plain`` sums to 1; ``value`` is weighted by the assignment, ``value_sq`` by its square.
    ``comparable_plays`` says how many plays stand behind it.
    """

    plain: Float32Array
    value: Float32Array
    value_sq: Float32Array
    comparable_plays: float

    @staticmethod
    def of(forecast: Forecast, prior: LateralPrior, weights: OutcomeWeights) -> Masses:
        """Return the masses of the first situation of a forecast."""
        plain, value, value_sq = forecast.cells(prior, USABLE_WEIGHTS, weights, _squared(weights))
        comparable = max(float(forecast.comparable_plays[0]), 1.0)
        return Masses(plain[0], value[0], value_sq[0] * np.float32(_SCALE**2), comparable)


# Squares of weights within their limits would leave them; a power of two scales without rounding.
_SCALE = 16.0


@cache
def _squared(weights: OutcomeWeights) -> OutcomeWeights:
    """Return the squares of weights over `_SCALE`."""
    return OutcomeWeights(
        **{name: (getattr(weights, name) / _SCALE) ** 2 for name in weights.__dataclass_fields__}
    )


class SpotScore(Record):
    """One place to stand (play frame), and what it is good for in one situation.

    Attributes
    ----------
    station_index
        In the scorer's numbering.
    label, x_yd, y_yd
        Name and place. [yd]
    p_in_reach, p_facing, p_clear, p_usable
        Probabilities; usable is the probability that all three hold.
    p_usable_low, p_usable_high
        95 % interval from the number of comparable plays.
    value
        Expected value of the play from there.
    as_good
        Whether it is as good as the best within the error.
    walk_yd, walk_s
        From where one stands; None when that is not known.
    run_out_exposure
        P(the play runs out of bounds, or into the end zone, within 5 yd of the spot).
    lens
        What to have at the eye.
    reason
        One sentence.
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
    """The answer for one situation: the spots in order, and the habits beside them."""

    spots: tuple[SpotScore, ...]
    habits: tuple[Habit, ...]


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
    ) -> None:
        self.by_value = by_value
        self.factor = np.ones(len(scorer.perimeter)) if factor is None else factor
        self.scorer, self.masses, self.situation, self.standing = (
            scorer,
            masses,
            situation,
            standing,
        )
        flat = scorer.flat(masses.plain)
        both = scorer.expected_value_by_lens_set(np.stack([masses.plain, masses.value]))
        self.hand = both[:, 1 if by_value else 0].argmax(axis=0)
        rows = np.arange(len(self.hand))
        self.p_usable = np.clip(both[self.hand, 0, rows], 0.0, 1.0).astype(np.float64)
        self.value = np.maximum(both[self.hand, 1, rows], 0.0).astype(np.float64)
        self.flat = flat
        self.exposure = scorer.run_out_exposure(masses.plain)
        x, y = scorer.xy_yd
        self.x, self.y = x, y

    @property
    def by(self) -> FloatArray:
        """What the spots are ranked by, shape (n,)."""
        chosen: FloatArray = (self.value if self.by_value else self.p_usable) * self.factor
        return chosen

    def usable_of(self, station_index: int) -> Float32Array:
        """Usable cells from a station with its best lenses at hand, shape (cells,)."""
        cells: Float32Array = self.scorer.usable[int(self.hand[station_index])][station_index]
        return cells

    def difference_error(self, best: int, other: int) -> float:
        """Standard error of the difference between two stations in what they are ranked by."""
        first, second_factor = self.factor[best], self.factor[other]
        unlike = (first * self.usable_of(best) - second_factor * self.usable_of(other)) ** 2
        mass = self.masses.value_sq if self.by_value else self.masses.plain
        second = float(unlike @ self.scorer.flat(mass))
        difference = float(self.by[best] - self.by[other])
        variance = max(second - difference**2, 0.0)
        return float(np.sqrt(variance / self.masses.comparable_plays))

    def p_of(self, cells: NDArray[np.bool_]) -> float:
        """Return the probability of a set of cells, shape (cells,)."""
        return min(float(cells.astype(np.float32) @ self.flat), 1.0)

    def interval(self, p: float) -> tuple[float, float]:
        """Wilson's 95 % interval with the number of comparable plays."""
        return wilson(p, self.masses.comparable_plays)

    def score(self, station_index: int, *, as_good: bool) -> SpotScore:
        """Return everything about one station."""
        lens_sets = self.scorer.kit.lens_sets[self.hand[station_index]]
        flat = self.flat
        distance = self.scorer.geometry.distance_yd[station_index]
        p_in_reach = float(in_band(distance, lens_sets) @ flat)
        lens = self._lens(station_index, lens_sets)
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
            p_in_reach=min(p_in_reach, 1.0),
            p_facing=self.p_of(self.scorer.geometry.facing[station_index]),
            p_clear=self.p_of(self.scorer.geometry.clear[station_index]),
            p_usable=p,
            p_usable_low=low,
            p_usable_high=high,
            value=float(self.value[station_index]),
            as_good=as_good,
            walk_yd=walk,
            walk_s=None if walk is None else walk_s(walk),
            run_out_exposure=float(self.exposure[station_index]),
            lens=lens.text,
            reason=self._reason(station_index, lens, p_in_reach),
        )

    def _lens(self, station_index: int, lens_sets: tuple[Mounted, ...]) -> Mounted:
        """The lens at hand that covers most of what is usable from there."""
        distance = self.scorer.geometry.distance_yd[station_index]
        weight = self.scorer.flat(self.masses.value) * self.usable_of(station_index)
        shares = [float(in_band(distance, (m,)) @ weight) for m in lens_sets]
        return lens_sets[int(np.argmax(shares))]

    def _reason(self, station_index: int, lens: Mounted, p_in_reach: float) -> str:
        ahead = float(self.x[station_index]) - self.situation.line_of_scrimmage_x_yd
        where = (
            f"{ahead:.0f} yd ahead of the ball"
            if ahead >= 0.5
            else f"{-ahead:.0f} yd behind the ball"
            if ahead <= -0.5
            else "level with the ball"
        )
        whose = "the play" if self.scorer.faces is Faces.OFFENSE else "the defense"
        facing = self.p_of(self.scorer.geometry.facing[station_index])
        usable = self.flat * self.usable_of(station_index)
        cell_x_yd = self.scorer.flat(CELL_X_YD.reshape(self.masses.plain.shape))
        end_zone = float(usable[cell_x_yd > OPPONENT_GOAL_LINE_X_YD].sum())
        share = end_zone / max(float(usable.sum()), 1e-9)
        story = (
            "the end zone lies open before you"
            if share > 0.4 and self.x[station_index] > OPPONENT_GOAL_LINE_X_YD
            else f"{whose} comes toward you {facing:.0%} of the time"
        )
        return f"{where}, the {lens.text} reaches {p_in_reach:.0%} of plays, and {story}"


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
) -> Ranking:
    """Return the best spots for one situation and what habit would get.

    Parameters
    ----------
    scorer
        Venue, kit, direction and faces.
    masses
        The outcome mass of the situation.
    situation
        Down, distance, spot.
    top
        How many spots; neighbors closer than 6 yd count as one place.
    standing
        The station where one stands; then each spot has its walk.
    limit_yd
        How far one can walk before the snap. Spots farther away are left out, unless no nearer
        one has a usable frame. [yd]
    by_value
        Rank by the assignment's value of the play instead of by P(usable).
    factor
        A soft preference for each station, at least 0, shape (n,): what the spots are ranked by is
        multiplied with it. No probability changes.

    Raises
    ------
    InvalidInputError
        If the kit reaches nothing from any open spot.
    """
    field = _Field(scorer, masses, situation, standing=standing, by_value=by_value, factor=factor)
    value = np.where(scorer.open, field.by, -1.0)
    if value.max() <= 1e-6:
        raise InvalidInputError(
            f"with {scorer.kit.text} no play is usable from any open spot; "
            "take a longer lens (reach is 10 yd for every 100 mm), or open more of the venue"
        )
    walk_yd = np.zeros(value.size) if standing is None else scorer.walk_yd[standing]
    within = np.where(walk_yd <= limit_yd + 1e-6, value, -1.0)
    value = within if within.max() > 1e-6 else value
    chosen = _spread_out(value, scorer.walk_yd, walk_yd, top)
    best = chosen[0]
    spots = tuple(
        field.score(
            p,
            as_good=bool(
                p == best or value[best] - value[p] <= Z_95 * field.difference_error(best, p)
            ),
        )
        for p in chosen
    )
    return Ranking(spots, _habits(field, best))


def _spread_out(
    value: FloatArray, apart_yd: FloatArray, walk_yd: FloatArray, top: int
) -> list[int]:
    """The best stations, none within `APART_YD` of a better one; the nearest among equals."""
    order = np.lexsort((np.arange(value.size), walk_yd, -np.round(value, 5)))
    chosen: list[int] = []
    for station_index in order:
        if len(chosen) == top or value[station_index] <= 1e-6:
            break
        if all(apart_yd[station_index, other] >= APART_YD for other in chosen):
            chosen.append(int(station_index))
    return chosen


def _habits(field: _Field, best: int) -> tuple[Habit, ...]:
    left = bool(field.y[best if field.standing is None else field.standing] > CENTER_Y_YD)
    found = []
    for rule in usual_habits(field.scorer.faces):
        station_index = targets(
            rule,
            yardline_100=np.array([field.situation.yardline_100]),
            left_side=np.array([left]),
            xy_yd=field.scorer.xy_yd,
            may_shoot=field.scorer.open,
        )[0]
        found.append(Habit(rule.name, rule.title, field.score(int(station_index), as_good=False)))
    return tuple(found)
