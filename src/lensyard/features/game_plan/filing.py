"""When to leave for the desk: a season played again with the plan, once for each moment.

Somebody who leaves before a snap walks to the desk, works there for the minutes needed and is back
at the field, standing by the desk, when they are over. The plays in between are missed; those after
it are had from where the walk limits let one get to. What that costs is counted against the same
plan without leaving. The real time of a snap is that of the usual pace, with the usual breaks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any, Final

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.domain.assignment import Deadline
from lensyard.domain.field import Direction
from lensyard.domain.perimeter import Perimeter, perimeter_of, walk_s
from lensyard.domain.places import parse_standing, spot_label
from lensyard.domain.shot_list import (
    GAME_MINUTES,
    HALFTIME_MINUTES,
    PLAYS_PER_MINUTE,
    QUARTER_BREAK_MINUTES,
)
from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError
from lensyard.files import cached, hash_of
from lensyard.model.context import Context
from lensyard.model.plays import Replay
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import PlayedSeason, play_season
from lensyard.planner.season_data import SeasonPlays
from lensyard.planner.simulate import Decide, lookahead_policy, simulate_policy
from lensyard.records import Record
from lensyard.spots.scorer import turned_station_indices
from lensyard.stats import bootstrap_games, ratio_interval
from lensyard.units import SECONDS_PER_QUARTER

VERSION: Final = 1
SURE: Final = 0.9
"""A moment will do when the deadline is met in this share of games."""
TWO_MINUTES_S: Final = 120.0
LEAVE_S: Final = (1800, 1500, 1200, 900, 720, 600, 480, 360, 300, 240, 180, 120, 90, 60, 30, 0)
"""Moments that are tried: left on the clock to the end of the quarter, 0 is its whistle. [s]"""
BEFORE_MIN: Final = (30, 20, 15, 12, 10, 8, 6, 5, 4, 3, 2, 1, 0)
"""The same for a time of day: beyond the minutes needed. [min]"""
PLAYED: Final = 6
"""So many moments are played again: the latest ones that will do, or come nearest to it."""


class LeavingRow(Record):
    """Leaving at one moment, over the season.

    ``left_s``: on the clock to the end of the deadline's quarter, None for a time of day, of which
    ``leave_min`` is minutes from kickoff. ``p_met``: share of games in which the frames are there
    in time. ``usable_lost``, ``value_lost``: a game, against not leaving, with 95 % intervals from
    drawing games; value in ordinary plays. None where it was not played again.
    """

    left_s: float | None
    leave_min: float | None
    p_met: float
    plays_missed: float
    usable_lost: float
    usable_lost_low: float
    usable_lost_high: float
    value_lost: float
    value_lost_low: float
    value_lost_high: float
    chosen: bool
    usual: bool


class Filing(Record):
    """One deadline: when to leave for it, by which way, and what that costs.

    ``quarter``: at whose end it lies, 0 for a time of day. ``walk_yd``, ``walk_s``, ``way``: from
    where the plan usually stands at that moment to the desk. ``possible``: whether a moment meets
    it in `SURE` of games; else ``chosen`` comes nearest.
    """

    name: str
    quarter: int
    minutes: float
    desk: str
    way: tuple[str, ...]
    walk_yd: float
    walk_s: float
    possible: bool
    rows: tuple[LeavingRow, ...]

    @property
    def chosen(self) -> LeavingRow:
        """The moment to leave at."""
        return next(row for row in self.rows if row.chosen)

    @property
    def usual(self) -> LeavingRow:
        """Leaving at the two-minute warning."""
        return next(row for row in self.rows if row.usual)


def desk_station(perimeter: Perimeter, text: str) -> int:
    """Return the station of the desk, as the team that attacks end B sees it.

    Raises `ParseError` if the text names no place; `InvalidInputError` if the place is closed.
    """
    station = parse_standing(text, perimeter, Direction.TOWARD_B)
    if not perimeter.open[station]:
        raise InvalidInputError(
            f"the desk, {text!r}, lies in a closed area of {perimeter.venue.name}; name a place "
            "from which one may work"
        )
    return station


def check_deadlines(
    deadlines: Sequence[Deadline], venue: Venue, *, kickoff: datetime | None
) -> None:
    """Refuse what no plan can answer.

    Raises `InvalidInputError` if a time of day is given and no kickoff, or it lies before kickoff
    or after the game.
    """
    for one in deadlines:
        if one.time is None:
            continue
        if kickoff is None:
            raise InvalidInputError(
                f"the deadline {one.at} is a time of day; say when the game begins with --at"
            )
        minutes = _minutes_from(kickoff, one)
        longest = GAME_MINUTES[venue.rules.name]
        if not 0 < minutes <= longest:
            where = "before kickoff" if minutes <= 0 else "after the game"
            raise InvalidInputError(
                f"the deadline {one.at} lies {where} (kickoff {kickoff:%H:%M}, about "
                f"{longest:.0f} minutes); nobody has to leave a game for it, so take it out"
            )


def _minutes_from(kickoff: datetime, deadline: Deadline) -> float:
    """Minutes from kickoff to a time of day; the small hours are those after the game's day."""
    at = deadline.time or kickoff.time()
    due = (at.hour - kickoff.hour) * 60 + at.minute - kickoff.minute
    return float(due + 24 * 60 if due < -12 * 60 else due)


def filing_of(
    context: Context,
    request: PlanRequest,
    plays: SeasonPlays,
    *,
    kickoff: datetime | None = None,
) -> tuple[Filing, ...]:
    """Return when to leave for each deadline of an assignment; nothing where it has none.

    Raises `InvalidInputError`; see `check_deadlines` and `desk_station`.
    """
    deadlines = request.assignment.deadlines
    if not deadlines:
        return ()
    check_deadlines(deadlines, request.venue, kickoff=kickoff)
    perimeter = perimeter_of(request.venue, step_yd=request.step_yd)
    desk = desk_station(perimeter, request.assignment.desk)
    played: PlayedSeason | None = None
    found = []
    for one in deadlines:
        due_min = None if one.time is None or kickoff is None else _minutes_from(kickoff, one)
        key = {
            "version": VERSION,
            "plan": request.key(context.model.manifest.arrays_sha256),
            "data": context.model.manifest.data_sha256,
            "season": plays.key,
            "names": (request.venue.sideline_names, request.venue.end_names),
            "desk": desk,
            "deadline": (one.at, one.minutes, due_min),
        }

        def compute(one: Deadline = one, due_min: float | None = due_min) -> dict[str, Any]:
            nonlocal played
            played = played or play_season(context, request, plays)
            return asdict(_Desk(played, desk).filing(one, due_min))

        made = cached(hash_of(key), compute)
        rows = tuple(LeavingRow(**row) for row in made["rows"])
        found.append(Filing(**{**made, "rows": rows, "way": tuple(made["way"])}))
    return tuple(found)


class _Desk:
    """A played season with a desk at one station (toward end B)."""

    def __init__(self, played: PlayedSeason, desk: int) -> None:
        self.played, self.desk = played, desk
        self.perimeter = played.solved.scorers[0].perimeter
        replay = played.replay
        away = replay.direction == int(Direction.TOWARD_A)
        turned = turned_station_indices(len(self.perimeter))
        # Where the plan stands at each play, in the stadium, and where the desk is in its frame.
        stood = played.plan.station_index
        self.stadium = np.where(away, turned[stood], stood)
        self.desk_in_frame = np.where(away, turned[desk], desk)
        self.walk_min = walk_s(1.0) / 60.0 * self.perimeter.walk_yd[self.stadium, desk]
        self.time_min = _times_min(replay, played.request.venue.rules.name)
        self.left_s = _left_s(replay)
        self.base = lookahead_policy(
            played.season_data,
            reward=played.reward,
            continuation=played.continuation,
            price_per_yd=played.request.walking.price_per_yd,
        )
        if not np.isfinite(self.walk_min).any():
            raise InvalidInputError("no way leads to the desk that is not closed; name another")

    def filing(self, deadline: Deadline, due_min: float | None) -> Filing:
        """Try the moments, and play the season again for those that matter."""
        quarter = deadline.quarter
        tries: list[tuple[float | None, float | None]]
        if due_min is None:
            tries = [(float(s), None) for s in LEAVE_S if s <= SECONDS_PER_QUARTER * quarter]
        else:
            tries = [(None, due_min - deadline.minutes - m) for m in BEFORE_MIN]
            tries = [(TWO_MINUTES_S, None), *((s, m) for s, m in tries if m is None or m >= 0)]
            quarter = 2
        away = [self._absence(one, quarter, deadline, due_min) for one in tries]
        met = [float(np.mean(one.met)) for one in away]
        usual = tries.index((TWO_MINUTES_S, None))
        will_do = [i for i, p in enumerate(met) if p >= SURE and (due_min is None or i != usual)]
        nearest = will_do or [int(np.argmax(met))]
        some = sorted({*nearest[-PLAYED:], usual})
        rows = {i: self._row(tries[i], away[i]) for i in some}
        best = min(nearest[-PLAYED:], key=lambda i: (round(rows[i]["value_lost"], 6), -i))
        left = away[best].leaves
        way, walk = self._way(left[left >= 0])
        return Filing(
            name=deadline.words,
            quarter=deadline.quarter,
            minutes=deadline.minutes,
            desk=_label(self.perimeter, self.desk),
            way=way,
            walk_yd=walk,
            walk_s=walk_s(walk),
            possible=bool(will_do),
            rows=tuple(LeavingRow(**rows[i], chosen=i == best, usual=i == usual) for i in some),
        )

    def _absence(
        self,
        leave: tuple[float | None, float | None],
        quarter: int,
        deadline: Deadline,
        due_min: float | None,
    ) -> _Absence:
        """Which plays of each game are missed, and whether the deadline is met, by game."""
        replay, games = self.played.replay, self.played.replay.games
        left_s, leave_min = leave
        if leave_min is not None:
            gone = self.time_min >= leave_min
        else:
            gone = self.left_s[quarter - 1] <= (left_s or 0.0)
            gone |= replay.batch.quarter > quarter
        if left_s == 0.0:
            gone = replay.batch.quarter > quarter
        first = _first_by_game(gone, replay)
        ends = _ends_min(self.time_min, replay, quarter)
        whistle = left_s == 0.0
        last = _last_by_game(replay)
        at = np.where(first >= 0, first, last)
        before = np.where(replay.order[at] > 0, at - 1, at)
        start = self.time_min[at] if leave_min is None else np.full(games, leave_min)
        if whistle:
            start = ends
        done = start + self.walk_min[before] + deadline.minutes
        due = np.full(games, due_min) if due_min is not None else ends
        if deadline.in_halftime:
            due = due + HALFTIME_MINUTES[self.played.request.venue.rules.name]
        absent = gone & (self.time_min < done[replay.game])
        return _Absence(absent, done <= due + 1e-9, before)

    def _row(self, leave: tuple[float | None, float | None], away: _Absence) -> dict[str, Any]:
        data = self.played.season_data
        trace = simulate_policy(data, self._leaving(away.absent))
        lost, lost_value = (
            had(self.played.plan.station_index)
            - np.where(away.absent, 0.0, had(trace.station_index))
            for had in (data.had, data.value_had)
        )
        games = np.ones(data.replay.games)
        weights = bootstrap_games(data.replay.games)
        usable = ratio_interval(data.by_game(lost), games, weights)
        value = ratio_interval(data.by_game(lost_value), games, weights)
        missed = (away.absent & data.counted).sum() / data.replay.games
        return {
            "left_s": leave[0],
            "leave_min": leave[1],
            "p_met": float(np.mean(away.met)),
            "plays_missed": float(missed),
            **dict(
                zip(("usable_lost", "usable_lost_low", "usable_lost_high"), usable, strict=True)
            ),
            **dict(zip(("value_lost", "value_lost_low", "value_lost_high"), value, strict=True)),
        }

    def _leaving(self, absent: BoolArray) -> Decide:
        """The plan, but at the desk while absent."""

        def decide(rows: IntArray, here: IntArray, limit_yd: FloatArray) -> IntArray:
            return np.where(absent[rows], self.desk_in_frame[rows], self.base(rows, here, limit_yd))

        return decide

    def _way(self, rows: IntArray) -> tuple[tuple[str, ...], float]:
        """The edges one walks along from where the plan usually stands, and how far that is."""
        yards = self.perimeter.walk_yd[self.stadium[rows], self.desk]
        rows, yards = rows[np.isfinite(yards)], yards[np.isfinite(yards)]
        ways = [_edges_on_the_way(self.perimeter, int(s), self.desk) for s in self.stadium[rows]]
        usual, _ = Counter(ways).most_common(1)[0]
        some = [float(y) for y, way in zip(yards, ways, strict=True) if way == usual]
        return usual, float(np.median(some))


class _Absence(Record):
    """Plays missed, shape (m,); deadline met, and the play before leaving, shape (games,)."""

    absent: BoolArray
    met: BoolArray
    leaves: IntArray


def _left_s(replay: Replay) -> tuple[FloatArray, ...]:
    """What the clock has left to the end of each quarter before every play, four of shape (m,)."""
    clock = replay.batch.half_s - np.where(
        np.isin(replay.batch.quarter, (1, 3)), SECONDS_PER_QUARTER, 0.0
    )
    return tuple(
        clock + SECONDS_PER_QUARTER * (quarter - replay.batch.quarter) for quarter in (1, 2, 3, 4)
    )


def _times_min(replay: Replay, rules_name: str) -> FloatArray:
    """When each play is snapped after kickoff, by the usual pace and breaks, shape (m,). [min]"""
    pause = np.where(replay.quarter_break, QUARTER_BREAK_MINUTES, 0.0)
    half = replay.free_move & (replay.order > 0)
    pause = np.where(half, HALFTIME_MINUTES[rules_name], pause)
    step = pause + 1.0 / PLAYS_PER_MINUTE
    total = np.cumsum(step)
    starts = np.flatnonzero(replay.order == 0)
    found: FloatArray = total - total[starts][replay.game]
    return found


def _first_by_game(some: BoolArray, replay: Replay) -> IntArray:
    """The first row of each game that is one of some, -1 where none is, shape (games,)."""
    found = np.full(replay.games, -1, dtype=np.int64)
    rows = np.flatnonzero(some)[::-1]
    found[replay.game[rows]] = rows
    return found


def _last_by_game(replay: Replay) -> IntArray:
    found = np.zeros(replay.games, dtype=np.int64)
    found[replay.game] = np.arange(len(replay))
    return found


def _ends_min(time_min: FloatArray, replay: Replay, quarter: int) -> FloatArray:
    """When a quarter ends: a snap's time after its last play, shape (games,). [min]"""
    found = np.zeros(replay.games)
    rows = np.flatnonzero(replay.batch.quarter <= quarter)
    np.maximum.at(found, replay.game[rows], time_min[rows])
    return found + 1.0 / PLAYS_PER_MINUTE


def _edges_on_the_way(perimeter: Perimeter, start: int, desk: int) -> tuple[str, ...]:
    """The names of the edges along the shorter way that is open, each once, in their order."""
    n, walk = len(perimeter), float(perimeter.walk_yd[start, desk])
    up = float((perimeter.along_yd[desk] - perimeter.along_yd[start]) % perimeter.length_yd)
    step = 1 if abs(up - walk) < 1e-6 else -1
    count = (step * (desk - start)) % n
    stations = (start + step * np.arange(count + 1)) % n
    venue = perimeter.venue
    names = (
        venue.sideline_names[0], venue.end_names[1], venue.sideline_names[1], venue.end_names[0],
    )  # fmt: skip
    edges = [names[int(edge)] for edge in perimeter.edge[stations]]
    return tuple(dict.fromkeys(edges))


def _label(perimeter: Perimeter, station: int) -> str:
    venue = perimeter.venue
    x_yd, y_yd = float(perimeter.x_yd[station]), float(perimeter.y_yd[station])
    return spot_label(x_yd=x_yd, y_yd=y_yd, names=venue.names(Direction.TOWARD_B))
