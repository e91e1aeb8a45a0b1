"""Click options made from groups of options, and where a command's answer goes.

>>> import click
>>> from lensyard.options.groups import KitOptions
>>> @click.command()
... @options(KitOptions)
... @output_options()
... def carry(kit: KitOptions, output: Output) -> None:
...     click.echo(kit.kit().text)
>>> carry.main(["--lens", "70-200"], standalone_mode=False)
70-200 (1 body, reach 20 yd)
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click
from click.core import ParameterSource

from lensyard.options.choices import (
    Choice,
    Number,
    OneOf,
    Switch,
    Texts,
    choices_of,
    default_of,
)
from lensyard.records import Record
from lensyard.running import note_answered

if TYPE_CHECKING:
    from lensyard.render.report import Report

Command = TypeVar("Command", bound=Callable[..., Any])
Found = TypeVar("Found")


class ChoiceOption(click.Option):
    """An option that was made from the table of choices."""


def options(
    *groups: type[Any], optional: Iterable[type[Any]] = (), required: Iterable[str] = ()
) -> Callable[[Command], Command]:
    """Give a command the options of groups, and one instance of each group as an argument.

    The argument is named after the group: ``kit`` for `KitOptions`, ``walk_limit`` for
    `WalkLimitOptions`. What nobody typed holds the group's default.

    - ``groups``: in the order of the help.
    - ``optional``: groups that are None unless everything that they require is typed.
    - ``required``: fields that this command needs beside those that their group requires.
    """
    spared, needed = tuple(optional), tuple(required)

    def decorate(function: Command) -> Command:
        @wraps(function)
        def command(*args: Any, **values: Any) -> Any:
            context = click.get_current_context()
            for group in groups:
                for name in choices_of(group):
                    del values[name]
                values[argument_name(group)] = _instance(group, context, group in spared)
            return function(*args, **values)

        decorated: Any = command
        for group in reversed(groups):
            for name, what in reversed(list(choices_of(group).items())):
                must = name in needed or (what.required and group not in spared)
                decorated = _click_option(group, name, what, must=must)(decorated)
        result: Command = decorated
        return result

    return decorate


def argument_name(group: type[Any]) -> str:
    """Return the argument that takes an instance of a group.

    >>> from lensyard.options.groups import WalkLimitOptions
    >>> argument_name(WalkLimitOptions)
    'walk_limit'
    """
    name = group.__name__.removesuffix("Options")
    return re.sub(r"(?<=.)([A-Z])", r"_\1", name).lower()


def typed_values(group: type[Any]) -> dict[str, Any]:
    """Return the fields of a group that were typed in the running command, with their values.

    Raises `InvalidInputError` if a text cannot be read, or a value is outside its limits;
    `click.UsageError` if two options were typed that say the same.
    """
    return _typed(group, click.get_current_context())


def _typed(group: type[Any], context: click.Context) -> dict[str, Any]:
    found = {}
    for name, what in choices_of(group).items():
        source = context.get_parameter_source(name)
        if source in (ParameterSource.COMMANDLINE, ParameterSource.ENVIRONMENT):
            given = context.params[name]
            kind = what.typed or what.kind
            texts = list(given) if isinstance(given, tuple) else [given]
            found[name] = given if isinstance(given, bool) else kind.read(texts, name=what.name)
    for name in found:
        what = choices_of(group)[name]
        if beside := [choices_of(group)[n].flag for n in what.in_place_of if n in found]:
            raise click.UsageError(
                f"{what.flag} already says what {' and '.join(beside)} would; leave one of the "
                "two out"
            )
    return found


def _instance(group: type[Any], context: click.Context, is_optional: bool) -> Any:
    found = _typed(group, context)
    needed = (name for name, what in choices_of(group).items() if what.required)
    if is_optional and not all(name in found for name in needed):
        return None
    return group(**found)


def _click_option(
    group: type[Any], name: str, what: Choice, *, must: bool
) -> Callable[[Command], Command]:
    kind = what.typed or what.kind
    if isinstance(kind, Switch) and kind.is_flag:
        return click.option(what.flag, name, cls=ChoiceOption, is_flag=True, help=what.help)
    names: tuple[str, ...] = ()
    if isinstance(kind, Switch):
        names = (kind.no, kind.yes)
    elif isinstance(kind, OneOf):
        names = kind.known
    default = default_of(group, name)
    text = what.help
    if default not in (None, "") and not (must or what.required) and "Default" not in text:
        text = f"{text} Default: {', '.join(kind.write(default))}."
    return click.option(
        what.flag,
        name,
        cls=ChoiceOption,
        type=click.Choice(names) if names else str,
        metavar="NUMBER" if isinstance(kind, Number) else None,
        multiple=isinstance(kind, Texts),
        required=must,
        help=text,
    )


class Output(Record):
    """Where a command's answer goes.

    - ``as_json``: one JSON document on standard output in place of text.
    - ``more``: everything the report says, also what is only detail.
    - ``plot``: a file for the charts, beside the answer.
    """

    as_json: bool = False
    plot: Path | None = None
    more: bool = False

    def show(
        self,
        found: Found,
        report: Callable[[Found], Report],
        document: Callable[[Found], dict[str, Any]] | None = None,
    ) -> None:
        """Write an answer: its report as text or its document as JSON, and the charts to a file.

        - ``report``, ``document``: make them of what was found, by default the document as
          `lensyard.render.text.document` does; only what is asked for is made.
        """
        from lensyard.render import text

        if self.plot is not None:
            from lensyard.render.paper_chart import save_charts
            from lensyard.render.theme import THEMES

            save_charts(report(found), self.plot, theme=THEMES["print"])
            say(f"wrote {self.plot}")
        if self.as_json:
            echo_json((document or text.document)(found))
        else:
            click.echo(text.render_text(report(found), brief=not self.more), nl=False)


def output_options(
    *, plot: str = "", json_help: str = "One JSON document."
) -> Callable[[Command], Command]:
    """Give a command --json, and --plot where ``plot`` says what it draws, as ``output: Output``.

    A file for --plot that cannot be drawn is refused before anything is computed.
    """

    def decorate(function: Command) -> Command:
        @wraps(function)
        def command(
            *args: Any, as_json: bool, more: bool, plot: Path | None = None, **values: Any
        ) -> Any:
            if plot is not None:
                from lensyard.render.paper_chart import require_plot_file

                require_plot_file(plot)
            return function(*args, output=Output(as_json, plot, more), **values)

        decorated: Any = click.option("--json", "as_json", is_flag=True, help=json_help)(command)
        more = click.option("--more", is_flag=True, help="Also the tables and sentences of detail.")
        decorated = more(decorated)
        if plot:
            path = click.Path(dir_okay=False, path_type=Path)
            decorated = click.option("--plot", type=path, help=plot)(decorated)
        result: Command = decorated
        return result

    return decorate


def echo_json(document: dict[str, Any]) -> None:
    """Write one JSON document to standard output."""
    from lensyard.render.text import json_text

    text = json_text(document)
    note_answered()
    click.echo(text)


def say(text: str) -> None:
    """Say on standard error what takes a while, what was assumed, or what was written."""
    click.echo(f"lensyard: {text}", err=True)
