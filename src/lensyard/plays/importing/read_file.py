"""A user's file as the table `raw`, whatever its format and encoding, within limits.

Nothing in a file is trusted: not its name, its size, its encoding, nor what its header says about
itself. A compressed file is unpacked only up to the limit, a Parquet file is asked how many rows
and columns it claims before any is read.
"""

from __future__ import annotations

import csv
import gzip
import lzma
import shutil
import struct
import zipfile
import zlib
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import IO, TYPE_CHECKING, Final

from lensyard.errors import DataError
from lensyard.files import file_sha256
from lensyard.plays.importing.adapter import identifier, literal
from lensyard.records import Record

if TYPE_CHECKING:
    import duckdb

_BLOCK: Final = 1 << 20
_DELIMITERS: Final = (",", ";", "\t", "|")
_PARQUET: Final = b"PAR1"
_GZIP: Final = b"\x1f\x8b"
_ZIP: Final = b"PK\x03\x04"
_DAMAGE: Final = (
    EOFError, zlib.error, lzma.LZMAError, zipfile.BadZipFile, RuntimeError, NotImplementedError,
    UnicodeError, ValueError, struct.error, KeyError, IndexError,
)  # fmt: skip
"""What unpacking raises where an archive is not what it says."""
_BOMS: Final = ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


class Limits(Record):
    """How much of a file is taken on.

    `bytes_on_disk`, `bytes_unpacked`: Of the file, and of what is in it.
    `rows`, `columns`, `line_bytes`: Of the table; longest line of a text file.
    `memory`: That the database may use before it spills to disk.
    """

    bytes_on_disk: int = 2 << 30
    bytes_unpacked: int = 6 << 30
    rows: int = 20_000_000
    columns: int = 2000
    line_bytes: int = 1 << 20
    memory: str = "640MB"


class RawFile(Record):
    """A file that can be read as a table.

    `relation`: SQL of the table function that reads it.
    `format`: ``parquet``, ``csv`` or ``json``.
    `first_line`: Line of the first row in the file.
    `notes`: What had to be done to read it, in plain words.
    `sha256`: Of the file as it was given.
    """

    relation: str
    types: dict[str, str]
    format: str
    first_line: int = 1
    notes: tuple[str, ...] = ()
    sha256: str = ""


def read_raw(
    connection: duckdb.DuckDBPyConnection,
    path: Path,
    *,
    workdir: Path,
    limits: Limits,
    skip_lines: int = 0,
) -> RawFile:
    """Return how to read a file.

    `connection`: On which it will be read; it may read `path` and files in `workdir`.
    `path`: Parquet, CSV (any of the usual separators and encodings), JSON; also gzip or a zip
        archive that holds exactly one of them.
    `workdir`: Where unpacked and recoded copies go.

    Raises `DataError` if the file is missing, too large, damaged, or none of these formats.
    """
    import duckdb

    reader = _Reader(connection, path.name, workdir, limits, skip_lines)
    try:
        if not path.is_file():
            raise DataError(f"{path} is not a file; give a Parquet, CSV or JSON file of plays")
        if path.stat().st_size > limits.bytes_on_disk:
            raise DataError(
                f"{path.name} has {path.stat().st_size:,} bytes, more than the limit of "
                f"{limits.bytes_on_disk:,}; split it into seasons"
            )
        sha256 = file_sha256(path)
        raw = reader.table(reader.unpacked(_linked(path, workdir)))
    except OSError as error:
        raise DataError(f"cannot read {path}: {error.strerror or error}") from error
    except duckdb.Error as error:
        raise DataError(
            f"{path.name} cannot be read: {first_line(error)}. Expected a Parquet, CSV or JSON "
            "file with one row a play; open it, check it, and save it again."
        ) from error
    if len(raw.types) > limits.columns:
        raise DataError(
            f"{path.name} has {len(raw.types):,} columns, more than the limit of "
            f"{limits.columns:,}; keep those that describe plays"
        )
    return replace(raw, sha256=sha256, notes=tuple(reader.notes))


def _linked(path: Path, workdir: Path) -> Path:
    """Return the file under a name that is no pattern, and in a folder that is no column."""
    given = workdir / "given"
    given.unlink(missing_ok=True)
    try:
        given.symlink_to(path.absolute())
    except OSError:  # a system without links
        shutil.copyfile(path, given)
    return given


def first_line(error: Exception) -> str:
    """Return the first line of an error's message, without characters that steer a terminal."""
    line = (str(error).strip().splitlines() or ["no message"])[0][:300]
    return "".join(c if c.isprintable() else "?" for c in line)


def _is_lines(head: bytes) -> bool:
    """Return whether a file that begins so is read line by line, as text and not as JSON."""
    return not head.startswith(_PARQUET) and head.lstrip(b"\xef\xbb\xbf \r\n\t")[:1] not in (
        b"[",
        b"{",
    )


class _Lines:
    """Looks at the lines of a text without keeping them; refuses one that is too long."""

    def __init__(self, longest: int) -> None:
        self._was_inside = False
        self._longest = longest
        self._length = 0
        self._quotes = 0

    @property
    def ended_inside_quotes(self) -> bool:
        """Whether any line did."""
        return self._was_inside or self._quotes % 2 == 1

    def add(self, block: bytes) -> None:
        """Take the next block. Raises `DataError` once a line is too long."""
        first, *others = block.split(b"\n")
        self._take(first)
        for part in others:
            self._was_inside = self.ended_inside_quotes
            self._length = self._quotes = 0
            self._take(part)

    def _take(self, part: bytes) -> None:
        self._length += len(part)
        self._quotes += part.count(b'"')
        if self._length > self._longest:
            raise DataError(
                f"a line of the file is longer than {self._longest:,} bytes; expected one row a "
                "play on a line of its own"
            )


_WORKBOOK_BYTES: Final = 200_000_000


def _is_workbook(path: Path) -> bool:
    """Return whether a zip archive is a workbook."""
    with zipfile.ZipFile(path) as archive:
        names = set(archive.namelist())
    is_ods = {"content.xml", "mimetype"} <= names
    return is_ods or any(name.startswith("xl/") for name in names)


def _is_aside(item: zipfile.ZipInfo) -> bool:
    """Return whether a system put a member beside the one that a person packed."""
    name = item.filename.rsplit("/", 1)[-1]
    return item.filename.startswith("__MACOSX/") or name.startswith("._") or name == ".DS_Store"


def _cell_text(cell: object) -> str:
    """Return a cell as text: whole numbers without a point, dates year first.

    >>> _cell_text(3.0), _cell_text(2.5), _cell_text("DN")
    ('3', '2.5', 'DN')
    """
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return " ".join(str(cell).split())


@dataclass
class _Reader:
    """Finds out how one file is read; `notes` says what had to be done to read it."""

    connection: duckdb.DuckDBPyConnection
    name: str
    workdir: Path
    limits: Limits
    skip_lines: int
    notes: list[str] = field(default_factory=list)

    def unpacked(self, path: Path) -> Path:
        """Return the file itself, or an unpacked copy of what is in it."""
        with path.open("rb") as stream:
            head = stream.read(4)
        try:
            if head.startswith(_GZIP):
                with gzip.open(path, "rb") as packed:
                    return self._copied(packed, "gzip")
            if head.startswith(_ZIP) and _is_workbook(path):
                return self._sheet(path)
            if head.startswith(_ZIP):
                with zipfile.ZipFile(path) as archive, self._only_member(archive) as packed:
                    return self._copied(packed, "zip")
        except _DAMAGE as e:
            raise DataError(
                f"{self.name} cannot be unpacked ({first_line(e)}); it is damaged or cut off. "
                "Fetch it again."
            ) from e
        return path

    def _only_member(self, archive: zipfile.ZipFile) -> IO[bytes]:
        """Open the one file of an archive."""
        inside = [item for item in archive.infolist() if not (item.is_dir() or _is_aside(item))]
        if len(inside) != 1:
            raise DataError(
                f"{self.name} holds {len(inside)} files, expected one; unpack it and import the "
                "files one by one"
            )
        return archive.open(inside[0])

    def _sheet(self, path: Path) -> Path:
        """Return the fullest sheet of a workbook (.xlsx or .ods) as a text file.

        Raises `DataError` if it cannot be read, or holds no rows.
        """
        from python_calamine import CalamineError, CalamineWorkbook

        try:
            with zipfile.ZipFile(path) as archive:
                unpacked = sum(item.file_size for item in archive.infolist())
            if unpacked > min(_WORKBOOK_BYTES, self.limits.bytes_unpacked):
                raise DataError(
                    f"{self.name} unpacks to {unpacked:,} bytes, more than a workbook of plays; "
                    "save its sheet as CSV (UTF-8) and import that"
                )
            book = CalamineWorkbook.from_path(str(path))
            sheets = {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}
        except CalamineError as error:
            raise DataError(
                f"{self.name} cannot be read as a workbook ({first_line(error)}); save it as "
                "CSV (UTF-8) and import that"
            ) from error
        name, rows = max(sheets.items(), key=lambda item: len(item[1]), default=("", []))
        if len(rows) < 2:
            raise DataError(f"{self.name} has no sheet with a header and one row a play")
        target = self.workdir / "sheet"
        with target.open("w", encoding="utf-8", newline="") as out:
            csv.writer(out, lineterminator="\n").writerows(
                [_cell_text(cell) for cell in row] for row in rows
            )
        self.notes.append(f"sheet {name!r} of a workbook")
        return target

    def _copied(self, source: IO[bytes] | gzip.GzipFile, packing: str) -> Path:
        """Return a copy of a stream, refused beyond the limit."""
        left = self.limits.bytes_unpacked
        target = self.workdir / "unpacked"
        lines: _Lines | None = None
        with target.open("wb") as out:
            while block := source.read(_BLOCK):
                if left == self.limits.bytes_unpacked and _is_lines(block):
                    lines = _Lines(self.limits.line_bytes)
                if lines is not None:
                    lines.add(block)
                left -= len(block)
                if left < 0:
                    raise DataError(
                        f"{self.name} unpacks to more than {self.limits.bytes_unpacked:,} bytes; "
                        "refused. Split it into seasons."
                    )
                out.write(block)
        self.notes.append(f"unpacked from {packing}")
        return target

    def table(self, path: Path) -> RawFile:
        """Return the table in a plain file."""
        with path.open("rb") as stream:
            head = stream.read(_BLOCK)
        if not head.strip(b"\x00 \r\n\t"):
            raise DataError("the file is empty; expected a header and one row a play")
        if head.startswith(_PARQUET):
            return self._parquet(path)
        text = self._utf8(path, head)
        with text.open("rb") as stream:
            start = stream.read(_BLOCK).lstrip()
        if start[:1] in (b"[", b"{"):
            return self._json(text)
        if b"<html" in start[:2000].lower() or b"<!doctype" in start[:200].lower():
            raise DataError("the file is a web page, not a table; download the file itself")
        return self._csv(text)

    def _parquet(self, path: Path) -> RawFile:
        """Return a Parquet file's table, after asking how much it claims to hold."""
        name, limits = literal(str(path)), self.limits
        found = self.connection.execute(
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
        relation = f"read_parquet({name}, file_row_number=true, hive_partitioning=false)"
        types = self._types(f"SELECT * FROM {relation}")
        types.pop("file_row_number", None)
        return RawFile(relation, types, "parquet")

    def _json(self, path: Path) -> RawFile:
        """Return a JSON file's table: an array or lines of objects, inner ones as dotted names."""
        limit = min(self.limits.bytes_unpacked, 1 << 30)
        largest = self.limits.line_bytes * 16
        relation = (
            f"read_json({literal(str(path))}, maximum_object_size={largest}, "
            "hive_partitioning=false)"
        )
        if path.stat().st_size > limit:
            raise DataError(f"the JSON file is larger than the limit of {limit:,} bytes")
        parts, types = [], {}
        for name, kind in self._types(f"SELECT * FROM {relation}").items():
            outer = identifier(name)
            inner = {}
            if kind.startswith("STRUCT"):
                inner = self._types(f"SELECT unnest({outer}) FROM {relation}")
            if not inner:
                parts.append(outer)
                types[name] = kind
            for key, inner_kind in inner.items():
                dotted = f"{name}.{key}"
                parts.append(f"{outer}.{identifier(key)} AS {identifier(dotted)}")
                types[dotted] = inner_kind
        return RawFile(f"(SELECT {', '.join(parts)} FROM {relation})", types, "json")

    def _csv(self, path: Path) -> RawFile:
        """Return the table in a text file; lines that cannot be split are kept as rejects."""
        with path.open(encoding="utf-8-sig", errors="replace", newline="") as text:
            for _ in range(self.skip_lines):
                text.readline(self.limits.line_bytes)
            header = text.readline(self.limits.line_bytes)
        outside = "".join(header.split('"')[::2])
        delimiter = max(_DELIMITERS, key=outside.count)
        if delimiter != ",":
            self.notes.append(f"separated by {delimiter!r}")
        names = _column_names(header, delimiter)
        columns = ", ".join(f"{literal(name)}: 'VARCHAR'" for name in names)
        # A line that ends inside quotes (a cell of several lines, or a stray quote) must not be
        # read in parallel.
        lines = _Lines(self.limits.line_bytes)
        with path.open("rb") as stream:
            while block := stream.read(_BLOCK):
                lines.add(block)
        parallel = not lines.ended_inside_quotes
        relation = (
            f"read_csv({literal(str(path))}, all_varchar=true, header=true, "
            f"delim={literal(delimiter)}, quote='\"', escape='\"', skip={int(self.skip_lines)}, "
            "null_padding=true, strict_mode=true, ignore_errors=true, store_rejects=true, "
            f"rejects_limit=100000, max_line_size={self.limits.line_bytes}, "
            "hive_partitioning=false, "
            f"parallel={str(parallel).lower()}, auto_detect=false, columns={{{columns}}})"
        )
        types = dict.fromkeys(names, "VARCHAR")
        return RawFile(relation, types, "csv", first_line=self.skip_lines + 2)

    def _utf8(self, path: Path, head: bytes) -> Path:
        """Return the file, or a copy of it as UTF-8 with line feeds."""
        encoding = next((name for bom, name in _BOMS if head.startswith(bom)), None)
        if encoding is None and _is_utf8(path):
            lone = head.count(b"\r") > head.count(b"\r\n")
            if b"\x00" not in head and not lone:
                return path
            encoding = "utf-8"
        encoding = encoding or "cp1252"
        if encoding != "utf-8":
            self.notes.append(f"read as {encoding}")
        target = self.workdir / "recoded"
        with (
            path.open(encoding=encoding, errors="replace", newline=None) as source,
            target.open("w", encoding="utf-8", newline="\n") as out,
        ):
            while block := source.read(_BLOCK):
                out.write(block.replace("\x00", ""))
        return target

    def _types(self, query: str) -> dict[str, str]:
        """Return column -> type of a query."""
        rows = self.connection.execute(f"DESCRIBE {query}").fetchall()
        return {str(row[0]): str(row[1]).strip('"') for row in rows}


def _column_names(header: str, delimiter: str) -> list[str]:
    """Return the names of a text file's columns, each once and none empty."""
    try:
        cells = next(csv.reader([header], delimiter=delimiter), [])
    except csv.Error as error:
        raise DataError(f"the header of the file cannot be read: {error}") from error
    names: list[str] = []
    taken: set[str] = set()
    for at, cell in enumerate(cells, start=1):
        shown = "".join(c if c.isprintable() else " " for c in cell.replace("\x00", ""))
        name = shown.strip()[:100] or f"column {at}"
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


def _is_utf8(path: Path) -> bool:
    """Return whether a whole file is UTF-8."""
    try:
        with path.open(encoding="utf-8", newline="") as text:
            while text.read(_BLOCK):
                pass
    except UnicodeDecodeError:
        return False
    return True
