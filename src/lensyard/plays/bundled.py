"""Files that come with the package: the plays with their provenance, and the fitted models.

In a checkout (and an editable install of it) they are the folders `data` and `models` beside
`src`; in an installed wheel they lie inside the package.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from lensyard.errors import DataError

_PACKAGE: Final = Path(__file__).resolve().parents[1]
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


def bundled_dir(name: str) -> Path:
    """Return a bundled folder, `data` or `models`.

    Raises
    ------
    DataError
        If neither the package nor a checkout around it has the folder.
    """
    places = (_PACKAGE / "_bundled" / name, _PACKAGE.parents[1] / name)
    for place in places:
        if place.is_dir():
            return place
    raise DataError(
        f"the bundled folder {name!r} is missing; looked in {places[0]} and {places[1]}. "
        "Install the package again, or run from a checkout."
    )


def data_dir() -> Path:
    """Return the folder of the bundled data. Raises `DataError` if it is missing."""
    return bundled_dir("data")


def models_dir() -> Path:
    """Return the folder of the bundled models. Raises `DataError` if it is missing."""
    return bundled_dir("models")


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
