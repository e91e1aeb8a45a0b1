"""The questions of ``lensyard data map``; they go to standard error."""

from __future__ import annotations

from pathlib import Path

import click


def column_choices(texts: tuple[str, ...]) -> dict[str, str]:
    """Return field -> column from texts such as ``down=DN``.

    Raises
    ------
    click.UsageError
        If a text is of another form, or names no field.
    """
    from lensyard.service.data_map import fields

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
    from lensyard.service.data_map import fields, guessed_columns

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
