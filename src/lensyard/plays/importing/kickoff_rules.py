"""Where professional kickoffs start and where touchbacks come to, season by season.

Sources: NFL Official Playing Rules 2021, rule 6 (kickoff at the 35 from 2011, before that at the
30; touchback at the 25 from 2016, before that at the 20), and the league's announcements for 2024
(30) and 2025 (35).
"""

from __future__ import annotations

from typing import Final

_KICKOFF_FROM: Final = ((1994, 30), (2011, 35))
_TOUCHBACK_TO: Final = ((1994, 20), (2016, 25), (2024, 30), (2025, 35))


def kickoff_yard_line(season: int) -> int:
    """Return the yard line that a season's kickoffs start from.

    >>> kickoff_yard_line(2010), kickoff_yard_line(2011)
    (30, 35)
    """
    return _of(_KICKOFF_FROM, season)


def touchback_yard_line(season: int) -> int:
    """Return the yard line to which a kickoff into the end zone that is not run out comes.

    >>> [touchback_yard_line(season) for season in (2015, 2016, 2024, 2025)]
    [20, 25, 30, 35]
    """
    return _of(_TOUCHBACK_TO, season)


def by_season_sql(table: str, season: str) -> str:
    """Return an SQL expression for a yard line by season.

    Parameters
    ----------
    table
        ``kickoff`` or ``touchback``.
    season
        An SQL expression.
    """
    steps = {"kickoff": _KICKOFF_FROM, "touchback": _TOUCHBACK_TO}[table]
    cases = " ".join(f"WHEN {season} >= {first} THEN {line}" for first, line in reversed(steps))
    return f"(CASE {cases} ELSE {steps[0][1]} END)"


def _of(steps: tuple[tuple[int, int], ...], season: int) -> int:
    return next((line for first, line in reversed(steps) if season >= first), steps[0][1])
