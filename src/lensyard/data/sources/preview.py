"""A look into a file before it is imported: its cells, and its first plays as they read."""

from __future__ import annotations

from collections.abc import Mapping as Table
from pathlib import Path
from typing import Final

from lensyard.data.import_stage import (
    Request,
    Staged,
    open_file,
    private_database,
    stage,
    work_folder,
)
from lensyard.data.sources.reading import first_line, read_raw
from lensyard.data.sources.sql import identifier
from lensyard.errors import DataError

_ROWS: Final = 20_000
_CELLS: Final = 200
PLAY_COLUMNS: Final = (
    "game_id", "quarter", "offense", "down", "distance_yd", "yardline_100", "kind", "gain_yd",
    "side", "touchdown", "turnover", "kick_result", "hash_mark",
)  # fmt: skip


def header_of(path: Path) -> tuple[str, ...]:
    """Return the columns of a file. Raises `DataError` if it cannot be read."""
    request = Request(path)
    with work_folder(None) as workdir, private_database(workdir, request) as connection:
        raw = read_raw(connection, path, workdir=workdir, limits=request.limits)
        return tuple(raw.types)


def cells_of(path: Path, columns: Table[str, str]) -> dict[str, tuple[str, ...]]:
    """Return field -> the different cells of its column, most frequent first.

    Parameters
    ----------
    path
        The file.
    columns
        Field -> column.

    Raises
    ------
    DataError
        If the file cannot be read, or has no such column.
    """
    import duckdb

    request = Request(path)
    found: dict[str, tuple[str, ...]] = {}
    with work_folder(None) as workdir, private_database(workdir, request) as connection:
        raw = read_raw(connection, path, workdir=workdir, limits=request.limits)
        missing = [name for name in columns.values() if name not in raw.types]
        if missing:
            listed = ", ".join(list(raw.types)[:30])
            raise DataError(f"{path.name} has no column {missing[0]!r}; it has {listed}")
        try:
            connection.execute(
                f"CREATE TABLE head_rows AS SELECT * FROM {raw.relation} LIMIT {_ROWS}"
            )
            for field, column in columns.items():
                rows = connection.execute(
                    f"SELECT trim(CAST({identifier(column)} AS VARCHAR)) AS cell FROM head_rows "
                    "WHERE cell <> '' AND length(cell) <= 120 GROUP BY cell "
                    f"ORDER BY count(*) DESC, cell LIMIT {_CELLS}"
                ).fetchall()
                found[field] = tuple(str(row[0]) for row in rows)
        except duckdb.Error as error:
            raise DataError(f"{path.name} cannot be read: {first_line(error)}") from error
    return found


def first_plays(request: Request, *, most: int = 10) -> tuple[Staged, list[dict[str, object]]]:
    """Return what an import would find, and its first plays.

    Raises
    ------
    DataError
        If the file is not usable.
    """
    with work_folder(None) as workdir, private_database(workdir, request) as connection:
        staged = stage(connection, open_file(connection, request, workdir), request)
        rows = connection.execute(
            f"SELECT {', '.join(PLAY_COLUMNS)} FROM plays ORDER BY game_id, play_index LIMIT ?",
            [most],
        ).fetchall()
    return staged, [dict(zip(PLAY_COLUMNS, row, strict=True)) for row in rows]


def tell_play(play: Table[str, object]) -> str:
    """Return a play in words.

    >>> tell_play({"quarter": 1, "offense": "RIV", "down": 3, "distance_yd": 7,
    ...            "yardline_100": 35, "kind": "complete", "gain_yd": 12, "side": "left",
    ...            "touchdown": False, "turnover": False, "kick_result": "", "hash_mark": None})
    'Q1 RIV, 3 & 7 at the opponent 35: complete left, 12 yd'
    """
    to_goal = int(str(play["yardline_100"]))
    where = f"the opponent {to_goal}" if to_goal < 50 else f"its own {100 - to_goal}"
    where = "midfield" if to_goal == 50 else where
    down = f"{play['down']} & {play['distance_yd']} at " if play["down"] else "at "
    words = [str(play["kind"]), str(play["side"]), str(play["kick_result"] or "")]
    told = " ".join(word for word in words if word)
    gained = ("run", "complete", "sack", "scramble", "kneel")
    more = [f"{play['gain_yd']} yd"] if play["kind"] in gained else []
    more += [word for word in ("touchdown", "turnover") if play[word]]
    more += [f"{play['hash_mark']} hash"] if play["hash_mark"] else []
    return f"Q{play['quarter']} {play['offense']}, {down}{where}: {', '.join([told, *more])}"
