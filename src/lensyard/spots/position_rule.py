"""Position rules: where to stand as a function of the ball alone, for habits and for rule cards.

A rule says how far ahead of the ball to stand along a sideline, and from which yard line in to go
behind the end line. The usual habits among photographers are such rules: level with the ball, some
20 yards ahead of it and in a corner behind the goal line inside the 20, or behind the offense for
the defense's faces. They are shown beside every recommendation, and a backtest plays them.

Stations are numbered as in `lensyard.spots.scorer.Scorer` (play frame).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache
from typing import TYPE_CHECKING

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.domain.assignment import Faces
from lensyard.domain.field import (
    CENTER_Y_YD,
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
)
from lensyard.domain.places import yard_line_text
from lensyard.domain.situation import RED_ZONE_FROM
from lensyard.errors import require_range
from lensyard.records import Record

if TYPE_CHECKING:
    from lensyard.spots.scorer import Scorer


ANYWHERE = 100
"""`PositionRule.end_line_from` of a rule that is always behind the end line."""


class PositionRule(Record):
    """Stand ``ahead_yd`` ahead of the ball; from ``end_line_from`` in, go behind the end line.

    - ``ahead_yd``: ahead of the line of scrimmage along the sideline; negative is behind the ball.
      [yd]
    - ``end_line_from``: from this `yardline_100` in, behind the end line; 0 never, `ANYWHERE`
      always. [yd line]
    - ``name``: its key in documents.
    - ``in_from_pylon_yd``: how far in from the back pylon one stands there; None is the corner of
      the perimeter. [yd]
    - ``title``: for people.
    """

    ahead_yd: float = 0.0
    end_line_from: int = 0
    name: str = "rule"
    in_from_pylon_yd: float | None = None
    title: str = ""

    def __post_init__(self) -> None:
        """Refuse numbers that no field has."""
        require_range(low=-60, high=100, ahead_yd=self.ahead_yd)
        require_range(low=0, high=ANYWHERE, end_line_from=self.end_line_from)

    @property
    def along_words(self) -> str:
        """Where it is along the sideline, in words."""
        k = self.ahead_yd
        if k == 0:
            return "level with the ball"
        return f"{abs(k):g} yd {'ahead of' if k > 0 else 'behind'} the ball"

    @property
    def words(self) -> str:
        """The rule as an instruction.

        >>> PositionRule(15, 30).words
        'stand 15 yd ahead of the ball; from the 30 in, behind the end line in the corner'
        """
        first = f"stand {self.along_words}"
        if self.end_line_from == 0:
            return first
        inside = self.in_from_pylon_yd
        place = "in the corner" if inside is None else f"{inside:g} yd in from the pylon"
        return f"{first}; from the {self.end_line_from} in, behind the end line {place}"

    def words_on(self, side: str = "either") -> str:
        """Return the rule as a place: on which sideline, or half of the end line.

        >>> PositionRule(26.0).words_on(), PositionRule(-8.0).words_on("home sideline")
        ('26 yd ahead of the ball, either sideline', '8 yd behind the ball, home sideline')
        >>> PositionRule(end_line_from=ANYWHERE, in_from_pylon_yd=12.0).words_on()
        'behind the end line, 12 yd in from the pylon, either half'
        """
        in_yd = self.in_from_pylon_yd
        inside = "in the corner" if in_yd is None else f"{in_yd:g} yd in from the pylon"
        if self.end_line_from == ANYWHERE:
            half = "either half" if side == "either" else f"the half of the {side}"
            return f"behind the end line, {inside}, {half}"
        first = f"{self.along_words}, {'either sideline' if side == 'either' else side}"
        if self.end_line_from == 0:
            return first
        return f"{first}; from {_yard_line(self.end_line_from)} in behind the end line, {inside}"


def _yard_line(yardline_100: int) -> str:
    """A line of scrimmage as the offense comes to it.

    >>> _yard_line(30), _yard_line(50), _yard_line(56)
    ('the 30', 'the 50', 'its own 44')
    """
    return f"the {yardline_100}" if yardline_100 <= 50 else f"its own {100 - yardline_100}"


LEVEL = PositionRule(0.0, 0, "level", title="level with the ball")
AHEAD_20 = PositionRule(
    20.0, RED_ZONE_FROM, "ahead20", title="20 yd ahead of the ball; inside the 20 a back corner"
)
BEHIND_OFFENSE = PositionRule(-15.0, 0, "behind", title="15 yd behind the offense")


BEST_ADVICE = (
    (25.0, PositionRule(20.0, 20, "upright", in_from_pylon_yd=22.0)),
    (35.0, PositionRule(20.0, 20, "upright", in_from_pylon_yd=22.0)),
    (float("inf"), PositionRule(30.0, RED_ZONE_FROM, "thirty-ahead")),
)
"""By reach up to so many yards the published advice that brought the most in its best reading, on
the season held out; its key among the rules of ``lensyard evidence advice``. A test holds it to
what is kept of that."""


def best_advice(reach_yd: float, faces: Faces = Faces.OFFENSE) -> PositionRule:
    """Return the published advice that brings the most to whoever reaches so far."""
    if faces is Faces.DEFENSE:
        return PositionRule(-10.0, 0, "ten-behind")
    return next(rule for most_yd, rule in BEST_ADVICE if reach_yd < most_yd)


def habit_for(faces: Faces) -> PositionRule:
    """Return the usual habit for whose faces are wanted: what every comparison takes as habit."""
    return BEHIND_OFFENSE if faces is Faces.DEFENSE else AHEAD_20


@cache
def usual_habits(faces: Faces) -> tuple[PositionRule, ...]:
    """Return the habits that are shown beside a recommendation."""
    return tuple(dict.fromkeys((LEVEL, AHEAD_20, habit_for(faces))))


_FEW = 16


def targets(
    rules: Sequence[PositionRule],
    *,
    yardline_100: IntArray,
    left_side: BoolArray,
    xy_yd: tuple[FloatArray, FloatArray],
    may_shoot: BoolArray,
    along_yd: tuple[float, float] = (0.0, FIELD_LENGTH_YD),
) -> IntArray:
    """Return the station that each rule wants, for m situations, shape (rules, m).

    - ``yardline_100``, ``left_side``: the situations, and whether one works the offense's left
      side; shape (m,).
    - ``xy_yd``: places of the stations in the play frame, two arrays of shape (n,). [yd]
    - ``may_shoot``: open stations, shape (n,). A closed target gives way to the nearest open one on
      the same side of the field, or anywhere if that side is closed.
    - ``along_yd``: how far along the sideline the rule goes at most. [yd]
    """
    x, y = xy_yd
    asked = _asked_for(
        rules, yardline_100=yardline_100, left_side=left_side, xy_yd=xy_yd, along_yd=along_yd
    )
    # Rules ask for the same places again and again.
    points = np.stack([*asked, np.broadcast_to(left_side, asked[0].shape)]).reshape(3, -1)
    which = np.arange(points.shape[1])
    if which.size > _FEW:
        points, which = np.unique(points, axis=1, return_inverse=True)
    away = np.hypot(x - points[0][:, np.newaxis], y - points[1][:, np.newaxis])
    away = away - 1e-6 * x  # of two as near the one ahead, on either side of the field
    own_side = may_shoot & ((y > CENTER_Y_YD) == points[2][:, np.newaxis].astype(bool))
    allowed = np.where(own_side.any(axis=1, keepdims=True), own_side, may_shoot)
    nearest: IntArray = np.where(allowed, away, np.inf).argmin(axis=1)
    return nearest[which].reshape(len(rules), -1)


def _asked_for(
    rules: Sequence[PositionRule],
    *,
    yardline_100: IntArray,
    left_side: BoolArray,
    xy_yd: tuple[FloatArray, FloatArray],
    along_yd: tuple[float, float],
) -> tuple[FloatArray, FloatArray]:
    """The places that rules ask for, open or not, (rules, m) each; as `targets` takes them. [yd]"""
    x, y = xy_yd
    sideline_y = float(y.min())
    in_from = [sideline_y if r.in_from_pylon_yd is None else r.in_from_pylon_yd for r in rules]
    from_yd, ahead_yd, end_y = np.array(
        [[r.end_line_from for r in rules], [r.ahead_yd for r in rules], in_from], dtype=float
    )[:, :, np.newaxis]
    behind = yardline_100 <= from_yd
    along = OPPONENT_GOAL_LINE_X_YD - yardline_100 + ahead_yd
    want_y = np.where(behind, end_y, sideline_y)
    return (
        np.where(behind, float(x.max()), along.clip(*along_yd)),
        np.where(left_side, FIELD_WIDTH_YD - want_y, want_y),
    )


def closed_there(
    rule: PositionRule, scorer: Scorer, *, yardline_100: int, left_side: bool
) -> tuple[str, str]:
    """Return the place that a rule asks for and what closes it; both empty where it is open."""
    x, y = scorer.xy_yd
    want_x, want_y = _asked_for(
        [rule],
        yardline_100=np.array([yardline_100]),
        left_side=np.array([left_side]),
        xy_yd=(x, y),
        along_yd=(float(x.min()), float(x.max())),
    )
    nearest = int(np.hypot(x - want_x[0, 0], y - want_y[0, 0]).argmin())
    if scorer.open[nearest]:
        return "", ""
    name = scorer.perimeter.closed_by[int(scorer.stations[nearest])] or "goal post"
    return yard_line_text(float(want_x[0, 0])), name


def steps_toward(walk_yd: FloatArray, allowed: BoolArray) -> IntArray:
    """Return how far one gets from every station toward every other in one walk.

    - ``walk_yd``: between all stations, shape (n, n). [yd]
    - ``allowed``: where a walk from each station may end, shape (n, n).

    The result: the station nearest to the target (walking) where a walk may end, the shortest walk
    among equals; the standing one where nothing leads to the target.
    """
    return _steps_toward(walk_yd.tobytes(), allowed.tobytes())


@lru_cache(maxsize=16)
def _steps_toward(walk: bytes, ends: bytes) -> IntArray:
    """`steps_toward` of arrays as bytes: venues and limits come again with every rule and kit."""
    walk_yd, allowed = np.frombuffer(walk), np.frombuffer(ends, dtype=bool)
    n = int(np.sqrt(walk_yd.size))
    walk_yd, allowed = walk_yd.reshape(n, n), allowed.reshape(n, n)
    steps = np.empty((n, n), dtype=np.int64)
    for standing in range(n):
        near = np.flatnonzero(allowed[standing])
        walk = walk_yd[standing, near]
        left = walk_yd[:, near] + 1e-6 * np.where(np.isfinite(walk), walk, 0.0)
        best = left.argmin(axis=1)
        steps[standing] = np.where(np.isfinite(left.min(axis=1)), near[best], standing)
    return steps
