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
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from lensyard.data import play_text as text
from lensyard.data import stat_codes as stat
from lensyard.data.play import Play
from lensyard.data.possession import with_possessions
from lensyard.data.running_score import RunningScore, final_points, score_events
from lensyard.data.schema import CARRY_KINDS, PASS_KINDS, SCRIMMAGE_KINDS
from lensyard.errors import DataError

CLUB_SPELLINGS: Final[Mapping[str, str]] = {"JAC": "JAX"}
"""Two spellings of one club of one city; a club that moved keeps the code of each season."""

LEAST_AIR_YD: Final = -30
"""No pass is caught farther behind the line; the feed holds one slip of -99."""

_CLOCK: Final = re.compile(r"(\d*):(\d\d)")
_NO_PLAY: Final = re.compile(r"\bNo Play\b|\bNULLIFIED\b")
_KICKS: Final = re.compile(r"\bkicks (?:onside )?-?\d+ yards?\b")
_FIELD_GOAL: Final = re.compile(r"\b\d+ yard field goal\b")
_PUNTS: Final = re.compile(r"\bpunts -?\d+ yards?\b|\bpunt is BLOCKED\b")


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
    spot: text.Spot
    stats: tuple[tuple[int, int, str], ...]
    ruling: str
    action: str

    def has(self, codes: frozenset[int], *, club: str | None = None) -> bool:
        """Return whether any of the codes is booked (for that club, if one is given)."""
        return any(c in codes and club in (None, who) for c, _, who in self.stats)

    def yards(self, codes: frozenset[int]) -> int | None:
        """Return the yards booked under the codes together, None where none is booked."""
        found = [yards for code, yards, _ in self.stats if code in codes]
        return sum(found) if found else None

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
        summary = raw["scrsummary"]
        totals = {side["abbr"]: int(side["score"]["T"]) for side in (raw["home"], raw["away"])}
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise DataError(
            f"game {scheduled.game_id} is not in the feed's shape ({error!r}); expected home, "
            "away, drives and scrsummary. Leave the game out or fetch its file again."
        ) from error
    kinds = [kind_of(entry) for entry in entries]
    entries, kinds = (
        [e for e, k in zip(entries, kinds, strict=True) if k],
        [k for k in kinds if k],
    )
    if not entries:
        raise DataError(f"game {scheduled.game_id} holds no play; leave it out")
    events = score_events(entries, kinds, summary=summary, totals=totals)
    score = RunningScore(events)
    plays: list[Play] = []
    clock = (0, 900)
    for entry, kind in zip(entries, kinds, strict=True):
        clock = (entry.quarter, _clock_after(clock, entry))
        offense = _offense(entry, clubs)
        defense = clubs[1] if offense == clubs[0] else clubs[0]
        plays.append(
            _play(
                entry,
                kind=kind,
                offense=offense,
                defense=defense,
                clubs=clubs,
                clock_s=clock[1],
                score_diff=score.difference(offense, defense),
                index=len(plays),
                scheduled=scheduled,
            )
        )
        score.after(entry.play_id)
    return ParsedGame(
        plays=with_possessions(plays),
        final_score_agrees=final_points(events, clubs=totals) == totals,
    )


def _entries(drives: Mapping[str, Any]) -> Iterator[Entry]:
    """Yield the rows that have a spot, in the file's order."""
    for drive in drives.values():
        if not isinstance(drive, Mapping):  # a counter of drives sits among them
            continue
        for play_id, row in drive["plays"].items():
            spot = _spot(row["yrdln"])
            if spot is None:
                continue
            ruling = text.final_ruling(str(row["desc"]))
            yield Entry(
                play_id=str(play_id),
                club=str(row["posteam"] or ""),
                quarter=int(row["qtr"]),
                clock_s=_clock_s(row["time"]),
                down=int(row["down"]),
                distance_yd=int(row["ydstogo"]),
                spot=spot,
                stats=tuple(
                    (int(s["statId"]), int(s["yards"] or 0), str(s["clubcode"]))
                    for booked in row["players"].values()
                    for s in booked
                ),
                ruling=ruling,
                action=text.action_of(ruling),
            )


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
        return min(entry.clock_s, 900)
    return before[1] if before[0] == entry.quarter else 900


def _offense(entry: Entry, clubs: tuple[str, str]) -> str:
    """Return the club that snapped or kicked: by the statistics, else by `posteam`."""
    booked = entry.club_of(_OFFENSE_CODES)
    return next((club for club in (booked, entry.club) if club in clubs), clubs[0])


def kind_of(entry: Entry) -> str:
    """Return the kind of play, "" for a row that tells of no play at all."""
    action = entry.action
    if _NO_PLAY.search(entry.ruling):
        return "no_play"
    if "TWO-POINT CONVERSION ATTEMPT" in action or entry.has(stat.TWO_POINT):
        return "two_point"
    tests = (
        ("extra_point", stat.EXTRA_POINT, " extra point is "),
        ("kickoff", stat.KICKOFF, _KICKS),
        ("field_goal", stat.FIELD_GOAL, _FIELD_GOAL),
        ("punt", stat.PUNT, _PUNTS),
        ("interception", stat.PASS_INTERCEPTED, "INTERCEPTED"),
        ("sack", stat.SACKED, " sacked "),
        ("kneel", frozenset[int](), " kneels "),
        ("spike", frozenset[int](), " spiked the ball"),
    )
    for kind, codes, words in tests:
        told = words in action if isinstance(words, str) else words.search(action) is not None
        if entry.has(codes) or told:
            return kind
    return _pass_or_carry(entry)


def _pass_or_carry(entry: Entry) -> str:
    """Return the kind of what is left: pass, carry, penalty, or "" for a mere remark."""
    action = entry.action
    if " pass " in action or entry.has(stat.PASS_COMPLETE | stat.PASS_INCOMPLETE):
        if " pass incomplete" in action:
            return "incomplete"
        if entry.has(stat.PASS_COMPLETE) or " pass " in action:
            return "complete"
        return "incomplete"
    if entry.has(stat.RUSH | stat.RUSH_MORE) or text.carry_label(action)[0]:
        return "scramble" if " scrambles " in action else "run"
    if entry.has(stat.PENALTY) or "enalty" in entry.ruling or "PENALTY" in entry.ruling:
        return "no_play"
    return ""


def _play(
    entry: Entry,
    *,
    kind: str,
    offense: str,
    defense: str,
    clubs: tuple[str, str],
    clock_s: int,
    score_diff: int,
    index: int,
    scheduled: ScheduledGame,
) -> Play:
    """Build the canonical play of one entry."""
    line = _yardline_100(entry.spot, defense)
    gain = _gain(entry, kind)
    fields: dict[str, Any] = {}
    if kind in PASS_KINDS:
        fields |= _pass_fields(entry, kind)
    if kind in CARRY_KINDS:
        side, gap = text.carry_label(entry.action)
        fields |= {"side": side, "gap": gap}
    if kind in ("run", "scramble", "complete"):
        fields["out_of_bounds"] = text.went_out(entry.action)
    if kind != "no_play":
        fields |= _result_fields(entry, kind, offense=offense, defense=defense)
        fields["end_yardline_100"] = _end(
            entry, kind, line=line, gain=gain, defense=defense, fields=fields
        )
    return Play(
        game_id=scheduled.game_id,
        season=scheduled.season,
        season_type=scheduled.season_type,
        week=scheduled.week,
        play_index=index,
        home_club=_spelled(clubs[0]),
        away_club=_spelled(clubs[1]),
        offense=_spelled(offense),
        defense=_spelled(defense),
        half=min((entry.quarter + 1) // 2, 3),
        quarter=entry.quarter,
        clock_s=clock_s,
        down=entry.down if kind in SCRIMMAGE_KINDS or kind == "no_play" else 0,
        distance_yd=entry.distance_yd if kind in SCRIMMAGE_KINDS or kind == "no_play" else 0,
        yardline_100=line,
        score_diff=score_diff,
        kind=kind,
        gain_yd=gain,
        penalty=_penalty(entry, kind),
        **fields,
    )


def _spelled(club: str) -> str:
    return CLUB_SPELLINGS.get(club, club)


def _yardline_100(spot: text.Spot, defense: str) -> int:
    """Return yards to the goal line that the defense guards; past it they are negative."""
    return spot.line if spot.club in ("", defense) else 100 - spot.line


def _penalty(entry: Entry, kind: str) -> bool:
    """Return whether a penalty was enforced (declined and offsetting ones are none)."""
    return entry.has(stat.PENALTY) or (kind == "no_play" and "enforced" in entry.ruling)


def _gain(entry: Entry, kind: str) -> int:
    """Return the official net yards of a play from scrimmage."""
    codes = {
        "run": stat.RUSH | stat.RUSH_MORE,
        "scramble": stat.RUSH | stat.RUSH_MORE,
        "kneel": stat.RUSH | stat.RUSH_MORE,
        "complete": stat.PASS_COMPLETE,
        "sack": stat.SACKED,
    }.get(kind)
    if codes is None:
        return 0
    booked = entry.yards(codes)
    return booked if booked is not None else text.yards_told(entry.action) or 0


def _pass_fields(entry: Entry, kind: str) -> dict[str, Any]:
    """Return side, depth, air yards and yards after the catch of a pass."""
    side, depth = text.pass_label(entry.action)
    complete = kind == "complete"
    code = stat.AIR_COMPLETE if complete else stat.AIR_INCOMPLETE
    air = entry.first_yards(frozenset({code}))
    after = entry.yards(frozenset({stat.AFTER_CATCH})) if complete else None
    if air is not None and air < LEAST_AIR_YD:
        air = after = None
    return {
        "side": side,
        "depth": depth,
        "air_yd": air,
        "after_catch_yd": after,
    }


def _result_fields(entry: Entry, kind: str, *, offense: str, defense: str) -> dict[str, Any]:
    """Return scores, turnovers, first downs, kicks and returns."""
    touchdown = entry.has(stat.TOUCHDOWN, club=offense)
    scrimmage = kind in SCRIMMAGE_KINDS
    from_kick = kind in ("punt", "field_goal")
    lost = kind == "interception" or entry.has(stat.FUMBLE_LOST, club=offense)
    made = entry.has(frozenset({stat.RUSH_FIRST_DOWN, stat.PASS_FIRST_DOWN}))
    returns = {
        "punt": stat.PUNT_RETURN,
        "kickoff": stat.KICKOFF_RETURN,
        "interception": stat.INTERCEPTION_RETURN,
    }.get(kind, stat.FUMBLE_RETURN if scrimmage and lost else frozenset())
    distance = {
        "punt": stat.PUNT_DISTANCE,
        "kickoff": stat.KICKOFF_DISTANCE,
        "field_goal": stat.FIELD_GOAL,
    }.get(kind, frozenset())
    return {
        "touchdown": touchdown,
        "return_touchdown": entry.has(stat.TOUCHDOWN, club=defense),
        "turnover": scrimmage and not from_kick and lost,
        "first_down": scrimmage and (made or touchdown),
        "kick_distance_yd": entry.first_yards(distance),
        "return_yd": entry.yards(returns),
        "kick_result": _kick_result(entry, kind),
        "safety": entry.has(stat.SAFETY),
    }


def _kick_result(entry: Entry, kind: str) -> str:
    """Return what became of a kick or a try, "" for other plays."""
    made = stat.FIELD_GOAL_MADE | stat.EXTRA_POINT_MADE | stat.TWO_POINT_MADE
    if kind in ("field_goal", "extra_point", "two_point"):
        if entry.has(made):
            return "made"
        blocked = stat.FIELD_GOAL_BLOCKED | stat.EXTRA_POINT_BLOCKED
        return "blocked" if entry.has(blocked) else "missed"
    if kind not in ("punt", "kickoff"):
        return ""
    results = (
        ("blocked", stat.BLOCKED_PUNT),
        ("touchback", stat.PUNT_TOUCHBACK | stat.KICKOFF_TOUCHBACK),
        ("fair_catch", stat.FAIR_CATCH),
        ("recovered", stat.KICKOFF_RECOVERED),
        ("returned", stat.PUNT_RETURN | stat.KICKOFF_RETURN),
        ("out_of_bounds", stat.PUNT_OUT | stat.KICKOFF_OUT),
        ("downed", stat.PUNT_DOWNED | stat.KICKOFF_DOWNED),
    )
    return next((name for name, codes in results if entry.has(codes)), "")


def _end(
    entry: Entry,
    kind: str,
    *,
    line: int,
    gain: int,
    defense: str,
    fields: Mapping[str, Any],
) -> int | None:
    """Return where the ball was dead, clamped to the goal lines; None on tries."""
    if kind not in SCRIMMAGE_KINDS and kind != "kickoff":
        return None
    if fields["touchdown"]:
        return 0
    if fields["return_touchdown"] or fields["safety"]:
        return 100
    if kind in ("incomplete", "spike"):
        return line
    if fields["kick_result"] in ("touchback", "made", "missed"):
        return 0
    simple = kind in ("run", "scramble", "complete", "sack", "kneel")
    if simple and "FUMBLES" not in entry.action:
        return _clamped(line - gain)
    spot = text.last_spot(entry.action)
    return _clamped(_yardline_100(spot, defense) if spot else line - gain)


def _clamped(yards: int) -> int:
    return max(0, min(100, yards))
