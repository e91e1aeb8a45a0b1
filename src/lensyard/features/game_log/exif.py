"""Capture times from photographs: read-only, and what cannot be read is reported, not fatal."""

from __future__ import annotations

import logging
import os
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Any, Final

from lensyard.errors import InvalidInputError

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


@dataclass(frozen=True, slots=True)
class PhotoTime:
    """What one photograph says.

    Attributes
    ----------
    file
        Its path inside the folder.
    captured_at
        By the camera's clock (UTC).
    has_offset
        Whether the camera wrote its offset from UTC; else the game's zone was taken.
    body
        Model and serial number, as far as they are there.
    focal_length_mm
        As marked; None where it is not there. [mm]
    rating
        Stars given in the camera; None where there are none.
    """

    file: str
    captured_at: datetime
    has_offset: bool
    body: str
    focal_length_mm: float | None
    rating: int | None


@dataclass(frozen=True, slots=True)
class Skipped:
    """A file that gave no time, and why."""

    file: str
    reason: str


@dataclass(frozen=True, slots=True)
class PhotoTimes:
    """What a folder gave: times in their order, and the files left out."""

    photos: tuple[PhotoTime, ...]
    skipped: tuple[Skipped, ...]


def photo_files(folder: Path) -> tuple[Path, ...]:
    """Return the photographs in a folder and below, in the order of their names.

    Links to other folders are not followed. Raises `InvalidInputError` if it is no folder.
    """
    if not folder.is_dir():
        raise InvalidInputError(f"{folder} is no folder; name one with photographs, or a CSV file")
    found = []
    for place, folders, names in os.walk(folder):
        folders.sort()
        found += [Path(place, n) for n in names if Path(n).suffix.lower() in SUFFIXES]
    return tuple(sorted(found))


def read_photos(
    folder: Path,
    *,
    zone: tzinfo | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> PhotoTimes:
    """Return the capture times of all photographs in a folder.

    Parameters
    ----------
    folder
        Where they are; folders below it count.
    zone
        Of cameras that do not write their offset; this machine's where None.
    progress
        Called with files done and files in all.

    Raises
    ------
    InvalidInputError
        If the folder is none, or has no photographs.
    """
    files = photo_files(folder)
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


def read_photo(path: Path, *, name: str, zone: tzinfo | None) -> PhotoTime:
    """Return what one photograph says; the file is opened for reading only.

    Raises
    ------
    InvalidInputError
        If it cannot be read, is damaged, or has no time.
    """
    import exifread

    try:
        with path.open("rb") as stream:
            tags = exifread.process_file(stream, details=False, extract_thumbnail=False)
    except Exception as error:  # a damaged file can make the reader raise anything
        raise InvalidInputError(f"cannot be read ({type(error).__name__}: {error})") from error
    moment, has_offset = _moment(tags, zone)
    return PhotoTime(
        file=name,
        captured_at=moment,
        has_offset=has_offset,
        body=_body(tags),
        focal_length_mm=_focal_length_mm(tags),
        rating=_rating(tags),
    )


def _moment(tags: dict[str, Any], zone: tzinfo | None) -> tuple[datetime, bool]:
    for time_tag, fraction_tag, offset_tag in _TIME_TAGS:
        match = _WHEN.match(_text(tags, time_tag))
        if match is None:
            continue
        digits = re.match(r"\d{1,6}", _text(tags, fraction_tag))
        fraction = float(f"0.{digits[0]}") if digits else 0.0
        own = _offset(_text(tags, offset_tag))
        try:
            year, month, day, hour, minute, second = (int(part) for part in match.groups())
            local = datetime(year, month, day, hour, minute, second, tzinfo=own or zone)
            moment = local.astimezone(UTC) + timedelta(seconds=fraction)
        except (ValueError, OverflowError, OSError) as error:
            raise InvalidInputError(f"its time is none: {match[0]} ({error})") from error
        return moment, own is not None
    raise InvalidInputError("it does not say when it was taken")


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
