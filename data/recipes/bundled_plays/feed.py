"""Rows of the feed as typed entries: statistics by code, and what the scorer's sentence says.

The feed books one code for every fact of a play, each with a club and a number of yards. The
codes are facts of the feed; the names here are ours. A lateral has codes of its own: the passer's
and the first runner's yards do not hold the second runner's where it says "more".

The sentence says what the statistics do not: side, depth, gap, spots. Only the final ruling
counts: after a reversal the sentence starts again, and what stood before is void. Nothing of the
text itself leaves this package.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

BLOCKED_PUNT: Final = frozenset({2})
FIRST_DOWN: Final = frozenset({3, 4})
"""By a carry or a pass; a first down by penalty is 5."""
RUSH: Final = frozenset({10, 11})
RUSH_MORE: Final = frozenset({12, 13})
PASS_INCOMPLETE: Final = frozenset({14})
PASS_COMPLETE: Final = frozenset({15, 16})
PASS_INTERCEPTED: Final = frozenset({19})
SACKED: Final = frozenset({20})
INTERCEPTION_RETURN: Final = frozenset({25, 26, 27, 28})
PUNT: Final = frozenset({2, 29, 31, 32})
PUNT_DISTANCE: Final = frozenset({29, 31, 32})
PUNT_TOUCHBACK: Final = frozenset({32, 40})
PUNT_RETURN: Final = frozenset({33, 34, 35, 36})
PUNT_OUT: Final = frozenset({37})
FAIR_CATCH: Final = frozenset({39, 50})
KICKOFF: Final = frozenset({41, 42, 43, 44, 102, 107, 108})
KICKOFF_DISTANCE: Final = frozenset({41, 42, 43, 44})
KICKOFF_TOUCHBACK: Final = frozenset({44, 51})
KICKOFF_RETURN: Final = frozenset({45, 46, 47, 48})
KICKOFF_OUT: Final = frozenset({49})
KICKOFF_RECOVERED: Final = frozenset({107, 108})
FUMBLE_RETURN: Final = frozenset({59, 60, 61, 62})
FIELD_GOAL_MISSED: Final = frozenset({69})
FIELD_GOAL_MADE: Final = frozenset({70})
FIELD_GOAL_BLOCKED: Final = frozenset({71})
FIELD_GOAL: Final = FIELD_GOAL_MISSED | FIELD_GOAL_MADE | FIELD_GOAL_BLOCKED
EXTRA_POINT_MADE: Final = frozenset({72})
EXTRA_POINT_BLOCKED: Final = frozenset({74})
EXTRA_POINT: Final = frozenset({72, 73, 74, 301})
TWO_POINT_MADE: Final = frozenset({75, 77})
TWO_POINT: Final = frozenset({75, 76, 77, 78})
PENALTY: Final = frozenset({93})
FUMBLE_LOST: Final = frozenset({106})
AIR_COMPLETE: Final = frozenset({111})
AIR_INCOMPLETE: Final = frozenset({112})
AFTER_CATCH: Final = frozenset({113})
REPEATABLE: Final = frozenset({12, 23, 27, 35, 47, 61, 93})
"""One player can have these twice on one play: laterals and penalties."""
_REVERSED: Final = "REVERSED"
_REST: Final = re.compile(r"\b(?:PENALTY|Penalty) on\b|\bOfficially\b")
_FUMBLE: Final = re.compile(r"\bFUMBLES\b|\bMUFFS\b")
_PASS: Final = re.compile(
    r"\bpass\b(?:\s+incomplete)?(?:\s+(?P<depth>short|deep))?(?:\s+(?P<side>left|middle|right))?"
)
_CARRY: Final = re.compile(
    r"\b(?P<side>left|right) (?P<gap>end|tackle|guard)\b|\bup the (?P<middle>middle)\b"
)
_CARRY_END: Final = re.compile(r"\bfor (?:-?\d+ yards?|no gain)\b|TOUCHDOWN")
_YARDS: Final = re.compile(r"\bfor (?:(?P<yards>-?\d+) yards?|no gain)\b")
_OUT: Final = re.compile(r"\b(?:ran|pushed|sacked) ob\b")
_SPOT: Final = r"(?:(?P<club>[A-Z]{2,3}) (?P<line>-?\d+)|(?P<midfield>50)(?=\D|$))"
_LANDMARKS: Final = re.compile(
    r"(?:\bob at |\bsacked at |\bsacked ob at |\bINTERCEPTED by .{1,60}? at "
    r"|\b(?:RECOVERED|recovered) by .{1,60}? at |\brecovers at |\bout of bounds at "
    r"|\bdeclared (?:dead )?at |\bpunts -?\d+ yards? to |\bFUMBLES(?: \([^)]*\))? at "
    r"|\bkicks (?:onside )?-?\d+ yards? from (?:[A-Z]{2,3} \d+|50) to |\bto )" + _SPOT
)


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the field as the source writes it: a club's yard line.

    `club` is "" at midfield; `line` is negative within that club's end zone.
    """

    club: str
    line: int


def final_ruling(text: str) -> str:
    """Return the part of the sentence that stands: all of it, or what follows a reversal.

    >>> final_ruling("A pass deep left. The ruling was REVERSED. A pass incomplete deep left.")
    'A pass incomplete deep left.'
    """
    at = text.rfind(_REVERSED)
    return text if at < 0 else text[at + len(_REVERSED) :].lstrip(" .)")


def action_of(text: str) -> str:
    """Return the sentence without penalties, which name other spots."""
    return _REST.split(text, maxsplit=1)[0]


def pass_label(action: str) -> tuple[str, str]:
    """Return (side, depth) of a pass, each "" where the scorer gave none.

    >>> pass_label("(Shotgun) A.Example pass incomplete deep right to B.Sample.")
    ('right', 'deep')
    """
    found = _PASS.search(action)
    return (found["side"] or "", found["depth"] or "") if found else ("", "")


def carry_label(action: str) -> tuple[str, str]:
    """Return (side, gap) of a carry, each "" where the scorer gave none.

    >>> carry_label("(9:01) A.Example left tackle to XYZ 30 for 4 yards.")
    ('left', 'tackle')
    >>> carry_label("A.Example up the middle for no gain. Started right end.")
    ('middle', '')
    """
    end = _CARRY_END.search(action)
    found = _CARRY.search(action, 0, end.start() if end else len(action))
    if not found:
        return "", ""
    return found["side"] or found["middle"], found["gap"] or ""


def went_out(action: str) -> bool:
    """Return whether the ball carrier went out of bounds, before any fumble."""
    return _OUT.search(_FUMBLE.split(action, maxsplit=1)[0]) is not None


def is_touchback(action: str) -> bool:
    """Return whether the ball was dead in the end zone of the side that the offense attacks."""
    return "Touchback" in action


def stated_yards(action: str) -> int | None:
    """Return the first yardage in the sentence, None where it has none."""
    found = _YARDS.search(action)
    return None if not found else int(found["yards"] or 0)


def last_spot(action: str) -> Spot | None:
    """Return the last place of the ball in the sentence, None where it has none.

    >>> last_spot("A.Example kicks 69 yards from XYZ 35 to QRS -4. B.Sample to QRS 16 for 20 yards")
    Spot(club='QRS', line=16)
    """
    spot = None
    for found in _LANDMARKS.finditer(action):
        spot = Spot("", 50) if found["midfield"] else Spot(found["club"], int(found["line"]))
    return spot


CLUB_SPELLINGS: Final[Mapping[str, str]] = {
    "ARZ": "ARI", "BLT": "BAL", "HST": "HOU", "JAC": "JAX", "SL": "STL",
}  # fmt: skip
"""Spellings of one club; the text has its own. A club that moved keeps the code of each season."""
_CLOCK: Final = re.compile(r"(\d*):(\d\d)")


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
    spot: Spot | None
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

    def fumble_stands(self) -> bool:
        """Return whether a booked fumble outlived a reversal, if there was one."""
        return not self.reversed or "FUMBLES" in self.action

    def first_yards(self, codes: frozenset[int]) -> int | None:
        """Return the yards of the first of the codes that is booked, None where none is."""
        return next((yards for code, yards, _ in self.stats if code in codes), None)

    def club_of(self, codes: frozenset[int]) -> str | None:
        """Return the club of the first of the codes that is booked."""
        return next((who for code, _, who in self.stats if code in codes), None)


def read_entries(drives: Mapping[str, Any]) -> Iterator[Entry]:
    """Yield the rows in the file's order."""
    for drive in drives.values():
        if not isinstance(drive, Mapping):  # a counter of drives sits among them
            continue
        for play_id, row in drive["plays"].items():
            ruling = final_ruling(str(row["desc"] or ""))
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
                action=action_of(ruling),
                reversed=ruling != str(row["desc"] or ""),
            )


def _statistics(players: Mapping[str, Any]) -> Iterator[tuple[int, int, str]]:
    """Yield (code, yards, club); a few games book every fact twice, and once is enough."""
    for booked in players.values():
        seen = set()
        for fact in booked:
            triple = (int(fact["statId"]), int(fact["yards"] or 0), str(fact["clubcode"]))
            if triple not in seen or triple[0] in REPEATABLE:
                yield triple
            seen.add(triple)


def _spot(yrdln: object) -> Spot | None:
    """Read "CLUB n" or a bare "50"; None for a blank."""
    parts = str(yrdln or "").split()
    if len(parts) == 1 and parts[0] == "50":
        return Spot("", 50)
    if len(parts) == 2 and parts[1].lstrip("-").isdigit():
        return Spot(parts[0], int(parts[1]))
    return None


def _clock_s(time: object) -> int | None:
    """Read "mm:ss" as seconds; None for a blank."""
    found = _CLOCK.fullmatch(str(time or ""))
    return None if not found else int(found[1] or 0) * 60 + int(found[2])


def spelled(club: str) -> str:
    """Return the one spelling of a club's code."""
    return CLUB_SPELLINGS.get(club, club)


_NO_PLAY: Final = re.compile(r"\bNo Play\b")
_BY_STATISTICS: Final = (
    ("two_point", TWO_POINT),
    ("extra_point", EXTRA_POINT),
    ("kickoff", KICKOFF),
    ("field_goal", FIELD_GOAL),
    ("punt", PUNT),
    ("interception", PASS_INTERCEPTED),
    ("sack", SACKED),
    ("complete", PASS_COMPLETE),
    ("incomplete", PASS_INCOMPLETE),
    ("run", RUSH | RUSH_MORE),
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
    """Return the kind of play, "" for a row that is no play.

    The statistics decide. Where they name several kinds (what a reversal voided may still be
    booked) or of none, the words of the final ruling decide.
    """
    if entry.spot is None:
        return ""
    if _NO_PLAY.search(entry.ruling):
        return "no_play"
    booked = [kind for kind, codes in _BY_STATISTICS if entry.has(codes)]
    kind = booked[0] if len(booked) == 1 else _kind_by_words(entry, booked)
    if kind == "run":
        if " kneels " in entry.action:
            return "kneel"
        return "scramble" if " scrambles " in entry.action else "run"
    if kind == "incomplete" and " spiked the ball" in entry.action:
        return "spike"
    return kind


def _kind_by_words(entry: Entry, booked: Sequence[str]) -> str:
    """Return the kind that the sentence names, among the booked ones if there are any."""
    nullified = not booked and "NULLIFIED" in entry.ruling
    if not nullified:
        for kind, words in _BY_WORDS:
            if (not booked or kind in booked) and words.search(entry.action):
                return kind
    if booked:
        return booked[0]
    return "no_play" if entry.has(PENALTY) or "enalty" in entry.ruling else ""
