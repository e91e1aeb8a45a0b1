"""``lensyard log``: keep the log of a game, play by play; ``lensyard demo``: an invented game."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lensyard.features.game_log.entries import NewGameOptions, PlayEntry
from lensyard.options.choices import Number, Text, choice
from lensyard.options.click_options import Output, options, output_options, say, typed_values
from lensyard.options.groups import AssignmentOptions, LensOptions, VenueOptions
from lensyard.records import Record
from lensyard.running import note_done

if TYPE_CHECKING:
    from lensyard.features.game_log.compute import LogAnswer
    from lensyard.render.report import Report


class WaitOptions(Record):
    """How long to wait for the log."""

    wait_s: float = choice(
        10.0, Number(0, 3600), "wait", "", "Seconds to wait while another lensyard has it open."
    )

    def arguments(self) -> dict[str, Any]:
        """Return what a use case is told besides what was typed for it."""
        return {}


class LogOptions(WaitOptions):
    """Which game of the log, and how long to wait for it."""

    game_id: str | None = choice(
        None, Text(), "game", "", "A game's id. Default: the one going on, else the last."
    )

    def arguments(self) -> dict[str, Any]:
        """Return the game, as use cases take it."""
        return {"game_id": self.game_id}


@click.group("log", context_settings={"help_option_names": ["-h", "--help"]})
def log_command() -> None:
    """The log of a game: what was played, where you stood, what you shot and kept.

    \b
    lensyard log start --home Marmots --away Kites --assignment agency
    lensyard log add --down 3 --distance 7 --ball opp35 --spot left:opp20 \\
        --result complete --gain 12 --frames 8 --keepers 2 --tick catch
    lensyard log undo
    """
    note_done("nothing was logged")


def _show(
    log: WaitOptions,
    output: Output,
    use_case: Callable[..., LogAnswer],
    *values: Any,
    report: Callable[[LogAnswer], Report] | None = None,
    writing: bool = True,
    **more: Any,
) -> None:
    """Open the log for a use case and write its answer; a reminder goes to standard error."""
    from lensyard.features.game_log.report import answer_report, reminder_section
    from lensyard.game.logbook import open_log

    with open_log(wait_s=log.wait_s, writing=writing) as book:
        answer = use_case(book, *values, **log.arguments(), **more)
    output.show(answer, report or answer_report)
    section = None if answer.reminder is None else reminder_section(answer.reminder.report)
    if section is not None:
        bar = "!" * 72
        lines = [bar, f"  {section.title.upper()}", *(f"  {line}" for line in section.lines), bar]
        click.echo("\a" + click.style("\n".join(lines), bold=True), err=True)


@log_command.command("start")
@options(NewGameOptions, VenueOptions, AssignmentOptions, LensOptions, WaitOptions)
@output_options()
def start_command(
    new_game: NewGameOptions,
    venue: VenueOptions,
    assignment: AssignmentOptions,
    lens: LensOptions,
    wait: WaitOptions,
    output: Output,
) -> None:
    """Start a game."""
    from lensyard.features.game_log.compute import start_game

    kit = lens if typed_values(LensOptions) else None
    _show(wait, output, start_game, new_game, venue=venue, assignment=assignment, lenses=kit)


@log_command.command("add")
@options(PlayEntry, LogOptions)
@output_options()
def add_command(play_entry: PlayEntry, log: LogOptions, output: Output) -> None:
    """Add a play; once this answers, the play is on the disk."""
    from lensyard.features.game_log.compute import add_play

    _show(log, output, add_play, play_entry)


@log_command.command("edit")
@click.argument("number", type=int)
@options(PlayEntry, LogOptions)
@output_options()
def edit_command(number: int, play_entry: PlayEntry, log: LogOptions, output: Output) -> None:
    """Change what is said of play NUMBER; what is left out stays."""
    from lensyard.features.game_log.compute import edit_play

    _show(log, output, edit_play, number, play_entry)


@log_command.command("undo")
@options(LogOptions)
@output_options()
def undo_command(log: LogOptions, output: Output) -> None:
    """Take back the last change, and with every further call the one before."""
    from lensyard.features.game_log.compute import undo_last

    _show(log, output, undo_last)


@log_command.command("tick")
@click.argument("frames", nargs=-1)
@click.option("--off", is_flag=True, help="Take the ticks away.")
@options(LogOptions)
@output_options()
def tick_command(frames: tuple[str, ...], off: bool, log: LogOptions, output: Output) -> None:
    """Tick must-have FRAMES that no play brought; without any, say what is missing."""
    from lensyard.features.game_log.compute import tick_frames

    _show(log, output, tick_frames, frames, off=off)


@log_command.command("list")
@options(LogOptions)
@output_options()
def list_command(log: LogOptions, output: Output) -> None:
    """The plays of a game."""
    from lensyard.features.game_log.compute import list_game
    from lensyard.features.game_log.report import game_report

    _show(log, output, list_game, report=game_report, writing=False)


@log_command.command("end")
@options(LogOptions)
@output_options()
def end_command(log: LogOptions, output: Output) -> None:
    """End a game: what is missing after the final whistle, and on to the review."""
    from lensyard.features.game_log.compute import end_game

    _show(log, output, end_game)


@log_command.command("import")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@options(LogOptions)
@output_options()
def import_command(file: Path, log: LogOptions, output: Output) -> None:
    """Add the plays that the offline card saved in FILE; a second time adds nothing."""
    from lensyard.features.game_log.compute import import_card
    from lensyard.game.document import read_text

    _show(log, output, import_card, read_text(file), where=file.name)


@log_command.command("merge")
@click.argument("files", nargs=-1, required=True, metavar="[NAME=]FILE...")
@click.option("--as", "as_id", help="The merged game's id. Default: the first log's.")
@click.option("--dry-run", is_flag=True, help="Say what would be, and leave the log as it is.")
@options(WaitOptions)
@output_options()
def merge_command(
    files: tuple[str, ...], as_id: str | None, dry_run: bool, wait: WaitOptions, output: Output
) -> None:
    """Merge the logs of several photographers into one game by time; a second time adds nothing.

    FILE is what `lensyard log export` or the offline card saved; NAME is who shot, by default the
    file's. A card alone does not say the teams, so a log comes first, or --as names a game.

    \b
    lensyard log merge ann=ann.json bo=bo.json cy=card.json --as week-5
    """
    from lensyard.features.game_log.merge import merge_files
    from lensyard.features.game_log.report import merge_report
    from lensyard.game.logbook import open_log

    with open_log(wait_s=wait.wait_s, writing=not dry_run) as book:
        found = merge_files(book, files, game_id=as_id, dry_run=dry_run)
    output.show(found, merge_report)


@log_command.command("restore")
@click.argument("file", required=False, type=click.Path(dir_okay=False, path_type=Path))
@click.option("--as", "as_id", help="Another id for the game.")
@options(WaitOptions)
@output_options()
def restore_command(
    file: Path | None, as_id: str | None, wait: WaitOptions, output: Output
) -> None:
    """Bring a game back from its JSON export FILE, as a new game.

    Without a FILE every game whose file was damaged, lost or is behind its copy is written anew
    from the copy.
    """
    from lensyard.features.game_log.compute import heal_games, restore_game
    from lensyard.game.document import read_log, read_text

    if file is None:
        if as_id is not None:
            raise click.UsageError("--as needs the FILE that the game comes from")
        _show(wait, output, heal_games)
        return
    log = read_log(read_text(file), where=file.name)
    _show(wait, output, restore_game, log if as_id is None else log.renamed(as_id))


@log_command.command("games")
@options(WaitOptions)
@output_options()
def games_command(wait: WaitOptions, output: Output) -> None:
    """All games."""
    from lensyard.features.game_log.compute import list_games
    from lensyard.features.game_log.report import games_report
    from lensyard.game.logbook import open_log

    with open_log(wait_s=wait.wait_s, writing=False) as book:
        games = list_games(book)
    output.show(games, games_report)


@log_command.command("export")
@click.option("--form", type=click.Choice(["json", "csv"]), default="json", show_default=True,
              help="json holds everything and can be restored; csv holds the plays.")  # fmt: skip
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path),
              help="A file to write. Default: standard output.")  # fmt: skip
@click.option("--force", is_flag=True, help="Replace a file that is there.")
@options(LogOptions)
def export_command(form: str, out: Path | None, force: bool, log: LogOptions) -> None:
    """Write a game as JSON or CSV."""
    from lensyard.files import write_output
    from lensyard.game.document import log_text, plays_csv
    from lensyard.game.logbook import open_log

    with open_log(wait_s=log.wait_s, writing=False) as book:
        game, now = book.log(log.game_id), book.now()
    text = plays_csv(game) if form == "csv" else log_text(game, exported_at=now)
    if out is None:
        click.echo(text, nl=False)
        return
    write_output(out, text, replace=force)
    say(f"wrote {out}")


@click.command("demo")
@click.option(
    "--build",
    type=click.Path(file_okay=False, path_type=Path),
    help="Write the demo's files (log, capture times, photographs) into this folder instead.",
)
@output_options()
def demo_command(build: Path | None, output: Output) -> None:
    """Put an invented game into your log, under the id demo, and say what to try on it.

    Teams, stadium, plays and photographs are made up.
    """
    from lensyard.features.game_log.compute import install_demo, write_demo
    from lensyard.features.game_log.report import demo_report
    from lensyard.game.logbook import open_log

    if build is not None:
        write_demo(build)
        say(f"wrote the demo into {build}")
        return
    with open_log() as book:
        answer = install_demo(book)
    output.show(answer, demo_report)
