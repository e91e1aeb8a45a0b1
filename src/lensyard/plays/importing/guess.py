"""Guessing a mapping from a spreadsheet's header and cells, for `lensyard data map`."""

from __future__ import annotations

import re
from collections.abc import Mapping as Table
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from lensyard.errors import DataError, LensyardError
from lensyard.plays.importing.adapter import identifier
from lensyard.plays.importing.mapping import FIELDS, KINDS, NEEDED, RESULTS, Mapping, parse_mapping
from lensyard.plays.importing.read_file import first_line, read_raw
from lensyard.plays.importing.stage import ImportReport, Request, look_into, staged_file
from lensyard.records import Record
from lensyard.settings.fields import toml_value

_HEADERS: Final[dict[str, tuple[str, ...]]] = {
    "play_number": ("play", "playno", "playnumber", "playnum", "no", "number", "snap"),
    "game": ("game", "gameid", "match"),
    "opponent": ("opponent", "opp", "opposition", "versus", "vs", "defteam", "defense", "defence"),
    "date": ("date", "gamedate"),
    "season": ("season", "year"),
    "week": ("week", "wk", "weekno"),
    "quarter": ("qtr", "quarter", "period", "q"),
    "clock": ("clock", "time", "timeleft", "gameclock"),
    "down": ("dn", "down", "d"),
    "distance": ("dist", "distance", "togo", "ydstogo", "yardstogo", "dst"),
    "yard_line": ("yardln", "yardline", "yard", "ydln", "ydline", "fieldposition", "los", "spot",
                  "ballon", "yrdln", "yardstogoal", "yl", "yardline100", "yardstoendzone"),
    "hash_mark": ("hash", "hashmark"),
    "side_of_ball": ("odk", "od", "unit", "side", "phase", "possession"),
    "offense": ("offense", "offence", "offteam", "team", "posteam", "ballteam"),
    "kind": ("playtype", "type", "kind", "call", "runpass", "rp", "playkind"),
    "result": ("result", "outcome", "res", "playresult"),
    "gain": ("gnls", "gain", "gainloss", "yards", "yds", "yardsgained", "gl", "net", "netyards"),
    "direction": ("playdir", "dir", "direction", "playdirection"),
    "our_score": ("ourscore", "scoreus", "us"),
    "their_score": ("theirscore", "scorethem", "them", "oppscore"),
    "kick_distance": ("kickyards", "kickdistance", "kickyds", "puntyards"),
    "return_yards": ("retyards", "returnyards", "retyds", "return"),
    "air_yards": ("airyards", "airyds", "air"),
}  # fmt: skip
VALUE_TABLES: Final[tuple[str, ...]] = ("kind", "result", "hash_mark", "side_of_ball", "direction")
"""Fields whose cells are words with a meaning, which a mapping keeps a table of."""
_KIND_WORDS: Final = (
    (r"onside|kick ?off|^ko\b|^k/?o$", "kickoff"),
    (r"extra|^pat\b|^xp\b|point after", "extra_point"),
    (r"2 ?pt|two.?point|2 ?point|conversion", "two_point"),
    (r"field goal|^fg\b", "field_goal"),
    (r"punt", "punt"),
    (r"kneel|knee|victory", "kneel"),
    (r"spike", "spike"),
    (r"scramble", "scramble"),
    (r"sack", "sack"),
    (r"penalty|no play|^pen\b", "no_play"),
    (r"time ?out|^to$|^eoq|^end|quarter|half", "skip"),
    (r"pass|screen|^p$|throw", "pass"),
    (r"run|rush|^r$|sweep|dive|draw", "run"),
)
_THEIRS: Final = re.compile(r"\brec\b|rec\.|receiv|block|return|\bret\b|defen[sc]e", re.I)
_RESULT_WORDS: Final = (
    (r"incompl|^inc?\b|drop|batted|thrown away", "incomplete"),
    (r"(?<!in)compl|^c\b|caught", "complete"),
    (r"interc|^int\b|\bint\b|pick", "interception"),
    (r"sack", "sack"),
    (r"scrambl", "scramble"),
    (r"kneel|knee", "kneel"),
    (r"spike", "spike"),
    (r"penal|no play", "no_play"),
    (r"\bgood\b|\bmade\b", "made"),
    (r"no good|missed|\bmiss\b|failed", "missed"),
    (r"block", "blocked"),
    (r"touchback|\btb\b", "touchback"),
    (r"fair", "fair_catch"),
    (r"return|\bret\b", "returned"),
    (r"downed", "downed"),
    (r"out of bounds|\boob\b", "out_of_bounds"),
    (r"1st|first down", "first_down"),
    (r"safety", "safety"),
)
_SIDES: Final = {"o": "offense", "d": "defense", "k": "kick", "s": "kick"}
_THREE: Final = {"l": "left", "m": "middle", "c": "middle", "r": "right"}
_FLAGS: Final = {
    "run": ("run", "rush", "rushattempt", "rushingattempt"),
    "pass": ("pass", "passattempt", "passingattempt", "dropback", "qbdropback"),
    "punt": ("punt", "puntattempt"),
    "kickoff": ("kickoff", "kickoffattempt"),
    "field_goal": ("fieldgoal", "fieldgoalattempt", "fgattempt", "fg"),
    "extra_point": ("extrapoint", "extrapointattempt", "pat"),
    "two_point": ("twopoint", "twopointattempt", "twopt"),
    "complete": ("complete", "completepass", "completion"),
    "incomplete": ("incomplete", "incompletepass", "incompletion"),
    "interception": ("interception", "int", "intercepted"),
    "sack": ("sack", "sacked"),
    "scramble": ("scramble", "qbscramble"),
    "kneel": ("kneel", "qbkneel"),
    "spike": ("spike", "qbspike"),
    "touchdown": ("touchdown", "td"),
    "fumble_lost": ("fumblelost",),
    "safety": ("safety",),
    "no_play": ("noplay",),
    "penalty": ("penalty",),
    "out_of_bounds": ("outofbounds", "oob"),
}
"""Columns that say yes or no, by what a yes means; `is` before a name is left out."""
_YES_OR_NO: Final = frozenset(("0", "1", "0.0", "1.0", "true", "false", "t", "f", "yes", "no", "y",
                               "n", "x", "na"))  # fmt: skip


@dataclass
class Guess:
    """A guessed mapping.

    `values`: Table of values -> what its cells mean.
    `flags`: Column that says yes or no -> what a yes means.
    `doubts`: What a person should look at, in plain words.
    """

    columns: dict[str, str]
    values: dict[str, dict[str, Any]] = field(default_factory=dict)
    flags: dict[str, str] = field(default_factory=dict)
    yard_line: dict[str, str] = field(default_factory=dict)
    doubts: list[str] = field(default_factory=list)


def guess_columns(header: Sequence[str]) -> dict[str, str]:
    """Return field -> column for the names that are understood, each column once.

    >>> guess_columns(["DN", "YARD LN", "GN/LS"])
    {'yard_line': 'YARD LN', 'down': 'DN', 'gain': 'GN/LS'}
    """
    plain = {_plain(name): name for name in reversed(header)}
    found: dict[str, str] = {}
    taken: set[str] = set()
    ranked = sorted(_HEADERS.items(), key=lambda item: -max(len(name) for name in item[1]))
    for name, known in ranked:
        column = next((plain[k] for k in known if k in plain and plain[k] not in taken), None)
        if column is not None:
            found[name] = column
            taken.add(column)
    order = list(_HEADERS)
    return dict(
        sorted(found.items(), key=lambda item: (item[0] != "yard_line", order.index(item[0])))
    )


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.lower())


def guess_flags(header: Sequence[str], columns: Table[str, str]) -> dict[str, str]:
    """Return column -> what a yes in it means, where no column says the kind or the result.

    >>> guess_flags(["rush", "Complete Pass", "down"], {})
    {'rush': 'run', 'Complete Pass': 'complete'}
    """
    meant = {name: word for word, names in _FLAGS.items() for name in names}
    found = {}
    for column in header:
        word = meant.get(_plain(column).removeprefix("is"))
        told_by = "result" if word in RESULTS else "kind"
        if word is not None and told_by not in columns and column not in columns.values():
            found[column] = word
    return found


def lacking(header: Sequence[str], columns: Table[str, str]) -> tuple[str, ...]:
    """Return the fields that a mapping needs and for which no column was found."""
    found = guess_columns(header) | dict(columns)
    has_kinds = any(word not in RESULTS for word in guess_flags(header, found).values())
    return tuple(f for f in NEEDED if not found.get(f) and not (f == "kind" and has_kinds))


def meaning(table: str, cell: str) -> str | list[str] | None:
    """Return what a cell means in a table of values; None where it is not understood.

    >>> meaning("kind", "KO Rec"), meaning("result", "Complete, TD"), meaning("direction", "L")
    ('kickoff, them', ['complete', 'touchdown'], 'left')
    """
    if table == "kind":
        kind = next((kind for pattern, kind in _KIND_WORDS if re.search(pattern, cell, re.I)), None)
        kicked = kind in ("kickoff", "punt", "field_goal", "extra_point")
        return f"{kind}, them" if kicked and _THEIRS.search(cell) else kind
    if table == "result":
        words = _result_words(cell)
        return words if len(words) > 1 else next(iter(words), None)
    return (_SIDES if table == "side_of_ball" else _THREE).get(cell.strip().lower()[:1])


def guess(columns: Table[str, str], cells: Table[str, Sequence[str]]) -> Guess:
    """Return a guessed mapping.

    `cells`: Field -> the different cells of its column, most frequent first.
    """
    found = Guess(dict(columns))
    for table in VALUE_TABLES:
        meant = {cell: meaning(table, cell) for cell in cells.get(table, ())}
        found.values[table] = {cell: words for cell, words in meant.items() if words is not None}
        if table == "kind" and (unknown := [cell for cell in meant if meant[cell] is None]):
            listed = ", ".join(repr(cell[:40]) for cell in unknown[:6])
            found.doubts.append(f"kinds of play that were not understood: {listed}")
    _guess_yard_line(found, cells.get("yard_line", ()))
    return found


def new_words(path: Path, mapping: Mapping) -> dict[str, dict[str, Any]]:
    """Return table -> cell -> what it seems to mean, for cells that a mapping does not know.

    Raises `DataError` if the file cannot be read, or lacks a column of the mapping.
    """
    columns = {t: mapping.columns[t] for t in VALUE_TABLES if t in mapping.columns}
    found: dict[str, dict[str, Any]] = {}
    for table, cells in cells_of(path, columns, skip_lines=mapping.skip_lines).items():
        known = {cell.strip().lower() for cell in getattr(mapping.values, table)}
        meant = {c: meaning(table, c) for c in cells if c.lower() not in known}
        if table == "kind":  # what is named as it is called here needs no word
            meant = {cell: words for cell, words in meant.items() if cell.lower() not in KINDS}
        if new := {cell: words for cell, words in meant.items() if words is not None}:
            found[table] = new
    return found


def with_words(text: str, words: Table[str, Table[str, Any]]) -> str:
    """Return the TOML text of a mapping with more words in its tables of values.

    >>> print(with_words('[values.kind]\\n"R" = "run"\\n', {"kind": {"Dive": "run"}}), end="")
    [values.kind]
    "Dive" = "run"
    "R" = "run"
    """
    for table, cells in words.items():
        lines = "".join(
            f"{toml_value(cell)} = {toml_value(word)}\n" for cell, word in cells.items()
        )
        head = re.search(rf"^[ \t]*\[values\.{table}\][^\n]*\n", text, re.MULTILINE)
        at = len(text) if head is None else head.end()
        title = "" if head is not None else f"\n[values.{table}]\n"
        text = f"{text[:at]}{title}{lines}{text[at:]}"
    return text


def _result_words(cell: str) -> list[str]:
    """Return what a result says.

    >>> _result_words("Complete, TD"), _result_words("Interception, Def TD")
    (['complete', 'touchdown'], ['interception', 'return_touchdown'])
    """
    low = cell.lower()
    words = [word for pattern, word in _RESULT_WORDS if re.search(pattern, low)]
    if "missed" in words and "made" in words:
        words.remove("made")
    if re.search(r"\btd\b|touchdown", low):
        against = "interception" in words or re.search(r"\bdef\b|return|opp", low)
        words.append("return_touchdown" if against else "touchdown")
    if re.search(r"fumble|fum\b", low) and re.search(r"lost|opp|\bdef\b", low):
        words.append("fumble_lost")
    return words


def _guess_yard_line(found: Guess, cells: Sequence[str]) -> None:
    numbers = [int(cell) for cell in cells if re.fullmatch(r"[+-]?\d{1,3}", cell.strip())]
    lettered = sum(bool(re.search(r"[a-z]", cell, re.I)) for cell in cells)
    if lettered > len(cells) / 2:
        found.yard_line["style"] = "sided"
    elif any(number < 0 for number in numbers):
        found.yard_line["style"] = "signed"
        if "side_of_ball" in found.columns:
            found.doubts.append(
                "yard lines with a sign: minus is taken as the own side of the club with the ball; "
                'if it is always your own side, set yard_line.sign_of = "us"'
            )
    else:
        found.yard_line["style"] = "to_goal"
        if numbers and max(numbers) <= 50:
            found.doubts.append(
                "yard lines have no sign and none is over 50: they are taken as yards to the "
                "opponent's goal line; without a side of the field they cannot be read otherwise"
            )


def mapping_text(
    guessed: Guess, *, comments: Sequence[str], about: Table[str, str], defaults: Table[str, Any]
) -> str:
    """Return a guessed mapping as TOML.

    `comments`: Stand on top.
    `about`: Source, title, level, license and attribution.
    `defaults`: What the file does not say.
    """
    values = {f"values.{name}": cells for name, cells in guessed.values.items() if cells}
    flags = {"flags": guessed.flags} if guessed.flags else {}
    tables = {
        "columns": guessed.columns, **flags, **values, "yard_line": guessed.yard_line,
        "defaults": defaults,
    }  # fmt: skip
    lines = [f"# {_printable(comment)}" for comment in comments]
    lines += [f"{key} = {toml_value(value)}" for key, value in about.items()]
    for name, table in tables.items():
        lines += ["", f"[{name}]"]
        for key, value in table.items():
            written = toml_value(key) if name in values or name == "flags" else key
            lines.append(f"{written} = {toml_value(value)}")
    return "\n".join(lines) + "\n"


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)[:300]


_ROWS: Final = 20_000
_CELLS: Final = 200
PLAY_COLUMNS: Final = (
    "game_id", "quarter", "offense", "down", "distance_yd", "yardline_100", "kind", "gain_yd",
    "side", "touchdown", "turnover", "kick_result", "hash_mark",
)  # fmt: skip


def header_of(path: Path) -> tuple[str, ...]:
    """Return the columns of a file. Raises `DataError` if it cannot be read."""
    request = Request(path)
    with look_into(request) as (connection, workdir):
        raw = read_raw(connection, path, workdir=workdir, limits=request.limits)
        return tuple(raw.types)


def cells_of(
    path: Path, columns: Table[str, str], *, skip_lines: int = 0
) -> dict[str, tuple[str, ...]]:
    """Return field -> the different cells of its column, most frequent first.

    Raises `DataError` if the file cannot be read, or has no such column.
    """
    import duckdb

    request = Request(path)
    found: dict[str, tuple[str, ...]] = {}
    with look_into(request) as (connection, workdir):
        raw = read_raw(
            connection, path, workdir=workdir, limits=request.limits, skip_lines=skip_lines
        )
        missing = [name for name in columns.values() if name not in raw.types]
        if missing:
            listed = ", ".join(list(raw.types)[:30])
            raise DataError(f"{path.name} has no column {missing[0]!r}; it has {listed}")
        try:
            connection.execute(
                f"CREATE TABLE head_rows AS SELECT * FROM {raw.relation} LIMIT {_ROWS}"
            )
            for name, column in columns.items():
                rows = connection.execute(
                    f"SELECT trim(CAST({identifier(column)} AS VARCHAR)) AS cell FROM head_rows "
                    "WHERE cell <> '' AND length(cell) <= 120 GROUP BY cell "
                    f"ORDER BY count(*) DESC, cell LIMIT {_CELLS}"
                ).fetchall()
                found[name] = tuple(str(row[0]) for row in rows)
        except duckdb.Error as error:
            raise DataError(f"{path.name} cannot be read: {first_line(error)}") from error
    return found


def first_plays(
    request: Request, *, most: int = 10
) -> tuple[ImportReport, tuple[dict[str, Any], ...]]:
    """Return what an import would find, and the `PLAY_COLUMNS` of its first plays.

    Raises `DataError` if the file is not usable.
    """
    with staged_file(request) as (connection, report):
        rows = connection.execute(
            f"SELECT {', '.join(PLAY_COLUMNS)} FROM plays ORDER BY game_id, play_index LIMIT ?",
            [most],
        ).fetchall()
    return report, tuple(dict(zip(PLAY_COLUMNS, row, strict=True)) for row in rows)


class GuessedMapping(Record):
    """A mapping as TOML, what is in doubt, and how it reads; no report where it does not yet.

    ``plays`` are the first ones, with the columns `lensyard.plays.importing.guess.PLAY_COLUMNS`.
    """

    file: str
    columns: Table[str, str]
    toml: str
    doubts: tuple[str, ...]
    plays: tuple[Table[str, Any], ...] = field(default=(), metadata={"json": None})
    report: ImportReport | None = field(default=None, metadata={"json": None})


def guess_mapping(
    path: Path,
    columns: Table[str, str],
    *,
    source: str = "charted",
    level: str = "high-school",
    us: str = "US",
    them: str = "THEM",
    season: int | None = None,
) -> GuessedMapping:
    """Return a mapping for a spreadsheet, with the first plays as it reads them.

    `columns`: Field -> column, where the guess is to be overruled; "" for none.
    `source`, `level`: Under which name, and of which level of play.
    `us`, `them`: The club that charts, and the other where the file does not name it.
    `season`: Where the file does not say it.

    Raises `DataError` if the file cannot be read.
    """
    header = header_of(path)
    found = guess_columns(header) | dict(columns)
    columns = {name: column for name, column in found.items() if column}
    flags = guess_flags(header, columns)
    asked = {t: columns[t] for t in (*VALUE_TABLES, "yard_line") if t in columns}
    cells = cells_of(path, asked | {f"flag {name}": name for name in flags})
    guessed = guess(columns, cells)
    guessed.flags = {
        name: word
        for name, word in flags.items()
        if {cell.lower() for cell in cells[f"flag {name}"]} <= _YES_OR_NO
    }
    guessed.doubts += [f"no column was found for {FIELDS[f]}" for f in lacking(header, columns)]
    if "result" not in columns and not guessed.flags:
        guessed.doubts.append("no column was found for what became of passes and kicks")
    dated = {} if season is None else {"season": season}
    text = mapping_text(
        guessed,
        comments=(
            f"How {path.name} reads as plays. Check it, then:",
            "  lensyard data import FILE --mapping THIS.toml",
            *(f"Look at: {doubt}" for doubt in guessed.doubts),
        ),
        about={
            "source": source,
            "title": f"{us} charting",
            "level": level,
            "license": "private; not to be passed on",
            "attribution": "Plays charted by the user.",
        },
        defaults={"us": us, "them": them, **dated},
    )
    doubts = tuple(guessed.doubts)
    try:
        report, plays = first_plays(Request(path, mapping=parse_mapping(text)))
    except LensyardError as error:
        why = " ".join(str(error).split())
        return GuessedMapping(path.name, columns, text, (*doubts, f"it does not read yet: {why}"))
    return GuessedMapping(path.name, columns, text, doubts, plays, report)
