"""``lensyard venue`` and ``lensyard assignment``: list, show, check and write their files."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from lensyard.domain.field import RULES
from lensyard.features.settings import report as files_report
from lensyard.files import write_output
from lensyard.options.click_options import Output, echo_json, output_options, say
from lensyard.render.text import render_text
from lensyard.settings.files import ASSIGNMENTS, VENUES, new_assignment_text, new_venue_text
from lensyard.settings.reading import PLAIN_NAME, SUFFIX, SettingsKind

if TYPE_CHECKING:
    from lensyard.render.report import Report


Value = TypeVar("Value")
SCHEMA_VERSION = 2


def settings_commands(
    kind: SettingsKind[Value],
    *,
    about: str,
    template: Callable[..., str],
    report: Callable[[Value], Report],
    document: Callable[[Value | None, Path], dict[str, Any]],
    judged: tuple[str, ...],
    new_options: tuple[click.Option, ...] = (),
) -> click.Group:
    """Return the group of commands for files of a kind.

    - ``about``: help of the group.
    - ``template``: returns a file to start from: of a name, and of ``new_options`` by their names.
    - ``report``: returns what a file comes to.
    - ``document``: returns the same for JSON, of a value and its path; None is a file that is not
      usable.
    - ``judged``: the parts of the document that ``check`` has beside its judgment.
    - ``new_options``: further click options of ``new``.
    """
    noun = kind.noun
    group = click.Group(noun, help=about, context_settings={"help_option_names": ["-h", "--help"]})

    @group.command("list", help=f"List the {noun}s that have a plain name: yours come first.")
    @output_options()
    def list_command(output: Output) -> None:
        names = kind.names()
        if output.as_json:
            rows = [{"name": name, "path": str(path)} for name, path in names.items()]
            listed = {"schema_version": SCHEMA_VERSION, f"{noun}s": rows}
            echo_json(listed | {"model": None, "cautions": []})
            return
        for name, path in names.items():
            click.echo(f"{name}\t{path}")

    @group.command("show", help=f"Say in words what a {noun} comes to; by its NAME or path.")
    @click.argument("name")
    @output_options()
    def show_command(name: str, output: Output) -> None:
        path, value = kind.path(name), kind.load(name)
        output.show(value, report, lambda value: document(value, path))

    @group.command(
        "check",
        help=f"Say whether a {noun} is usable, by its NAME or path; exit code 2 when it is not. "
        "Every issue names line, key and what was expected.",
    )
    @click.argument("name")
    @output_options()
    def check_command(name: str, output: Output) -> None:
        path = kind.path(name)
        value, issues = kind.read(kind.text(path))
        if output.as_json:
            judgment = {"path": str(path), "is_usable": value is not None}
            rest = document(value, path)
            echo_json(
                {"schema_version": SCHEMA_VERSION, **judgment}
                | {"problems": [asdict(issue) for issue in issues]}
                | {key: rest[key] for key in judged if key in rest}
            )
        elif value is not None:
            click.echo(f"{path} is a usable {noun}\n")
            click.echo(render_text(report(value)), nl=False)
        else:
            click.echo(f"{path} is not a usable {noun}:", err=True)
            for issue in issues:
                click.echo(f"  {path}, {issue.text}", err=True)
        if value is None:
            sys.exit(2)

    @group.command(
        "new",
        help=f"Write a {noun} file to start from, with every key explained.\n\n"
        f'\b\n{kind.writer} "Our name" --out ours.toml\n'
        f'{kind.writer} "Our name" --save       then: --{noun} our-name',
    )
    @click.argument("name")
    @click.option(
        "--out",
        type=click.Path(dir_okay=False, path_type=Path),
        help="Write to this file. Default: standard output.",
    )
    @click.option("--save", is_flag=True, help=f"Keep it among your {noun}s, under a plain name.")
    @click.option("--force", is_flag=True, help="Replace a file that is there.")
    def new_command(name: str, out: Path | None, save: bool, force: bool, **options: Any) -> None:
        text = template(name, **options)
        if save and out is not None:
            raise click.UsageError("give --out or --save, not both")
        if save:
            out = _saved_path(kind, name)
            out.parent.mkdir(parents=True, exist_ok=True)
        if out is None:
            click.echo(text, nl=False)
            return
        write_output(out, text, replace=force)
        say(f"wrote {out}; fill it in, then: lensyard {noun} check {out}")

    new_command.params.extend(new_options)
    return group


def _saved_path(kind: SettingsKind[Any], name: str) -> Path:
    plain = re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:64].strip("-")
    if not PLAIN_NAME.fullmatch(plain):
        raise click.UsageError(f"{name!r} makes no plain file name; give --out FILE instead")
    return kind.saved_dir() / f"{plain}{SUFFIX}"


venue_command = settings_commands(
    VENUES,
    about="Venue files: what is closed, where the sun is, what the lamps give.\n\n"
    "A venue is a TOML file. Commands take its path, or the plain name of a saved or bundled "
    "one: --venue brindle-prairie.",
    template=new_venue_text,
    report=files_report.venue_report,
    document=files_report.venue_facts,
    judged=("remarks", "model", "cautions"),
    new_options=(
        click.Option(
            ["--rules"],
            type=click.Choice(list(RULES)),
            default="pro",
            show_default=True,
            help="Rule set; fills in setbacks and team areas.",
        ),
    ),
)


assignment_command = settings_commands(
    ASSIGNMENTS,
    about="Assignments: what you are sent for, as weights, faces, a shot list and what light "
    "should do.\n\nAn assignment is a TOML file. Commands take its path, or the plain name of "
    "a saved or bundled one: --assignment newspaper.",
    template=new_assignment_text,
    report=files_report.assignment_report,
    document=files_report.assignment_document,
    judged=("assignment", "remarks", "model", "cautions"),
)
