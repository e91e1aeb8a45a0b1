"""How pages and commands write a ball, a clock and a time."""

from __future__ import annotations

from datetime import datetime

from lensyard.domain.situation import DISTANCES_YD, ball_text, parse_clock
from lensyard.errors import ParseError

ALL_PLAYS = "all"


def ball_words(yardline_100: int) -> str:
    """Return a spot of the ball as a slider shows it.

    >>> ball_words(75), ball_words(8)
    ('own 25', "opponent's 8")
    """
    return ball_text(yardline_100).replace("own", "own ").replace("opp", "opponent's ")


def clock_text(text: str) -> str:
    """Return a game clock that `parse_clock` reads, without blanks around it."""
    parse_clock(text)
    return text.strip()


def span_words(name: str) -> str:
    """Return a span of distances as a widget shows it."""
    if name == ALL_PLAYS:
        return "All"
    low, high = DISTANCES_YD[name]
    return f"{low}-{high}" if high < 99 else f"{low}+"


def time_text(text: str) -> str:
    """Return a date and a time of day as the address writes them; nothing for nothing.

    >>> time_text("2026-10-03 15:30"), time_text("2026-10-03T15:30-05:00"), time_text(" ")
    ('2026-10-03T15:30', '2026-10-03T15:30-05:00', '')

    Raises
    ------
    ParseError
        If it is no date with a time.
    """
    given = text.strip()
    if not given:
        return ""
    expected = (
        "a date and a time on the venue's clock such as 2026-10-03T15:30, or with an offset: "
        "…15:30-05:00"
    )
    try:
        at = datetime.fromisoformat(given)
    except ValueError:
        raise ParseError(name="date and time", text=text, expected=expected) from None
    if "T" not in given.upper() and " " not in given:
        raise ParseError(name="date and time", text=text, expected=expected)
    return at.isoformat(timespec="seconds" if at.second else "minutes")


def team_area_words(yard_line: float | None) -> str:
    """Return where team areas begin as a widget shows it."""
    if yard_line is None:
        return "usual"
    return "none" if yard_line == 50 else f"{yard_line:g}s"


def crop_factor(text: str) -> float:
    """Return a crop factor; raises `ParseError` for what is no number."""
    try:
        return float(text)
    except ValueError:
        raise ParseError(
            name="crop factor", text=text, expected="1 for full frame, 1.5 or 1.6, say"
        ) from None
