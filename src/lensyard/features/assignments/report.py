"""An assignment in words: what it is worth, what has to come home, and what may be a slip."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from lensyard.domain.assignment import Assignment, Coverage, LightPreference
from lensyard.domain.shot_list import FRAME_OUTCOMES, schedule
from lensyard.render.document import document
from lensyard.render.report import Report, Section
from lensyard.render.words import sentence

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


def assignment_report(assignment: Assignment) -> Report:
    """Describe an assignment."""
    weights = assignment.weights
    order = sorted(_OUTCOMES, key=lambda name: -getattr(weights, name))
    value = ", ".join(f"{_OUTCOMES[name]} {getattr(weights, name):g}" for name in order)
    home = tuple(f"{f.title} ({f.key}; {f.when})" for f in assignment.must_have)
    return Report(
        headline=sentence(
            f"{assignment.name}: {assignment.about}" if assignment.about else assignment.name
        ),
        sentences=(
            sentence(
                f"the {assignment.faces.value}'s faces; {_COVERAGE[assignment.coverage]}; "
                f"{_LIGHT[assignment.light]}"
            ),
            f"A usable frame is worth: {value}.",
        ),
        sections=(Section("To bring home", home),) if home else (),
        notes=tuple(sentence(remark) for remark in remarks(assignment)),
    )


def assignment_document(assignment: Assignment | None, path: Path) -> dict[str, Any]:
    """Return an assignment as one JSON document; None is a file that is not usable."""
    # No estimate of plays stands behind an assignment.
    rest: dict[str, Any] = {"model": None, "cautions": []}
    if assignment is None:
        return document({"remarks": [], **rest})
    facts = {"path": path, "assignment": assignment, "remarks": remarks(assignment)}
    return document(facts | rest)


def remarks(assignment: Assignment) -> list[str]:
    """Return what may be a slip, or surprise."""
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
    return found
