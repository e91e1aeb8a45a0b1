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
@click.option(
    "--captions",
    is_flag=True,
    help="Write what every frame of a play shows: XMP sidecars and one CSV.",
)
@click.option(
    "--template",
    default="",
    metavar="TEXT|FILE.txt",
    help="Their words, with placeholders such as [down]; --more lists them.",
)
@click.option(
    "--roster",
    "rosters",
    multiple=True,
    metavar="[home=|away=]FILE",
    help="CSV number,name; #12 in a note is the offense's, d#12 the defense's.",
)
@click.option(
    "--replace",
    "replacing",
    is_flag=True,
    help="Write over descriptions, and copies, that are there already.",
)
@click.option(
    "--table",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Where their CSV goes. Default: captions.csv beside the frames.",
)
@click.option(
    "--copies",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="FOLDER",
    help="Also copy JPEGs there with the caption inside, through exiftool.",
)
@options(LogOptions)
@output_options()
def capture_command(
    source: Path,
    offsets: tuple[str, ...],
    match: bool,
    accept: bool,
    dry_run: bool,
    captions: bool,
    template: str,
    rosters: tuple[str, ...],
    replacing: bool,
    table: Path | None,
    copies: Path | None,
    log: LogOptions,
    output: Output,
) -> None:
    """Give frames their plays by capture time, and count them in the log.

    Photographs are opened for reading only. A CSV file with the columns file, captured_at and,
    where known, body, focal_length_mm and rating does as well. Frames with a star or more, in the
    file or in its sidecar, count as keepers. Captions are merged into sidecars that are there:
    a description stays unless --replace, and so does everything else.

    \b
    lensyard capture ~/frames --match
    lensyard capture ~/frames --match --captions --dry-run
    lensyard capture times.csv --game 2026-10-03-kites-marmots --offset -3600
    """
    from lensyard.features.captions.captions import (
        DEFAULT_TEMPLATE,
        captions_of,
        read_rosters,
        read_template,
    )
    from lensyard.features.captions.compute import match_captures, parse_offsets
    from lensyard.features.captions.desk import (
        TABLE_NAME,
        make_copies,
        plan_captions,
        require_copies,
        with_ratings,
        write_captions,
    )
    from lensyard.features.captions.exif import read_times
    from lensyard.features.captions.report import capture_report
    from lensyard.game.entry import game_setup_of
    from lensyard.game.logbook import open_log

    if not captions and (template or rosters or replacing or table or copies):
        raise click.UsageError("what captions are made of needs --captions")
    given = parse_offsets(offsets)
    words, names = read_template(template or DEFAULT_TEMPLATE), read_rosters(rosters)
    folder = source if source.is_dir() else None
    tool = "" if copies is None else require_copies(copies, photographs=folder)
    with open_log(writing=False) as book:
        game = book.log(log.game_id)
    with _bar() as progress:
        times = read_times(source, zone=game.game.zone(), progress=progress)
    if folder is not None:
        times = with_ratings(times, folder)
    found = match_captures(game, times, offsets=given, find_clocks=match, accept=accept)
    plan = None
    if captions:
        venue = game_setup_of(game.game).venue.name if game.game.venue else ""
        every = captions_of(
            game, found.captures, template=words, venue=venue, rosters=names, sure=found.sure
        )
        if table is None and folder is None:
            table = source.with_name(f"{source.stem}-{TABLE_NAME}")
        plan = plan_captions(
            every,
            folder=folder,
            table=table or source / TABLE_NAME,
            headline=game.game.title,
            venue=venue,
            replace_descriptions=replacing,
        )
        found = replace(found, captions=plan.found)
    if not dry_run:
        if not found.settled(game):
            with open_log(wait_s=log.wait_s) as book:
                book.set_captures(game, found.counted, found.captures)
        found = replace(found, written=True)
        if plan is not None:
            written = write_captions(plan)
            if copies is not None:
                made, there, left = make_copies(
                    plan, tool=tool, folder=copies, photographs=source, replace_copies=replacing
                )
                written = replace(
                    written, copies=made, copies_there=there, left=(*written.left, *left)
                )
            found = replace(found, captions=written)
    output.show(found, capture_report)


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
