"""``lensyard venue`` and ``lensyard assignment``: list, show, check and write their files."""

from __future__ import annotations

import click

from lensyard.domain.field import RULES
from lensyard.features.settings import report
from lensyard.options.settings_commands import SettingsCommands, settings_commands
from lensyard.settings.files import ASSIGNMENTS, VENUES, new_assignment_text, new_venue_text

venue_command = settings_commands(
    SettingsCommands(
        kind=VENUES,
        about="Venue files: what is closed, where the sun is, what the lamps give.\n\n"
        "A venue is a TOML file. Commands take its path, or the plain name of a saved or bundled "
        "one: --venue brindle-prairie.",
        template=new_venue_text,
        report=report.venue_report,
        document=report.venue_facts,
        judged=("remarks", "model", "cautions"),
        new_options=(
            click.Option(
                ["--rules"],
                type=click.Choice(list(RULES)),
                default="pro",
                show_default=True,
                help="Rule set; fills in setbacks and team areas.",
            ),
        ),
    )
)
assignment_command = settings_commands(
    SettingsCommands(
        kind=ASSIGNMENTS,
        about="Assignments: what you are sent for, as weights, faces, a shot list and what light "
        "should do.\n\nAn assignment is a TOML file. Commands take its path, or the plain name of "
        "a saved or bundled one: --assignment newspaper.",
        template=new_assignment_text,
        report=report.assignment_report,
        document=report.assignment_document,
        judged=("assignment", "remarks", "model", "cautions"),
    )
)
