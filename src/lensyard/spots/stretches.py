"""Stretches of the perimeter: neighboring spots under one name that a person can find.

Along the sidelines a stretch lies between two yard lines five yards apart, behind an end line it is
counted in from the pylon; what lies outside both lines is the corner. Where both sides of the field
are open alike, a stretch stands for both.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from lensyard.arrays import FloatArray
from lensyard.domain.field import (
    CENTER_Y_YD,
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
)
from lensyard.errors import require_range
from lensyard.spots.scorer import Scorer

STRETCH_YD = 5.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Some neighboring spots, in the play frame.

    - ``label``: as photographers say it.
    - ``edge``: ``sideline``, ``end`` (behind the opponent's end line), ``own end`` or ``corner``.
    - ``side``: ``left`` or ``right`` of the offense, ``both`` where it stands for both.
    - ``from_yd``, ``to_yd``: x along a sideline (the corner's too), yards in from the pylon behind
      an end line. [yd]
    - ``station_indices``: the open spots in it, in the scorer's numbering.
    """

    label: str
    edge: str
    side: str
    from_yd: float
    to_yd: float
    station_indices: tuple[int, ...] = field(metadata={"json": None})


def stretches_of(scorer: Scorer, *, length_yd: float = STRETCH_YD) -> tuple[Stretch, ...]:
    """Return the stretches that hold an open spot, from behind the offense to the far end line.

    - ``scorer``: venue and direction of attack.
    - ``length_yd``: 1 to 20. [yd]

    Raises `OutOfRangeError` if the length is none of these.
    """
    require_range(low=1, high=20, length_yd=length_yd)
    x, y = scorer.xy_yd
    both = open_alike(scorer)
    found: dict[tuple[int, int, str], list[int]] = {}
    for station_index in np.flatnonzero(scorer.open):
        left = y[station_index] > CENTER_Y_YD
        side = "both" if both else "left" if left else "right"
        key = (*_bin(float(x[station_index]), float(y[station_index]), length_yd), side)
        found.setdefault(key, []).append(int(station_index))
    return tuple(
        _named(edge, number, side, length_yd, tuple(found[edge, number, side]))
        for edge, number, side in sorted(found, key=lambda key: (key[2] == "left", key[0], key[1]))
    )


def open_alike(scorer: Scorer) -> bool:
    """Return whether the left and the right side of the field are open alike."""
    x, y = scorer.xy_yd
    off = y - CENTER_Y_YD
    left, right = (
        np.stack([x[some], np.abs(off[some])])
        for some in (scorer.open & (off > _MIDDLE_YD), scorer.open & (off < -_MIDDLE_YD))
    )
    if left.shape != right.shape:
        return False
    order = [np.lexsort(np.round(places, 2)) for places in (left, right)]
    return bool(np.allclose(left[:, order[0]], right[:, order[1]], atol=0.02))


_MIDDLE_YD = 0.01
_OWN_END, _OWN_CORNER, _SIDELINE, _CORNER, _END = range(5)
_EDGE_NAMES = ("own end", "own corner", "sideline", "corner", "end")


def _bin(x_yd: float, y_yd: float, length_yd: float) -> tuple[int, int]:
    """Return edge and number of a place, counted from behind the offense on."""
    outside = y_yd < 0 or y_yd > FIELD_WIDTH_YD
    behind, ahead = x_yd < 0, x_yd > FIELD_LENGTH_YD
    if not (behind or ahead):
        along = min(x_yd, FIELD_LENGTH_YD - 1e-6)  # level with the end line still counts
        return _SIDELINE, int((along - OWN_GOAL_LINE_X_YD) // length_yd)
    if outside:
        return (_OWN_CORNER if behind else _CORNER), 0
    in_yd = CENTER_Y_YD - abs(y_yd - CENTER_Y_YD)
    last = max(int(CENTER_Y_YD // length_yd) - 1, 0)
    number = min(int(in_yd // length_yd), last)
    return (_OWN_END, -number) if behind else (_END, number)


def _named(
    edge: int, number: int, side: str, length_yd: float, station_indices: tuple[int, ...]
) -> Stretch:
    hand = "" if side == "both" else f"{side} "
    if edge in (_OWN_CORNER, _CORNER):
        own = edge == _OWN_CORNER
        name = "corner behind the offense" if own else "back corner"
        start = -length_yd if own else FIELD_LENGTH_YD
        label = f"{hand}{name}".strip()
        return Stretch(label, _EDGE_NAMES[edge], side, start, start + length_yd, station_indices)
    if edge in (_OWN_END, _END):
        first = abs(number)
        last = max(int(CENTER_Y_YD // length_yd) - 1, 0)
        start, stop = first * length_yd, (first + 1) * length_yd
        stop = CENTER_Y_YD if first == last else stop
        line = "own end line" if edge == _OWN_END else "end line"
        pylon = f"{hand}pylon" if hand else "pylon"
        label = f"behind the {line}, {start:g}-{stop:.0f} yd in from the {pylon}"
        return Stretch(label, _EDGE_NAMES[edge], side, start, stop, station_indices)
    start = OWN_GOAL_LINE_X_YD + number * length_yd
    stop = start + length_yd
    label = f"{hand}sideline, {_yard_lines(start, stop)}"
    return Stretch(label, _EDGE_NAMES[edge], side, start, stop, station_indices)


def _yard_lines(from_x_yd: float, to_x_yd: float) -> str:
    """Return a range along the field as people say it, offense's view."""
    first, last = from_x_yd - OWN_GOAL_LINE_X_YD, to_x_yd - OWN_GOAL_LINE_X_YD
    if last <= 0:
        return f"{abs(last):g}-{-first:g} yd behind its own goal line"
    if from_x_yd >= OPPONENT_GOAL_LINE_X_YD:
        return f"{first - 100:g}-{last - 100:g} yd behind the opponent's goal line"
    if last <= 50:
        return f"own {first:g}-{last:g}"
    if first >= 50:
        return f"opponent's {100 - first:g}-{max(100 - last, 0):g}"
    return f"own {first:g} to opponent's {100 - last:g}"


def share_of(stretch: Stretch, by_station_index: FloatArray) -> FloatArray:
    """Return the mean over a stretch's spots, from shape (..., n) to (...)."""
    chosen: FloatArray = by_station_index[..., list(stretch.station_indices)].mean(axis=-1)
    return chosen
