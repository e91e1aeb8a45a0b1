"""The last step of an import: plays and rejects as Parquet files, season by season."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from lensyard.data.archive import file_sha256
from lensyard.data.rejects import COLUMNS as REJECT_COLUMNS
from lensyard.data.sources.base import Adapter
from lensyard.data.sources.catalog import Catalog, Entry, ImportedFile, Part
from lensyard.data.sources.sql import literal

if TYPE_CHECKING:
    import duckdb

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
        with temporary.open("rb+") as stream:
            os.fsync(stream.fileno())
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
