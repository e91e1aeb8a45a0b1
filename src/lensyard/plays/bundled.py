"""The plays that come with the package, with their provenance."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from lensyard.config import data_dir
from lensyard.errors import DataError

PLAYS_NAME: Final = "plays.parquet"
PROVENANCE_NAME: Final = "plays.json"


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where the bundled plays come from.

    `sha256` and `rows` describe the Parquet file, `source_sha256` the archive it was built from.
    """

    source: str
    source_version: str
    source_url: str
    source_sha256: str
    license: str
    attribution: str
    schema_version: int
    seasons: tuple[int, ...]
    columns: tuple[str, ...]
    games: int
    rows: int
    size_bytes: int
    sha256: str
    built_with: str
    games_with_running_score_at_final_score: int
    missing: tuple[str, ...]


def plays_path() -> Path:
    """Return the Parquet file of the bundled plays. Raises `DataError` if it is missing."""
    path = data_dir() / PLAYS_NAME
    if not path.is_file():
        raise DataError(
            f"the bundled plays {path} are missing. Install the package again, or rebuild them "
            "with `lensyard data build`."
        )
    return path


def provenance() -> Provenance:
    """Return where the bundled plays come from.

    Raises
    ------
    DataError
        If the provenance file is missing or damaged.
    """
    return read_provenance(data_dir() / PROVENANCE_NAME)


def read_provenance(path: Path) -> Provenance:
    """Read a provenance file; see `provenance`."""
    try:
        fields: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        values: dict[str, Any] = {
            name: tuple(value) if isinstance(value, list) else value
            for name, value in fields.items()
        }
        return Provenance(**values)
    except (OSError, ValueError, TypeError, AttributeError) as error:
        raise DataError(
            f"the provenance {path} is missing or damaged ({error}). Install the package again, "
            "or rebuild the plays with `lensyard data build`."
        ) from error
