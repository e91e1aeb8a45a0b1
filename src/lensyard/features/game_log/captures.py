"""Matching captures with the plays of a log.

Times come from photographs, which are only read, or from a table. Each camera has a clock of its
own: it is taken as right, corrected by an offset that the user gives, or by one found from the
plays.

Capture times as a table: a CSV file in place of a folder of photographs.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any, Final

import numpy as np

from lensyard.errors import InvalidInputError, ParseError
from lensyard.features.game_log.clock_match import (
    CONFIDENT,
    FEWEST_BURSTS,
    ClockMatch,
    corrected,
    match_clock,
    plays_of_frames,
    windows_s,
)
from lensyard.features.game_log.compute import SCHEMA_VERSION, open_log, read_text
from lensyard.features.game_log.exif import PhotoTime, PhotoTimes, Skipped, read_photos
from lensyard.features.game_log.log_entries import zone_of_game
from lensyard.game.document import GameLog
from lensyard.game.entry import Capture, LoggedPlay
from lensyard.game.store import WAIT_S

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


KEEPER_STARS = 1
LARGEST_OFFSET_S = 400 * 86400.0
COVERED_MARGIN_S = 120.0


@dataclass(frozen=True, slots=True)
class CaptureRequest:
    """What to match.

    Attributes
    ----------
    source
        A folder of photographs, or a CSV file (see `read_times_csv`).
    game_id
        Which game; by default the one going on, else the last.
    offsets
        Seconds to add to the cameras' clocks, ``12.5``, or to one's: ``BODY=12.5``.
    match
        Find the offset of every camera without one from the plays.
    accept
        Use an offset that was found even if it is not sure.
    write
        Whether to put the result into the log.
    """

    source: Path
    game_id: str | None = None
    offsets: tuple[str, ...] = ()
    match: bool = False
    accept: bool = False
    write: bool = True


@dataclass(frozen=True, slots=True)
class BodyClock:
    """One camera: how many frames, how its clock was corrected, and how sure that is.

    ``how`` is ``as set``, ``given`` or ``matched``; ``found`` belongs to the last.
    """

    body: str
    frames: int
    offset_s: float
    how: str
    found: ClockMatch | None


@dataclass(frozen=True, slots=True)
class CaptureAnswer:
    """What a match gave.

    Attributes
    ----------
    log
        The game as it is now.
    clocks
        By camera.
    captures
        Every frame with its play.
    plays
        Plays with at least one frame.
    skipped
        Files that gave no time.
    warnings
        What to look at.
    written
        Whether the log has it.
    """

    log: GameLog
    clocks: tuple[BodyClock, ...]
    captures: tuple[Capture, ...]
    plays: int
    skipped: tuple[Skipped, ...]
    warnings: tuple[str, ...]
    written: bool

    @property
    def frames_in_plays(self) -> int:
        """Frames that belong to a play."""
        return sum(capture.play is not None for capture in self.captures)


def match_captures(
    request: CaptureRequest,
    *,
    folder: Path | None = None,
    wait_s: float = WAIT_S,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> CaptureAnswer:
    """Give every frame its play, and put the counts into the log.

    Raises
    ------
    InvalidInputError
        If the source gives nothing, an offset cannot be read, or a matched clock is not sure.
    """
    with open_log(folder, wait_s=wait_s) as book:
        log = book.log(request.game_id)
    if not log.plays:
        raise InvalidInputError(f"game {log.game.game_id} has no plays to match frames with")
    times = read_times(request.source, log, progress=progress)
    clocks = _clocks(times.photos, log, request)
    captures = assign(times.photos, log.plays, {c.body: c.offset_s for c in clocks})
    changed, warnings = counted_plays(log.plays, captures, times.photos)
    if request.write:
        with open_log(folder, wait_s=wait_s) as book:
            if book.log(log.game.game_id).plays != log.plays:
                raise InvalidInputError(
                    "the log was changed while the photographs were read; call this again"
                )
            book.set_captures(log.game.game_id, changed, captures)
            log = book.log(log.game.game_id)
    return CaptureAnswer(
        log=log,
        clocks=clocks,
        captures=captures,
        plays=len({c.play for c in captures if c.play is not None}),
        skipped=times.skipped,
        warnings=warnings,
        written=request.write,
    )


def read_times(
    source: Path,
    log: GameLog,
    *,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> PhotoTimes:
    """Return the capture times of a folder or a CSV file."""
    zone = zone_of_game(log.game)
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


def _clocks(
    photos: Sequence[PhotoTime], log: GameLog, request: CaptureRequest
) -> tuple[BodyClock, ...]:
    given = parse_offsets(request.offsets)
    frames = Counter(photo.body for photo in photos)
    strangers = [body for body in given if body and body not in frames]
    if strangers:
        raise InvalidInputError(
            f"no frame is of body {strangers[0]!r}; there are {', '.join(map(repr, frames))}"
        )
    found = []
    for body, count in sorted(frames.items()):
        offset = given.get(body, given.get(""))
        if offset is not None or not request.match:
            how = "as set" if offset is None else "given"
            found.append(BodyClock(body, count, offset or 0.0, how, None))
            continue
        matched = _matched([p for p in photos if p.body == body], log)
        if not matched.sure and not request.accept:
            raise InvalidInputError(_unsure_text(body, matched))
        found.append(BodyClock(body, count, matched.offset_s, "matched", matched))
    return tuple(found)


def _matched(photos: Sequence[PhotoTime], log: GameLog) -> ClockMatch:
    origin = photos[0].captured_at
    seconds = np.array([(p.captured_at - origin).total_seconds() for p in photos])
    return match_clock(seconds, log.plays, origin=origin)


def _unsure_text(body: str, found: ClockMatch) -> str:
    camera = f" of {body}" if body else ""
    return (
        f"the clock{camera} cannot be told from the plays: the best offset, "
        f"{found.offset_s:+.1f} s, is right with {found.confidence:.0%} (needed {CONFIDENT:.0%} "
        f"and {FEWEST_BURSTS} bursts; there are {found.bursts}), the next best is "
        f"{found.runner_up_s:+.0f} s. Give --offset SECONDS, log plays with --at, or take it with "
        "--accept"
    )


def parse_offsets(texts: Sequence[str]) -> dict[str, float]:
    """Return offsets by body ("" for all others) from ``12.5`` and ``BODY=12.5``. [s]

    Raises
    ------
    ParseError
        If one is no number of seconds within 400 days, or a camera has two.
    """
    found: dict[str, float] = {}
    for text in texts:
        body, _, number = text.rpartition("=")
        try:
            seconds = float(number)
        except ValueError:
            seconds = float("nan")
        if not abs(seconds) <= LARGEST_OFFSET_S or body.strip() in found:
            raise ParseError(
                name="offset", text=text, expected="seconds, 12.5 or BODY=12.5, once a camera"
            )
        found[body.strip()] = seconds
    return found


def assign(
    photos: Sequence[PhotoTime], plays: Sequence[LoggedPlay], offset_s: dict[str, float]
) -> tuple[Capture, ...]:
    """Return every frame with its corrected time and its play."""
    origin: datetime = plays[0].logged_at
    moments = [corrected(photo.captured_at, offset_s[photo.body]) for photo in photos]
    seconds = np.array([(moment - origin).total_seconds() for moment in moments])
    found = plays_of_frames(windows_s(plays, origin=origin), seconds)
    captures = [
        Capture(
            file=photo.file,
            captured_at=photo.captured_at,
            corrected_at=moment,
            body=photo.body,
            focal_length_mm=photo.focal_length_mm,
            play=None if at < 0 else plays[at].number,
            keeper=None if photo.rating is None else photo.rating >= KEEPER_STARS,
        )
        for photo, moment, at in zip(photos, moments, found.tolist(), strict=True)
    ]
    return tuple(sorted(captures, key=lambda c: (c.corrected_at, c.file)))


def counted_plays(
    plays: Sequence[LoggedPlay], captures: Sequence[Capture], photos: Sequence[PhotoTime]
) -> tuple[tuple[LoggedPlay, ...], tuple[str, ...]]:
    """Return the plays with frames, and keepers where files are rated, counted; and warnings.

    A play without a frame here keeps what was typed, and one outside the time that the captures
    cover stays as it is.
    """
    frames = Counter(c.play for c in captures if c.play is not None)
    kept = Counter(c.play for c in captures if c.play is not None and c.keeper)
    rated = any(photo.rating is not None for photo in photos)
    margin = timedelta(seconds=COVERED_MARGIN_S)
    first, last = captures[0].corrected_at - margin, captures[-1].corrected_at + margin
    counted, warnings = [], []
    for play in plays:
        if not first <= (play.snap_at or play.logged_at) <= last:
            continue
        count, keepers = frames[play.number], play.keepers
        if count == 0 and play.frames is not None:
            continue
        if rated:
            keepers = kept[play.number]
        if (keepers or 0) > count:
            warnings.append(
                f"play {play.number} has {keepers} keepers noted, but {count} captures; frames "
                f"were set to {keepers}"
            )
            count = keepers or 0
        counted.append(replace(play, frames=count, keepers=keepers))
    return tuple(counted), tuple(warnings)


def capture_document(answer: CaptureAnswer) -> dict[str, Any]:
    """Return an answer as one JSON document (the contract of ``lensyard capture --json``)."""
    frames = Counter(c.play for c in answer.captures if c.play is not None)
    return {
        "schema_version": SCHEMA_VERSION,
        "game_id": answer.log.game.game_id,
        "frames": len(answer.captures),
        "frames_in_plays": answer.frames_in_plays,
        "plays_with_frames": answer.plays,
        "clocks": [asdict(clock) for clock in answer.clocks],
        "plays": [{"number": number, "frames": n} for number, n in sorted(frames.items())],
        "skipped": [asdict(skipped) for skipped in answer.skipped],
        "written": answer.written,
        "model": None,
        "cautions": list(answer.warnings),
    }
