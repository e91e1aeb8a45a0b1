"""The tables of a card as one small file: what can be foretold is not stored."""

from __future__ import annotations

import base64
import zlib
from dataclasses import dataclass
from typing import Any

import numpy as np

from lensyard.arrays import ByteArray, IntArray
from lensyard.features.card.grid import YARD_LINES


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """One table of bytes, one row a situation.

    - ``name``: what it holds, as ``choice:B:left:ours``
    - ``values``: shape (rows, columns)
    - ``are_places``: whether the values are positions, which a mirror exchanges too
    - ``block``: rows of one down, or 0 where rows do not follow the grid of situations
    """

    name: str
    values: ByteArray
    are_places: bool = False
    block: int = 0

    def to_plain(self) -> dict[str, Any]:
        """Return it as values that JSON can hold."""
        packed = base64.b64encode(zlib.compress(self.values.tobytes(), 1)).decode()
        return {
            "name": self.name,
            "shape": self.values.shape,
            "values": packed,
            "are_places": self.are_places,
            "block": self.block,
        }

    @staticmethod
    def of_plain(plain: dict[str, Any]) -> Plane:
        """Return the table of `to_plain`."""
        given = dict(plain)
        values = zlib.decompress(base64.b64decode(given.pop("values")))
        array = np.frombuffer(values, dtype=np.uint8).reshape(given.pop("shape"))
        return Plane(values=array, **given)


@dataclass(frozen=True, slots=True)
class PlaneEntry:
    """How one plane is stored: its shape, its prediction, and the plane that it is like (or -1)."""

    name: str
    rows: int
    columns: int
    block: int
    are_places: bool
    prediction: str
    like: int


@dataclass(frozen=True, slots=True)
class Packed:
    """The compressed planes and the list of what is inside, in order."""

    payload: bytes
    entries: tuple[PlaneEntry, ...]


def pack(planes: list[Plane], mirror: IntArray, *, most_bytes: int) -> Packed | None:
    """Return the planes as one small file, None if it would not fit.

    A plane is stored as the difference (modulo 256) from a prediction, and all planes together are
    compressed (zlib, RFC 1950). The predictions, of which the shortest is taken:

    - ``raw``: none
    - ``shorter``: the row of the same down and yard line with a distance one yard shorter
    - ``mirrored``: in a row, the position on the other side of the field where that comes earlier,
      else ``shorter``
    - ``like``: the same place of an earlier plane
    - ``opposite``: the mirrored place of an earlier plane

    A venue with two like sides or two like ends costs half.

    - ``planes``: in order; a plane may be foretold from earlier ones of the same shape
    - ``mirror``: for each position the one across the field, shape (n,)
    """
    parts, entries = [], []
    for i, plane in enumerate(planes):
        prediction, like, rest = min(_ways(planes, i, mirror), key=_estimated_bytes)
        parts.append(rest.tobytes())
        rows, columns = plane.values.shape
        entries.append(
            PlaneEntry(plane.name, rows, columns, plane.block, plane.are_places, prediction, like)
        )
    content = b"".join(parts)
    for level, less in _LEVELS:
        payload = zlib.compress(content, level)
        if len(payload) <= most_bytes:
            return Packed(payload, tuple(entries))
        if len(payload) * less > most_bytes:
            return None
    return None


_LEVELS = ((6, 0.91), (8, 0.98), (9, 1.0))
"""How hard zlib tries, and what share of the bytes trying harder leaves at best."""
_EVERY_ROW = 5


def _estimated_bytes(way: tuple[str, int, ByteArray]) -> int:
    """Return how long some rows of a difference are, to compare it with others."""
    return len(zlib.compress(way[2][::_EVERY_ROW].tobytes(), 1))


def _ways(planes: list[Plane], index: int, mirror: IntArray) -> list[tuple[str, int, ByteArray]]:
    """Return (prediction, earlier plane, difference) for everything that can be tried."""
    plane = planes[index]
    values = plane.values
    ways = [("raw", -1, values)]
    full = values.shape[1] == mirror.shape[0]
    if plane.block:
        ways.append(("shorter", -1, values - _shorter(values, plane.block)))
        if full and not plane.are_places:
            ways.append(("mirrored", -1, values - _mirrored(values, plane.block, mirror)))
    for k, earlier in enumerate(planes[:index]):
        kin = (
            earlier.values.shape == values.shape
            and earlier.name.split(":")[0] == (plane.name.split(":", maxsplit=1)[0])
        )
        if kin:
            ways.append(("like", k, values - earlier.values))
            if full:
                across = earlier.values[:, mirror]
                across = mirror.astype(np.uint8)[across] if plane.are_places else across
                ways.append(("opposite", k, values - across))
    return ways


def _shorter(values: ByteArray, block: int) -> ByteArray:
    """Return the rows a yard of distance shorter; zeros where there are none."""
    by_down = values.reshape(-1, block // YARD_LINES, YARD_LINES, values.shape[1])
    before = np.zeros_like(by_down)
    before[:, 1:] = by_down[:, :-1]
    return before.reshape(values.shape)


def _mirrored(values: ByteArray, block: int, mirror: IntArray) -> ByteArray:
    earlier = mirror < np.arange(mirror.shape[0])
    return np.where(earlier, values[:, mirror], _shorter(values, block))
