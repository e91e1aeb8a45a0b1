"""``lensyard log``: keep the log of a game, play by play."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from lensyard.domain.field import RULES
from lensyard.options.cli_options import echo_json, kit_options

if TYPE_CHECKING:
    from lensyard.features.game_log.compute import LogAnswer
    from lensyard.features.game_log.log_entries import PlayEntry

Command = TypeVar("Command", bound=Callable[..., Any])

RESULTS = (
    "run", "complete", "incomplete", "sack", "scramble", "interception", "kick", "no-play",
)  # fmt: skip
_game_option = click.option(
    "--game", "game_id", help="A game's id. Default: the one going on, else the last."
)
_json_option = click.option("--json", "as_json", is_flag=True, help="One JSON document.")
_wait_option = click.option(
    "--wait",
    "wait_s",
    type=click.FloatRange(0, 3600),
    default=10.0,
    show_default=True,
    help="Seconds to wait while another lensyard has the log open.",
)


def play_options(command: Command) -> Command:
    """Add the fields of a play."""
    for option in reversed(
        (
            click.option("--ball", help="own20, 50 or opp35."),
            click.option("--down", type=int, help="1 to 4; leave it out for a kickoff."),
            click.option("--distance", "distance_yd", type=int, help="To the line to gain."),
            click.option("--hash", "hash_mark", type=click.Choice(["left", "middle", "right"])),
            click.option("--spot", help="Where you stood: left:opp20, end:left12, or same."),
            click.option("--result", type=click.Choice(RESULTS), help="What happened."),
            click.option("--gain", "gain_yd", type=int, help="Yards gained or lost."),
            click.option("--air", "air_yd", type=int, help="Where an incompletion came down."),
            click.option(
                "--ended",
                help="Across the field: left-sideline, left, middle, right, right-sideline (the "
                "offense's), or yards from its right sideline.",
            ),
            click.option("--touchdown/--no-touchdown", default=None),
            click.option("--out/--in-bounds", "out_of_bounds", default=None),
            click.option("--frames", type=int, help="How many you shot."),
            click.option("--keepers", type=int, help="How many you keep."),
            click.option("--tick", "ticks", multiple=True, help="A must-have that it brought."),
            click.option("--quarter", type=int, help="1 to 4; 5 is overtime. Default: as before."),
            click.option("--clock", help="Left in the quarter, 5:30."),
            click.option(
                "--score", "score_diff", type=int, help="Offense's points less defense's."
            ),
            click.option("--offense", type=click.Choice(["home", "away"])),
            click.option("--attacking", help="The end the offense attacks: A or B."),
            click.option("--ball-changed-hands/--same-offense", "changed_hands", default=None),
            click.option("--at", help="When it was snapped: 14:05:33. Better capture matching."),
            click.option("--end-of-quarter/--no-end-of-quarter", "ends_quarter", default=None),
            click.option("--note", help="Anything else."),
        )
    ):
        command = option(command)
    return command


def _entry(fields: dict[str, Any]) -> PlayEntry:
    from lensyard.features.game_log.log_entries import PlayEntry

    return PlayEntry(**fields)


@click.group("log", context_settings={"help_option_names": ["-h", "--help"]})
def log_command() -> None:
    """The log of a game: what was played, where you stood, what you shot and kept.

    \b
    lensyard log start --home Marmots --away Kites --assignment agency
    lensyard log add --down 3 --distance 7 --ball opp35 --spot left:opp20 \\
        --result complete --gain 12 --frames 8 --keepers 2 --tick catch
    lensyard log undo
    """


def show(answer: LogAnswer, *, as_json: bool) -> None:
    """Write an answer: words or JSON on standard output, reminder and warnings aside."""
    from lensyard.features.game_log.compute import log_answer_document
    from lensyard.features.game_log.report import answer_text, reminder_text

    if as_json:
        echo_json(log_answer_document(answer))
    else:
        click.echo(answer_text(answer))
    for warning in answer.warnings:
        click.echo(f"lensyard: {warning}", err=True)
    if answer.reminder is not None:
        block = reminder_text(answer.reminder)
        if block:
            click.echo("\a" + click.style(block, bold=True), err=True)


@log_command.command("start")
@click.option("--home", required=True, help="What you call the home team.")
@click.option("--away", required=True, help="What you call the visitors.")
@click.option("--id", "game_id", help="The game's id. Default: day and teams.")
@click.option("--season", type=int, help="Default: this one.")
@click.option("--venue", default="", help="A venue's name or file. Default: any field.")
@click.option("--rules", type=click.Choice(list(RULES)), default="pro")
@click.option("--team-area", type=float, help="Team areas from this yard line; 50 closes nothing.")
@click.option("--assignment", default="", help="An assignment's name or file.")
@click.option("--faces", type=click.Choice(["offense", "defense"]), default="offense")
@click.option("--home-attacks", type=click.Choice(["A", "B"]), default="B", show_default=True,
              help="The end that the home team attacks in the first quarter.")  # fmt: skip
@kit_options
@_wait_option
@_json_option
def start_command(wait_s: float, as_json: bool, **fields: Any) -> None:
    """Start a game."""
    from lensyard.features.game_log.compute import GameSetup, start_game

    show(start_game(GameSetup(**fields), wait_s=wait_s), as_json=as_json)


@log_command.command("add")
@play_options
@_game_option
@_wait_option
@_json_option
def add_command(game_id: str | None, wait_s: float, as_json: bool, **fields: Any) -> None:
    """Add a play; once this answers, the play is on the disk."""
    from lensyard.features.game_log.compute import add_play

    show(add_play(_entry(fields), game_id=game_id, wait_s=wait_s), as_json=as_json)


@log_command.command("edit")
@click.argument("number", type=int)
@play_options
@_game_option
@_wait_option
@_json_option
def edit_command(
    number: int, game_id: str | None, wait_s: float, as_json: bool, **fields: Any
) -> None:
    """Change what is said of play NUMBER; what is left out stays."""
    from lensyard.features.game_log.compute import edit_play

    show(edit_play(number, _entry(fields), game_id=game_id, wait_s=wait_s), as_json=as_json)


@log_command.command("undo")
@_game_option
@_wait_option
@_json_option
def undo_command(game_id: str | None, wait_s: float, as_json: bool) -> None:
    """Take back the last change, and with every further call the one before."""
    from lensyard.features.game_log.compute import undo_last

    show(undo_last(game_id=game_id, wait_s=wait_s), as_json=as_json)


@log_command.command("tick")
@click.argument("frames", nargs=-1)
@click.option("--off", is_flag=True, help="Take the ticks away.")
@_game_option
@_wait_option
@_json_option
def tick_command(
    frames: tuple[str, ...], off: bool, game_id: str | None, wait_s: float, as_json: bool
) -> None:
    """Tick must-have FRAMES that no play brought; without any, say what is missing."""
    from lensyard.features.game_log.compute import tick_frames

    show(tick_frames(frames, off=off, game_id=game_id, wait_s=wait_s), as_json=as_json)


@log_command.command("list")
@_game_option
@_wait_option
@_json_option
def list_command(game_id: str | None, wait_s: float, as_json: bool) -> None:
    """The plays of a game."""
    from lensyard.features.game_log.compute import list_game
    from lensyard.features.game_log.report import log_text, missing_text

    answer = list_game(game_id=game_id, wait_s=wait_s)
    if as_json:
        show(answer, as_json=True)
        return
    click.echo(log_text(answer.log))
    missing = missing_text(answer)
    if missing:
        click.echo(f"\n{missing}")


@log_command.command("games")
@_wait_option
@_json_option
def games_command(wait_s: float, as_json: bool) -> None:
    """All games."""
    from lensyard.features.game_log.compute import games_document, list_games
    from lensyard.features.game_log.report import games_text

    games = list_games(wait_s=wait_s)
    if as_json:
        echo_json(games_document(games))
        return
    click.echo(games_text(games))


@log_command.command("end")
@_game_option
@_wait_option
@_json_option
def end_command(game_id: str | None, wait_s: float, as_json: bool) -> None:
    """End a game: what is missing after the final whistle, and on to the review."""
    from lensyard.features.game_log.compute import end_game

    show(end_game(game_id=game_id, wait_s=wait_s), as_json=as_json)


@log_command.command("export")
@click.option("--form", type=click.Choice(["json", "csv"]), default="json", show_default=True,
              help="json holds everything and can be restored; csv holds the plays.")  # fmt: skip
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path),
              help="A file to write. Default: standard output.")  # fmt: skip
@click.option("--force", is_flag=True, help="Replace a file that is there.")
@_game_option
def export_command(form: str, out: Path | None, force: bool, game_id: str | None) -> None:
    """Write a game as JSON or CSV."""
    from lensyard.features.game_log.compute import export_game

    text = export_game(form=form, game_id=game_id)
    if out is None:
        click.echo(text, nl=False)
        return
    if out.exists() and not force:
        raise click.UsageError(f"{out} is there already; give --force to replace it")
    from lensyard.files import write_atomically

    write_atomically(out, text)
    click.echo(f"wrote {out}", err=True)


@log_command.command("import")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@_game_option
@_json_option
def import_command(file: Path, game_id: str | None, as_json: bool) -> None:
    """Add the plays that the offline card saved in FILE; a second time adds nothing."""
    from lensyard.features.game_log.compute import import_card

    show(import_card(file, game_id=game_id), as_json=as_json)


@log_command.command("restore")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--as", "as_id", help="Another id for the game.")
@_json_option
def restore_command(file: Path, as_id: str | None, as_json: bool) -> None:
    """Bring a game back from its JSON export FILE, as a new game."""
    from lensyard.features.game_log.compute import restore_game

    show(restore_game(file, as_id=as_id), as_json=as_json)
