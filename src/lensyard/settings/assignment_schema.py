"""The keys of an assignment file: what each means, what is expected, and what holds without it.

Imported only when a file is read or written (pydantic takes a tenth of a second).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from lensyard.domain.assignment import Coverage, Faces, LightPreference
from lensyard.domain.shots import FRAMES, KEY_FORM, MOST_MINUTES, FrameKind, Window
from lensyard.settings.fields import LINE, Line, SettingsTable, setting

MOST_FRAMES = 100
_WEIGHT = "a number from {low:g} to {high:g}"
_ACTION, _LIFE = (
    ", ".join(frame.key for frame in FRAMES.values() if frame.kind is kind)
    for kind in (FrameKind.ACTION, FrameKind.LIFE)
)

Text = Annotated[str, Field(max_length=300)]
Key = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)]


def _weight(text: str, usual: float) -> float:
    field: float = setting(..., text, example=str(usual), expected=_WEIGHT, ge=0, le=100)
    return field


class WeightsTable(SettingsTable):
    """``[weights]``; all are needed."""

    touchdown: float = _weight("A touchdown.", 10.0)
    gain20: float = _weight("A gain of 20 yards or more.", 4.0)
    incompletion: float = _weight("An incompletion.", 0.5)
    interception: float = _weight("An interception.", 1.0)
    sack: float = _weight("A sack.", 1.0)
    other: float = _weight("Any other carry or catch.", 1.0)


class FrameTable(SettingsTable):
    """``[[frame]]``: a frame of one's own, or another take on one of the catalog."""

    key: Key = setting(..., "Its key, to tick it with.", example='"alumni-row"',
        expected=KEY_FORM)  # fmt: skip
    title: Annotated[str, Field(min_length=1, max_length=300)] = setting(...,
        "What it shows, for people.", example='"the alumni in row one"',
        expected="1 to 300 characters")  # fmt: skip
    when: Text = setting("", "When it happens, for people.", example='"while the band plays"',
        expected="up to 300 characters", without="its windows")  # fmt: skip
    kind: Annotated[FrameKind, Field(strict=False)] = setting(FrameKind.LIFE,
        "Whether plays bring it, or the life around the game.", example='"life"')  # fmt: skip
    windows: Annotated[list[Annotated[Window, Field(strict=False)]], Field(min_length=1)] = setting(
        ..., "When it can be had, the best window first.",
        example='["halftime", "quarter-break"]',
        expected="a list of " + ", ".join(f'"{window.value}"' for window in Window))  # fmt: skip
    minutes: float = setting(0.0, "How many minutes it takes, the way there and back included.",
        example="1.5", expected="minutes from {low:g} to {high:g}", ge=0,
        le=MOST_MINUTES)  # fmt: skip
    where: Text = setting("", "Where, for people.", example='"in front of the stand"',
        expected="up to 300 characters", without="not said")  # fmt: skip


class AssignmentFile(SettingsTable):
    """The whole file."""

    schema_version: Literal[1] = setting(..., "Version of this form.", example="1",
        expected="1")  # fmt: skip
    name: Line = setting(..., "Name, for people.", example='"weekly"', expected=LINE)
    about: Text = setting("", "One sentence on whom it is for.", example='""',
        expected="up to 300 characters", without="nothing")  # fmt: skip
    faces: Annotated[Faces, Field(strict=False)] = setting(...,
        "Whose faces the frames must show.", example='"offense"')  # fmt: skip
    coverage: Annotated[Coverage, Field(strict=False)] = setting(..., "Whose plays count.",
        example='"both"')  # fmt: skip
    light: Annotated[LightPreference, Field(strict=False)] = setting(LightPreference.IGNORE,
        "What light should do to the order of spots.", example='"ignore"')  # fmt: skip
    must_have: Annotated[list[Key], Field(max_length=MOST_FRAMES)] = setting([],
        "Frames that have to come home; leave out what nobody asks for.\n"
        f"Action: {_ACTION}.\nLife around the game: {_LIFE}.",
        example="[]", expected=f"a list in brackets of keys in quotes, {KEY_FORM}",
        without="nothing")  # fmt: skip
    weights: WeightsTable = setting(..., "What a usable frame of each outcome is "
        "worth; an ordinary carry or catch is 1.")  # fmt: skip
    frame: Annotated[list[FrameTable], Field(max_length=MOST_FRAMES)] = setting([],
        "A frame of your own, as many as you like.")  # fmt: skip
