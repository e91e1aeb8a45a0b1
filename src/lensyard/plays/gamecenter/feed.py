"""Rows of the feed as typed entries, in the file's order."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from lensyard.plays.gamecenter import stat_codes as stat
from lensyard.plays.gamecenter import words

CLUB_SPELLINGS: Final[Mapping[str, str]] = {
    "ARZ": "ARI",
    "BLT": "BAL",
    "HST": "HOU",
    "JAC": "JAX",
    "SL": "STL",
}
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
    spot: words.Spot | None
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


def read_entries(drives: Mapping[str, Any]) -> Iterator[Entry]:
    """Yield the rows in the file's order."""
    for drive in drives.values():
        if not isinstance(drive, Mapping):  # a counter of drives sits among them
            continue
        for play_id, row in drive["plays"].items():
            ruling = words.final_ruling(str(row["desc"] or ""))
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
                action=words.action_of(ruling),
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


def _spot(yrdln: object) -> words.Spot | None:
    """Read "CLUB n" or a bare "50"; None for a blank."""
    parts = str(yrdln or "").split()
    if len(parts) == 1 and parts[0] == "50":
        return words.Spot("", 50)
    if len(parts) == 2 and parts[1].lstrip("-").isdigit():
        return words.Spot(parts[0], int(parts[1]))
    return None


def _clock_s(time: object) -> int | None:
    """Read "mm:ss" as seconds; None for a blank."""
    found = _CLOCK.fullmatch(str(time or ""))
    return None if not found else int(found[1] or 0) * 60 + int(found[2])


def spelled(club: str) -> str:
    """Return the one spelling of a club's code."""
    return CLUB_SPELLINGS.get(club, club)
