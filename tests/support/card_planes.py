"""What the card's page does: read what the file stores, and put the planes together again."""

from __future__ import annotations

import json
import re
import zlib
from html import unescape
from typing import Any

import numpy as np

from lensyard.domain.field import Direction
from lensyard.features.card.planes import CardTables, direction_letter

YARD_LINES = 99


def answers_alone(context, solved, longest_yd, direction) -> dict[str, np.ndarray]:
    """Return what a card says whoever does not say where the ball lies, toward one end, by kind.

    Choices are those with the team on the ball that the assignment prefers.
    """
    tables = CardTables(context, solved.request, solved)
    letter = direction_letter(direction if direction in tables.directions else Direction.TOWARD_B)
    planes = tables.planes(longest_yd, (3,), ())
    names = [plane.name.split(":") for plane in planes]
    return {
        name[0]: plane.values
        for name, plane in zip(names, planes, strict=True)
        if letter in name and "theirs" not in name
    }


def bytes_in(html: str, key: str) -> bytes:
    """Return what the page stores as text, read with the page's own digits."""
    found = re.search(
        rf'id="{key}" data-bytes="(\d+)" data-digits="([^"]*)">([^<]*)</script>', html
    )
    assert found is not None
    size, digits, text = int(found[1]), unescape(found[2]), found[3]
    assert len(set(digits)) == 85
    assert not set(digits) & set("<>&\"'`\\")
    out = bytearray()
    for i in range(0, len(text), 5):
        word = 0
        for digit in text[i : i + 5]:
            word = word * 85 + digits.index(digit)
        out += word.to_bytes(4, "big")
    return bytes(out[:size])


def facts_in(html: str) -> dict[str, Any]:
    """Return the facts beside the tables."""
    found: dict[str, Any] = json.loads(zlib.decompress(bytes_in(html, "facts")))
    return found


def unpack(packed, mirror) -> dict[str, np.ndarray]:
    """Return the planes by name; what the page does, for checks."""
    rest = np.frombuffer(zlib.decompress(packed.payload), dtype=np.uint8)
    planes: list[np.ndarray] = []
    start = 0
    for entry in packed.entries:
        stop = start + entry.rows * entry.columns
        part = rest[start:stop].reshape(entry.rows, entry.columns).copy()
        planes.append(_restored(part, entry, planes, mirror))
        start = stop
    return {entry.name: plane for entry, plane in zip(packed.entries, planes, strict=True)}


def _restored(part: np.ndarray, entry, planes: list[np.ndarray], mirror) -> np.ndarray:
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
