"""Assigning each frame of a card to its play, with every camera's clock put right.

Each camera's clock is taken as right, corrected by an offset that the user gives, or by one found
from the plays (`lensyard.features.captions.clocks`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from lensyard.arrays import IntArray
from lensyard.errors import InvalidInputError, ParseError
from lensyard.features.captions.clocks import (
    CONFIDENT,
    FEWEST_BURSTS,
    SEARCH_S,
    ClockMatch,
    match_clock,
    plays_of_frames,
    seconds_from,
    windows_s,
)
from lensyard.features.captions.desk import WrittenCaptions
from lensyard.features.captions.exif import PhotoTime, PhotoTimes, Skipped
from lensyard.game.document import GameLog
from lensyard.game.entry import Capture, LoggedPlay
from lensyard.records import Record

KEEPER_STARS: Final = 1
LARGEST_OFFSET_S: Final = 400 * 86400.0
COVERED_MARGIN_S: Final = 120.0
CLOCK_STEP_S: Final = 1.0
"""Most cameras write whole seconds, and nobody reads an offset off a clock more finely. [s]"""


class BodyClock(Record):
    """One camera: how many frames, how its clock was corrected, and how sure that is.

    ``how`` is ``as set``, ``given`` or ``matched``; ``found`` belongs to the last.
    """

    body: str
    frames: int
    offset_s: float
    how: str
    found: ClockMatch | None

    @property
    def low_s(self) -> float:
        """The least that may be to add: of the interval, else a second less than said. [s]"""
        return self.offset_s - CLOCK_STEP_S if self.found is None else self.found.low_s

    @property
    def high_s(self) -> float:
        """The most that may be to add. [s]"""
        return self.offset_s + CLOCK_STEP_S if self.found is None else self.found.high_s


class PlayFrames(Record):
    """How many frames a play has."""

    number: int
    frames: int


class CaptureMatch(Record):
    """What matching gave.

    ``frames``, ``frames_in_plays``, ``plays_with_frames``: captures, those that belong to a play,
    and the plays that have any. ``frames_unsure``: of all, those that would be of another play, or
    of none, somewhere in what is known of the clock; ``sure`` says it frame by frame. ``captures``,
    ``counted``, ``logged_plays``: every frame with its play, the plays whose counts that changes,
    and how many the log has. ``written``, ``captions``: whether the log has it, and what became of
    captions where they were asked for.
    """

    game_id: str
    frames: int
    frames_in_plays: int
    frames_unsure: int
    plays_with_frames: int
    clocks: tuple[BodyClock, ...]
    plays: tuple[PlayFrames, ...]
    skipped: tuple[Skipped, ...]
    warnings: tuple[str, ...] = field(metadata={"json": "cautions"})
    captures: tuple[Capture, ...] = field(metadata={"json": None})
    sure: tuple[bool, ...] = field(metadata={"json": None})
    counted: tuple[LoggedPlay, ...] = field(metadata={"json": None})
    logged_plays: int = field(metadata={"json": None})
    written: bool = False
    captions: WrittenCaptions | None = None
    model: None = None

    def settled(self, log: GameLog) -> bool:
        """Whether a log has all of it already."""
        plays = {play.number: play for play in log.plays}
        counted = all(plays[play.number] == play for play in self.counted)
        return counted and log.captures == self.captures


def match_captures(
    log: GameLog,
    times: PhotoTimes,
    *,
    offsets: Mapping[str, float],
    find_clocks: bool = False,
    accept: bool = False,
) -> CaptureMatch:
    """Give every frame its play, and count the frames of each.

    ``log``, ``times``: the game, and when the frames were captured. ``offsets``: seconds to add to
    the cameras' clocks, by body; "" is of all others. [s] ``find_clocks``: find the offset of every
    camera without one from the plays. ``accept``: use an offset that was found even if it is not
    sure. A camera whose clock cannot be told is left out and named.

    Raises `InvalidInputError` if the log has no plays, an offset is of no camera, or no camera's
    clock can be told.
    """
    if not log.plays:
        raise InvalidInputError(f"game {log.game.game_id} has no plays to match frames with")
    clocks, untold = _clocks(
        times.photos, log.plays, offsets, find_clocks=find_clocks, accept=accept
    )
    known = {clock.body: clock for clock in clocks}
    photos = [photo for photo in times.photos if photo.body in known]
    captures, sure = _captures(photos, log.plays, known)
    frames = Counter(c.play for c in captures if c.play is not None)
    counted, warnings = _counted_plays(log.plays, captures)
    return CaptureMatch(
        game_id=log.game.game_id,
        frames=len(captures),
        frames_in_plays=frames.total(),
        frames_unsure=len(sure) - sum(sure),
        plays_with_frames=len(frames),
        clocks=clocks,
        plays=tuple(PlayFrames(number, n) for number, n in sorted(frames.items())),
        skipped=times.skipped,
        warnings=(*untold, *warnings),
        captures=captures,
        sure=sure,
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
) -> tuple[tuple[BodyClock, ...], tuple[str, ...]]:
    """Return each camera's clock, and the cameras whose clock cannot be told.

    Frames that no offset of the search brings to the game do not help to find one.
    """
    frames = Counter(photo.body for photo in photos)
    strangers = [body for body in offsets if body and body not in frames]
    if strangers:
        raise InvalidInputError(
            f"no frame is of body {strangers[0]!r}; there are {', '.join(map(repr, frames))}"
        )
    origin = plays[0].logged_at
    clocks: list[BodyClock] = []
    untold: list[InvalidInputError] = []
    left: list[str] = []
    for body, count in sorted(frames.items()):
        offset = offsets.get(body, offsets.get(""))
        if offset is not None or not find_clocks:
            how = "as set" if offset is None else "given"
            clocks.append(BodyClock(body, count, offset or 0.0, how, None))
            continue
        taken = [photo.captured_at for photo in photos if photo.body == body]
        near = [moment for moment in taken if _near(moment, plays)] or taken[:1]
        seconds = np.array([seconds_from(moment, origin) for moment in near])
        try:
            found = match_clock(seconds, plays, origin=origin)
            if not found.sure and not accept:
                raise _unsure(body, found)
        except InvalidInputError as error:
            untold.append(error)
            left.append(f"{count:,} frames of {body or 'one camera'} were left out: {error}.")
            continue
        clocks.append(BodyClock(body, count, found.offset_s, "matched", found))
    if not clocks:
        raise untold[0]
    return tuple(clocks), tuple(left)


def _near(moment: datetime, plays: Sequence[LoggedPlay]) -> bool:
    """Whether some offset of the search brings a moment to the game."""
    margin = timedelta(seconds=SEARCH_S)
    return plays[0].logged_at - margin <= moment <= plays[-1].logged_at + margin


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

    Raises `ParseError` if one is no number of seconds within 400 days, or a camera has two.
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
    photos: Sequence[PhotoTime], plays: Sequence[LoggedPlay], clocks: Mapping[str, BodyClock]
) -> tuple[tuple[Capture, ...], tuple[bool, ...]]:
    """Return every frame with its corrected time and its play, in the order of time.

    Beside them: whether a frame's play is the same anywhere in its clock's interval.
    """
    origin: datetime = plays[0].logged_at
    windows = windows_s(plays, origin=origin)
    taken = np.array([(photo.captured_at - origin).total_seconds() for photo in photos])

    def played(offset_s: Callable[[BodyClock], float]) -> IntArray:
        return plays_of_frames(
            windows, taken + np.array([offset_s(clocks[photo.body]) for photo in photos])
        )

    found = played(lambda clock: clock.offset_s)
    sure = (played(lambda clock: clock.low_s) == found) & (
        played(lambda clock: clock.high_s) == found
    )
    captures = [
        Capture(
            file=photo.file,
            captured_at=photo.captured_at,
            corrected_at=photo.captured_at + timedelta(seconds=clocks[photo.body].offset_s),
            body=photo.body,
            focal_length_mm=photo.focal_length_mm,
            play=None if at < 0 else plays[at].number,
            keeper=None if photo.rating is None else photo.rating >= KEEPER_STARS,
        )
        for photo, at in zip(photos, found.tolist(), strict=True)
    ]
    order = sorted(range(len(captures)), key=lambda i: (captures[i].corrected_at, captures[i].file))
    return tuple(captures[i] for i in order), tuple(bool(sure[i]) for i in order)


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
    near = [c.corrected_at for c in captures if _near(c.corrected_at, plays)]
    if not near:
        return (), ()
    first, last = near[0] - margin, near[-1] + margin
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
