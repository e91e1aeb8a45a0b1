"""Hostile inputs: mangled bytes, tables of nasty cells. Everything follows from a seed."""

from __future__ import annotations

import csv
import io
import json
import random
from collections.abc import Sequence
from typing import Any, Final

NASTY: Final[tuple[str, ...]] = (
    "", " ", "NA", "NaN", "nan", "inf", "-inf", "null", "None", "0", "-0", "1", "4", "10", "99",
    "100", "-1", "1e308", "-1e308", "1e-320", "99999999999999999999", "-2147483648", "2147483648",
    "3.7", "1.0", "0x10", "1_000", "١", "½", "TRUE", "true", "t", "yes", "pass", "run", "Rush",
    "kickoff", "no_play", "Punt Return Touchdown", "12:34", "99:99", "-1:30", ":", "2024", "1869",
    "=cmd|' /C calc'!A0", "@SUM(1)", "+1+1", "<script>alert(1)</script>", "'; DROP TABLE plays;--",
    '"', '""', "'", "\\", "\\u0000", "\u202e", "\U0001f3c8", "é", "\x7f", "\x1b[2J", "a" * 3000,
    "../../etc/passwd", "C:\\x", "{}", "[]", "%s%n", "$(id)", "\r", "\n", "\t", ";", ",",
)  # fmt: skip
_TOKENS: Final = (b"PAR1", b"\x00", b"\xff", b'"', b"{", b"}", b"[", b"]", b",", b"\n", b"9" * 30)


def mangle(data: bytes, rng: random.Random, *, most: int = 12) -> bytes:
    """Return a copy with up to `most` places flipped, cut, repeated, moved or overwritten."""
    body = bytearray(data)
    for _ in range(rng.randint(1, most)):
        if not body:
            return bytes(body)
        at = rng.randrange(len(body))
        length = min(len(body) - at, 1 << rng.randint(0, 8))
        match rng.randrange(7):
            case 0:
                body[at] ^= 1 << rng.randrange(8)
            case 1:
                del body[at : at + length]
            case 2:
                body[at:at] = body[at : at + length]
            case 3:
                body[at : at + length] = rng.randbytes(length)
            case 4:
                body[at:at] = rng.choice(_TOKENS)
            case 5:
                body[at:at] = rng.choice(NASTY).encode("utf-8", "replace")
            case _:
                del body[at:]
    return bytes(body)


def mangle_text(text: str, rng: random.Random) -> str:
    """Return a text with nasty pieces put in, cut out and moved."""
    pieces = list(text)
    for _ in range(rng.randint(1, 8)):
        at = rng.randrange(len(pieces) + 1)
        if rng.random() < 0.6:
            pieces[at:at] = rng.choice(NASTY)
        else:
            del pieces[at : at + rng.randint(1, 40)]
    return "".join(pieces)


def nasty_cell(rng: random.Random, plausible: Sequence[Any]) -> Any:
    """Return a cell: mostly plausible, sometimes nasty."""
    return rng.choice(plausible) if rng.random() < 0.8 else rng.choice(NASTY)


PLAUSIBLE: Final[dict[str, tuple[Any, ...]]] = {
    "season": (2024, 2025),
    "down": (1, 2, 3, 4, ""),
    "distance": (1, 7, 10, 20),
    "line": (1, 20, 50, 65, 99),
    "clock": (0, 300, 900),
    "quarter": (1, 2, 3, 4, 5),
    "club": ("OAK", "ELM"),
    "flag": (0, 1),
    "yards": (-7, 0, 4, 12, 60),
    "words": ("somebody runs for 4 yds", "pass incomplete", ""),
}


def nasty_rows(columns: Sequence[str], rng: random.Random) -> list[dict[str, Any]]:
    """Return rows of a table with these columns; some columns may be lost or renamed."""
    kept = [name for name in columns if rng.random() < 0.97]
    kinds = {name: plausible_of(name) for name in kept}
    return [
        {name: nasty_cell(rng, kinds[name]) for name in kept} for _ in range(rng.randint(1, 60))
    ]


def plausible_of(name: str) -> tuple[Any, ...]:
    """Return plausible cells for a column by its name."""
    low = name.lower()
    table = (
        ("season_type", ("REG", "POST", "PRE")), ("season", PLAUSIBLE["season"]),
        ("type", ("run", "pass", "punt", "kickoff", "Rush", "Pass Reception", "Sack", "no_play")),
        ("ydstogo", PLAUSIBLE["distance"]), ("distance", PLAUSIBLE["distance"]),
        ("down", PLAUSIBLE["down"]), ("clock", ("12:34", "0:07")), ("seconds", PLAUSIBLE["clock"]),
        ("line", PLAUSIBLE["line"]), ("endzone", PLAUSIBLE["line"]), ("goal", PLAUSIBLE["line"]),
        ("team", PLAUSIBLE["club"]), ("home", PLAUSIBLE["club"]), ("away", PLAUSIBLE["club"]),
        ("offense", PLAUSIBLE["club"]), ("defense", PLAUSIBLE["club"]),
        ("qtr", PLAUSIBLE["quarter"]), ("period", PLAUSIBLE["quarter"]),
        ("game", ("g1", "g2", 401)), ("yard", PLAUSIBLE["yards"]), ("text", PLAUSIBLE["words"]),
    )  # fmt: skip
    return next((cells for part, cells in table if part in low), PLAUSIBLE["flag"])


def as_csv(rows: list[dict[str, Any]], rng: random.Random) -> bytes:
    """Return rows as text with some separator, encoding and line ending."""
    out = io.StringIO()
    writer = csv.DictWriter(
        out,
        list(rows[0]) or ["a", "b"],
        delimiter=rng.choice(",;\t|"),
        lineterminator=rng.choice(("\n", "\r\n", "\r")),
        extrasaction="ignore",
    )
    writer.writeheader()
    writer.writerows(rows)
    encoding = rng.choice(("utf-8", "utf-8-sig", "cp1252", "utf-16", "latin-1"))
    return out.getvalue().encode(encoding, "replace")


def as_json(rows: list[dict[str, Any]], rng: random.Random) -> bytes:
    """Return rows as JSON; now and then an inner object, a list or another type."""
    for row in rows:
        for key in list(row):
            if rng.random() < 0.02:
                row[key] = rng.choice(({"a": 1}, [1, 2], None, True, 1e308, {"b": {"c": [{}]}}))
    text = json.dumps(rows)
    return (text if rng.random() < 0.8 else text[1:-1].replace("}, {", "}\n{")).encode()
