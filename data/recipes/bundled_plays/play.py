"""One entry of the feed as one canonical play."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from data.recipes.bundled_plays import feed

from lensyard.plays.schema import CARRY_KINDS, KICK_KINDS, PASS_KINDS, SCRIMMAGE_KINDS


@dataclass(frozen=True, slots=True)
class ScheduledGame:
    """What the schedule says about a game; the season comes from here, never from the id."""

    game_id: str
    season: int
    season_type: str
    week: int


@dataclass(frozen=True, slots=True)
class Play:
    """One row of the canonical schema, whose columns `lensyard.plays.schema` defines.

    `drive_index` and `drive_end` are not here: they follow from the plays of a game together
    (`lensyard.plays.importing.transform`), which needs `safety`.
    """

    game_id: str
    season: int
    season_type: str
    week: int
    play_index: int
    home_club: str
    away_club: str
    offense: str
    defense: str
    half: int
    quarter: int
    clock_s: int
    down: int
    distance_yd: int
    yardline_100: int
    score_diff: int
    kind: str
    gain_yd: int = 0
    air_yd: int | None = None
    after_catch_yd: int | None = None
    side: str = ""
    depth: str = ""
    gap: str = ""
    out_of_bounds: bool = False
    touchdown: bool = False
    return_touchdown: bool = False
    turnover: bool = False
    first_down: bool = False
    penalty: bool = False
    kick_distance_yd: int | None = None
    return_yd: int | None = None
    kick_result: str = ""
    end_yardline_100: int | None = None
    safety: bool = False


_OUT_OF_BOUNDS_KINDS: Final = (*CARRY_KINDS, "complete")
_LEAST_AIR_YD: Final = -30
"""No pass is caught farther behind the line; the feed holds one slip of -99."""


@dataclass(frozen=True, slots=True)
class Score:
    """Points of one club. `kind` is touchdown, field_goal, safety or try."""

    club: str
    kind: str
    points: int


@dataclass(frozen=True, slots=True)
class GameContext:
    """What a play takes from its game.

    `clubs` is (home, away) as the feed spells them; `scored` is what was scored on the play.
    """

    scheduled: ScheduledGame
    clubs: tuple[str, str]
    offense: str
    defense: str
    index: int
    clock_s: int
    score_diff: int
    scored: tuple[Score, ...]

    def has_score(self, club: str, kind: str) -> bool:
        """Return whether that club made that kind of score on the play."""
        return any(score.club == club and score.kind == kind for score in self.scored)


def play_of(entry: feed.Entry, kind: str, game: GameContext) -> Play:
    """Build the canonical play of one entry."""
    line = _yardline_100(entry.spot or feed.Spot("", 50), game.defense)
    gain = _gain(entry, kind)
    series = kind in SCRIMMAGE_KINDS or kind == "no_play"
    fields: dict[str, Any] = {}
    if kind in PASS_KINDS:
        fields |= _pass_fields(entry, kind)
    if kind in CARRY_KINDS:
        fields["side"], fields["gap"] = feed.carry_label(entry.action)
    if kind in _OUT_OF_BOUNDS_KINDS:
        fields["out_of_bounds"] = feed.went_out(entry.action)
    if kind != "no_play":
        fields |= _result_fields(entry, kind, game)
        fields["end_yardline_100"] = _end(entry, kind, game, line=line, gain=gain, fields=fields)
    scheduled = game.scheduled
    return Play(
        game_id=scheduled.game_id,
        season=scheduled.season,
        season_type=scheduled.season_type,
        week=scheduled.week,
        play_index=game.index,
        home_club=feed.spelled(game.clubs[0]),
        away_club=feed.spelled(game.clubs[1]),
        offense=feed.spelled(game.offense),
        defense=feed.spelled(game.defense),
        half=min((entry.quarter + 1) // 2, 3),
        quarter=entry.quarter,
        clock_s=game.clock_s,
        down=entry.down if series else 0,
        distance_yd=entry.distance_yd if series else 0,
        yardline_100=line,
        score_diff=game.score_diff,
        kind=kind,
        gain_yd=gain,
        penalty=_penalty(entry, kind),
        safety=game.has_score(game.defense, "safety"),
        **fields,
    )


def _yardline_100(spot: feed.Spot, defense: str) -> int:
    """Return yards to the goal line that the defense guards; past it they are negative."""
    ahead = spot.club == "" or feed.spelled(spot.club) == feed.spelled(defense)
    return spot.line if ahead else 100 - spot.line


def _penalty(entry: feed.Entry, kind: str) -> bool:
    """Return whether a penalty was enforced (declined and offsetting ones are none)."""
    return entry.has(feed.PENALTY) or (kind == "no_play" and "enforced" in entry.ruling)


def _gain(entry: feed.Entry, kind: str) -> int:
    """Return the official net yards of a play from scrimmage."""
    codes = {
        "run": feed.RUSH,
        "scramble": feed.RUSH,
        "kneel": feed.RUSH,
        "complete": feed.PASS_COMPLETE,
        "sack": feed.SACKED,
    }.get(kind)
    if codes is None:
        return 0
    booked = entry.yards(codes)
    if booked is None:
        return feed.stated_yards(entry.action) or 0
    more = (entry.yards(feed.RUSH_MORE) or 0) if codes is feed.RUSH else 0
    return booked + more


def _pass_fields(entry: feed.Entry, kind: str) -> dict[str, Any]:
    """Return side, depth, air yards and yards after the catch of a pass."""
    side, depth = feed.pass_label(entry.action)
    complete = kind == "complete"
    air = entry.yards(feed.AIR_COMPLETE if complete else feed.AIR_INCOMPLETE)
    if air is not None and air < _LEAST_AIR_YD:
        air = None
    after = entry.yards(feed.AFTER_CATCH) if complete and air is not None else None
    return {"side": side, "depth": depth, "air_yd": air, "after_catch_yd": after}


def _result_fields(entry: feed.Entry, kind: str, game: GameContext) -> dict[str, Any]:
    """Return scores, turnovers, first downs, kicks and returns."""
    touchdown = game.has_score(game.offense, "touchdown")
    series = kind in SCRIMMAGE_KINDS and kind not in KICK_KINDS
    fumbled = entry.has(feed.FUMBLE_LOST, club=game.offense) and entry.fumble_stands()
    lost = series and (kind == "interception" or fumbled)
    made = entry.has(feed.FIRST_DOWN) and kind not in ("incomplete", "interception")
    returns = {
        "punt": feed.PUNT_RETURN,
        "kickoff": feed.KICKOFF_RETURN,
        "interception": feed.INTERCEPTION_RETURN,
    }.get(kind, feed.FUMBLE_RETURN if lost else frozenset[int]())
    distance = {
        "punt": feed.PUNT_DISTANCE,
        "kickoff": feed.KICKOFF_DISTANCE,
        "field_goal": feed.FIELD_GOAL,
    }.get(kind, frozenset[int]())
    return {
        "touchdown": touchdown,
        "return_touchdown": game.has_score(game.defense, "touchdown"),
        "turnover": lost,
        "first_down": kind in SCRIMMAGE_KINDS and (made or touchdown),
        "kick_distance_yd": entry.first_yards(distance),
        "return_yd": entry.yards(returns),
        "kick_result": _kick_result(entry, kind, game),
    }


def _kick_result(entry: feed.Entry, kind: str, game: GameContext) -> str:
    """Return what became of a kick or a try, "" for other plays."""
    if kind in ("field_goal", "extra_point", "two_point"):
        if entry.has(feed.FIELD_GOAL_MADE | feed.EXTRA_POINT_MADE | feed.TWO_POINT_MADE):
            return "made"
        blocked = feed.FIELD_GOAL_BLOCKED | feed.EXTRA_POINT_BLOCKED
        return "blocked" if entry.has(blocked) else "missed"
    if kind not in ("punt", "kickoff"):
        return ""
    muffed = "MUFFS" in entry.action and entry.has(feed.FUMBLE_LOST, club=game.defense)
    if muffed and not entry.has(feed.BLOCKED_PUNT):
        return "recovered"
    results = (
        ("blocked", feed.BLOCKED_PUNT),
        ("touchback", feed.PUNT_TOUCHBACK | feed.KICKOFF_TOUCHBACK),
        ("fair_catch", feed.FAIR_CATCH),
        ("recovered", feed.KICKOFF_RECOVERED),
        ("returned", feed.PUNT_RETURN | feed.KICKOFF_RETURN),
        ("out_of_bounds", feed.PUNT_OUT | feed.KICKOFF_OUT),
    )
    return next((name for name, codes in results if entry.has(codes)), "downed")


def _end(
    entry: feed.Entry,
    kind: str,
    game: GameContext,
    *,
    line: int,
    gain: int,
    fields: Mapping[str, Any],
) -> int | None:
    """Return where the ball was dead, clamped to the goal lines; None on tries.

    The sentence says where the ball really was; the statistics count a gain only up to the spot of
    a foul, and not at all after a fumble.
    """
    if kind not in SCRIMMAGE_KINDS and kind != "kickoff":
        return None
    if fields["touchdown"]:
        return 0
    if fields["return_touchdown"]:
        return 100
    if kind in ("incomplete", "spike"):
        return line
    if kind in KICK_KINDS:
        if fields["kick_result"] in ("touchback", "made", "missed"):
            return 0
    elif feed.is_touchback(entry.action):
        return 0
    elif game.has_score(game.defense, "safety"):
        return 100
    simple = kind not in ("interception", *KICK_KINDS) and "FUMBLES" not in entry.action
    if simple and not entry.has(feed.PENALTY):
        return _clamped(line - gain)
    spot = feed.last_spot(entry.action)
    if spot is not None:
        return _clamped(_yardline_100(spot, game.defense))
    return None if kind in KICK_KINDS or kind == "interception" else _clamped(line - gain)


def _clamped(yards: int) -> int:
    return max(0, min(100, yards))


_SAME_CLOCK_S: Final = 1


def without_restatements(plays: Sequence[Play]) -> list[Play]:
    """Return the plays of one game with each play once, `play_index` counted anew.

    The source lists some plays twice, a corrected row beside the one that it replaces: the clock or
    a label differs, the situation does not, and without a penalty the same down from the same spot
    cannot come again. The one that scored stays, else the one that the next play follows from, else
    the later one.
    """
    single: list[Play] = []
    for at, play in enumerate(plays):
        if single and _restates(single[-1], play):
            following = plays[at + 1] if at + 1 < len(plays) else None
            single[-1] = _better(single[-1], play, following)
        else:
            single.append(play)
    return [replace(play, play_index=at) for at, play in enumerate(single)]


def _restates(before: Play, after: Play) -> bool:
    """Return whether two neighbors describe the same snap or kick."""
    if before.penalty or "no_play" in (before.kind, after.kind):
        return False
    same_situation = _situation(before) == _situation(after)
    same_clock = abs(before.clock_s - after.clock_s) <= _SAME_CLOCK_S
    same_result = _result(before) == _result(after)
    if before.down == 0:
        return same_situation and same_clock and same_result
    return same_situation and (same_clock or same_result)


def _situation(play: Play) -> tuple[str, int, int, int, int]:
    return play.offense, play.quarter, play.down, play.distance_yd, play.yardline_100


def _result(play: Play) -> tuple[str, int, int | None, int | None]:
    return play.kind, play.gain_yd, play.kick_distance_yd, play.end_yardline_100


def _better(before: Play, after: Play, following: Play | None) -> Play:
    """Return the one of two statements of a play that stands."""
    if before.score_diff != after.score_diff:  # points were booked on the earlier row
        return before
    if following is not None and _follows(before, following) and not _follows(after, following):
        return before
    return after


def _follows(play: Play, following: Play) -> bool:
    """Return whether a play ends where, and on the down that, the next one starts."""
    down = 1 if play.first_down else play.down + 1
    return (play.offense, play.end_yardline_100, down) == (
        following.offense,
        following.yardline_100,
        following.down,
    )
