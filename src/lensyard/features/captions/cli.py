"""``lensyard capture``: match frames with the plays of the log."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import click

from lensyard.features.game_log.cli import LogOptions
from lensyard.options.click_options import Output, options, output_options


@click.command("capture", context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("source", metavar="FOLDER|TIMES.csv", type=click.Path(path_type=Path))
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
@options(LogOptions)
@output_options()
def capture_command(
    source: Path,
    offsets: tuple[str, ...],
    match: bool,
    accept: bool,
    dry_run: bool,
    log: LogOptions,
    output: Output,
) -> None:
    """Give frames their plays by capture time, and count them in the log.

    Photographs are opened for reading only. A CSV file with the columns file, captured_at and,
    where known, body, focal_length_mm and rating does as well. Frames with a star or more in the
    file count as keepers.

    \b
    lensyard capture ~/frames --match
    lensyard capture times.csv --game 2026-10-03-kites-marmots --offset -3600
    """
    from lensyard.features.captions.compute import match_captures, parse_offsets
    from lensyard.features.captions.exif import read_times
    from lensyard.features.captions.report import capture_report
    from lensyard.game.logbook import open_log
    from lensyard.render.text import document

    given = parse_offsets(offsets)
    with open_log(writing=False) as book:
        game = book.log(log.game_id)
    with _bar() as progress:
        times = read_times(source, zone=game.game.zone(), progress=progress)
    found = match_captures(game, times, offsets=given, find_clocks=match, accept=accept)
    if not dry_run:
        with open_log(wait_s=log.wait_s) as book:
            book.set_captures(game, found.counted, found.captures)
        found = replace(found, written=True)
    output.show(lambda: capture_report(found), document=lambda: document(found))


@contextmanager
def _bar() -> Iterator[Callable[[int, int], None]]:
    """Yield what shows progress, a bar on standard error where that is a terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("reading"), BarColumn(), MofNCompleteColumn())
    console = Console(stderr=True)
    with Progress(
        *columns, console=console, transient=True, disable=not console.is_terminal
    ) as bar:
        task = bar.add_task("reading", total=None)

        def show(done: int, total: int) -> None:
            if done % 50 == 0 or done == total:
                bar.update(task, completed=done, total=total)

        yield show
