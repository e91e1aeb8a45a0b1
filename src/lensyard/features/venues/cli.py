"""``lensyard venue``: write, check and show venue files."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import click

from lensyard.domain.field import RULES
from lensyard.options.cli_options import echo_json


@click.group("venue", context_settings={"help_option_names": ["-h", "--help"]})
def venue_command() -> None:
    """Venue files: what is closed, where the sun is, what the lamps give.

    A venue is a TOML file. Commands take its path, or the plain name of a saved or bundled one.
    """


@venue_command.command("new")
@click.argument("name")
@click.option(
    "--rules",
    type=click.Choice(list(RULES)),
    default="pro",
    show_default=True,
    help="Rule set; fills in setbacks and team areas.",
)
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write to this file. Default: standard output.",
)
@click.option("--save", is_flag=True, help="Keep it among your venues, under a plain name.")
@click.option("--force", is_flag=True, help="Replace a file that is there.")
def new_command(name: str, rules: str, out: Path | None, save: bool, force: bool) -> None:
    """Write a venue file to start from, with every key explained.

    \b
    lensyard venue new "Our field" --rules high-school --out our-field.toml
    lensyard venue new "Our field" --save       then: --venue our-field
    """
    from lensyard.features.venues.template import new_venue_text

    text = new_venue_text(name, rules=rules)
    if save and out is not None:
        raise click.UsageError("give --out or --save, not both")
    if save:
        out = _saved_path(name)
    if out is None:
        click.echo(text, nl=False)
        return
    _write(out, text, force=force)
    click.echo(f"wrote {out}; fill it in, then: lensyard venue check {out}", err=True)


def _saved_path(name: str) -> Path:
    from lensyard.features.venues.file import VENUE_NAME, saved_venues_dir

    plain = re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:64].strip("-")
    if not VENUE_NAME.fullmatch(plain):
        raise click.UsageError(f"{name!r} makes no plain file name; give --out FILE instead")
    return saved_venues_dir() / f"{plain}.toml"


def _write(path: Path, text: str, *, force: bool) -> None:
    """Write a file that is not there, or that may be replaced."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("w" if force else "x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise click.UsageError(
            f"{path} is there already; give --force to replace it, or another --out"
        ) from None
    except OSError as error:
        raise click.ClickException(
            f"cannot write {path} ({error.strerror or error}); give another --out"
        ) from error


@venue_command.command("check")
@click.argument("venue")
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def check_command(venue: str, as_json: bool) -> None:
    """Say whether a venue file is usable; exit code 2 when it is not.

    Every problem names line, key and what was expected.
    """
    from lensyard.features.venues.file import read_text, read_venue_text, venue_path
    from lensyard.features.venues.report import check_document, venue_report

    path = venue_path(venue)
    reading = read_text(read_venue_text(path))
    report = None if reading.venue is None else venue_report(reading.venue)
    if as_json:
        echo_json(check_document(str(path), reading.problems, report))
    elif report is not None:
        click.echo(f"{path} is a usable venue")
        _echo_report(report.remarks, report.cautions)
    else:
        click.echo(f"{path} is not a usable venue:", err=True)
        for problem in reading.problems:
            click.echo(f"  {path}, {problem.text}", err=True)
    if report is None:
        sys.exit(2)


@venue_command.command("show")
@click.argument("venue")
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def show_command(venue: str, as_json: bool) -> None:
    """Say in words what a venue file comes to."""
    from lensyard.features.venues.file import load_venue
    from lensyard.features.venues.report import report_document, venue_report

    report = venue_report(load_venue(venue))
    if as_json:
        echo_json(report_document(report))
        return
    for line in report.lines:
        click.echo(line)
    _echo_report(report.remarks, report.cautions)


@venue_command.command("list")
def list_command() -> None:
    """List the venues that have a plain name: yours, and the invented ones that come along."""
    from lensyard.features.venues.file import venue_names

    for name, path in venue_names().items():
        click.echo(f"{name}\t{path}")


def _echo_report(remarks: tuple[str, ...], cautions: tuple[str, ...]) -> None:
    for remark in remarks:
        click.echo(f"note: {remark}")
    for caution in cautions:
        click.echo(f"caution: {caution}")
