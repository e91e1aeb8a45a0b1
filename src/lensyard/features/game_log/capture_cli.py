"""``lensyard capture``: match frames with the plays of the log."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lensyard.options.cli_options import echo_json

if TYPE_CHECKING:
    from lensyard.features.game_log.captures import CaptureAnswer, CaptureRequest


@click.command("capture", context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("source", metavar="FOLDER|TIMES.csv", type=click.Path(path_type=Path))
@click.option("--game", "game_id", help="A game's id. Default: the one going on, else the last.")
@click.option(
    "--offset",
    "offsets",
    multiple=True,
    help="Seconds to add to the cameras' clocks, or to one camera's: BODY=SECONDS. Repeat.",
)
@click.option(
    "--match", is_flag=True, help="Find each camera's offset from the times of the plays."
)
@click.option("--accept", is_flag=True, help="Use an offset that was found even if it is not sure.")
@click.option("--dry-run", is_flag=True, help="Say what would be, and leave the log as it is.")
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def capture_command(
    source: Path,
    game_id: str | None,
    offsets: tuple[str, ...],
    match: bool,
    accept: bool,
    dry_run: bool,
    as_json: bool,
) -> None:
    """Give frames their plays by capture time, and count them in the log.

    Photographs are opened for reading only. A CSV file with the columns file, captured_at and,
    where known, body, focal_length_mm and rating does as well. Frames with a star or more in the
    file count as keepers.

    \b
    lensyard capture ~/frames --match
    lensyard capture times.csv --game 2026-10-03-kites-marmots --offset -3600
    """
    from lensyard.features.game_log.captures import CaptureRequest, capture_document

    request = CaptureRequest(source, game_id, offsets, match, accept, not dry_run)
    answer = _with_progress(request)
    if as_json:
        echo_json(capture_document(answer))
    else:
        from lensyard.features.game_log.report import capture_text

        click.echo(capture_text(answer))
    for skipped in answer.skipped:
        click.echo(f"left out {skipped.file}: {skipped.reason}", err=True)
    for warning in answer.warnings:
        click.echo(f"lensyard: {warning}", err=True)


def _with_progress(request: CaptureRequest) -> CaptureAnswer:
    """Match with a bar on standard error, where that is a terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    from lensyard.features.game_log.captures import match_captures

    columns = (TextColumn("reading"), BarColumn(), MofNCompleteColumn())
    console = Console(stderr=True)
    with Progress(
        *columns, console=console, transient=True, disable=not console.is_terminal
    ) as bar:
        task = bar.add_task("reading", total=None)

        def show(done: int, total: int) -> None:
            if done % 50 == 0 or done == total:
                bar.update(task, completed=done, total=total)

        return match_captures(request, progress=show)
