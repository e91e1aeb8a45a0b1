"""``lensyard log``: keep the log of a game, play by play; ``lensyard demo``: an invented game."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lensyard.features.game_log.entries import PlayEntry
from lensyard.features.game_log.setup import NewGameOptions
from lensyard.options.choices import Number, Text, choice
from lensyard.options.click_options import Output, options, output_options, say, typed_values
from lensyard.options.groups import AssignmentOptions, KitOptions, VenueOptions

if TYPE_CHECKING:
    from lensyard.features.game_log.compute import LogAnswer
    from lensyard.game.logbook import Logbook
    from lensyard.render.report import Report


@dataclass(frozen=True)
class LoggedGameOptions:
    """Which game of the log."""

    game_id: str | None = choice(
        None, Text(), "game", "", "A game's id. Default: the one going on, else the last."
    )


@dataclass(frozen=True)
class WaitOptions:
    """How long to wait for the log."""

    wait_s: float = choice(
        10.0,
        Number(0, 3600),
        "wait",
        "",
        "Seconds to wait while another lensyard has the log open.",
    )


@click.group("log", context_settings={"help_option_names": ["-h", "--help"]})
def log_command() -> None:
    """The log of a game: what was played, where you stood, what you shot and kept.

    \b
    lensyard log start --home Marmots --away Kites --assignment agency
    lensyard log add --down 3 --distance 7 --ball opp35 --spot left:opp20 \\
        --result complete --gain 12 --frames 8 --keepers 2 --tick catch
    lensyard log undo
    """


def _show(
    change: Callable[[Logbook], LogAnswer],
    *,
    wait: WaitOptions,
    output: Output,
    report: Callable[[LogAnswer], Report] | None = None,
) -> None:
    """Open the log, change it, and write the answer; a break's reminder goes to standard error."""
    from lensyard.features.game_log.report import answer_report, reminder_section
    from lensyard.game.logbook import open_log
    from lensyard.render.document import document

    with open_log(wait_s=wait.wait_s) as book:
        answer = change(book)
    output.show(lambda: (report or answer_report)(answer), document=lambda: document(answer))
    section = None if answer.reminder is None else reminder_section(answer.reminder.report)
    if section is not None:
        bar = "!" * 72
        lines = [bar, f"  {section.title.upper()}", *(f"  {line}" for line in section.lines), bar]
        click.echo("\a" + click.style("\n".join(lines), bold=True), err=True)


@log_command.command("start")
@options(NewGameOptions, VenueOptions, AssignmentOptions, KitOptions, WaitOptions)
@output_options()
def start_command(
    new_game: NewGameOptions,
    venue: VenueOptions,
    assignment: AssignmentOptions,
    kit: KitOptions,
    wait: WaitOptions,
    output: Output,
) -> None:
    """Start a game."""
    from lensyard.features.game_log.compute import start_game

    lenses = kit.lens_by_lens() if typed_values(KitOptions) else None
    _show(
        lambda book: start_game(book, new_game, venue=venue, assignment=assignment, lenses=lenses),
        wait=wait,
        output=output,
    )


@log_command.command("add")
@options(PlayEntry, LoggedGameOptions, WaitOptions)
@output_options()
def add_command(
    play_entry: PlayEntry, logged_game: LoggedGameOptions, wait: WaitOptions, output: Output
) -> None:
    """Add a play; once this answers, the play is on the disk."""
    from lensyard.features.game_log.compute import add_play

    game_id = logged_game.game_id
    _show(lambda book: add_play(book, play_entry, game_id=game_id), wait=wait, output=output)


@log_command.command("edit")
@click.argument("number", type=int)
@options(PlayEntry, LoggedGameOptions, WaitOptions)
@output_options()
def edit_command(
    number: int,
    play_entry: PlayEntry,
    logged_game: LoggedGameOptions,
    wait: WaitOptions,
    output: Output,
) -> None:
    """Change what is said of play NUMBER; what is left out stays."""
    from lensyard.features.game_log.compute import edit_play

    game_id = logged_game.game_id
    _show(
        lambda book: edit_play(book, number, play_entry, game_id=game_id), wait=wait, output=output
    )


@log_command.command("undo")
@options(LoggedGameOptions, WaitOptions)
@output_options()
def undo_command(logged_game: LoggedGameOptions, wait: WaitOptions, output: Output) -> None:
    """Take back the last change, and with every further call the one before."""
    from lensyard.features.game_log.compute import undo_last

    _show(lambda book: undo_last(book, game_id=logged_game.game_id), wait=wait, output=output)


@log_command.command("tick")
@click.argument("frames", nargs=-1)
@click.option("--off", is_flag=True, help="Take the ticks away.")
@options(LoggedGameOptions, WaitOptions)
@output_options()
def tick_command(
    frames: tuple[str, ...],
    off: bool,
    logged_game: LoggedGameOptions,
    wait: WaitOptions,
    output: Output,
) -> None:
    """Tick must-have FRAMES that no play brought; without any, say what is missing."""
    from lensyard.features.game_log.compute import tick_frames

    game_id = logged_game.game_id
    _show(
        lambda book: tick_frames(book, frames, off=off, game_id=game_id), wait=wait, output=output
    )


@log_command.command("list")
@options(LoggedGameOptions, WaitOptions)
@output_options()
def list_command(logged_game: LoggedGameOptions, wait: WaitOptions, output: Output) -> None:
    """The plays of a game."""
    from lensyard.features.game_log.compute import list_game
    from lensyard.features.game_log.report import game_report

    _show(
        lambda book: list_game(book, game_id=logged_game.game_id),
        wait=wait,
        output=output,
        report=game_report,
    )


@log_command.command("games")
@options(WaitOptions)
@output_options()
def games_command(wait: WaitOptions, output: Output) -> None:
    """All games."""
    from lensyard.features.game_log.compute import list_games
    from lensyard.features.game_log.report import games_report
    from lensyard.game.logbook import open_log
    from lensyard.render.document import document

    with open_log(wait_s=wait.wait_s) as book:
        games = list_games(book)
    output.show(lambda: games_report(games), document=lambda: document(games))


@log_command.command("end")
@options(LoggedGameOptions, WaitOptions)
@output_options()
def end_command(logged_game: LoggedGameOptions, wait: WaitOptions, output: Output) -> None:
    """End a game: what is missing after the final whistle, and on to the review."""
    from lensyard.features.game_log.compute import end_game

    _show(lambda book: end_game(book, game_id=logged_game.game_id), wait=wait, output=output)


@log_command.command("export")
@click.option("--form", type=click.Choice(["json", "csv"]), default="json", show_default=True,
              help="json holds everything and can be restored; csv holds the plays.")  # fmt: skip
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path),
              help="A file to write. Default: standard output.")  # fmt: skip
@click.option("--force", is_flag=True, help="Replace a file that is there.")
@options(LoggedGameOptions, WaitOptions)
def export_command(
    form: str, out: Path | None, force: bool, logged_game: LoggedGameOptions, wait: WaitOptions
) -> None:
    """Write a game as JSON or CSV."""
    from lensyard.files import write_output
    from lensyard.game.document import log_text, plays_csv
    from lensyard.game.logbook import open_log

    with open_log(wait_s=wait.wait_s) as book:
        log, now = book.log(logged_game.game_id), book.now()
    text = plays_csv(log) if form == "csv" else log_text(log, exported_at=now)
    if out is None:
        click.echo(text, nl=False)
        return
    write_output(out, text, replace=force)
    say(f"wrote {out}")


@log_command.command("import")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@options(LoggedGameOptions, WaitOptions)
@output_options()
def import_command(
    file: Path, logged_game: LoggedGameOptions, wait: WaitOptions, output: Output
) -> None:
    """Add the plays that the offline card saved in FILE; a second time adds nothing."""
    from lensyard.features.game_log.compute import import_card
    from lensyard.game.document import read_text

    text, game_id = read_text(file), logged_game.game_id
    _show(
        lambda book: import_card(book, text, where=file.name, game_id=game_id),
        wait=wait,
        output=output,
    )


@log_command.command("restore")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--as", "as_id", help="Another id for the game.")
@options(WaitOptions)
@output_options()
def restore_command(file: Path, as_id: str | None, wait: WaitOptions, output: Output) -> None:
    """Bring a game back from its JSON export FILE, as a new game."""
    from lensyard.features.game_log.compute import restore_game
    from lensyard.game.document import read_log, read_text

    log = read_log(read_text(file), where=file.name)
    log = log if as_id is None else log.renamed(as_id)
    _show(lambda book: restore_game(book, log), wait=wait, output=output)


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
    from lensyard.features.game_log.demo import install_demo, write_demo
    from lensyard.features.game_log.report import demo_report
    from lensyard.game.logbook import open_log
    from lensyard.render.document import document

    if build is not None:
        write_demo(build)
        say(f"wrote the demo into {build}")
        return
    with open_log() as book:
        answer = install_demo(book)
    output.show(lambda: demo_report(answer), document=lambda: document(answer))
