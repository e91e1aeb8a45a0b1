"""The tables of a card as one small file: what can be foretold is not stored."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from lensyard.arrays import ByteArray, IntArray
from lensyard.features.card.grid import DOWNS, YARD_LINES
from lensyard.running import in_two


class Plane(NamedTuple):
    """One table of bytes, one row a situation: what it holds, as ``choice:B:left:ours``, and the
    values, shape (rows, columns).
    """

    name: str
    values: ByteArray

    @property
    def kind(self) -> str:
        """What the values are."""
        return self.name.partition(":")[0]

    @property
    def are_places(self) -> bool:
        """Whether the values are positions, which a mirror exchanges too."""
        return self.kind in ("choice", "far")

    @property
    def block(self) -> int:
        """How many rows a down has, or 0 where rows do not follow the grid of situations."""
        full = self.kind in ("usable", "choice", "lens", "exposure")
        return len(self.values) // DOWNS if full else 0


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
    ends = np.cumsum([plane.values.size for plane in planes])
    parts = np.array_split(np.arange(len(planes)), np.searchsorted(ends, ends[-1] * _CUTS))
    ways: dict[int, tuple[str, int]] = {}
    for level, less in _LEVELS:

        def packed(part: int, level: int = level) -> list[Any]:
            some = parts[part].tolist()
            chosen = [ways.get(i) or _shortest_way(planes, i, mirror) for i in some]
            content = b"".join(
                _difference(planes, i, mirror, *way).tobytes()
                for i, way in zip(some, chosen, strict=True)
            )
            bare = zlib.compressobj(level, zlib.DEFLATED, -zlib.MAX_WBITS, _MEMORY)
            end = zlib.Z_FINISH if part == len(parts) - 1 else zlib.Z_FULL_FLUSH
            compressed = np.frombuffer(bare.compress(content) + bare.flush(end), np.uint8)
            return [chosen, compressed, len(content), zlib.adler32(content)]

        found = in_two(packed, len(parts))
        ways.update(enumerate((way, like) for part in found for way, like in part[0]))
        payload = _joined(found)
        if len(payload) <= most_bytes:
            entries = [
                PlaneEntry(
                    one.name,
                    len(one.values),
                    one.values.shape[1],
                    one.block,
                    one.are_places,
                    *ways[i],
                )
                for i, one in enumerate(planes)
            ]
            return Packed(payload, tuple(entries))
        if len(payload) * less > most_bytes:
            return None
    return None


LEAST_LEFT = 0.98
"""What share of the bytes trying harder leaves at best."""
_LEVELS = ((8, LEAST_LEFT), (9, 1.0))
"""How hard zlib tries, and what trying harder leaves at best."""
_MEMORY = 5
"""zlib's blocks are short, for what they hold changes every few thousand bytes."""
_CUTS = np.array([0.25, 0.5, 0.75])
"""Where the tables are cut into parts that two processes compress."""
_EVERY_ROW = 5
_ADLER = 65521


def _joined(parts: list[list[Any]]) -> bytes:
    """Return parts compressed by themselves (RFC 1951) as one stream of zlib.

    Each has its bytes in the second place, then the number and checksum of what is in them.
    """
    low, high = 1, 0
    for _, _, size, checksum in parts:
        high = (high + (checksum >> 16) + size * (low - 1)) % _ADLER
        low = (low + (checksum & 0xFFFF) - 1) % _ADLER
    end = (high << 16 | low).to_bytes(4, "big")
    return b"".join([zlib.compress(b"")[:2], *(part[1].tobytes() for part in parts), end])


def _shortest_way(planes: list[Plane], index: int, mirror: IntArray) -> tuple[str, int]:
    """Return the prediction of a plane that leaves least, and the earlier plane that it takes.

    Judged by how long some rows of the difference are.
    """
    plane = planes[index]
    ways = [("raw", -1)]
    full = plane.values.shape[1] == mirror.shape[0]
    if plane.block:
        ways.append(("shorter", -1))
        if full and not plane.are_places:
            ways.append(("mirrored", -1))
    for k, earlier in enumerate(planes[:index]):
        if earlier.values.shape == plane.values.shape and earlier.kind == plane.kind:
            ways += [("like", k), ("opposite", k)] if full else [("like", k)]

    def estimated_bytes(way: tuple[str, int]) -> int:
        rows = slice(None, None, _EVERY_ROW)
        return len(zlib.compress(_difference(planes, index, mirror, *way, rows).tobytes(), 1))

    return min(ways, key=estimated_bytes)


def _difference(
    planes: list[Plane],
    index: int,
    mirror: IntArray,
    prediction: str,
    like: int,
    rows: slice = slice(None),
) -> ByteArray:
    """Return some rows of a plane less what is predicted of them."""
    plane = planes[index]
    values = plane.values[rows]
    if prediction == "raw":
        return values
    if prediction in ("shorter", "mirrored"):
        by_down = plane.values.reshape(-1, plane.block // YARD_LINES, YARD_LINES, values.shape[1])
        before = np.zeros_like(by_down)
        before[:, 1:] = by_down[:, :-1]
        predicted = before.reshape(plane.values.shape)[rows]
        if prediction == "mirrored":
            predicted = np.where(mirror < np.arange(mirror.size), values[:, mirror], predicted)
        return values - predicted
    predicted = planes[like].values[rows]
    if prediction == "opposite":
        predicted = predicted[:, mirror]
        predicted = mirror.astype(np.uint8)[predicted] if plane.are_places else predicted
    return values - predicted
