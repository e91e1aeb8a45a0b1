"""What there is to say of stored, imported, checked, mapped and compared plays."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from lensyard.plays.bundled import provenance
from lensyard.plays.importing.catalog import BUNDLED
from lensyard.render.report import Column, Format, Interval, Report, Section, Table, Value
from lensyard.render.text import plain
from lensyard.render.words import format_value

if TYPE_CHECKING:
    from lensyard.features.plays.compute import (
        MeasureChange,
        SeasonComparison,
        StoredPlays,
        StoredSeason,
    )
    from lensyard.plays.importing.catalog import Entry
    from lensyard.plays.importing.guess import GuessedMapping
    from lensyard.plays.importing.stage import ImportReport

_COUNTED = ("games", "plays", "rejected", "rows")
_GAINED = ("run", "complete", "sack", "scramble", "kneel")
"""Kinds of play that are described with their yards."""


def _table(key: str, title: str, heads: str, rows: Iterable[Sequence[Value]]) -> Table:
    """Return a table; ``heads`` names its columns, which are their keys in lower case."""
    columns = tuple(
        Column(name.lower(), name, Format.COUNT if name.lower() in _COUNTED else Format.TEXT)
        for name in heads.split(", ")
    )
    return Table(key, title, columns, tuple(tuple(row) for row in rows))


def stored_report(stored: StoredPlays) -> Report:
    """Describe the stored plays."""
    plays = sum(season.plays for season in stored.seasons)
    games = sum(season.games for season in stored.seasons)
    tables = [
        _table(
            "seasons",
            "What answers when no source is named",
            "Season, Type, Games, Plays",
            ((str(s.season), s.season_type, s.games, s.plays) for s in stored.seasons),
        ),
        _table(
            "imported",
            "Imported",
            "Season, Level, Games, Plays, Rejected, Answers",
            (
                (
                    s.name,
                    s.entry.level,
                    s.entry.games,
                    s.entry.plays,
                    sum(part.rows for part in s.entry.rejects),
                    "by default" if s.answers else "when named",
                )
                for s in stored.imported
            ),
        ),
    ]
    if stored.rejects is not None:
        tables.append(_rejects(stored.rejects))
    return Report(
        headline=f"Answers count {plays:,} plays of {games:,} games{_span(stored.seasons)}",
        tables=tuple(tables),
        cautions=tuple(
            f"the imported season {name} is damaged ({issue}); remove it and import its file again"
            for name, issue in stored.damaged.items()
        ),
        sources=tuple(each.line for each in stored.attributions),
    )


def _span(seasons: Sequence[StoredSeason]) -> str:
    """The first and the last season, after a comma."""
    years = [one.season for one in seasons]
    return f", {min(years)} to {max(years)}" if years else ""


def import_report(files: Sequence[ImportReport]) -> Report:
    """Describe what imports did."""
    stored = sum(file.stored for file in files)
    changed = any(file.changed for file in files)
    return Report(
        headline=f"Stored {stored:,} plays"
        if changed
        else "Nothing changed: these games are stored already",
        sentences=tuple(_what_became_of(file) for file in files),
        tables=(_tallies(files),),
        sections=tuple(
            Section(f"What {file.file} does not have", file.absent) for file in files if file.absent
        ),
        cautions=tuple(caution for file in files for caution in _cautions(file)),
        sources=tuple(dict.fromkeys(_credit(file) for file in files)),
    )


def _content(file: ImportReport) -> str:
    seasons = ", ".join(str(season) for season in file.seasons)
    read = "".join(f", {note}" for note in file.notes)
    return (
        f"{file.file}: {file.title}, {file.level}{read}; {file.kept:,} plays of {file.games} "
        f"game{'' if file.games == 1 else 's'}, season {seasons}, from {file.rows:,} rows"
    )


def _what_became_of(file: ImportReport) -> str:
    parts = [_content(file)]
    if file.changed:
        parts.append(f"stored {file.stored:,} plays")
    if file.games_there:
        parts.append(f"left {file.games_there} games as they are (--replace takes this file's)")
    if file.games_replaced:
        parts.append(f"replaced {file.games_replaced} games")
    return "; ".join(parts) + "."


def _credit(file: ImportReport) -> str:
    return f"{file.attribution} License: {file.license}"


def _cautions(file: ImportReport) -> list[str]:
    """Return what a user must know before relying on the imported plays."""
    found = []
    hidden = sorted(set(file.seasons) & set(provenance().seasons))
    if hidden:
        listed = ", ".join(str(season) for season in hidden)
        found.append(
            f"{listed}: answers go on using the {BUNDLED} plays of that season; name the source "
            f"{file.source!r} to use these"
        )
    if file.level != "pro":
        found.append(
            f"{file.title} is {file.level} football: `lensyard model fit --id NAME --source "
            f"{file.source} --use` makes a model of its level"
        )
    return found


def _tallies(files: Sequence[ImportReport]) -> Table:
    """Return what was passed over, repaired and rejected, by reason, and of which file."""
    rows = [
        (file.file, what, tally.words, tally.rows, str(tally.first_line))
        for file in files
        for what, tallies in (
            ("passed over", file.passed_over),
            ("repaired", file.repaired),
            ("rejected", file.rejected),
        )
        for tally in tallies
    ]
    title = "Rows that were passed over, repaired or rejected, with the line of the first"
    if len(files) > 1:
        return _table("tallies", title, "File, What, Reason, Rows, Line", rows)
    return _table("tallies", title, "What, Reason, Rows, Line", (row[1:] for row in rows))


def _rejects(rejects: Iterable[Mapping[str, Any]]) -> Table:
    """Return rejected rows."""
    rows = (
        (row["file"], str(row["line"]), row["reason"], row["column_name"], row["value"])
        for row in rejects
    )
    return _table("rejects", "Rejected rows", "File, Line, Reason, Column, Value", rows)


def check_report(file: ImportReport, *, limit: float) -> Report:
    """Describe what an import of a file would do that takes a share `limit` of unusable plays."""
    headline = f"An import would store these plays: {file.kept:,} of {file.rows:,} rows"
    if file.p_rejected > limit:
        share, most = (format_value(p, Format.PERCENT_1) for p in (file.p_rejected, limit))
        headline = (
            f"An import would refuse this file: {share} of its plays are unusable, more than "
            f"{most} (--limit-rejects raises that)"
        )
    return Report(
        headline=headline,
        sentences=(f"{_content(file)}.",),
        tables=(_tallies([file]), _rejects(plain(reject) for reject in file.rejects)),
        cautions=tuple(_cautions(file)),
        sources=(_credit(file),),
    )


def removal_report(entry: Entry) -> Report:
    """Describe what was removed."""
    return Report(headline=f"Removed {entry.name}: {entry.plays:,} plays")


def mapping_report(guessed: GuessedMapping, *, written: str) -> Report:
    """Describe a guessed mapping, and how it reads."""
    found = guessed.report
    headline = f"A mapping of {guessed.file}, which does not read yet"
    if found is not None:
        headline = f"{found.kept:,} of {found.rows:,} rows of {guessed.file} are plays"
    plays = tuple(play_words(play) for play in guessed.plays)
    sections = [
        Section(title, lines)
        for title, lines in (
            ("Look at", guessed.doubts),
            ("The first plays, as this mapping reads them", plays),
        )
        if lines
    ]
    tables = [_table("columns", "Columns", "Field, Column", guessed.columns.items())]
    return Report(
        headline=headline,
        sentences=(f"The mapping is written to {written}.",) if written else (),
        tables=(*tables, *([] if found is None else [_tallies([found])])),
        sections=tuple(sections),
    )


def new_words_lines(words: Mapping[str, Mapping[str, Any]], *, file: str) -> tuple[str, ...]:
    """Return in words what cells seem to mean that a mapping does not know, a line a column."""
    return tuple(
        f"words of {table} that {file} does not know: "
        + ", ".join(
            f"{cell!r} as {word if isinstance(word, str) else ' and '.join(word)}"
            for cell, word in cells.items()
        )
        for table, cells in words.items()
    )


def mapping_document(guessed: GuessedMapping) -> dict[str, Any]:
    """Return what the document of a mapping says of how it reads."""
    found = guessed.report
    counted = ("rows", "kept", "repaired", "rejected")
    return {
        "plays": [play_words(play) for play in guessed.plays],
        "report": None
        if found is None
        else {name: plain(getattr(found, name)) for name in counted},
    }


def play_words(play: Mapping[str, Any]) -> str:
    """Return a play in words.

    >>> play_words({"quarter": 1, "offense": "RIV", "down": 3, "distance_yd": 7,
    ...             "yardline_100": 35, "kind": "complete", "gain_yd": 12, "side": "left",
    ...             "touchdown": False, "turnover": False, "kick_result": "", "hash_mark": None})
    'Q1 RIV, 3 & 7 at the opponent 35: complete left, 12 yd'
    """
    to_goal = int(play["yardline_100"])
    where = f"the opponent {to_goal}" if to_goal < 50 else f"its own {100 - to_goal}"
    where = "midfield" if to_goal == 50 else where
    down = f"{play['down']} & {play['distance_yd']} at " if play["down"] else "at "
    parts = [" ".join(w for w in (play["kind"], play["side"], play["kick_result"]) if w)]
    parts += [f"{play['gain_yd']} yd"] if play["kind"] in _GAINED else []
    parts += [word for word in ("touchdown", "turnover") if play[word]]
    parts += [f"{play['hash_mark']} hash"] if play["hash_mark"] else []
    return f"Q{play['quarter']} {play['offense']}, {down}{where}: {', '.join(parts)}"


def comparison_report(comparison: SeasonComparison) -> Report:
    """Describe two seasons side by side."""
    first, second = comparison.seasons
    shares = [m for m in comparison.measures if m.unit == "share"]
    others = [m for m in comparison.measures if m.unit != "share"]
    differing = sum(bool(m.differs) for m in comparison.measures)
    cautions = [
        f"one in twenty of these {len(comparison.measures)} measures would stand out by chance "
        "alone"
    ]
    levels = {each.level for each in comparison.attributions}
    sources = {each.source for each in comparison.attributions}
    if len(levels) > 1:
        cautions.append(f"the two seasons are of different levels: {', '.join(sorted(levels))}")
    if len(sources) > 1:
        cautions.append(
            f"the two seasons come from different sources ({', '.join(sorted(sources))}); what "
            "scorers call deep, or a return, may differ"
        )
    return Report(
        headline=f"{differing} of {len(comparison.measures)} measures differ between {first} and "
        f"{second}",
        tables=(
            _changes("shares", "Shares", shares, comparison, Format.PERCENT_1),
            _changes("means", "Means and counts", others, comparison, Format.DECIMAL_2),
        ),
        notes=(
            *(
                (f"Left out, since one of the two does not have it: {', '.join(left)}.",)
                if (left := comparison.left_out)
                else ()
            ),
            "A difference has its 95 % interval, whose errors count games, not plays; it stands "
            "out where that leaves out zero.",
        ),
        cautions=tuple(cautions),
        sources=tuple(each.line for each in comparison.attributions),
    )


def _changes(
    key: str,
    title: str,
    measures: Sequence[MeasureChange],
    comparison: SeasonComparison,
    form: Format,
) -> Table:
    columns = (
        Column("measure", "Measure"),
        *(Column(str(season), str(season), form) for season in dict.fromkeys(comparison.seasons)),
        Column("difference", "Difference", form),
        Column("differs", "Stands out"),
    )
    rows = []
    for m in measures:
        change: Value = m.difference
        if m.difference is not None and m.low is not None and m.high is not None:
            change = Interval(m.difference, m.low, m.high)
        values = (m.first, m.second)[: len(columns) - 3]
        unit = "" if m.unit == "share" else f" [{m.unit}]"
        rows.append((m.meaning + unit, *values, change, m.differs))
    return Table(key, title, columns, tuple(rows))
