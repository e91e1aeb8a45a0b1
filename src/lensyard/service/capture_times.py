"""Capture times as a table: a CSV file in place of a folder of photographs."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime, tzinfo
from typing import Final

from lensyard.data.log_exif import PhotoTime, PhotoTimes
from lensyard.errors import InvalidInputError, ParseError

COLUMNS: Final = ("file", "captured_at", "body", "focal_length_mm", "rating")
_NEEDED: Final = ("file", "captured_at")


def read_times_csv(text: str, *, where: str, zone: tzinfo | None = None) -> PhotoTimes:
    """Return the capture times of a CSV text.

    Parameters
    ----------
    text
        A line of names, then a line a frame: ``file`` and ``captured_at`` (ISO 8601; with its
        offset from UTC, or by the game's clock), and where known ``body``, ``focal_length_mm`` and
        ``rating`` (0 to 5).
    where
        What to call it in errors.
    zone
        Of times without an offset; this machine's where None.

    Raises
    ------
    InvalidInputError
        Names the line and the column that cannot be read.
    """
    reader = csv.DictReader(io.StringIO(text))
    names = [name.strip() for name in reader.fieldnames or ()]
    wrong = [n for n in names if n not in COLUMNS] + [n for n in _NEEDED if n not in names]
    if wrong or len(set(names)) != len(names):
        raise InvalidInputError(
            f"{where}: expected a first line with file, captured_at and, where known, body, "
            f"focal_length_mm, rating; got {', '.join(names)[:200] or 'nothing'}"
        )
    reader.fieldnames = names
    photos = []
    for row in reader:
        line = f"{where}, line {reader.line_num}"
        if None in row or None in row.values():
            raise InvalidInputError(f"{line}: expected {len(names)} cells, as in the first line")
        photos.append(_photo(row, line, zone))
    if not photos:
        raise InvalidInputError(f"{where} has no line with a frame")
    photos.sort(key=lambda photo: (photo.captured_at, photo.file))
    return PhotoTimes(tuple(photos), ())


def _photo(row: dict[str, str], line: str, zone: tzinfo | None) -> PhotoTime:
    moment, has_offset = _moment(row["captured_at"].strip(), line, zone)
    focal = _number(row.get("focal_length_mm", ""), line, "focal_length_mm", low=0.1, high=9999)
    rating = _number(row.get("rating", ""), line, "rating", low=0, high=5)
    name, body = row["file"].strip(), row.get("body", "").strip()
    if not name or not (name + body).isprintable() or len(name) > 500 or len(body) > 60:
        raise InvalidInputError(f"{line}: file must be a name, and body at most 60 characters")
    return PhotoTime(name, moment, has_offset, body, focal, None if rating is None else int(rating))


def _moment(text: str, line: str, zone: tzinfo | None) -> tuple[datetime, bool]:
    try:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is not None:
            return moment.astimezone(UTC), True
        return moment.replace(tzinfo=zone).astimezone(UTC), False
    except (ValueError, OverflowError, OSError):
        raise ParseError(
            name=f"{line}: captured_at", text=text[:60], expected="2026-10-03T14:05:33.25-05:00"
        ) from None


def _number(text: str, line: str, name: str, *, low: float, high: float) -> float | None:
    if not text.strip():
        return None
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not low <= value <= high:
        raise InvalidInputError(f"{line}: {name} must be a number from {low:g} to {high:g}")
    return value
