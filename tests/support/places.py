"""Stations and situations that tests ask for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lensyard.domain.field import HashMark


def nearest_station(perimeter, *, x_yd: float, y_yd: float) -> int:
    """Return the station nearest to a place in stadium coordinates."""
    return int(np.argmin(np.hypot(perimeter.x_yd - x_yd, perimeter.y_yd - y_yd)))


def mirrored(situation):
    """Return the same situation with left and right exchanged."""
    other = {HashMark.LEFT: HashMark.RIGHT, HashMark.RIGHT: HashMark.LEFT}
    mark = situation.hash_mark
    return situation if mark is None else replace(situation, hash_mark=other.get(mark, mark))
