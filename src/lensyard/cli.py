"""The command line: ``lensyard``.

Each command lives in a module of its own and is imported only when it is called, so that the answer
that is needed between two plays does not wait for what other commands need. Data goes to standard
output, everything else to standard error. Exit codes: 0 done, 1 failed, 2 wrong usage or input, 3
done but the answer could not be written, 130 interrupted. With --json a failure is a document too.
"""

from __future__ import annotations

import errno
import os
import sys
from contextlib import suppress
from importlib import import_module
from typing import Any, NoReturn

import click

from lensyard import running
from lensyard.errors import InvalidInputError, LensyardError

BEFORE, DURING, AFTER = "Before the game", "During the game", "After the game"
SEASON, DOUBT = "Over a season", "For doubters and builders"

# name: (when, module in lensyard and attribute, one line of help)
COMMANDS = {
    "plan": (BEFORE, "features.game_plan.cli:plan_command", "The plan for a game."),
    "gear": (BEFORE, "features.gear.cli:gear_command", "Compare kits: what to carry."),
    "crew": (BEFORE, "features.crew.cli:crew_command", "Where several photographers stand."),
    "zones": (BEFORE, "features.zones.cli:zones_command", "Which spots pay off by field zone."),
    "light": (BEFORE, "features.light.cli:light_command", "Sun and exposure over a game."),
    "sheet": (BEFORE, "features.sheet.cli:sheet_command", "The plan on one printed page."),
    "card": (BEFORE, "features.card.cli:card_command", "The offline card for a phone."),
    "venue": (BEFORE, "features.settings.cli:venue_command", "Write, check and show venue files."),
    "assignment": (BEFORE, "features.settings.cli:assignment_command", "What you are sent for."),
    "next": (DURING, "features.next_play.cli:next_command", "Where to stand for the next play."),
    "log": (DURING, "features.game_log.cli:log_command", "The log of a game, play by play."),
    "dashboard": (DURING, "dashboard.serve:dashboard_command", "The dashboard, in a browser."),
    "capture": (
        AFTER,
        "features.captions.cli:capture_command",
        "Match photographs with the log.",
    ),
    "review": (AFTER, "features.review.cli:review_command", "What a game or season brought."),
    "drill": (SEASON, "features.drill.cli:drill_command", "Practice on real situations."),
    "demo": (
        SEASON,
        "features.game_log.cli:demo_command",
        "An invented game to try things on.",
    ),
    "data": (
        SEASON,
        "features.plays.cli:data_command",
        "The plays: import, fetch, check, compare.",
    ),
    "model": (SEASON, "features.models.cli:model_command", "What a model is, or fit one."),
    "evidence": (DOUBT, "cli:evidence_group", "How good it is: backtests, scores, comparisons."),
}
EVIDENCE = {
    "show": (DOUBT, "features.evidence.cli:show_command", "What was measured, in words."),
    "backtest": (DOUBT, "features.evidence.cli:backtest_command", "Play a season again."),
    "sensitivity": (DOUBT, "features.evidence.cli:sensitivity_command", "When the lead holds."),
    "advice": (DOUBT, "features.evidence.cli:advice_command", "Published advice beside the plan."),
    "evaluate": (DOUBT, "features.evidence.cli:evaluate_command", "How good the model is."),
    "simulate": (DOUBT, "features.evidence.cli:simulate_command", "Drives drawn beside real ones."),
    "points": (DOUBT, "features.evidence.cli:points_command", "Expected points by field position."),
    "tendencies": (
        DOUBT,
        "features.evidence.cli:tendencies_command",
        "What knowing the club adds.",
    ),
    "build": (DOUBT, "features.evidence.cli:build_command", "Measure the model in use anew."),
}


class LazyGroup(click.Group):
    """A group that imports a command of a registry when it is asked for."""

    def __init__(self, registry: dict[str, tuple[str, str, str]], **attributes: Any) -> None:
        super().__init__(**attributes)
        self.registry = registry

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all commands, in the order of a game day."""
        return list(self.registry)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command by name, or None."""
        if cmd_name not in self.registry:
            return None
        module, _, attribute = self.registry[cmd_name][1].partition(":")
        with running.importing():
            command: click.Command = getattr(import_module(f"lensyard.{module}"), attribute)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command, or fail with the nearest name."""
        if args[0] not in self.registry and not args[0].startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(args[0], self.registry, n=1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            path = ctx.command_path
            ctx.fail(f"there is no command {args[0]!r}.{hint} `{path} --help` lists them.")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands by when they are used, without importing them."""
        phases = dict.fromkeys(when for when, _, _ in self.registry.values())
        for phase in phases:
            with formatter.section(phase if len(phases) > 1 else "Commands"):
                formatter.write_dl(
                    [
                        (name, text)
                        for name, (when, _, text) in self.registry.items()
                        if when == phase
                    ]
                )


_HELP = {"help_option_names": ["-h", "--help"]}


@click.group("evidence", cls=LazyGroup, registry=EVIDENCE, context_settings=_HELP)
def evidence_group() -> None:
    """How good the answers are: what was measured, and the means to measure it again."""


@click.group(cls=LazyGroup, registry=COMMANDS, context_settings=_HELP)
@click.version_option(package_name="lensyard", prog_name="lensyard")
def group() -> None:
    """Where to stand at an American football game: before it, during it and after it."""


def main(arguments: list[str] | None = None) -> None:
    """Run the command line; errors that a user can correct become one sentence."""
    if arguments is None:
        running.end_at_interrupt()
    running.begin(sys.argv[1:] if arguments is None else arguments, program=arguments is None)
    try:
        group.main(args=arguments, prog_name="lensyard", standalone_mode=False)
    except click.ClickException as error:
        _document("usage", error.format_message(), error.exit_code)
        error.show()
        sys.exit(error.exit_code)
    except LensyardError as error:
        _fail(type(error).__name__, str(error), 2 if isinstance(error, InvalidInputError) else 1)
    except (click.Abort, KeyboardInterrupt):
        _fail("interrupted", running.interrupted_text(), running.INTERRUPTED)
    except OSError as error:
        if not _is_of_output(error):
            _document(type(error).__name__, str(error), 1)
            raise
        _unsaid(error.strerror or str(error))
    except SystemExit as stop:
        if stop.code == 1 and type(sys.stdout).__name__ == "PacifyFlushWrapper":
            _unsaid("its reader has gone")
        raise
    except Exception as error:  # a defect, which crashes loudly; a program still gets its document
        _document(type(error).__name__, str(error), 1)
        raise


def _fail(kind: str, message: str, code: int) -> NoReturn:
    shown = "".join(c if c.isprintable() or c == "\n" else "?" for c in message)
    click.echo(f"lensyard: {shown}", err=True)
    _document(kind, message, code)
    sys.exit(code)


def _document(kind: str, message: str, code: int) -> None:
    """Write the document of a failure, if one was asked for."""
    with suppress(OSError):
        click.echo(running.error_text(kind, message, code), nl=False)


def _is_of_output(error: OSError) -> bool:
    """Return whether an error is of writing the answer: errors of files are said where they are."""
    return error.filename is None and error.errno in (errno.ENOSPC, errno.EPIPE, errno.EIO)


def _unsaid(why: str) -> NoReturn:
    """End where the answer cannot be written; whoever reads this must not do it all again."""
    done = running.last_done() if running.is_changed() else ""
    with suppress(OSError):  # what is left in the buffer has nowhere to go
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    said = f"the answer could not be written ({why})"
    click.echo(f"lensyard: {f'{done}; but ' if done else ''}{said}", err=True)
    sys.exit(running.UNSAID if running.is_changed() else 1)
