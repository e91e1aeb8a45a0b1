"""A user's file as the table `raw`, whatever its format and encoding, within limits.

Nothing in a file is trusted: not its name, its size, its encoding, nor what its header says about
itself. A compressed file is unpacked only up to the limit, a Parquet file is asked how many rows
and columns it claims before any is read.
"""

from __future__ import annotations

import gzip
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Final

from lensyard.errors import DataError
from lensyard.files import file_sha256
from lensyard.plays.importing.sql import identifier, literal

if TYPE_CHECKING:
    import duckdb

_BLOCK: Final = 1 << 20
_DELIMITERS: Final = (",", ";", "\t", "|")
_PARQUET: Final = b"PAR1"
_GZIP: Final = b"\x1f\x8b"
_ZIP: Final = b"PK\x03\x04"
_BOMS: Final = ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


@dataclass(frozen=True, slots=True)
class Limits:
    """How much of a file is taken on.

    Attributes
    ----------
    bytes_on_disk, bytes_unpacked
        Of the file, and of what is in it.
    rows, columns, line_bytes
        Of the table; longest line of a text file.
    memory
        That the database may use before it spills to disk.
    """

    bytes_on_disk: int = 2 << 30
    bytes_unpacked: int = 6 << 30
    rows: int = 20_000_000
    columns: int = 2000
    line_bytes: int = 1 << 20
    memory: str = "640MB"


@dataclass
class RawFile:
    """A file that can be read as a table.

    Attributes
    ----------
    name
        Of the file, for people.
    sha256
        Of the file as it was given.
    relation
        SQL of the table function that reads it.
    types
        Column -> DuckDB type.
    format
        ``parquet``, ``csv`` or ``json``.
    first_line
        Line of the first row in the file.
    notes
        What had to be done to read it, in plain words.
    """

    name: str
    sha256: str
    relation: str
    types: dict[str, str]
    format: str
    first_line: int
    notes: list[str] = field(default_factory=list)


def read_raw(
    connection: duckdb.DuckDBPyConnection,
    path: Path,
    *,
    workdir: Path,
    limits: Limits,
    skip_lines: int = 0,
) -> RawFile:
    """Return how to read a file.

    Parameters
    ----------
    connection
        On which it will be read; it may read `path` and files in `workdir`.
    path
        Parquet, CSV (any of the usual separators and encodings), JSON; also gzip or a zip archive
        that holds exactly one of them.
    workdir
        Where unpacked and recoded copies go.
    limits
        Beyond which a file is refused.
    skip_lines
        Lines of a text file before its header.

    Raises
    ------
    DataError
        If the file is missing, too large, damaged, or none of these formats.
    """
    import duckdb

    try:
        if not path.is_file():
            raise DataError(f"{path} is not a file; give a Parquet, CSV or JSON file of plays")
        size = path.stat().st_size
        if size > limits.bytes_on_disk:
            raise DataError(
                f"{path.name} has {size:,} bytes, more than the limit of "
                f"{limits.bytes_on_disk:,}; split it into seasons"
            )
        sha256 = file_sha256(path)
        notes: list[str] = []
        plain = _unpacked(path, workdir, limits, notes)
        raw = _as_table(connection, plain, workdir, limits, notes, skip_lines)
    except OSError as error:
        raise DataError(f"cannot read {path}: {error.strerror or error}") from error
    except duckdb.Error as error:
        raise DataError(
            f"{path.name} cannot be read: {first_line(error)}. Expected a Parquet, CSV or JSON "
            "file with one row a play; open it, check it, and save it again."
        ) from error
    raw.name, raw.sha256 = path.name, sha256
    if len(raw.types) > limits.columns:
        raise DataError(
            f"{path.name} has {len(raw.types):,} columns, more than the limit of "
            f"{limits.columns:,}; keep those that describe plays"
        )
    return raw


def first_line(error: Exception) -> str:
    """Return the first line of an error's message, without characters that steer a terminal."""
    line = (str(error).strip().splitlines() or ["no message"])[0][:300]
    return "".join(c if c.isprintable() else "?" for c in line)


def _unpacked(path: Path, workdir: Path, limits: Limits, notes: list[str]) -> Path:
    """Return the file itself, or an unpacked copy of what is in it."""
    with path.open("rb") as stream:
        head = stream.read(4)
    target = workdir / "unpacked"
    try:
        if head.startswith(_GZIP):
            with gzip.open(path, "rb") as packed:
                _copy(packed, target, limit=limits.bytes_unpacked, name=path.name)
            notes.append("unpacked from gzip")
            return target
        if head.startswith(_ZIP):
            with zipfile.ZipFile(path) as archive:
                inside = [item for item in archive.infolist() if not item.is_dir()]
                if any(item.filename.startswith("xl/") for item in inside):
                    raise DataError(
                        f"{path.name} is a workbook; expected a table. Save its sheet as CSV "
                        "(UTF-8) and import that."
                    )
                if len(inside) != 1:
                    raise DataError(
                        f"{path.name} holds {len(inside)} files, expected one; unpack it and "
                        "import the files one by one"
                    )
                with archive.open(inside[0]) as packed:
                    _copy(packed, target, limit=limits.bytes_unpacked, name=path.name)
            notes.append("unpacked from zip")
            return target
    except (EOFError, zlib.error, zipfile.BadZipFile, RuntimeError, NotImplementedError) as error:
        raise DataError(
            f"{path.name} cannot be unpacked ({first_line(error)}); it is damaged or cut off. "
            "Fetch it again."
        ) from error
    return path


def _copy(source: IO[bytes] | Any, target: Path, *, limit: int, name: str) -> None:
    """Copy a stream, but not beyond the limit."""
    left = limit
    with target.open("wb") as out:
        while block := source.read(_BLOCK):
            left -= len(block)
            if left < 0:
                raise DataError(
                    f"{name} unpacks to more than {limit:,} bytes; refused. Split it into seasons."
                )
            out.write(block)


def _as_table(
    connection: duckdb.DuckDBPyConnection,
    path: Path,
    workdir: Path,
    limits: Limits,
    notes: list[str],
    skip_lines: int,
) -> RawFile:
    """Return the table in a plain file."""
    with path.open("rb") as stream:
        head = stream.read(_BLOCK)
    if not head.strip(b"\x00 \r\n\t"):
        raise DataError("the file is empty; expected a header and one row a play")
    if head.startswith(_PARQUET):
        return _parquet(connection, path, limits, notes)
    text = _utf8(path, head, workdir, notes)
    with text.open("rb") as stream:
        start = stream.read(_BLOCK).lstrip()
    if start[:1] in (b"[", b"{"):
        return _json(connection, text, limits, notes)
    if b"<html" in start[:2000].lower() or b"<!doctype" in start[:200].lower():
        raise DataError("the file is a web page, not a table; download the file itself")
    return _csv(connection, text, limits, notes, skip_lines)


def _parquet(
    connection: duckdb.DuckDBPyConnection, path: Path, limits: Limits, notes: list[str]
) -> RawFile:
    """Return a Parquet file's table, after asking how much it claims to hold."""
    name = literal(str(path))
    found = connection.execute(
        "SELECT sum(rows), sum(bytes) FROM (SELECT any_value(row_group_num_rows) AS rows, "
        f"sum(total_uncompressed_size) AS bytes FROM parquet_metadata({name}) "
        "GROUP BY row_group_id)"
    ).fetchone()
    rows, unpacked = (int(value or 0) for value in (found or (0, 0)))
    if rows > limits.rows or unpacked > limits.bytes_unpacked:
        raise DataError(
            f"the file claims {rows:,} rows and {unpacked:,} bytes unpacked; the limits are "
            f"{limits.rows:,} rows and {limits.bytes_unpacked:,} bytes. Split it into seasons."
        )
    relation = f"read_parquet({name}, file_row_number=true)"
    types = _types(connection, relation)
    types.pop("file_row_number", None)
    return RawFile("", "", relation, types, "parquet", 1, notes)


def _json(
    connection: duckdb.DuckDBPyConnection, path: Path, limits: Limits, notes: list[str]
) -> RawFile:
    """Return a JSON file's table: an array or lines of objects, inner objects as dotted names."""
    limit = min(limits.bytes_unpacked, 1 << 30)
    relation = f"read_json({literal(str(path))}, maximum_object_size={limits.line_bytes * 16})"
    if path.stat().st_size > limit:
        raise DataError(f"the JSON file is larger than the limit of {limit:,} bytes")
    outer = _types(connection, relation)
    parts, types = [], {}
    for name, kind in outer.items():
        inner = _inner(connection, relation, name) if kind.startswith("STRUCT") else {}
        if not inner:
            parts.append(identifier(name))
            types[name] = kind
        for key, inner_kind in inner.items():
            parts.append(f"{identifier(name)}.{identifier(key)} AS {identifier(f'{name}.{key}')}")
            types[f"{name}.{key}"] = inner_kind
    table = f"(SELECT {', '.join(parts)} FROM {relation})"
    return RawFile("", "", table, types, "json", 1, notes)


def _inner(connection: duckdb.DuckDBPyConnection, relation: str, name: str) -> dict[str, str]:
    """Return the fields of a struct column."""
    query = f"SELECT unnest({identifier(name)}) FROM {relation}"
    rows = connection.execute(f"DESCRIBE {query}").fetchall()
    return {str(row[0]): str(row[1]) for row in rows}


def _csv(
    connection: duckdb.DuckDBPyConnection,
    path: Path,
    limits: Limits,
    notes: list[str],
    skip_lines: int,
) -> RawFile:
    """Return the table in a text file; lines that cannot be split are kept as rejects."""
    delimiter = _delimiter(path, skip_lines)
    options = (
        f"all_varchar=true, header=true, delim={literal(delimiter)}, quote='\"', escape='\"', "
        f"skip={int(skip_lines)}, null_padding=true, strict_mode=true, ignore_errors=true, "
        f"store_rejects=true, rejects_limit=100000, max_line_size={limits.line_bytes}, "
        f"parallel={'false' if _has_open_quotes(path) else 'true'}, auto_detect=false, "
        "columns={columns}"
    )
    names = _header(connection, path, delimiter, skip_lines, limits)
    columns = "{" + ", ".join(f"{literal(name)}: 'VARCHAR'" for name in names) + "}"
    relation = f"read_csv({literal(str(path))}, {options.format(columns=columns)})"
    if delimiter != ",":
        notes.append(f"separated by {delimiter!r}")
    types = dict.fromkeys(names, "VARCHAR")
    return RawFile("", "", relation, types, "csv", skip_lines + 2, notes)


def _has_open_quotes(path: Path) -> bool:
    """Return whether a line ends inside quotes: a cell of several lines, or a stray quote.

    Such a file cannot be read in parallel.
    """
    with path.open("rb") as stream:
        return any(line.count(b'"') % 2 for line in stream)


def _header(
    connection: duckdb.DuckDBPyConnection,
    path: Path,
    delimiter: str,
    skip_lines: int,
    limits: Limits,
) -> list[str]:
    """Return the names of a text file's columns, each once and none empty."""
    import csv

    with path.open(encoding="utf-8-sig", errors="replace", newline="") as stream:
        for _ in range(skip_lines):
            stream.readline(limits.line_bytes)
        header = stream.readline(limits.line_bytes)
    try:
        cells = next(csv.reader([header], delimiter=delimiter), [])
    except csv.Error as error:
        raise DataError(f"the header of the file cannot be read: {error}") from error
    names: list[str] = []
    taken: set[str] = set()
    for at, cell in enumerate(cells, start=1):
        name = cell.replace("\x00", "").strip()[:100] or f"column {at}"
        while name.lower() in taken:
            name = f"{name} ({at})"
        taken.add(name.lower())
        names.append(name)
    if len(names) < 2:
        raise DataError(
            "the file has one column only; expected a header and columns separated by commas, "
            "semicolons, tabs or bars"
        )
    return names


def _delimiter(path: Path, skip_lines: int) -> str:
    """Return the separator that the header has most of."""
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as stream:
        for _ in range(skip_lines):
            stream.readline(_BLOCK)
        header = stream.readline(_BLOCK)
    outside = "".join(header.split('"')[::2])
    return max(_DELIMITERS, key=outside.count)


def _utf8(path: Path, head: bytes, workdir: Path, notes: list[str]) -> Path:
    """Return the file, or a copy of it as UTF-8 with line feeds."""
    encoding = next((name for bom, name in _BOMS if head.startswith(bom)), None)
    if encoding is None and _is_utf8(path):
        lone = head.count(b"\r") > head.count(b"\r\n")
        if b"\x00" not in head and not lone:
            return path
        encoding = "utf-8"
    encoding = encoding or "cp1252"
    if encoding != "utf-8":
        notes.append(f"read as {encoding}")
    target = workdir / "recoded"
    with (
        path.open(encoding=encoding, errors="replace", newline=None) as source,
        target.open("w", encoding="utf-8", newline="\n") as out,
    ):
        while block := source.read(_BLOCK):
            out.write(block.replace("\x00", ""))
    return target


def _is_utf8(path: Path) -> bool:
    """Return whether a whole file is UTF-8."""
    import codecs

    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        for block in _blocks(path):
            decoder.decode(block)
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _blocks(path: Path) -> Iterator[bytes]:
    with path.open("rb") as stream:
        while block := stream.read(_BLOCK):
            yield block


def _types(connection: duckdb.DuckDBPyConnection, relation: str) -> dict[str, str]:
    """Return column -> type of a relation."""
    rows = connection.execute(f"DESCRIBE SELECT * FROM {relation}").fetchall()
    return {str(row[0]): str(row[1]).strip('"') for row in rows}
