"""``lensyard venue``: list, show, check and write venue files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from lensyard.domain.field import RULES
from lensyard.domain.venue import Venue
from lensyard.options.settings_commands import SettingsCommands, settings_commands
from lensyard.render.report import Report
from lensyard.settings.venue_file import VENUES, new_venue_text


def _report(venue: Venue) -> Report:
    from lensyard.features.venues.compute import summarize_venue
    from lensyard.features.venues.report import venue_summary_report

    return venue_summary_report(summarize_venue(venue))


def _document(venue: Venue | None, _: Path) -> dict[str, Any]:
    from lensyard.features.venues.compute import summarize_venue
    from lensyard.features.venues.report import venue_summary_document

    return venue_summary_document(None if venue is None else summarize_venue(venue))


venue_command = settings_commands(
    SettingsCommands(
        kind=VENUES,
        about="Venue files: what is closed, where the sun is, what the lamps give.\n\n"
        "A venue is a TOML file. Commands take its path, or the plain name of a saved or bundled "
        "one: --venue brindle-prairie.",
        template=new_venue_text,
        report=_report,
        document=_document,
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
