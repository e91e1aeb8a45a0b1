"""The command line: ``lensyard``.

Each command lives in a module of its own and is imported only when it is called, so that the answer
that is needed between two plays does not wait for what other commands need. Data goes to standard
output, everything else to standard error. Exit codes: 0 done, 1 failed, 2 wrong usage or input, 130
interrupted.
"""

from __future__ import annotations

import sys
from importlib import import_module

import click

from lensyard.errors import InvalidInputError, LensyardError

# name -> (module, attribute, one line of help)
COMMANDS: dict[str, tuple[str, str, str]] = {
    "next": (
        "lensyard.features.next_play.cli",
        "next_command",
        "Where to stand for the next play.",
    ),
    "plan": ("lensyard.features.game_plan.cli", "plan_command", "The plan for a game."),
    "gear": ("lensyard.features.gear.cli", "gear_command", "Compare kits: what to carry."),
    "crew": ("lensyard.features.crew.cli", "crew_command", "Where several photographers stand."),
    "assignment": (
        "lensyard.features.assignments.cli",
        "assignment_command",
        "What you are sent for: list, show, check and write assignments.",
    ),
    "backtest": ("lensyard.features.evidence.cli", "backtest_command", "Play a season again."),
    "evaluate": ("lensyard.features.evidence.cli", "evaluate_command", "How good the model is."),
    "evidence": ("lensyard.features.evidence.cli", "evidence_command", "What was measured, kept."),
    "model": (
        "lensyard.features.models.cli",
        "model_command",
        "Ask a model what it is, or fit one.",
    ),
    "data": (
        "lensyard.features.plays.cli",
        "data_command",
        "The plays: list, import, fetch, check, compare.",
    ),
    "zones": ("lensyard.features.zones.cli", "zones_command", "Which spots pay off by field zone."),
    "drill": ("lensyard.features.drill.cli", "drill_command", "Practice on real situations."),
    "sheet": ("lensyard.features.sheet.cli", "sheet_command", "The plan on one printed page."),
    "card": ("lensyard.features.card.cli", "card_command", "The offline card for a phone."),
    "light": ("lensyard.features.light.cli", "light_command", "Sun and exposure over a game."),
    "log": ("lensyard.features.game_log.cli", "log_command", "The log of a game, play by play."),
    "capture": (
        "lensyard.features.game_log.capture_cli",
        "capture_command",
        "Match frames with the log.",
    ),
    "review": ("lensyard.features.review.cli", "review_command", "What a game or season brought."),
    "demo": (
        "lensyard.features.game_log.demo_cli",
        "demo_command",
        "An invented game to try things on.",
    ),
    "venue": (
        "lensyard.features.venues.cli",
        "venue_command",
        "Write, check and show venue files.",
    ),
    "dashboard": (
        "lensyard.dashboard.serve",
        "dashboard_command",
        "The dashboard, in a browser.",
    ),
}


class LazyGroup(click.Group):
    """A group that imports a command when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all commands, in the order of a game day."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command by name, or None."""
        if cmd_name not in COMMANDS:
            return None
        module, attribute, _ = COMMANDS[cmd_name]
        command: click.Command = getattr(import_module(module), attribute)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command, or fail with the nearest name."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(args[0], list(COMMANDS), n=1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            ctx.fail(f"there is no command {args[0]!r}.{hint} `lensyard --help` lists them.")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, _, text) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="lensyard", prog_name="lensyard")
def group() -> None:
    """Where to stand at an American football game: before it, during it and after it."""


def main(arguments: list[str] | None = None) -> None:
    """Run the command line; errors that a user can mend become one sentence."""
    try:
        group.main(args=arguments, prog_name="lensyard", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except InvalidInputError as error:
        click.echo(f"lensyard: {error}", err=True)
        sys.exit(2)
    except LensyardError as error:
        click.echo(f"lensyard: {error}", err=True)
        sys.exit(1)
    except (click.Abort, KeyboardInterrupt):
        click.echo("lensyard: interrupted", err=True)
        sys.exit(130)
