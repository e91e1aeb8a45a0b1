"""Assignment files: from their text to an assignment, or to everything that is wrong.

A file says whose plays count (``coverage``) and whose faces (``faces``), what a usable frame of
each outcome is worth (``[weights]``), the shot list (``must_have``, keys of the catalog in
`lensyard.domain.shots`), and may bring frames of its own (``[[frame]]``), which are on the shot
list too. The keys stand in `lensyard.settings.assignment_schema`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from lensyard.domain.assignment import Assignment, OutcomeWeights
from lensyard.domain.shots import FRAMES, MustHave
from lensyard.errors import UnknownNameError
from lensyard.settings.reading import Issues, Reading, SettingsKind, read_toml

if TYPE_CHECKING:
    from lensyard.settings.assignment_schema import AssignmentFile, FrameTable

_INTRO = """\
What you are sent for. A line that begins with "#" and a key is switched off: take the "#" away to \
use it.
Check the file with: lensyard assignment check FILE"""
_SHOT_LIST = ["drop-back", "carrier", "catch", "touchdown", "fans", "coaches"]


def read_assignment(text: str) -> Reading[Assignment]:
    """Return the assignment of a TOML text, or everything that is wrong with it."""
    from lensyard.settings.assignment_schema import AssignmentFile

    return read_toml(text, AssignmentFile, build_assignment)


ASSIGNMENTS = SettingsKind("assignment", read_assignment, "assignments", "lensyard assignment new")
load_assignment = ASSIGNMENTS.load
"""Return an assignment by its name or the path of its file; see `SettingsKind.load`."""


def new_assignment_text(name: str) -> str:
    """Return an assignment file to start from: every key with what it means, usable as it is.

    Raises
    ------
    InvalidInputError
        If the name cannot stand in a file.
    """
    from lensyard.settings.assignment_schema import AssignmentFile
    from lensyard.settings.fields import template

    plain = Assignment()
    given = {
        "schema_version": 1,
        "name": name.strip(),
        "about": "",
        "faces": plain.faces.value,
        "coverage": plain.coverage.value,
        "light": plain.light.value,
        "must_have": _SHOT_LIST,
        **{
            f"weights.{outcome}": getattr(plain.weights, outcome)
            for outcome in OutcomeWeights.__dataclass_fields__
        },
    }
    text = template(AssignmentFile, _INTRO, given)
    ASSIGNMENTS.parse(text, source=f"an assignment of the name {name[:100]!r}")
    return text


def build_assignment(file: AssignmentFile, issues: Issues) -> Assignment | None:
    """Return the assignment of a file of the right shape, or None after adding what is wrong."""
    own = _own_frames(file.frame, issues)
    known = {**FRAMES, **own}
    for i, key in enumerate(file.must_have):
        with issues.at("must_have", i):
            if key not in known:
                raise UnknownNameError(name="frame", value=key, known=known)
    if issues.found:
        return None
    listed = [*file.must_have, *(key for key in own if key not in file.must_have)]
    with issues.at("must_have"):
        return Assignment(
            name=file.name,
            faces=file.faces,
            weights=OutcomeWeights(**file.weights.model_dump()),
            coverage=file.coverage,
            must_have=tuple(known[key] for key in listed),
            light=file.light,
            about=file.about,
        )
    return None


def _own_frames(frames: list[FrameTable], issues: Issues) -> dict[str, MustHave]:
    own: dict[str, MustHave] = {}
    for i, frame in enumerate(frames):
        if frame.key in own:
            issues.add(("frame", i, "key"), f"frame {frame.key!r} is described twice; keep one")
            continue
        with issues.at("frame", i):
            own[frame.key] = MustHave(
                frame.key,
                frame.title,
                frame.when or ", ".join(frame.windows),
                frame.kind,
                tuple(frame.windows),
                frame.minutes,
                frame.where,
            )
    return own
