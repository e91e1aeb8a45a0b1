"""``lensyard data``: the plays."""

from __future__ import annotations

from collections.abc import Callable
from collections.abc import Mapping as Table
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lensyard.errors import require_range
from lensyard.options.click_options import Command, Output, output_options, say

if TYPE_CHECKING:
    from lensyard.features.plays.chart import Questions
    from lensyard.plays.importing.mapping import Mapping
    from lensyard.plays.importing.stage import Request
    from lensyard.render.report import Report

_FILE = click.Path(dir_okay=False, path_type=Path)


def _reading_options(command: Command) -> Command:
    """Add what says how a file of plays is read; `_request` takes it."""
    for option in (
        click.option(
            "--limit-rejects",
            "limit_rejects_percent",
            type=float,
            help="Refuse a file of which more plays, in percent, are unusable. Default: 5.",
        ),
        click.option("--season", type=int, help="Season of rows that do not say theirs."),
        click.option(
            "--mapping", type=_FILE, help="TOML file that says how to read a spreadsheet."
        ),
        click.option(
            "--source",
            help="The file's source; recognized by default. With --mapping: a name to store it "
            "under.",
        ),
    ):
        command = option(command)
    return command


def _request(
    path: Path,
    *,
    source: str | None,
    mapping: Path | None,
    season: int | None,
    limit_rejects_percent: float | None,
    replace: bool = False,
    new_words: NewWords | None = None,
) -> Request:
    """Return an import's request from what was typed.

    `new_words`: What becomes of words of the file that its mapping does not know.
    """
    from lensyard.features.plays.chart import mapping_beside
    from lensyard.plays.importing.stage import REJECT_LIMIT, Request

    limit, read = REJECT_LIMIT, None
    if limit_rejects_percent is not None:
        require_range(low=0, high=100, limit_rejects=limit_rejects_percent)
        limit = limit_rejects_percent / 100
    if season is not None:
        require_range(low=1990, high=2100, season=season)
    beside = mapping_beside(path)
    if mapping is None and source is None and beside.is_file():
        say(f"reading {path.name} by {beside.name}, which lies beside it")
        mapping = beside
    if mapping is not None:
        from lensyard.plays.importing.mapping import load_mapping

        read = load_mapping(mapping)
        read = read if new_words is None else new_words(path, mapping, read)
    return Request(path, source, read, limit, replace, season)


NewWords = Callable[[Path, Path, "Mapping"], "Mapping"]


def _extended(path: Path, file: Path, mapping: Mapping, *, yes: bool, quiet: bool) -> Mapping:
    """Return a mapping with the words of a chart that it does not know, where that is wanted.

    `path`, `file`: The chart, and the mapping's file, which is changed.
    `yes`: Nobody is asked. `quiet`: Nobody can be asked.
    """
    from lensyard.features.plays.chart import extend_mapping
    from lensyard.features.plays.report import new_words_lines
    from lensyard.plays.importing.guess import new_words

    found = new_words(path, mapping)
    if not found:
        return mapping
    for line in new_words_lines(found, file=file.name):
        say(line)
    if not yes:
        try:
            yes = not quiet and click.confirm(f"Add them to {file.name}?", default=True, err=True)
        except click.Abort:  # nobody is there to be asked
            yes = False
    if not yes:
        say("left as it is; --yes adds them")
        return mapping
    return extend_mapping(file, found)


def _show(
    output: Output, result: object, report: Report, *, more: Table[str, Any] | None = None
) -> None:
    """Write a result; its document has the report's cautions, and more where there is more."""
    from lensyard.render.text import document

    added = {"cautions": list(report.cautions), **(more or {})}
    output.show(result, lambda _: report, lambda found: document(found) | added)


@click.group("data")
def data_command() -> None:
    """The plays behind every answer: list, import, fetch, check, compare."""


@data_command.command("list")
@click.option("--rejects", is_flag=True, help="Also the rows that imports rejected, and why.")
@output_options()
def list_command(rejects: bool, output: Output) -> None:
    """Seasons, games and plays, with source and license."""
    from lensyard.features.plays.compute import stored_plays
    from lensyard.features.plays.report import stored_report
    from lensyard.plays.bundled import provenance
    from lensyard.plays.store import shared_store
    from lensyard.render.text import plain

    found = stored_plays(shared_store(), provenance(), rejects=rejects)
    result = plain(found)
    if found.rejects is None:
        del result["rejects"]
    _show(output, result, stored_report(found))


@data_command.command("import")
@click.argument("files", nargs=-1, required=True, type=_FILE)
@_reading_options
@click.option("--replace", is_flag=True, help="Replace games that are stored already.")
@click.option("--yes", is_flag=True, help="Ask nothing: a mapping learns the file's new words.")
@output_options()
def import_command(files: tuple[Path, ...], yes: bool, output: Output, **how: Any) -> None:
    """Import plays of your own: Parquet, CSV, JSON, or any spreadsheet with a mapping.

    Each file is taken whole or not at all; the first that is refused ends it. Importing a file
    twice changes nothing. Words that a mapping does not know yet are asked about and added to it.
    """
    from lensyard.features.plays.compute import import_files
    from lensyard.features.plays.report import import_report

    learn = partial(_extended, yes=yes, quiet=output.as_json)
    reports, failure = import_files([_request(path, new_words=learn, **how) for path in files])
    if reports or output.as_json:
        failed = None if failure is None else str(failure)
        _show(output, {"files": reports, "failed": failed}, import_report(reports))
    if failure is not None:
        raise failure


@data_command.command("fetch")
@click.option("--season", type=int, required=True, help="The year.")
@click.option("--source", help="Whose plays. Default: nflverse.")
@click.option("--url", help="Another https address than the source's own.")
@click.option("--sha256", help="What the file must have, where it is known.")
@click.option("--replace", is_flag=True, help="Replace games that are stored already.")
@output_options()
def fetch_command(output: Output, **what: Any) -> None:
    """Fetch a season over HTTPS and import it. Nothing else uses the network."""
    from lensyard.features.plays.compute import fetch_season
    from lensyard.features.plays.report import import_report

    found = fetch_season(**what)
    result = {"files": [found.report], "failed": None, "fetched": found}
    _show(output, result, import_report([found.report]))


@data_command.command("check")
@click.argument("file", type=_FILE)
@_reading_options
@output_options()
def check_command(file: Path, output: Output, **how: Any) -> None:
    """Say what an import of a file would keep, repair and reject; nothing is stored."""
    from lensyard.features.plays.report import check_report
    from lensyard.plays.importing.import_file import check_file
    from lensyard.render.text import plain

    request = _request(file, **how)
    found, limit = check_file(request), request.limit_rejects
    checked = {"p_rejected": found.p_rejected, "refused": found.p_rejected > limit}
    result = {"file": plain(found) | checked, "limit_rejects": limit}
    _show(output, result, check_report(found, limit=limit))


@data_command.command("remove")
@click.argument("name", metavar="SOURCE/SEASON")
@output_options()
def remove_command(name: str, output: Output) -> None:
    """Remove an imported season."""
    from lensyard.features.plays.report import removal_report
    from lensyard.plays.importing.import_file import remove_season

    entry = remove_season(name)
    _show(output, {"removed": entry}, removal_report(entry))


@data_command.command("map")
@click.argument("file", type=_FILE)
@click.option("--out", type=_FILE, help="The TOML file to write. Default: FILE.mapping.toml.")
@click.option("--force", is_flag=True, help="Write over a mapping that is there already.")
@click.option("--column", "columns", multiple=True, help="FIELD=COLUMN where the guess is wrong.")
@click.option(
    "--name", "source", default="charted", show_default=True, help="Name to store the plays under."
)
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
@output_options()
def map_command(
    file: Path,
    out: Path | None,
    force: bool,
    columns: tuple[str, ...],
    us: str,
    season: int | None,
    yes: bool,
    output: Output,
    **how: Any,
) -> None:
    """Write a mapping for a spreadsheet: guess it, ask, and show ten rows back as plays."""
    from lensyard.features.plays.chart import mapping_beside, questions_of, this_season
    from lensyard.features.plays.report import mapping_document, mapping_report
    from lensyard.files import write_output
    from lensyard.plays.importing.guess import guess_mapping

    chosen = _column_choices(columns)
    questions = questions_of(file, chosen, season=season)
    if not (yes or output.as_json):
        chosen, us, season = _answers(questions, chosen, us=us, season=season)
    if season is None and not questions.dated:
        season = this_season()
        say(f"taking the season to be {season}; --season says another")
    guessed = guess_mapping(file, chosen, us=us, season=season, **how)
    target = out or mapping_beside(file)
    write_output(target, guessed.toml, replace=force)
    more = mapping_document(guessed) | {"written": str(target)}
    _show(output, guessed, mapping_report(guessed, written=str(target)), more=more)


def _column_choices(texts: tuple[str, ...]) -> dict[str, str]:
    """Return field -> column from texts such as ``down=DN``."""
    from lensyard.plays.importing.mapping import FIELDS

    found = {}
    for text in texts:
        field, equals, column = text.partition("=")
        if not equals or field not in FIELDS:
            raise click.UsageError(
                f"cannot read --column {text!r}; expected FIELD=COLUMN with one of "
                f"{', '.join(FIELDS)}"
            )
        found[field] = column
    return found


def _answers(
    questions: Questions, chosen: dict[str, str], *, us: str, season: int | None
) -> tuple[dict[str, str], str, int | None]:
    """Ask, and return columns, the club that charts, and the season."""
    from lensyard.features.plays.chart import this_season
    from lensyard.plays.importing.mapping import FIELDS

    for field in questions.columns:
        chosen[field] = click.prompt(
            f"Which column is {field} ({FIELDS[field]})",
            type=click.Choice(questions.header),
            err=True,
        )
    if questions.season:
        season = click.prompt("Season", type=int, default=this_season(), err=True)
    if questions.club:
        us = click.prompt("The club that charts", default=us, err=True)
    return chosen, us, season


@data_command.command("compare")
@click.argument("first", type=int)
@click.argument("second", type=int)
@click.option("--source", help="Of both seasons. Default: each season's own.")
@click.option(
    "--type", "season_type", type=click.Choice(["REG", "POST"]), default="REG", show_default=True
)
@output_options()
def compare_command(output: Output, **what: Any) -> None:
    """How two seasons differ: fourth downs, kickoffs, passes, scoring; with 95 % intervals."""
    from lensyard.features.plays.compute import compare_seasons
    from lensyard.features.plays.report import comparison_report
    from lensyard.plays.store import shared_store

    comparison = compare_seasons(shared_store(), **what)
    _show(output, comparison, comparison_report(comparison))
