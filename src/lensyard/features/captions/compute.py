r"""Estimating a camera's clock error from the log, and assigning each frame to its play.

Each camera's clock is taken as right, corrected by an offset that the user gives, or by one found
from the plays. It is off by an unknown :math:`\Delta`; bursts begin around plays. A log knows when
plays were snapped, or at least when they were logged, a little later. With :math:`h(t)` the
expected density of burst beginnings (a normal density around each play),

.. math:: L(\Delta) = \sum_b \log\bigl((1 - \epsilon)\, h(c_b + \Delta) + \epsilon / T\bigr)

is the log-likelihood of the bursts :math:`c_b`; a share :math:`\epsilon`, marginalized, is of
other things. It is computed for all :math:`\Delta` at once (a cross-correlation by FFT), and turned
into a posterior. The prior favors small errors and whole hours, and gives one half to the
hypothesis that the frames have nothing to do with the plays. What is reported is the best
:math:`\Delta`, its 95 % interval, and the *confidence*: the posterior probability that the error
lies within `NEAR_S` of it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.errors import InvalidInputError, ParseError
from lensyard.features.captions.desk import WrittenCaptions
from lensyard.features.captions.exif import PhotoTime, PhotoTimes, Skipped
from lensyard.game.document import GameLog
from lensyard.game.entry import Capture, LoggedPlay

STEP_S: Final = 0.5
SEARCH_S: Final = 14 * 3600.0
"""A camera may be set to another time zone: fourteen hours either way."""
BURST_GAP_S: Final = 4.0
NEAR_S: Final = 10.0
CONFIDENT: Final = 0.95
ELSEWHERE_SHARES: Final = (0.1, 0.3, 0.5, 0.7)
"""Share of bursts that belong to no play: the bench, fans, time-outs. Marginalized."""
FEWEST_BURSTS: Final = 5

# Burst beginnings around a snap: from the quarterback's cadence on; most within a few seconds.
SNAP_BEFORE_S: Final = 4.0
SNAP_AFTER_S: Final = 14.0
_SNAP_PEAK_S: Final = 2.0
_SNAP_SPREAD_S: Final = 3.0
# Without a snap time: a play is logged some seconds after it ended, at most this long after.
LOGGED_WITHIN_S: Final = 90.0
_LOG_DELAY_S: Final = 18.0
_LOG_SPREAD_S: Final = 12.0
ONSET_S: Final = 1.5
LOG_ONSET_S: Final = 6.0
"""How far photographers differ in these, one standard deviation (our assumptions)."""
# Most clocks are a few minutes off, or those and whole hours (another time zone): our assumption.
_SET_WITHIN_S: Final = 120.0
_SET_SHARES: Final = np.array([0.5, 0.3, 0.2])
# The likelihood is raised to this power: the expected density is itself only assumed.
_TEMPER: Final = 0.7


@dataclass(frozen=True, slots=True)
class ClockMatch:
    """A camera's clock error as found from the plays.

    ``offset_s``, ``low_s``, ``high_s``: to add to the camera's clock, with its 95 % interval, in
    which how soon photographers begin a burst is part. [s] ``confidence``: P(the offset lies within
    `NEAR_S` of ``offset_s``). ``share_in_plays``: of the bursts, with this offset. ``runner_up_s``:
    the best offset more than a minute away. [s]
    """

    offset_s: float
    low_s: float
    high_s: float
    confidence: float
    share_in_plays: float
    runner_up_s: float
    bursts: int
    plays: int

    @property
    def sure(self) -> bool:
        """Whether the offset may be used without asking."""
        return self.confidence >= CONFIDENT and self.bursts >= FEWEST_BURSTS


def bursts_of(captured_s: FloatArray) -> FloatArray:
    """Return when bursts begin: frames at most `BURST_GAP_S` apart are one; sorted input. [s]

    >>> bursts_of(np.array([0.0, 0.1, 0.2, 30.0])).tolist()
    [0.0, 30.0]
    """
    if captured_s.size == 0:
        return captured_s
    return captured_s[np.diff(captured_s, prepend=-np.inf) > BURST_GAP_S]


def windows_s(plays: Sequence[LoggedPlay], *, origin: datetime) -> FloatArray:
    """Return when frames of each play can have been made, shape (n, 2), from ``origin``. [s]

    With a snap time from `SNAP_BEFORE_S` before it to `SNAP_AFTER_S` after it; without one from the
    play logged before (at most `LOGGED_WITHIN_S`) to the moment of logging. A play never reaches
    into the one before or the one after.
    """
    rows, last_end = [], -np.inf
    starts = [_seconds(p.snap_at, origin) if p.snap_at else None for p in plays]
    for i, play in enumerate(plays):
        snap = starts[i]
        logged = _seconds(play.logged_at, origin)
        if snap is not None:
            start, end = snap - SNAP_BEFORE_S, snap + SNAP_AFTER_S
        else:
            start, end = logged - LOGGED_WITHIN_S, logged
        later = starts[i + 1] if i + 1 < len(plays) else None
        if later is not None:
            end = min(end, later - SNAP_BEFORE_S)
        start = max(start, last_end)
        end = max(end, start)
        rows.append((start, end))
        last_end = end
    return np.array(rows, dtype=np.float64).reshape(len(plays), 2)


def _seconds(moment: datetime, origin: datetime) -> float:
    return (moment - origin).total_seconds()


def plays_of_frames(windows: FloatArray, captured_s: FloatArray) -> IntArray:
    """Return the position of the play that each frame belongs to, -1 for none, shape (m,)."""
    if len(windows) == 0:
        return np.full(captured_s.shape, -1, dtype=np.int64)
    order = np.argsort(windows[:, 0], kind="stable")
    at = np.searchsorted(windows[order, 0], captured_s, side="right") - 1
    found = order[np.maximum(at, 0)]
    inside = (at >= 0) & (captured_s <= windows[found, 1])
    return np.where(inside, found, -1).astype(np.int64)


def match_clock(
    captured_s: FloatArray, plays: Sequence[LoggedPlay], *, origin: datetime
) -> ClockMatch:
    """Return the clock error under which the bursts fit the plays best.

    ``captured_s`` are the frames by the camera's clock, from ``origin`` (UTC), shape (m,). [s]

    Raises `InvalidInputError` if there are no frames or no plays.
    """
    bursts = bursts_of(np.sort(captured_s))
    if bursts.size == 0 or not plays:
        raise InvalidInputError(
            "matching needs frames and plays; log plays, or give --offset SECONDS yourself"
        )
    low, density = _expected(plays, origin)
    offsets, score = _scores(bursts, low, density)
    score = _TEMPER * score + np.log(_prior(offsets))
    weight = np.exp(score - score.max())
    # Frames that have nothing to do with the plays: even over the game, and as likely before.
    stray = np.exp(min(-float(score.max()), 600.0))
    weight /= weight.sum() + stray
    best = float(offsets[score.argmax()])
    near = np.abs(offsets - best) <= NEAR_S
    here = float(weight[near].sum())
    offset = float((offsets[near] * weight[near]).sum() / here)
    # When a burst begins after the snap, or a log after the play, differs by photographer.
    snaps = all(play.snap_at is not None for play in plays)
    spread = float(np.sqrt((weight[near] * (offsets[near] - offset) ** 2).sum() / here))
    half = 1.96 * float(np.hypot(spread, ONSET_S if snaps else LOG_ONSET_S))
    windows = windows_s(plays, origin=origin)
    inside = plays_of_frames(windows, bursts + offset) >= 0
    away = np.where(np.abs(offsets - best) > 60.0, score, -np.inf)
    return ClockMatch(
        offset_s=round(offset, 1),
        low_s=round(offset - half, 1),
        high_s=round(offset + half, 1),
        confidence=float(weight[np.abs(offsets - offset) <= NEAR_S].sum()),
        share_in_plays=float(inside.mean()),
        runner_up_s=round(float(offsets[away.argmax()]), 1),
        bursts=int(bursts.size),
        plays=len(plays),
    )


def _prior(offsets: FloatArray) -> FloatArray:
    """Return the prior of each offset; sums to 1."""
    hours = np.rint(offsets / 3600.0)
    off_hour = np.exp(-0.5 * ((offsets - hours * 3600.0) / _SET_WITHIN_S) ** 2)
    parts = (off_hour * (hours == 0), off_hour * (hours != 0), np.ones(offsets.size))
    shares = [part / max(float(part.sum()), 1e-300) for part in parts]
    mixed: FloatArray = np.tensordot(_SET_SHARES, shares, axes=1)
    mixed /= mixed.sum()
    return mixed


def _expected(plays: Sequence[LoggedPlay], origin: datetime) -> tuple[float, FloatArray]:
    """Return where a grid of `STEP_S` begins, and the density of bursts on it (sums to 1). [s]"""
    logged = np.array([_seconds(p.logged_at, origin) for p in plays])
    snapped = np.array([_seconds(p.snap_at, origin) if p.snap_at else np.nan for p in plays])
    center = np.where(np.isnan(snapped), logged - _LOG_DELAY_S, snapped + _SNAP_PEAK_S)
    spread = np.where(np.isnan(snapped), _LOG_SPREAD_S, _SNAP_SPREAD_S)
    low = float(center.min()) - 120.0
    grid = np.arange(low, float(center.max()) + 120.0, STEP_S)
    density = np.zeros(grid.size)
    for c, s in zip(center, spread, strict=True):
        first, stop = (int((edge - low) / STEP_S) for edge in (c - 5 * s, c + 5 * s))
        part = slice(max(first, 0), min(stop + 1, grid.size))
        density[part] += np.exp(-0.5 * ((grid[part] - c) / s) ** 2) / s
    return low, density / density.sum()


def _scores(bursts: FloatArray, low: float, density: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return all offsets within `SEARCH_S`, and how much more likely each is than even frames."""
    first = float(bursts[0])
    place = np.rint((bursts - first) / STEP_S).astype(np.int64)
    count = np.bincount(place).astype(np.float64)
    size = 1 << int(np.ceil(np.log2(count.size + density.size)))
    spectrum = np.conj(np.fft.rfft(count, size))
    scores = []
    for share in ELSEWHERE_SHARES:
        # Against even frames; outside the game log(share). score(k) = sum of value[place + k].
        value = np.log((1 - share) * density * density.size + share) - np.log(share)
        around = np.fft.irfft(np.fft.rfft(value, size) * spectrum, size)
        scores.append(around + bursts.size * np.log(share))
    best = np.max(scores, axis=0)
    total = best + np.log(np.mean(np.exp(np.array(scores) - best), axis=0))
    shift = np.arange(-(count.size - 1), density.size)
    offsets = low - first + shift * STEP_S
    score = total[shift % size]
    kept = np.abs(offsets) <= SEARCH_S
    if not kept.any():
        raise InvalidInputError(
            "the frames and the plays lie more than 14 hours apart; is it another game? Give "
            "--offset SECONDS if it is not"
        )
    return offsets[kept], score[kept]


KEEPER_STARS: Final = 1
LARGEST_OFFSET_S: Final = 400 * 86400.0
COVERED_MARGIN_S: Final = 120.0
CLOCK_STEP_S: Final = 1.0
"""Most cameras write whole seconds, and nobody reads an offset off a clock more finely. [s]"""


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

    @property
    def low_s(self) -> float:
        """The least that may be to add: of the interval, else a second less than said. [s]"""
        return self.offset_s - CLOCK_STEP_S if self.found is None else self.found.low_s

    @property
    def high_s(self) -> float:
        """The most that may be to add. [s]"""
        return self.offset_s + CLOCK_STEP_S if self.found is None else self.found.high_s


@dataclass(frozen=True, slots=True)
class PlayFrames:
    """How many frames a play has."""

    number: int
    frames: int


@dataclass(frozen=True, slots=True)
class CaptureMatch:
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
        seconds = np.array([_seconds(moment, origin) for moment in near])
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
