"""Is a file of plays usable as a whole? Answered before and after its rows are read.

The last step of an import: plays and rejects as Parquet files, season by season.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from lensyard.errors import DataError
from lensyard.files import flush_file
from lensyard.plays.gamecenter.archive import file_sha256
from lensyard.plays.importing.adapter import STAGED_COLUMNS, Adapter
from lensyard.plays.importing.catalog import Catalog, Entry, ImportedFile, Part, Tally
from lensyard.plays.importing.rejects import COLUMNS as REJECT_COLUMNS
from lensyard.plays.importing.sql import RawColumns, identifier, literal

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
_TOLD_AS: Final = {
    "have": "offense",
    "have_not": "defense",
    "home": "home_club",
    "away": "away_club",
}
"""Fields of the college sources that become a told one of another name."""
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
        if columns.has(field) and (staged := _TOLD_AS.get(field, field)) in STAGED_COLUMNS
    ]
    counted = ", ".join(f"count(*) FILTER (WHERE {test})" for _, _, test, _ in tests)
    row = connection.execute(f"SELECT count(*), {counted} FROM told").fetchone() or (0,)
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
        "SELECT skip, count(*), min(line) FROM told WHERE skip IS NOT NULL GROUP BY skip "
        "ORDER BY 2 DESC, 1"
    ).fetchall()
    tallies = tuple(Tally(str(words), int(n), int(line)) for words, n, line in skipped)
    over = sum(tally.rows for tally in tallies)
    if over > MOST_PASSED_OVER * rows:
        raise DataError(
            f"{name} is not usable, and nothing was imported: {over:,} of its {rows:,} rows tell "
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


def require_few_rejects(*, kept: int, rejected: tuple[Tally, ...], limit: float, name: str) -> None:
    """Raise `DataError` if no row is left, or more than a share `limit` was rejected.

    Parameters
    ----------
    kept
        Plays that are left.
    rejected
        By reason.
    limit
        Largest share of rejected rows among all that tell a play, 0 to 1.
    name
        Of the file.
    """
    thrown = sum(tally.rows for tally in rejected)
    if kept == 0:
        why = f": {describe(rejected)}" if rejected else ""
        raise DataError(f"{name} holds no usable play, and nothing was imported{why}")
    share = thrown / (thrown + kept)
    if share > limit:
        raise DataError(
            f"{name} is refused, and nothing was imported: {thrown:,} of {thrown + kept:,} plays "
            f"({share:.1%}) are unusable, more than the limit of {limit:.1%}: "
            f"{describe(rejected)}. `lensyard data check FILE` lists them; --limit-rejects raises "
            "the limit."
        )


def describe(tallies: tuple[Tally, ...], *, most: int = 3) -> str:
    """Return the largest tallies in words."""
    staged = [f"{t.rows:,} × {t.words} (first: line {t.first_line})" for t in tallies[:most]]
    more = f", and {len(tallies) - most} more reasons" if len(tallies) > most else ""
    return ", ".join(staged) + more


_NOT_THERE: Final = " AND coalesce(game_id NOT IN (SELECT game_id FROM overlap), true)"
_FORMAT: Final = "FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE 122880"


@dataclass(frozen=True, slots=True)
class Written:
    """What waits in the work folder to be moved, and the catalog's entries for it."""

    entries: tuple[Entry, ...]
    new_files: tuple[str, ...]
    stored: int
    games_there: int
    games_replaced: int

    @property
    def changed(self) -> bool:
        """Whether there is anything to move."""
        return bool(self.entries)


def write_seasons(
    connection: duckdb.DuckDBPyConnection,
    *,
    folder: Path,
    workdir: Path,
    catalog: Catalog,
    adapter: Adapter,
    file: ImportedFile,
    replace_games: bool,
) -> Written:
    """Write the tables `plays` and `rejects` as files of the catalog.

    Parameters
    ----------
    connection
        The private database of the import.
    folder, workdir
        Of the catalog (read only), and where the new files go.
    catalog
        What there is.
    adapter, file
        Where the plays come from.
    replace_games
        Take the new copy of games that are there already.
    """
    writer = _Writer(connection, folder, workdir, adapter, file, replace_games)
    seasons = [writer.season(season, catalog.get(adapter.name, season)) for season in file.seasons]
    names = [name for each in seasons for name in each.new_files]
    return Written(
        entries=tuple(entry for each in seasons for entry in each.entries),
        new_files=tuple(dict.fromkeys(names)),
        stored=sum(each.stored for each in seasons),
        games_there=sum(each.games_there for each in seasons),
        games_replaced=sum(each.games_replaced for each in seasons),
    )


@dataclass(frozen=True)
class _Writer:
    """One import: where it reads, where it writes, and what from."""

    connection: duckdb.DuckDBPyConnection
    folder: Path
    workdir: Path
    adapter: Adapter
    file: ImportedFile
    replacing: bool

    def season(self, season: int, old: Entry | None) -> Written:
        """Write one season, beside or in place of what there is of it."""
        overlap = self._overlap(old, season)
        kept = () if old is None else old.parts
        fresh = f"SELECT * FROM plays WHERE season = {season}"
        if not self.replacing:
            fresh += _NOT_THERE
        query = fresh
        if overlap and self.replacing:
            query += f" UNION ALL BY NAME SELECT * FROM {self._of(kept)} WHERE true{_NOT_THERE}"
            kept = ()
        part = self._write(query, f"{self.adapter.name}-{season}", order="game_id, play_index")
        if part is None or (old is not None and part in old.parts):
            return Written((), (), 0, overlap, 0)
        rejects = self._rejects(old, season)
        earlier = () if old is None or self.replacing else old.rejects
        entry = self._entry(
            old,
            season,
            parts=(*kept, part),
            rejects=(*earlier, *([] if rejects is None else [rejects])),
        )
        return Written(
            entries=(entry,),
            new_files=(part.name,) if rejects is None else (part.name, rejects.name),
            stored=self._count(fresh)[0],
            games_there=0 if self.replacing else overlap,
            games_replaced=overlap if self.replacing else 0,
        )

    def _overlap(self, old: Entry | None, season: int) -> int:
        """Put the games that are there already into the table `overlap`; return how many."""
        there = "SELECT NULL::VARCHAR AS game_id WHERE false"
        if old is not None and old.parts:
            there = f"SELECT DISTINCT game_id FROM {self._of(old.parts)}"
        self.connection.execute(
            f"CREATE OR REPLACE TEMP TABLE overlap AS {there} INTERSECT "
            f"SELECT DISTINCT game_id FROM plays WHERE season = {season}"
        )
        return self._count("SELECT game_id FROM overlap")[0]

    def _count(self, query: str) -> tuple[int, int]:
        """Return rows and games of a query."""
        row = self.connection.execute(
            f"SELECT count(*), count(DISTINCT game_id) FROM ({query})"
        ).fetchone()
        rows, games = row or (0, 0)
        return int(rows), int(games)

    def _of(self, parts: Sequence[Part]) -> str:
        """Return the SQL that reads files of the catalog, old or new."""
        new = {part.name for part in parts if (self.workdir / part.name).exists()}
        paths = [(self.workdir if part.name in new else self.folder) / part.name for part in parts]
        listed = ", ".join(literal(str(path)) for path in paths)
        return f"read_parquet([{listed}], union_by_name=true)"

    def _write(self, query: str, stem: str, *, order: str) -> Part | None:
        """Write a query as a file named after its content; None where there are no rows."""
        temporary = self.workdir / "part"
        row = self.connection.execute(
            f"COPY ({query} ORDER BY {order}) TO {literal(str(temporary))} ({_FORMAT})"
        ).fetchone() or (0,)
        rows = int(row[0])
        if rows == 0:
            temporary.unlink(missing_ok=True)
            return None
        flush_file(temporary)
        sha256 = file_sha256(temporary)
        target = self.workdir / f"{stem}-{sha256[:16]}.parquet"
        os.replace(temporary, target)
        return Part(target.name, target.stat().st_size, sha256, rows)

    def _rejects(self, old: Entry | None, season: int) -> Part | None:
        """Write a season's rejects; those without a season go with the file's first.

        Where games are replaced, earlier rejects of those games and of the same file are dropped;
        otherwise those of games that stay as they were are not added.
        """
        own = f"season = {season}"
        if season == self.file.seasons[0]:
            listed = ", ".join(str(each) for each in self.file.seasons)
            own = f"({own} OR season IS NULL OR season NOT IN ({listed}))"
        chosen = {
            "source": literal(self.adapter.name),
            "file": literal(self.file.name),
            "season": str(season),
        }
        select = ", ".join(
            f"CAST({chosen.get(name, name)} AS {kind}) AS {name}"
            for name, kind in REJECT_COLUMNS.items()
        )
        query = f"SELECT {select} FROM rejects WHERE {own}"
        if not self.replacing:
            query += _NOT_THERE
        elif old is not None and old.rejects:
            query += (
                f" UNION ALL BY NAME SELECT * FROM {self._of(old.rejects)} "
                f"WHERE file <> {literal(self.file.name)}{_NOT_THERE}"
            )
        return self._write(query, f"{self.adapter.name}-{season}-rejects", order="file, line")

    def _entry(
        self,
        old: Entry | None,
        season: int,
        *,
        parts: tuple[Part, ...],
        rejects: tuple[Part, ...],
    ) -> Entry:
        """Return the entry of a season, with what its files hold."""
        kept, games_in_file = self._count(f"SELECT * FROM plays WHERE season = {season}")
        file = replace(self.file, kept=kept, games=games_in_file)
        earlier = () if old is None else old.files
        key = (file.sha256, file.reader)
        plays, games = self._count(f"SELECT game_id FROM {self._of(parts)}")
        kinds = self.connection.execute(
            f"SELECT DISTINCT season_type FROM {self._of(parts)} ORDER BY season_type"
        ).fetchall()
        return Entry(
            source=self.adapter.name,
            season=season,
            title=self.adapter.title,
            level=self.adapter.level,
            license=self.adapter.license,
            attribution=self.adapter.attribution,
            plays=plays,
            games=games,
            season_types=tuple(str(row[0]) for row in kinds),
            parts=parts,
            rejects=rejects,
            files=(*(f for f in earlier if (f.sha256, f.reader) != key), file),
            changed_at=file.imported_at,
        )
