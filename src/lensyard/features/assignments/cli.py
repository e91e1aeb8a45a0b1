"""``lensyard assignment``: list, show, check and write assignments."""

from __future__ import annotations

from lensyard.features.assignments.report import assignment_document, assignment_report
from lensyard.options.settings_commands import SettingsCommands, settings_commands
from lensyard.settings.assignment_file import ASSIGNMENTS, new_assignment_text

assignment_command = settings_commands(
    SettingsCommands(
        kind=ASSIGNMENTS,
        about="Assignments: what you are sent for, as weights, faces, a shot list and what light "
        "should do.\n\nAn assignment is a TOML file. Commands take its path, or the plain name of "
        "a saved or bundled one: --assignment newspaper.",
        template=new_assignment_text,
        report=assignment_report,
        document=assignment_document,
        judged=("assignment", "remarks", "model", "cautions"),
    )
)
