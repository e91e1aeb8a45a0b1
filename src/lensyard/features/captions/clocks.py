r"""How far a camera's clock is off, found from when bursts begin and plays were snapped.

A camera's clock is off by an unknown :math:`\Delta`; bursts begin around plays. A log knows when
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

from collections.abc import Sequence
from datetime import datetime
from typing import Final

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.errors import InvalidInputError
from lensyard.game.entry import LoggedPlay
from lensyard.records import Record

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


class ClockMatch(Record):
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
    starts = [seconds_from(p.snap_at, origin) if p.snap_at else None for p in plays]
    for i, play in enumerate(plays):
        snap = starts[i]
        logged = seconds_from(play.logged_at, origin)
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


def seconds_from(moment: datetime, origin: datetime) -> float:
    return (moment - origin).total_seconds()


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
    logged = np.array([seconds_from(p.logged_at, origin) for p in plays])
    snapped = np.array([seconds_from(p.snap_at, origin) if p.snap_at else np.nan for p in plays])
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


def plays_of_frames(windows: FloatArray, captured_s: FloatArray) -> IntArray:
    """Return the position of the play that each frame belongs to, -1 for none, shape (m,)."""
    if len(windows) == 0:
        return np.full(captured_s.shape, -1, dtype=np.int64)
    order = np.argsort(windows[:, 0], kind="stable")
    at = np.searchsorted(windows[order, 0], captured_s, side="right") - 1
    found = order[np.maximum(at, 0)]
    inside = (at >= 0) & (captured_s <= windows[found, 1])
    return np.where(inside, found, -1).astype(np.int64)
