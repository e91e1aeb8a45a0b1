"""Capture times, from the EXIF of photographs or from a table.

Photographs are only read; one that cannot be read is reported and left out.
"""

from __future__ import annotations

import csv
import io
import logging
import os
import re
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Any, Final

from lensyard.errors import InvalidInputError, ParseError
from lensyard.game.document import read_text
from lensyard.records import Record

SUFFIXES: Final = frozenset(
    f".{kind}"
    for kind in (
        *("jpg", "jpeg", "tif", "tiff", "heic", "dng"),
        *("nef", "nrw", "cr2", "cr3", "arw", "orf", "rw2", "pef", "raf"),
    )
)
_TIME_TAGS: Final = (
    ("EXIF DateTimeOriginal", "EXIF SubSecTimeOriginal", "EXIF OffsetTimeOriginal"),
    ("EXIF DateTimeDigitized", "EXIF SubSecTimeDigitized", "EXIF OffsetTimeDigitized"),
    ("Image DateTime", "EXIF SubSecTime", "EXIF OffsetTime"),
)
"""Original, digitized, changed: the first that is there (CIPA DC-008, Exif 2.32, 4.6.5)."""
_WHEN: Final = re.compile(r"(\d{4}):(\d\d):(\d\d)[ T](\d\d):(\d\d):(\d\d)")
_OFFSET: Final = re.compile(r"([+-])(\d\d):([0-5]\d)")
_CAMERA_TEXT: Final = 60
_COLUMNS: Final = ("file", "captured_at", "body", "focal_length_mm", "rating")
_NEEDED: Final = ("file", "captured_at")


class PhotoTime(Record):
    """What one photograph says.

    ``file``: its path inside the folder. ``captured_at``: by the camera's clock (UTC); where it
    wrote no offset from UTC, the game's zone was taken. ``body``: model and serial number, as far
    as they are there. ``focal_length_mm``: as marked. [mm] ``rating``: stars given in the camera.
    """

    file: str
    captured_at: datetime
    body: str
    focal_length_mm: float | None
    rating: int | None


class Skipped(Record):
    """A file that gave no time, and why."""

    file: str
    reason: str


class PhotoTimes(Record):
    """What a folder gave: times in their order, and the files left out."""

    photos: tuple[PhotoTime, ...]
    skipped: tuple[Skipped, ...]


def read_photos(
    folder: Path,
    *,
    zone: tzinfo | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> PhotoTimes:
    """Return the capture times of all photographs in a folder and below; links are not followed.

    ``zone``: of cameras that do not write their offset; this machine's where None. ``progress``:
    called with files done and files in all.

    Raises `InvalidInputError` if the folder is none, or has no photographs.
    """
    if not folder.is_dir():
        raise InvalidInputError(f"{folder} is no folder; name one with photographs, or a CSV file")
    found = (Path(place, name) for place, _, names in os.walk(folder) for name in names)
    files = sorted(path for path in found if path.suffix.lower() in SUFFIXES)
    if not files:
        raise InvalidInputError(
            f"there are no photographs in {folder}; looked for {' '.join(sorted(SUFFIXES))}"
        )
    photos: list[PhotoTime] = []
    skipped: list[Skipped] = []
    with _quiet():
        for done, path in enumerate(files, start=1):
            name = path.relative_to(folder).as_posix()
            try:
                photos.append(read_photo(path, name=name, zone=zone))
            except InvalidInputError as error:
                skipped.append(Skipped(name, str(error)))
            progress(done, len(files))
    photos.sort(key=lambda photo: (photo.captured_at, photo.file))
    return PhotoTimes(tuple(photos), tuple(skipped))


def read_times(
    source: Path,
    *,
    zone: tzinfo | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> PhotoTimes:
    """Return the capture times of a folder of photographs or of a CSV file.

    Raises `InvalidInputError` if there is none; see `read_photos` and `read_times_csv`.
    """
    if source.suffix.lower() == ".csv" and not source.is_dir():
        return read_times_csv(read_text(source), where=source.name, zone=zone)
    times = read_photos(source, zone=zone, progress=progress)
    if not times.photos:
        first = times.skipped[0]
        raise InvalidInputError(
            f"none of the {len(times.skipped)} files in {source} gives a time; the first, "
            f"{first.file}: {first.reason}"
        )
    return times


def read_photo(path: Path, *, name: str, zone: tzinfo | None) -> PhotoTime:
    """Return what one photograph says; the file is opened for reading only.

    Raises `InvalidInputError` if it cannot be read, is damaged, or has no time.
    """
    import exifread

    try:
        if not stat.S_ISREG(path.stat().st_mode):  # a pipe would be waited for without end
            raise InvalidInputError("it is no regular file")
        with path.open("rb") as stream:
            tags = exifread.process_file(stream, details=False, extract_thumbnail=False)
    except InvalidInputError:
        raise
    except Exception as error:  # a damaged file can make the reader raise anything
        raise InvalidInputError(f"cannot be read ({type(error).__name__}: {error})") from error
    return PhotoTime(
        file=name,
        captured_at=_moment(tags, zone),
        body=_body(tags),
        focal_length_mm=_focal_length_mm(tags),
        rating=_rating(tags),
    )


def _moment(tags: dict[str, Any], zone: tzinfo | None) -> datetime:
    for time_tag, fraction_tag, offset_tag in _TIME_TAGS:
        match = _WHEN.match(_text(tags, time_tag))
        if match is None:
            continue
        digits = re.match(r"\d{1,6}", _text(tags, fraction_tag))
        fraction = float(f"0.{digits[0]}") if digits else 0.0
        own = _offset(_text(tags, offset_tag)) or zone
        try:
            year, month, day, hour, minute, second = (int(part) for part in match.groups())
            _require_year(year)
            local = datetime(year, month, day, hour, minute, second, tzinfo=own)
            return local.astimezone(UTC) + timedelta(seconds=fraction)
        except (ValueError, OverflowError, OSError) as error:
            raise InvalidInputError(f"its time is none: {match[0]} ({error})") from error
    raise InvalidInputError("it does not say when it was taken")


def _require_year(year: int) -> None:
    """Raise `ValueError` where a clock was never set; some days are added to what it says."""
    if not 1900 <= year <= 2200:
        raise ValueError(f"the year {year} is not from 1900 to 2200")


def _offset(text: str) -> tzinfo | None:
    match = _OFFSET.fullmatch(text)
    if match is None or int(match[2]) > 14:
        return None
    offset = timedelta(hours=int(match[2]), minutes=int(match[3]))
    return timezone(offset if match[1] == "+" else -offset)


def _text(tags: dict[str, Any], name: str) -> str:
    return str(tags.get(name, "")).replace("\x00", "").strip()


def _body(tags: dict[str, Any]) -> str:
    words = [_text(tags, "Image Model"), _text(tags, "EXIF BodySerialNumber")]
    text = " ".join(word for word in words if word)[:_CAMERA_TEXT]
    return "".join(c for c in text if c.isprintable())


def _focal_length_mm(tags: dict[str, Any]) -> float | None:
    try:
        value = float(tags["EXIF FocalLength"].values[0])
    except Exception:  # missing, empty, 0/0
        return None
    return value if 0 < value < 10000 else None


def _rating(tags: dict[str, Any]) -> int | None:
    try:
        value = int(tags["Image Rating"].values[0])
    except Exception:  # missing or empty
        return None
    return value if 0 <= value <= 5 else None


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the reader's own warnings off the terminal; what is wrong is reported by file."""
    log = logging.getLogger("exifread")
    level = log.level
    log.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        log.setLevel(level)


def read_times_csv(text: str, *, where: str, zone: tzinfo | None = None) -> PhotoTimes:
    """Return the capture times of a CSV text.

    ``text``: a line of names, then a line a frame: ``file`` and ``captured_at`` (ISO 8601; with its
    offset from UTC, or by the game's clock), and where known ``body``, ``focal_length_mm`` and
    ``rating`` (0 to 5). ``where``: what to call it in errors. ``zone``: of times without an offset;
    this machine's where None.

    Raises `InvalidInputError`: names the line and the column that cannot be read.
    """
    reader = csv.DictReader(io.StringIO(text))
    names = [name.strip() for name in reader.fieldnames or ()]
    wrong = [n for n in names if n not in _COLUMNS] + [n for n in _NEEDED if n not in names]
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
        photos.append(_photo_of_row(row, line, zone))
    if not photos:
        raise InvalidInputError(f"{where} has no line with a frame")
    photos.sort(key=lambda photo: (photo.captured_at, photo.file))
    return PhotoTimes(tuple(photos), ())


def _photo_of_row(row: dict[str, str], line: str, zone: tzinfo | None) -> PhotoTime:
    moment = _moment_of_cell(row["captured_at"].strip(), line, zone)
    focal = _number(row.get("focal_length_mm", ""), line, "focal_length_mm", low=0.1, high=9999)
    rating = _number(row.get("rating", ""), line, "rating", low=0, high=5)
    name, body = row["file"].strip(), row.get("body", "").strip()
    if not name or not (name + body).isprintable() or len(name) > 500 or len(body) > 60:
        raise InvalidInputError(f"{line}: file must be a name, and body at most 60 characters")
    return PhotoTime(name, moment, body, focal, None if rating is None else int(rating))


def _moment_of_cell(text: str, line: str, zone: tzinfo | None) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
        _require_year(moment.year)
        return moment.replace(tzinfo=moment.tzinfo or zone).astimezone(UTC)
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
