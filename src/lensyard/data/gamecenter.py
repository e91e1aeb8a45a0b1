"""Adapter: one game of the league's old game feed (JSON) becomes canonical plays.

What the source does and a reader would not expect is handled here and nowhere else:

- Order is the file's order; play ids do not follow the clock.
- `yrdln` is the spot before the snap, "CLUB n", a bare "50" at midfield, blank on timeouts.
- On kickoffs the row sits in the receiver's drive and `posteam` is the kicker.
- `ydsnet`, `note` and the drives' own fields tell what happened later and are never read.
- After "REVERSED" only the later text counts; the statistics are those of the final ruling.

Names of players and the text itself stay inside: no `Play` holds any.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from lensyard.data import play_text as text
from lensyard.data import stat_codes as stat
from lensyard.data.play import Play
from lensyard.data.possession import with_possessions
from lensyard.data.restatement import without_restatements
from lensyard.data.running_score import RunningScore, Score, scoring_events
from lensyard.data.schema import CARRY_KINDS, KICK_KINDS, PASS_KINDS, SCRIMMAGE_KINDS
from lensyard.errors import DataError

CLUB_SPELLINGS: Final[Mapping[str, str]] = {
    "ARZ": "ARI",
    "BLT": "BAL",
    "HST": "HOU",
    "JAC": "JAX",
    "SL": "STL",
}
"""Spellings of one club; the text has its own. A club that moved keeps the code of each season."""

OUT_OF_BOUNDS_KINDS: Final = (*CARRY_KINDS, "complete")
QUARTER_S: Final = 900
LEAST_AIR_YD: Final = -30
"""No pass is caught farther behind the line; the feed holds one slip of -99."""

_CLOCK: Final = re.compile(r"(\d*):(\d\d)")
_NO_PLAY: Final = re.compile(r"\bNo Play\b")


@dataclass(frozen=True, slots=True)
class ScheduledGame:
    """What the schedule says about a game; the season comes from here, never from the id."""

    game_id: str
    season: int
    season_type: str
    week: int


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the feed, with its statistics flattened and its text cut to the final ruling.

    `stats` holds (code, yards, club) triples.
    """

    play_id: str
    club: str
    quarter: int
    clock_s: int | None
    down: int
    distance_yd: int
    spot: text.Spot | None
    stats: tuple[tuple[int, int, str], ...]
    ruling: str
    action: str
    reversed: bool

    def has(self, codes: frozenset[int], *, club: str | None = None) -> bool:
        """Return whether any of the codes is booked (for that club, if one is given)."""
        return any(c in codes and club in (None, who) for c, _, who in self.stats)

    def yards(self, codes: frozenset[int]) -> int | None:
        """Return the yards booked under the codes together, None where none is booked."""
        found = [yards for code, yards, _ in self.stats if code in codes]
        return sum(found) if found else None

    def tells_fumble(self) -> bool:
        """Return whether a booked fumble outlived a reversal, if there was one."""
        return not self.reversed or "FUMBLES" in self.action

    def first_yards(self, codes: frozenset[int]) -> int | None:
        """Return the yards of the first of the codes that is booked, None where none is."""
        return next((yards for code, yards, _ in self.stats if code in codes), None)

    def club_of(self, codes: frozenset[int]) -> str | None:
        """Return the club of the first of the codes that is booked."""
        return next((who for code, _, who in self.stats if code in codes), None)


_OFFENSE_CODES: Final = (
    stat.RUSH
    | stat.PASS_INCOMPLETE
    | stat.PASS_COMPLETE
    | stat.PASS_INTERCEPTED
    | stat.SACKED
    | stat.PUNT
    | stat.FIELD_GOAL
    | stat.EXTRA_POINT
    | stat.TWO_POINT
    | stat.KICKOFF_DISTANCE
)


@dataclass(frozen=True, slots=True)
class ParsedGame:
    """The plays of a game, and whether their running score ends at the final score."""

    plays: list[Play]
    final_score_agrees: bool


def parse_game(raw: Mapping[str, Any], *, scheduled: ScheduledGame) -> ParsedGame:
    """Turn one game of the feed into canonical plays, in the file's order.

    Parameters
    ----------
    raw : mapping
        The value under the game's id in its file: `home`, `away`, `drives`, `scrsummary`.
    scheduled : ScheduledGame
        Season, season type and week.

    Returns
    -------
    ParsedGame
        Timeouts, ends of quarters and remarks without a play are left out.

    Raises
    ------
    DataError
        If the game lacks a part, or none of its rows is a play.
    """
    try:
        clubs = (str(raw["home"]["abbr"]), str(raw["away"]["abbr"]))
        entries = list(_entries(raw["drives"]))
        totals = {str(side["abbr"]): int(side["score"]["T"]) for side in (raw["home"], raw["away"])}
        kinds = [kind_of(entry) for entry in entries]
        events = scoring_events(entries, kinds, summary=raw["scrsummary"])
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise DataError(
            f"game {scheduled.game_id} is not in the feed's shape ({error!r}); expected home, "
            "away, drives and scrsummary. Leave the game out or fetch its file again."
        ) from error
    score = RunningScore(events)
    plays: list[Play] = []
    clock = (0, QUARTER_S)
    for entry, kind in zip(entries, kinds, strict=True):
        if kind:
            clock = (entry.quarter, _clock_after(clock, entry))
            offense = _offense(entry, clubs)
            defense = clubs[1] if offense == clubs[0] else clubs[0]
            game = _Frame(
                scheduled=scheduled,
                clubs=clubs,
                offense=offense,
                defense=defense,
                index=len(plays),
                clock_s=clock[1],
                score_diff=score.difference(offense, defense),
                scored=tuple(events.get(entry.play_id, ())),
            )
            plays.append(_play(entry, kind, game))
        score.after(entry.play_id)
    if not plays:
        raise DataError(f"game {scheduled.game_id} holds no play; leave it out")
    agrees = all(score.points(club) == total for club, total in totals.items())
    return ParsedGame(plays=with_possessions(without_restatements(plays)), final_score_agrees=agrees)


def _entries(drives: Mapping[str, Any]) -> Iterator[Entry]:
    """Yield the rows in the file's order."""
    for drive in drives.values():
        if not isinstance(drive, Mapping):  # a counter of drives sits among them
            continue
        for play_id, row in drive["plays"].items():
            ruling = text.final_ruling(str(row["desc"] or ""))
            yield Entry(
                play_id=str(play_id),
                club=str(row["posteam"] or ""),
                quarter=int(row["qtr"]),
                clock_s=_clock_s(row["time"]),
                down=int(row["down"]),
                distance_yd=int(row["ydstogo"]),
                spot=_spot(row["yrdln"]),
                stats=tuple(_statistics(row["players"])),
                ruling=ruling,
                action=text.action_of(ruling),
                reversed=ruling != str(row["desc"] or ""),
            )


def _statistics(players: Mapping[str, Any]) -> Iterator[tuple[int, int, str]]:
    """Yield (code, yards, club); a few games book every fact twice, and once is enough."""
    for booked in players.values():
        seen = set()
        for fact in booked:
            triple = (int(fact["statId"]), int(fact["yards"] or 0), str(fact["clubcode"]))
            if triple not in seen or triple[0] in stat.REPEATABLE:
                yield triple
            seen.add(triple)


def _spot(yrdln: object) -> text.Spot | None:
    """Read "CLUB n" or a bare "50"; None for a blank."""
    parts = str(yrdln or "").split()
    if len(parts) == 1 and parts[0] == "50":
        return text.Spot("", 50)
    if len(parts) == 2 and parts[1].lstrip("-").isdigit():
        return text.Spot(parts[0], int(parts[1]))
    return None


def _clock_s(time: object) -> int | None:
    """Read "mm:ss" as seconds; None for a blank."""
    found = _CLOCK.fullmatch(str(time or ""))
    return None if not found else int(found[1] or 0) * 60 + int(found[2])


def _clock_after(before: tuple[int, int], entry: Entry) -> int:
    """Return the entry's clock; where it has none, the last one of the quarter."""
    if entry.clock_s is not None:
        return min(entry.clock_s, QUARTER_S)
    return before[1] if before[0] == entry.quarter else QUARTER_S


def _offense(entry: Entry, clubs: tuple[str, str]) -> str:
    """Return the club that snapped or kicked: by the statistics, else by `posteam`."""
    booked = entry.club_of(_OFFENSE_CODES)
    return next((club for club in (booked, entry.club) if club in clubs), clubs[0])


_BY_STATISTICS: Final = (
    ("two_point", stat.TWO_POINT),
    ("extra_point", stat.EXTRA_POINT),
    ("kickoff", stat.KICKOFF),
    ("field_goal", stat.FIELD_GOAL),
    ("punt", stat.PUNT),
    ("interception", stat.PASS_INTERCEPTED),
    ("sack", stat.SACKED),
    ("complete", stat.PASS_COMPLETE),
    ("incomplete", stat.PASS_INCOMPLETE),
    ("run", stat.RUSH | stat.RUSH_MORE),
)
_BY_WORDS: Final = (
    ("two_point", re.compile(r"TWO-POINT CONVERSION ATTEMPT")),
    ("extra_point", re.compile(r" extra point is ")),
    ("kickoff", re.compile(r"\bkicks (?:onside )?-?\d+ yards?\b")),
    ("field_goal", re.compile(r"\b\d+ yard field goal\b")),
    ("punt", re.compile(r"\bpunts -?\d+ yards?\b|\bpunt is BLOCKED\b")),
    ("interception", re.compile(r" INTERCEPTED ")),
    ("sack", re.compile(r" sacked ")),
    ("incomplete", re.compile(r" pass incomplete\b| spiked the ball\b")),
    ("complete", re.compile(r" pass (?:short|deep|left|middle|right|to)\b")),
    ("run", re.compile(r" (?:left|right) (?:end|tackle|guard)\b| up the middle\b| kneels ")),
)


def kind_of(entry: Entry) -> str:
    """Return the kind of play, "" for a row that tells of no play at all.

    The statistics decide. Where they tell of several kinds (what a reversal voided may still be
    booked) or of none, the words of the final ruling decide.
    """
    if entry.spot is None:
        return ""
    if _NO_PLAY.search(entry.ruling):
        return "no_play"
    booked = [kind for kind, codes in _BY_STATISTICS if entry.has(codes)]
    kind = booked[0] if len(booked) == 1 else _told_kind(entry, booked)
    if kind == "run":
        if " kneels " in entry.action:
            return "kneel"
        return "scramble" if " scrambles " in entry.action else "run"
    if kind == "incomplete" and " spiked the ball" in entry.action:
        return "spike"
    return kind


def _told_kind(entry: Entry, booked: Sequence[str]) -> str:
    """Return the kind that the words tell, among the booked ones if there are any."""
    nullified = not booked and "NULLIFIED" in entry.ruling
    if not nullified:
        for kind, words in _BY_WORDS:
            if (not booked or kind in booked) and words.search(entry.action):
                return kind
    if booked:
        return booked[0]
    return "no_play" if entry.has(stat.PENALTY) or "enalty" in entry.ruling else ""


@dataclass(frozen=True, slots=True)
class _Frame:
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


def _play(entry: Entry, kind: str, game: _Frame) -> Play:
    """Build the canonical play of one entry."""
    line = _yardline_100(entry.spot or text.Spot("", 50), game.defense)
    gain = _gain(entry, kind)
    series = kind in SCRIMMAGE_KINDS or kind == "no_play"
    fields: dict[str, Any] = {}
    if kind in PASS_KINDS:
        fields |= _pass_fields(entry, kind, gain)
    if kind in CARRY_KINDS:
        fields["side"], fields["gap"] = text.carry_label(entry.action)
    if kind in OUT_OF_BOUNDS_KINDS:
        fields["out_of_bounds"] = text.went_out(entry.action)
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
        home_club=_spelled(game.clubs[0]),
        away_club=_spelled(game.clubs[1]),
        offense=_spelled(game.offense),
        defense=_spelled(game.defense),
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


def _spelled(club: str) -> str:
    """Return the one spelling of a club's code."""
    return CLUB_SPELLINGS.get(club, club)


def _yardline_100(spot: text.Spot, defense: str) -> int:
    """Return yards to the goal line that the defense guards; past it they are negative."""
    ahead = spot.club == "" or _spelled(spot.club) == _spelled(defense)
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
        return text.yards_told(entry.action) or 0
    more = (entry.yards(stat.RUSH_MORE) or 0) if codes is stat.RUSH else 0
    return booked + more


def _pass_fields(entry: Entry, kind: str, gain: int) -> dict[str, Any]:
    """Return side, depth, air yards and yards after the catch of a pass."""
    side, depth = text.pass_label(entry.action)
    complete = kind == "complete"
    air = entry.yards(stat.AIR_COMPLETE if complete else stat.AIR_INCOMPLETE)
    if air is not None and air < LEAST_AIR_YD:
        air = None
    after = entry.yards(stat.AFTER_CATCH) if complete and air is not None else None
    return {"side": side, "depth": depth, "air_yd": air, "after_catch_yd": after}


def _result_fields(entry: Entry, kind: str, game: _Frame) -> dict[str, Any]:
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


def _kick_result(entry: Entry, kind: str, game: _Frame) -> str:
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
    game: _Frame,
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
    elif text.is_touchback(entry.action):
        return 0
    elif game.has_score(game.defense, "safety"):
        return 100
    simple = kind not in ("interception", *KICK_KINDS) and "FUMBLES" not in entry.action
    if simple and not entry.has(stat.PENALTY):
        return _clamped(line - gain)
    spot = text.last_spot(entry.action)
    if spot is not None:
        return _clamped(_yardline_100(spot, game.defense))
    return None if kind in KICK_KINDS or kind == "interception" else _clamped(line - gain)


def _clamped(yards: int) -> int:
    return max(0, min(100, yards))
