"""``lensyard assignment``: list, show, check and write assignments."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import click

from lensyard.options.cli_options import echo_json


@click.group("assignment", context_settings={"help_option_names": ["-h", "--help"]})
def assignment_command() -> None:
    """Assignments: what you are sent for, as weights, faces, a shot list and what light should do.

    An assignment is a TOML file. Commands take its path, or the plain name of a saved or bundled
    one: --assignment newspaper.
    """


@assignment_command.command("list")
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def list_command(as_json: bool) -> None:
    """List the assignments that have a plain name: yours, and those that come along."""
    from lensyard.features.assignments.file import assignment_from_file, assignment_names

    names = assignment_names()
    if as_json:
        rows = [{"name": name, "path": str(path)} for name, path in names.items()]
        echo_json({"schema_version": 1, "assignments": rows, "model": None, "cautions": []})
        return
    for name, path in names.items():
        click.echo(f"{name}\t{assignment_from_file(path).about}")


@assignment_command.command("show")
@click.argument("assignment")
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def show_command(assignment: str, as_json: bool) -> None:
    """Say in words what an assignment comes to."""
    from lensyard.features.assignments.file import assignment_from_file, assignment_path
    from lensyard.features.assignments.report import assignment_document, assignment_report

    path = assignment_path(assignment)
    report = assignment_report(assignment_from_file(path), path)
    if as_json:
        echo_json(assignment_document(report))
        return
    for line in report.lines:
        click.echo(line)
    for remark in report.remarks:
        click.echo(f"note: {remark}")


@assignment_command.command("check")
@click.argument("assignment")
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def check_command(assignment: str, as_json: bool) -> None:
    """Say whether an assignment file is usable; exit code 2 when it is not.

    Every problem names line, key and what was expected.
    """
    from lensyard.errors import InvalidInputError
    from lensyard.features.assignments.file import assignment_from_file, assignment_path
    from lensyard.features.assignments.report import assignment_document, assignment_report

    path = assignment_path(assignment)
    try:
        report = assignment_report(assignment_from_file(path), path)
    except InvalidInputError as error:
        if as_json:
            echo_json(
                {
                    "schema_version": 1,
                    "path": str(path),
                    "is_usable": False,
                    "problem": str(error),
                    "model": None,
                    "cautions": [],
                }
            )
            sys.exit(2)
        raise
    if as_json:
        echo_json({**assignment_document(report), "is_usable": True})
        return
    click.echo(f"{path} is a usable assignment")
    for remark in report.remarks:
        click.echo(f"note: {remark}")


@assignment_command.command("new")
@click.argument("name")
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write to this file. Default: standard output.",
)
@click.option("--save", is_flag=True, help="Keep it among your assignments, under a plain name.")
@click.option("--force", is_flag=True, help="Replace a file that is there.")
def new_command(name: str, out: Path | None, save: bool, force: bool) -> None:
    """Write an assignment file to start from, with every key explained.

    \b
    lensyard assignment new "Harbor weekly" --out weekly.toml
    lensyard assignment new "Harbor weekly" --save       then: --assignment harbor-weekly
    """
    from lensyard.features.assignments.report import new_assignment_text

    text = new_assignment_text(name)
    if save and out is not None:
        raise click.UsageError("give --out or --save, not both")
    if save:
        out = _saved_path(name)
    if out is None:
        click.echo(text, nl=False)
        return
    _write(out, text, force=force)
    click.echo(f"wrote {out}; fill it in, then: lensyard assignment check {out}", err=True)


def _saved_path(name: str) -> Path:
    from lensyard.features.assignments.file import ASSIGNMENT_NAME, SUFFIX, saved_assignments_dir

    plain = re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:64].strip("-")
    if not ASSIGNMENT_NAME.fullmatch(plain):
        raise click.UsageError(f"{name!r} makes no plain file name; give --out FILE instead")
    return saved_assignments_dir() / f"{plain}{SUFFIX}"


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
