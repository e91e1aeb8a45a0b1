"""A game's plays as CSV, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from typing import Any, Final

from lensyard.data.log_entry import PLAY_FIELDS
from lensyard.data.log_values import plain_values
from lensyard.fieldlog.document import GameLog

_TRIGGERS: Final = ("=", "+", "-", "@", "\t", "\r")
"""A cell that begins with one of these is a formula to a spreadsheet (OWASP, "CSV Injection")."""


def safe_cell(value: Any) -> Any:
    """Return a cell that no spreadsheet runs: such a text gets an apostrophe, a number stays one.

    >>> [safe_cell(v) for v in ("=1+1", "-7", -7, "run", None, True)]
    ["'=1+1", "'-7", -7, 'run', '', 'true']
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return value
    text = " ".join(str(v) for v in value) if isinstance(value, list) else str(value)
    return f"'{text}" if text.startswith(_TRIGGERS) else text


def plays_csv(log: GameLog) -> str:
    """Return the plays of a game as CSV (RFC 4180): a line of names, then one line a play."""
    stream = io.StringIO()
    writer = csv.writer(stream)
    writer.writerow(["game_id", "home", "away", *(spec.name for spec in PLAY_FIELDS)])
    game = [safe_cell(v) for v in (log.game.game_id, log.game.home, log.game.away)]
    for play in log.plays:
        writer.writerow([*game, *(safe_cell(value) for value in plain_values(play).values())])
    return stream.getvalue()
