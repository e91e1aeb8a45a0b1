"""One entry of the feed as one canonical play."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from lensyard.plays.gamecenter import stat_codes as stat
from lensyard.plays.gamecenter import words
from lensyard.plays.gamecenter.feed import Entry, spelled
from lensyard.plays.gamecenter.running_score import Score
from lensyard.plays.kinds import CARRY_KINDS, KICK_KINDS, PASS_KINDS, SCRIMMAGE_KINDS
from lensyard.plays.play import Play, ScheduledGame

OUT_OF_BOUNDS_KINDS: Final = (*CARRY_KINDS, "complete")
LEAST_AIR_YD: Final = -30
"""No pass is caught farther behind the line; the feed holds one slip of -99."""


@dataclass(frozen=True, slots=True)
class Frame:
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


def play_of(entry: Entry, kind: str, game: Frame) -> Play:
    """Build the canonical play of one entry."""
    line = _yardline_100(entry.spot or words.Spot("", 50), game.defense)
    gain = _gain(entry, kind)
    series = kind in SCRIMMAGE_KINDS or kind == "no_play"
    fields: dict[str, Any] = {}
    if kind in PASS_KINDS:
        fields |= _pass_fields(entry, kind, gain)
    if kind in CARRY_KINDS:
        fields["side"], fields["gap"] = words.carry_label(entry.action)
    if kind in OUT_OF_BOUNDS_KINDS:
        fields["out_of_bounds"] = words.went_out(entry.action)
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
        home_club=spelled(game.clubs[0]),
        away_club=spelled(game.clubs[1]),
        offense=spelled(game.offense),
        defense=spelled(game.defense),
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


def _yardline_100(spot: words.Spot, defense: str) -> int:
    """Return yards to the goal line that the defense guards; past it they are negative."""
    ahead = spot.club == "" or spelled(spot.club) == spelled(defense)
    return spot.line if ahead else 100 - spot.line


def _penalty(entry: Entry, kind: str) -> bool:
    """Return whether a penalty was enforced (declined and offsetting ones are none)."""
    return entry.has(stat.PENALTY) or (kind == "no_play" and "enforced" in entry.ruling)


def _gain(entry: Entry, kind: str) -> int:
    """Return the official net yards of a play from scrimmage."""
    codes = {
        "run": stat.RUSH,
        "scramble": stat.RUSH,
        "kneel": stat.RUSH,
        "complete": stat.PASS_COMPLETE,
        "sack": stat.SACKED,
    }.get(kind)
    if codes is None:
        return 0
    booked = entry.yards(codes)
    if booked is None:
        return words.yards_told(entry.action) or 0
    more = (entry.yards(stat.RUSH_MORE) or 0) if codes is stat.RUSH else 0
    return booked + more


def _pass_fields(entry: Entry, kind: str, gain: int) -> dict[str, Any]:
    """Return side, depth, air yards and yards after the catch of a pass."""
    side, depth = words.pass_label(entry.action)
    complete = kind == "complete"
    air = entry.yards(stat.AIR_COMPLETE if complete else stat.AIR_INCOMPLETE)
    if air is not None and air < LEAST_AIR_YD:
        air = None
    after = entry.yards(stat.AFTER_CATCH) if complete and air is not None else None
    return {"side": side, "depth": depth, "air_yd": air, "after_catch_yd": after}


def _result_fields(entry: Entry, kind: str, game: Frame) -> dict[str, Any]:
    """Return scores, turnovers, first downs, kicks and returns."""
    touchdown = game.has_score(game.offense, "touchdown")
    series = kind in SCRIMMAGE_KINDS and kind not in KICK_KINDS
    fumbled = entry.has(stat.FUMBLE_LOST, club=game.offense) and entry.tells_fumble()
    lost = series and (kind == "interception" or fumbled)
    made = entry.has(stat.FIRST_DOWN) and kind not in ("incomplete", "interception")
    returns = {
        "punt": stat.PUNT_RETURN,
        "kickoff": stat.KICKOFF_RETURN,
        "interception": stat.INTERCEPTION_RETURN,
    }.get(kind, stat.FUMBLE_RETURN if lost else frozenset[int]())
    distance = {
        "punt": stat.PUNT_DISTANCE,
        "kickoff": stat.KICKOFF_DISTANCE,
        "field_goal": stat.FIELD_GOAL,
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


def _kick_result(entry: Entry, kind: str, game: Frame) -> str:
    """Return what became of a kick or a try, "" for other plays."""
    if kind in ("field_goal", "extra_point", "two_point"):
        if entry.has(stat.FIELD_GOAL_MADE | stat.EXTRA_POINT_MADE | stat.TWO_POINT_MADE):
            return "made"
        blocked = stat.FIELD_GOAL_BLOCKED | stat.EXTRA_POINT_BLOCKED
        return "blocked" if entry.has(blocked) else "missed"
    if kind not in ("punt", "kickoff"):
        return ""
    muffed = "MUFFS" in entry.action and entry.has(stat.FUMBLE_LOST, club=game.defense)
    if muffed and not entry.has(stat.BLOCKED_PUNT):
        return "recovered"
    results = (
        ("blocked", stat.BLOCKED_PUNT),
        ("touchback", stat.PUNT_TOUCHBACK | stat.KICKOFF_TOUCHBACK),
        ("fair_catch", stat.FAIR_CATCH),
        ("recovered", stat.KICKOFF_RECOVERED),
        ("returned", stat.PUNT_RETURN | stat.KICKOFF_RETURN),
        ("out_of_bounds", stat.PUNT_OUT | stat.KICKOFF_OUT),
    )
    return next((name for name, codes in results if entry.has(codes)), "downed")


def _end(
    entry: Entry,
    kind: str,
    game: Frame,
    *,
    line: int,
    gain: int,
    fields: Mapping[str, Any],
) -> int | None:
    """Return where the ball was dead, clamped to the goal lines; None on tries.

    The words tell where the ball really was; the statistics count a gain only up to the spot of
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
    elif words.is_touchback(entry.action):
        return 0
    elif game.has_score(game.defense, "safety"):
        return 100
    simple = kind not in ("interception", *KICK_KINDS) and "FUMBLES" not in entry.action
    if simple and not entry.has(stat.PENALTY):
        return _clamped(line - gain)
    spot = words.last_spot(entry.action)
    if spot is not None:
        return _clamped(_yardline_100(spot, game.defense))
    return None if kind in KICK_KINDS or kind == "interception" else _clamped(line - gain)


def _clamped(yards: int) -> int:
    return max(0, min(100, yards))
