"""Is a file of plays usable as a whole? Answered before and after its rows are read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from lensyard.errors import DataError
from lensyard.plays.importing.adapter import STAGED_COLUMNS, Adapter
from lensyard.plays.importing.catalog import Tally
from lensyard.plays.importing.sql import RawColumns, identifier

if TYPE_CHECKING:
    import duckdb

_USABLE: Final = {
    "down": ("down BETWEEN 1 AND 4", "expected 1 to 4"),
    "distance_yd": ("distance_yd BETWEEN 1 AND 99", "expected 1 to 99 yards"),
    "yardline_100": ("yardline_100 BETWEEN 0 AND 100", "expected a spot on the field"),
    "kind": ("kind IS NOT NULL", "expected kinds of play"),
    "season": ("season IS NOT NULL", "expected years"),
    "quarter": ("quarter BETWEEN 1 AND 20", "expected 1 to 4 and overtime"),
}
_STAGED_AS: Final = {
    "have": "offense",
    "have_not": "defense",
    "home": "home_club",
    "away": "away_club",
}
"""Fields of the college sources that are staged under another name."""
MOST_PASSED_OVER: Final = 0.5
"""Of a file's rows; real files have 3 to 15 % of rows that are no play (pro, college)."""


def require_fields(
    adapter: Adapter, columns: RawColumns, *, name: str, season_given: bool = False
) -> None:
    """Raise `DataError` unless a file has every column that its source cannot do without."""
    missing = [
        f"{what} ({' or '.join(adapter.names.get(field, (field,)))})"
        for field, what in adapter.needs
        if not columns.has(field) and not (field == "season" and season_given)
    ]
    if missing:
        raise DataError(
            f"{name} was read as {adapter.title}, but lacks {', '.join(missing[:8])}"
            f"{' and more' if len(missing) > 8 else ''}. It has {_some(list(columns.types))}. Give "
            "the file that the source publishes, or write a mapping: `lensyard data map FILE`."
        )


def _some(names: list[str]) -> str:
    more = f" and {len(names) - 12} more" if len(names) > 12 else ""
    return f"{', '.join(name[:40] for name in names[:12])}{more}"


def require_content(
    connection: duckdb.DuckDBPyConnection, adapter: Adapter, columns: RawColumns, *, name: str
) -> tuple[int, tuple[Tally, ...]]:
    """Return how many rows `staged` has, and what is passed over by reason.

    Raises
    ------
    DataError
        If the file has no rows, a column that is empty all through, or hardly any play.
    """
    tests = [
        (field, what, *_USABLE.get(staged, (f"{staged} IS NOT NULL", "expected values")))
        for field, what in adapter.needs
        if columns.has(field) and (staged := _STAGED_AS.get(field, field)) in STAGED_COLUMNS
    ]
    counted = ", ".join(f"count(*) FILTER (WHERE {test})" for _, _, test, _ in tests)
    row = connection.execute(f"SELECT count(*), {counted} FROM staged").fetchone() or (0,)
    rows, usable = int(row[0]), [int(value) for value in row[1:]]
    if rows == 0:
        raise DataError(f"{name} holds no rows; expected one row a play")
    empty = [
        f"{columns.origin(field)} {_what_it_holds(connection, columns, field)} in all {rows:,} "
        f"rows ({what}; {expected})"
        for (field, what, _, expected), count in zip(tests, usable, strict=True)
        if count == 0
    ]
    if empty:
        raise DataError(
            f"{name} is not usable, and nothing was imported: {'; '.join(empty)}. Fetch the file "
            "again or take another source."
        )
    skipped = connection.execute(
        "SELECT skip, count(*), min(line) FROM staged WHERE skip IS NOT NULL GROUP BY skip "
        "ORDER BY 2 DESC, 1"
    ).fetchall()
    tallies = tuple(Tally(str(words), int(n), int(line)) for words, n, line in skipped)
    over = sum(tally.rows for tally in tallies)
    if over > MOST_PASSED_OVER * rows:
        raise DataError(
            f"{name} is not usable, and nothing was imported: {over:,} of its {rows:,} rows are "
            f"no play ({describe(tallies)}). Check that the kind of play is filled."
        )
    return rows, tallies


def _what_it_holds(connection: duckdb.DuckDBPyConnection, columns: RawColumns, field: str) -> str:
    """Return in words what an unusable column holds."""
    name = identifier(columns.origin(field) or field)
    row = connection.execute(
        f"SELECT min(CAST({name} AS VARCHAR)), max(CAST({name} AS VARCHAR)) FROM raw"
    ).fetchone()
    low, high = row or (None, None)
    if low is None or high == "":
        return "is empty"
    if low == high:
        return f"is {str(low)[:40]!r}"
    return f"holds values such as {str(low)[:40]!r} and {str(high)[:40]!r}"


def require_few_rejects(
    *, accepted: int, rejected: tuple[Tally, ...], limit: float, name: str
) -> None:
    """Raise `DataError` if no row is left, or more than a share `limit` was rejected.

    Parameters
    ----------
    accepted
        Plays that are left.
    rejected
        By reason.
    limit
        Largest share of rejected rows among all that are plays, 0 to 1.
    name
        Of the file.
    """
    rejects = sum(tally.rows for tally in rejected)
    if accepted == 0:
        why = f": {describe(rejected)}" if rejected else ""
        raise DataError(f"{name} holds no usable play, and nothing was imported{why}")
    share = rejects / (rejects + accepted)
    if share > limit:
        raise DataError(
            f"{name} is refused, and nothing was imported: {rejects:,} of {rejects + accepted:,} "
            f"plays ({share:.1%}) are unusable, more than the limit of {limit:.1%}: "
            f"{describe(rejected)}. `lensyard data check FILE` lists them; --limit-rejects raises "
            "the limit."
        )


def describe(tallies: tuple[Tally, ...], *, most: int = 3) -> str:
    """Return the largest tallies in words."""
    parts = [f"{t.rows:,} × {t.words} (first: line {t.first_line})" for t in tallies[:most]]
    more = f", and {len(tallies) - most} more reasons" if len(tallies) > most else ""
    return ", ".join(parts) + more
