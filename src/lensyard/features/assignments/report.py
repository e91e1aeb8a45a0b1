"""What an assignment comes to, in words, and a file to start one's own from."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from lensyard.domain.assignment import Assignment, Coverage, LightPreference
from lensyard.domain.shot_list import FRAME_OUTCOMES, schedule
from lensyard.domain.shots import FRAMES, FrameKind, Window
from lensyard.errors import InvalidInputError
from lensyard.features.assignments.file import FILE_SCHEMA_VERSION
from lensyard.model.context import SCHEMA_VERSION

_COVERAGE = {
    Coverage.BOTH: "both teams' plays count",
    Coverage.HOME: "the home team's plays count",
    Coverage.AWAY: "the visiting team's plays count",
}
_LIGHT = {
    LightPreference.IGNORE: "light does not change the order of spots",
    LightPreference.AVOID_BACKLIGHT: "backlit spots go down in the order",
    LightPreference.PREFER_BACKLIGHT: "front-lit spots go down in the order",
}
_OUTCOMES = {
    "touchdown": "touchdown",
    "gain20": "gain of 20 yd or more",
    "incompletion": "incompletion",
    "interception": "interception",
    "sack": "sack",
    "other": "any other carry or catch",
}


@dataclass(frozen=True, slots=True)
class AssignmentReport:
    """An assignment in words.

    Attributes
    ----------
    assignment, path
        What it is, and its file.
    lines
        Facts, one a line.
    remarks
        What may be a slip, or surprise.
    """

    assignment: Assignment
    path: Path
    lines: tuple[str, ...]
    remarks: tuple[str, ...]


def assignment_report(assignment: Assignment, path: Path) -> AssignmentReport:
    """Return an assignment with facts and remarks in words."""
    weights = assignment.weights
    order = sorted(_OUTCOMES, key=lambda name: -getattr(weights, name))
    value = ", ".join(f"{_OUTCOMES[name]} {getattr(weights, name):g}" for name in order)
    lines = [
        f"{assignment.name}: {assignment.about}" if assignment.about else assignment.name,
        f"the {assignment.faces.value}'s faces; {_COVERAGE[assignment.coverage]}; "
        f"{_LIGHT[assignment.light]}",
        f"a usable frame is worth: {value}",
    ]
    lines += [f"to bring home: {f.title} ({f.key}; {f.when})" for f in assignment.must_have]
    return AssignmentReport(assignment, path, tuple(lines), _remarks(assignment))


def _remarks(assignment: Assignment) -> tuple[str, ...]:
    weights, found = assignment.weights, []
    if not assignment.must_have:
        found.append("there is no shot list: nothing can be ticked")
    for key, outcomes in FRAME_OUTCOMES.items():
        listed = any(frame.key == key for frame in assignment.must_have)
        if listed and all(getattr(weights, name) == 0 for name in outcomes):
            found.append(
                f"{key} is on the shot list, but {' and '.join(outcomes)} weigh 0: no spot is "
                "chosen for it"
            )
    if weights.touchdown < weights.other:
        found.append("an ordinary play is worth more than a touchdown; that may be meant")
    crowded = [s.frame.key for s in schedule(assignment.must_have) if s.slot is None]
    if crowded:
        found.append(f"no break has room for {', '.join(crowded)}: they cost plays")
    return tuple(found)


def assignment_document(report: AssignmentReport) -> dict[str, Any]:
    """Return an assignment as one JSON document."""
    return {
        "schema_version": SCHEMA_VERSION,
        "path": str(report.path),
        "assignment": asdict(report.assignment),
        "remarks": list(report.remarks),
        # No estimate of plays stands behind an assignment.
        "model": None,
        "cautions": [],
    }


def new_assignment_text(name: str) -> str:
    """Return an assignment file to start from, with every key explained.

    Raises
    ------
    InvalidInputError
        If the name is empty, too long or holds a quotation mark or a line break.
    """
    if not 1 <= len(name.strip()) <= 80 or any(c in name for c in '"\\\n\r\t'):
        raise InvalidInputError(
            f"{name!r} cannot be an assignment's name; give 1 to 80 characters without quotation "
            "marks, backslashes and line breaks"
        )
    action = ", ".join(f'"{f.key}"' for f in FRAMES.values() if f.kind is FrameKind.ACTION)
    life = ", ".join(f'"{f.key}"' for f in FRAMES.values() if f.kind is FrameKind.LIFE)
    windows = ", ".join(window.value for window in Window)
    return f"""\
# What you are sent for. Check it with: lensyard assignment check FILE
schema_version = {FILE_SCHEMA_VERSION}
name = "{name.strip()}"
# One sentence on whom it is for.
about = ""
# Whose faces the frames must show: offense or defense.
faces = "offense"
# Whose plays count: both, home or away.
coverage = "both"
# What light should do to the order of spots: ignore, avoid-backlight or prefer-backlight.
light = "ignore"

# Frames that have to come home; leave out what nobody asks for.
# Action: {action}
# Life around the game: {life}
must_have = ["drop-back", "carrier", "catch", "touchdown", "fans", "coaches"]

# What a usable frame of each outcome is worth, 0 to 100; an ordinary carry or catch is 1.
[weights]
touchdown = 10.0
gain20 = 4.0
incompletion = 0.5
interception = 1.0
sack = 1.0
other = 1.0

# A frame of your own, as many as you like; take the # away.
# Windows, the best first: {windows}
# [[frame]]
# key = "alumni-row"
# title = "the alumni in row one"
# kind = "life"
# windows = ["halftime", "quarter-break"]
# minutes = 1.5
# where = "in front of the stand"
"""
