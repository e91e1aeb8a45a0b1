"""What a tap on the field means: the ball goes there, or oneself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from lensyard.domain.field import HashMark
from lensyard.errors import InvalidInputError, UnknownNameError, require_range
from lensyard.ui.controls import Controls
from lensyard.ui.standing import named_stations


def after_tap(controls: Controls, tap: Mapping[str, Any]) -> Controls:
    """Return the controls after a tap on the field.

    Parameters
    ----------
    controls
        As they were.
    tap
        What the field component sends: ``{"kind": "ball", "yardline_100": 35, "hash": "left"}``
        on the field, ``{"kind": "stand", "station": 17}`` on the strip around it; the station is
        a position in `named_stations`.

    Raises
    ------
    InvalidInputError
        If it is neither.

    Examples
    --------
    >>> after_tap(Controls(), {"kind": "ball", "yardline_100": 35, "hash": "left"}).yardline_100
    35
    """
    kind = tap.get("kind")
    if kind == "ball":
        yardline_100 = _whole(tap, "yardline_100", low=1, high=99)
        marks = [mark.value for mark in HashMark]
        hash_mark = str(tap.get("hash"))
        if hash_mark not in marks:
            raise UnknownNameError(name="hash", value=hash_mark, known=marks)
        return replace(controls.with_ball(yardline_100), hash_mark=HashMark(hash_mark))
    if kind == "stand":
        stations = named_stations(controls.rules_name)
        station = _whole(tap, "station", low=0, high=len(stations) - 1)
        return replace(controls, standing=stations[station].text)
    raise UnknownNameError(name="kind of tap", value=str(kind), known=("ball", "stand"))


def _whole(tap: Mapping[str, Any], name: str, *, low: int, high: int) -> int:
    value = tap.get(name)
    # What a browser sends as 35 can arrive as 35.0.
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, bool) or not isinstance(value, int):
        raise InvalidInputError(f"{name} of a tap must be a whole number; got {value!r}")
    require_range(low=low, high=high, **{name: value})
    return value
