"""``lensyard demo``: an invented game to try things on."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.options.cli_options import echo_json


@click.command("demo")
@click.option(
    "--build",
    type=click.Path(file_okay=False, path_type=Path),
    help="Write the demo's files anew into this folder instead.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def demo_command(build: Path | None, as_json: bool) -> None:
    """Put an invented game into your log, under the id demo, and say what to try on it.

    Teams, stadium, plays and photographs are made up.
    """
    from lensyard.features.game_log.demo import (
        build_demo,
        demo_document,
        install_demo,
        next_commands,
    )

    if build is not None:
        build_demo(build)
        click.echo(f"wrote the demo into {build}", err=True)
        return
    answer = install_demo()
    if as_json:
        echo_json(demo_document(answer))
        return
    click.echo(answer.text[:1].upper() + answer.text[1:] + ". Now try:\n")
    for command, what in next_commands():
        click.echo(f"  {command}\n      {what}")
