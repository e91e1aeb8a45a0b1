"""The shot list over a game: what is missing, when there is time for it, and what ticking changes.

Action frames cost plays: how many, `lensyard.features.game_plan.frame_events` says. Frames of the
life around the game cost none if they are had in a break, so they are put there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from lensyard.domain.assignment import (
    Assignment,
    FrameKind,
    MustHave,
    OutcomeWeights,
    Window,
    known_keys,
    missing,
)
from lensyard.domain.field import rules_named
from lensyard.errors import require_range
from lensyard.records import Record

# Halftime: NFL Official Playing Rules 2021 R4-1-3 (13 min), NCAA Football Rules 2021 R3-2-1-b
# (20), NFHS R3-1 (15, from memory; 10 to 20 by state).
HALFTIME_MINUTES = {"pro": 13.0, "college": 20.0, "high-school": 15.0}
# On the wall clock, halftime included: about 3:10 and 3:21 in 2022 (SI 2023); common practice.
GAME_MINUTES = {"pro": 190.0, "college": 201.0, "high-school": 150.0}
# Common practice: about two minutes between quarters; on the field an hour before kickoff; a
# quarter of an hour afterwards.
QUARTER_BREAK_MINUTES = 2.0
BEFORE_MINUTES = 60.0
AFTER_MINUTES = 15.0
# From memory: a team's time-out lasts a minute or more in all three rule sets, and each team has
# three a half. Half of the six is what one may count on (our choice).
TIME_OUT_MINUTES = 1.0
TIME_OUTS_PER_HALF = 3
# 2 x 63.3 plays (2021) in about 3:10 h (2022) less halftime: USA Today 27 May 2022, SI 2023.
PLAYS_PER_MINUTE = 2 * 63.3 / (GAME_MINUTES["pro"] - HALFTIME_MINUTES["pro"])

# Once every frame that an outcome can make is ticked, this share of its bonus over an ordinary
# play is left: one more is still a picture, but no longer a must (our choice).
BONUS_KEPT = 0.5
# Which outcomes a ticked frame makes less urgent.
FRAME_OUTCOMES: dict[str, tuple[str, ...]] = {
    "touchdown": ("touchdown",),
    "pylon-dive": ("touchdown",),
    "defense-big-play": ("sack", "interception"),
    "drop-back": ("drop_back",),
}


class Break(Record):
    """A stretch of the game without plays.

    ``minutes``: how long one of them lasts. ``first_quarter``, ``last_quarter``: quarters played
    when it comes at the earliest and at the latest.
    """

    name: str
    window: Window
    minutes: float
    first_quarter: int
    last_quarter: int
    times: int = 1


class ScheduledFrame(Record):
    """A missing frame and the break it is for.

    ``slot``: the break; None where none that is left has room. ``plays_lost``: about how many plays
    it costs: none in a break. ``gone``: whether no time is left for it, not even in play.
    """

    frame: MustHave
    slot: Break | None
    plays_lost: float
    gone: bool


class BreakReport(Record):
    """What to think of at a break.

    ``now``: life frames to get in it. ``later``: the other missing life frames, with their break,
    their price in play, or gone. ``last_chance``: those of ``now`` for which no later break comes.
    ``action``: action frames still missing.
    """

    slot: Break
    now: tuple[MustHave, ...]
    later: tuple[ScheduledFrame, ...]
    last_chance: tuple[MustHave, ...]
    action: tuple[MustHave, ...]


def breaks_of(rules_name: str = "pro") -> tuple[Break, ...]:
    """Return the breaks of a game in their order.

    Raises `UnknownNameError` if there is no such rule set.
    """
    halftime = HALFTIME_MINUTES[rules_named(rules_name).name]
    return (
        Break("before kickoff", Window.BEFORE, BEFORE_MINUTES, 0, 0),
        Break("time-outs, first half", Window.TIME_OUT, TIME_OUT_MINUTES, 0, 1, TIME_OUTS_PER_HALF),
        Break("after the 1st quarter", Window.QUARTER_BREAK, QUARTER_BREAK_MINUTES, 1, 1),
        Break("halftime", Window.HALFTIME, halftime, 2, 2),
        Break(
            "time-outs, second half", Window.TIME_OUT, TIME_OUT_MINUTES, 2, 3, TIME_OUTS_PER_HALF
        ),
        Break("after the 3rd quarter", Window.QUARTER_BREAK, QUARTER_BREAK_MINUTES, 3, 3),
        Break("after the game", Window.AFTER, AFTER_MINUTES, 4, 4),
    )


def schedule(
    must_have: Iterable[MustHave],
    have: Iterable[str] = (),
    *,
    quarter: int = 0,
    rules_name: str = "pro",
) -> tuple[ScheduledFrame, ...]:
    """Put the missing frames of the life around the game where they cost no plays.

    ``must_have``: the shot list; action frames are left out. ``quarter``: quarters played so far, 0
    to 4; earlier breaks are gone, the one after it is not.

    The result: in the order of the shot list.

    The frames with the fewest breaks to go to choose first, then the longest; each takes the first
    break with room, in the order of its windows and of the game. Time-outs, which nobody can count
    on, come last: they are the reserve. Where no break has room, a frame that can be had in play
    costs plays. That is a simple rule, not an optimum: for the usual list of nine or so frames
    there is room to spare.

    Raises `OutOfRangeError` or `UnknownNameError` if the quarter is none, or a ticked key is on no
    list.
    """
    require_range(low=0, high=4, quarter=quarter)
    frames = [f for f in missing(must_have, have) if f.kind is FrameKind.LIFE]
    ahead = [b for b in breaks_of(rules_name) if b.last_quarter >= quarter]
    room = {b: [b.minutes] * b.times for b in ahead}
    options = {f.key: _options(f, ahead) for f in frames}
    placed: dict[str, Break | None] = {}
    for frame in sorted(frames, key=lambda f: (len(options[f.key]), -f.minutes)):
        placed[frame.key] = _take(frame, options[frame.key], room)
    return tuple(_scheduled(frame, placed[frame.key], quarter) for frame in frames)


def _scheduled(frame: MustHave, slot: Break | None, quarter: int) -> ScheduledFrame:
    in_play = Window.IN_PLAY in frame.windows and quarter < 4
    return ScheduledFrame(
        frame=frame,
        slot=slot,
        plays_lost=frame.minutes * PLAYS_PER_MINUTE if slot is None and in_play else 0.0,
        gone=slot is None and not in_play,
    )


def _options(frame: MustHave, ahead: list[Break]) -> list[Break]:
    """The breaks that are long enough, in the order of the frame's windows, then of the game."""
    windows = sorted(frame.windows, key=lambda window: window is Window.TIME_OUT)
    return [
        b for window in windows for b in ahead if b.window is window and b.minutes >= frame.minutes
    ]


def _take(frame: MustHave, options: list[Break], room: dict[Break, list[float]]) -> Break | None:
    for slot in options:
        for i, left in enumerate(room[slot]):
            if left >= frame.minutes:
                room[slot][i] = left - frame.minutes
                return slot
    return None


def missing_at_break(
    must_have: Iterable[MustHave],
    have: Iterable[str] = (),
    *,
    quarter: int,
    rules_name: str = "pro",
) -> BreakReport:
    """Return what is still missing at the break after a quarter, and what to do about it now.

    ``quarter``: quarters played so far: 0 is before kickoff, 2 halftime, 4 after the game.
    """
    frames = tuple(must_have)
    placed = schedule(frames, have, quarter=quarter, rules_name=rules_name)
    breaks = breaks_of(rules_name)
    here = next(b for b in breaks if b.window is not Window.TIME_OUT and b.first_quarter == quarter)
    after = [b for b in breaks if b.last_quarter >= quarter and b != here]
    now = tuple(p.frame for p in placed if p.slot == here)
    return BreakReport(
        slot=here,
        now=now,
        later=tuple(p for p in placed if p.slot != here),
        last_chance=tuple(frame for frame in now if not _options(frame, after)),
        action=tuple(f for f in missing(frames, have) if f.kind is FrameKind.ACTION),
    )


def weights_after(assignment: Assignment, have: Iterable[str]) -> OutcomeWeights:
    """Return the assignment's weights once some frames are ticked.

    ``assignment``: its weights count while every frame is missing.

    The result: the bonus of an outcome over any other play shrinks with the share of its frames on
    the shot list that are ticked, down to `BONUS_KEPT` of it. Outcomes without a frame of their own
    on the list keep their weight, and no weight ever rises.

    Raises `UnknownNameError` if a ticked key is on no list.
    """
    ticked = known_keys(assignment.must_have, have)
    listed = {frame.key for frame in assignment.must_have}
    weights = assignment.weights
    changed = {}
    for outcome in ("touchdown", "sack", "interception", "drop_back"):
        makers = [
            k for k, outcomes in FRAME_OUTCOMES.items() if outcome in outcomes and k in listed
        ]
        # A drop-back comes on top of what becomes of the play.
        plain = 0.0 if outcome == "drop_back" else weights.other
        bonus = getattr(weights, outcome) - plain
        if not makers or bonus <= 0:
            continue
        share = sum(key in ticked for key in makers) / len(makers)
        changed[outcome] = plain + bonus * (1.0 - (1.0 - BONUS_KEPT) * share)
    return replace(weights, **changed)
