"""What the card's page does with its tables: the planes by name, put together again."""

from __future__ import annotations

import zlib

import numpy as np

from lensyard.arrays import ByteArray
from lensyard.features.card.grid import YARD_LINES


def unpack(packed, mirror) -> dict[str, ByteArray]:
    """Return the planes by name; what the page does, for checks."""
    rest = np.frombuffer(zlib.decompress(packed.payload), dtype=np.uint8)
    planes: list[ByteArray] = []
    start = 0
    for entry in packed.entries:
        stop = start + entry.rows * entry.columns
        part = rest[start:stop].reshape(entry.rows, entry.columns).copy()
        planes.append(_restored(part, entry, planes, mirror))
        start = stop
    return {entry.name: plane for entry, plane in zip(packed.entries, planes, strict=True)}


def _restored(part: ByteArray, entry, planes: list[ByteArray], mirror) -> ByteArray:
    if entry.prediction == "like":
        return part + planes[entry.like]
    if entry.prediction == "opposite":
        across = planes[entry.like][:, mirror]
        return part + (mirror.astype(np.uint8)[across] if entry.are_places else across)
    if entry.prediction == "raw":
        return part
    plain = np.ones(entry.columns, dtype=bool)
    if entry.prediction == "mirrored":
        plain = mirror >= np.arange(entry.columns)
    by_down = part.reshape(-1, entry.block // YARD_LINES, YARD_LINES, entry.columns)
    by_down[..., plain] = np.cumsum(by_down[..., plain], axis=1, dtype=np.uint8)
    whole = by_down.reshape(part.shape)
    whole[:, ~plain] += whole[:, mirror[~plain]]
    return whole
