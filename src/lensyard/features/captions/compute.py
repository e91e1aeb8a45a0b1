"""Matching captures with the plays of a log, by their times.

Each camera has a clock of its own: it is taken as right, corrected by an offset that the user
gives, or by one found from the plays.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from lensyard.errors import InvalidInputError, ParseError
from lensyard.features.captions.exif import PhotoTime, PhotoTimes, Skipped
from lensyard.features.captions.matching import (
    CONFIDENT,
    FEWEST_BURSTS,
    ClockMatch,
    match_clock,
    plays_of_frames,
    windows_s,
)
from lensyard.game.document import GameLog
from lensyard.game.entry import Capture, LoggedPlay

KEEPER_STARS: Final = 1
LARGEST_OFFSET_S: Final = 400 * 86400.0
COVERED_MARGIN_S: Final = 120.0


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
class PlayFrames:
    """How many frames a play has."""

    number: int
    frames: int


@dataclass(frozen=True, slots=True)
class CaptureMatch:
    """What matching gave.

    Attributes
    ----------
    frames, frames_in_plays, plays_with_frames
        Captures, those that belong to a play, and the plays that have any.
    captures, counted, logged_plays
        Every frame with its play, the plays whose counts that changes, and how many the log has.
    written
        Whether the log has it.
    """

    game_id: str
    frames: int
    frames_in_plays: int
    plays_with_frames: int
    clocks: tuple[BodyClock, ...]
    plays: tuple[PlayFrames, ...]
    skipped: tuple[Skipped, ...]
    warnings: tuple[str, ...] = field(metadata={"json": "cautions"})
    captures: tuple[Capture, ...] = field(metadata={"json": None})
    counted: tuple[LoggedPlay, ...] = field(metadata={"json": None})
    logged_plays: int = field(metadata={"json": None})
    written: bool = False
    model: None = None


def match_captures(
    log: GameLog,
    times: PhotoTimes,
    *,
    offsets: Mapping[str, float],
    find_clocks: bool = False,
    accept: bool = False,
) -> CaptureMatch:
    """Give every frame its play, and count the frames of each.

    Parameters
    ----------
    log, times
        The game, and when the frames were captured.
    offsets
        Seconds to add to the cameras' clocks, by body; "" is of all others. [s]
    find_clocks
        Find the offset of every camera without one from the plays.
    accept
        Use an offset that was found even if it is not sure.

    Raises
    ------
    InvalidInputError
        If the log has no plays, an offset is of no camera, or a matched clock is not sure.
    """
    if not log.plays:
        raise InvalidInputError(f"game {log.game.game_id} has no plays to match frames with")
    clocks = _clocks(times.photos, log.plays, offsets, find_clocks=find_clocks, accept=accept)
    captures = _captures(times.photos, log.plays, {c.body: c.offset_s for c in clocks})
    frames = Counter(c.play for c in captures if c.play is not None)
    counted, warnings = _counted_plays(log.plays, captures)
    return CaptureMatch(
        game_id=log.game.game_id,
        frames=len(captures),
        frames_in_plays=frames.total(),
        plays_with_frames=len(frames),
        clocks=clocks,
        plays=tuple(PlayFrames(number, n) for number, n in sorted(frames.items())),
        skipped=times.skipped,
        warnings=warnings,
        captures=captures,
        counted=counted,
        logged_plays=len(log.plays),
    )


def _clocks(
    photos: Sequence[PhotoTime],
    plays: Sequence[LoggedPlay],
    offsets: Mapping[str, float],
    *,
    find_clocks: bool,
    accept: bool,
) -> tuple[BodyClock, ...]:
    frames = Counter(photo.body for photo in photos)
    strangers = [body for body in offsets if body and body not in frames]
    if strangers:
        raise InvalidInputError(
            f"no frame is of body {strangers[0]!r}; there are {', '.join(map(repr, frames))}"
        )
    clocks = []
    for body, count in sorted(frames.items()):
        offset = offsets.get(body, offsets.get(""))
        if offset is not None or not find_clocks:
            how = "as set" if offset is None else "given"
            clocks.append(BodyClock(body, count, offset or 0.0, how, None))
            continue
        captured = [photo.captured_at for photo in photos if photo.body == body]
        seconds = [(moment - captured[0]).total_seconds() for moment in captured]
        found = match_clock(np.array(seconds), plays, origin=captured[0])
        if not found.sure and not accept:
            raise _unsure(body, found)
        clocks.append(BodyClock(body, count, found.offset_s, "matched", found))
    return tuple(clocks)


def _unsure(body: str, found: ClockMatch) -> InvalidInputError:
    camera = f" of {body}" if body else ""
    return InvalidInputError(
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


def _captures(
    photos: Sequence[PhotoTime], plays: Sequence[LoggedPlay], offset_s: Mapping[str, float]
) -> tuple[Capture, ...]:
    """Return every frame with its corrected time and its play, in the order of time."""
    origin: datetime = plays[0].logged_at
    moments = [photo.captured_at + timedelta(seconds=offset_s[photo.body]) for photo in photos]
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


def _counted_plays(
    plays: Sequence[LoggedPlay], captures: Sequence[Capture]
) -> tuple[tuple[LoggedPlay, ...], tuple[str, ...]]:
    """Return the plays with frames, and keepers where files are rated, counted; and warnings.

    A play without a frame here keeps what was typed, and one outside the time that the captures
    cover stays as it is.
    """
    frames = Counter(c.play for c in captures if c.play is not None)
    kept = Counter(c.play for c in captures if c.play is not None and c.keeper)
    rated = any(c.keeper is not None for c in captures)
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
                f"Play {play.number} has {keepers} keepers noted, but {count} captures; frames "
                f"were set to {keepers}."
            )
            count = keepers or 0
        counted.append(replace(play, frames=count, keepers=keepers))
    return tuple(counted), tuple(warnings)
