"""The keys of venue and assignment files: what each means, is expected, and holds without it.

Places are in stadium coordinates: end A to end B, sideline A to sideline B; facing end B, sideline
A is on the right hand. Imported only when a file is read or written (pydantic takes a tenth of a
second).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from lensyard.domain.assignment import (
    FRAMES,
    KEY_FORM,
    MOMENT_FORM,
    MOST_MINUTES,
    Coverage,
    Faces,
    FrameKind,
    LightPreference,
    Window,
)
from lensyard.domain.field import RULES
from lensyard.domain.venue import FLOODLIGHT_LEVELS, GOAL_POSTS, ClosedKind
from lensyard.records import Record
from lensyard.settings.fields import LINE, NOTE, Line, Note, SettingsTable, setting

EDGE_TABLES = ("sideline_a", "end_b", "sideline_b", "end_a")
"""Tables under ``[stands]``, in the order of the domain's edges."""


class KindDefaults(Record):
    """What a closed stretch of a kind is like when the file does not say. Common practice. [yd]"""

    front_yd: float
    depth_yd: float
    blocks_view: bool
    walk_behind: bool


KIND_DEFAULTS: dict[ClosedKind, KindDefaults] = {
    ClosedKind.TELEVISION_PLATFORM: KindDefaults(4.0, 4.0, True, True),
    ClosedKind.BAND: KindDefaults(4.0, 10.0, True, True),
    ClosedKind.CAMERA_RAIL: KindDefaults(3.0, 3.0, False, True),
    ClosedKind.STUDENT_SECTION: KindDefaults(4.0, 10.0, True, False),
    ClosedKind.WALL: KindDefaults(2.0, 1.0, True, False),
    ClosedKind.OTHER: KindDefaults(2.0, 8.0, True, True),
}
"""A team area is missing here: it takes the rule set's measures, blocks the view, and may be passed
behind. A camera on a rail is low and moves, so one may photograph across it."""

_KINDS_TEXT = "; ".join(
    f"{kind}: {usual.front_yd:g}, {usual.depth_yd:g}, {str(usual.blocks_view).lower()}, "
    f"{str(usual.walk_behind).lower()}"
    for kind, usual in KIND_DEFAULTS.items()
)
PLACE_EXPECTED = (
    "yards along the edge as a number, or on a sideline a yard line in quotes: "
    '"A 20", "50", "B 35", "goal B" (an end\'s own name works like its letter)'
)
_YARDS = "yards from {low:g} to {high:g}"
_DEGREES = "degrees from {low:g} to {high:g}"
_NO_LIGHT = "light is left out"
_LIMIT_LINE = "the rule set's limit line"


class TeamAreas(SettingsTable):
    """``[team_areas]``."""

    from_yard_line: Annotated[float, Field(ge=0, le=50)] | Literal["none"] | None = setting(None,
        "Team areas lie between this yard line and its twin, on both sidelines.", example="25",
        expected='a yard line from 0 to 50, or "none"', without="the rule set's")  # fmt: skip
    walk_behind: bool = setting(True, "Whether photographers may pass, and wait, behind the "
        "team areas.", example="true")  # fmt: skip


class Closed(SettingsTable):
    """One of ``[[closed]]``."""

    edge: Line = setting(..., "Along which edge of the field the closed stretch lies.",
        example='"sideline A"', expected='"sideline A", "sideline B", "end A", '
        '"end B", or the name given to it')  # fmt: skip
    from_: float | str = setting(..., "Where it begins. A number counts along a sideline from "
        "end A's end line (its goal line is 10), along an end from sideline A; it may reach "
        "past the corner of the field as far as photographers stand there (the setback). A "
        "stretch around a corner is written as two.", example='"A 40"', expected=PLACE_EXPECTED,
        alias="from")  # fmt: skip
    to: float | str = setting(..., "Where it ends, counted like from; farther along than from.",
        example='"A 45"', expected=PLACE_EXPECTED)  # fmt: skip
    kind: Annotated[ClosedKind, Field(strict=False)] = setting(ClosedKind.OTHER,
        "What closes it; it decides the defaults of the keys below.",
        example='"television platform"')  # fmt: skip
    name: Line | None = setting(None, "For people.", example='"main camera"', expected=LINE,
        without="the kind")  # fmt: skip
    front_yd: float | None = setting(None, "How far outside the field it begins.", example="4.0",
        expected=_YARDS, without="by kind", ge=0, le=30)  # fmt: skip
    depth_yd: float | None = setting(None, "How deep it is.", example="4.0", expected=_YARDS,
        without="by kind", ge=0.1, le=30)  # fmt: skip
    blocks_view: bool | None = setting(None, "Whether one cannot photograph across it.",
        example="true", without="by kind")  # fmt: skip
    walk_behind: bool | None = setting(None, "Whether one may pass, and wait, behind it.",
        example="true", without="by kind")  # fmt: skip


class Floodlights(SettingsTable):
    """``[floodlights]``; one of the three."""

    lux: float | None = setting(None, "Measured or maintained illuminance on the field. Give "
        "one of lux, footcandles, class.", example="540", expected="lux from {low:g} to {high:g}",
        without="no floodlights", ge=0, le=20000)  # fmt: skip
    footcandles: float | None = setting(None, "The same in footcandles (1 is 10.764 lx).",
        example="50", expected="footcandles from {low:g} to {high:g}", without="no floodlights",
        ge=0, le=1850)  # fmt: skip
    class_: str | None = setting(None, "A class of the published tables instead of a number.",
        example='"class-2"',
        expected="one of " + ", ".join(f'"{key}"' for key in FLOODLIGHT_LEVELS),
        without="no floodlights", alias="class")  # fmt: skip


class Stand(SettingsTable):
    """``[stands.sideline_a]`` and its like."""

    height_m: float = setting(0.0, "Height of the stands behind this edge above the field; they "
        "shade it.", example="15.0", expected="meters from {low:g} to {high:g}",
        without="0, open", ge=0, le=200)  # fmt: skip
    distance_yd: float = setting(15.0, "From the edge of the field out to their top.",
        example="30.0", expected=_YARDS, without="15", ge=0, le=500)  # fmt: skip


class Stands(SettingsTable):
    """``[stands]``."""

    sideline_a: Stand = setting(Stand(), "Behind sideline A.")
    end_b: Stand = setting(Stand(), "Behind end B.")
    sideline_b: Stand = setting(Stand(), "Behind sideline B.")
    end_a: Stand = setting(Stand(), "Behind end A.")


class HouseRules(SettingsTable):
    """``[house_rules]``."""

    monopods: Note | None = setting(None, "What the house says about monopods and tripods. A "
        "note, shown as written.", example='"monopods yes, tripods no"', expected=NOTE,
        without="not said")  # fmt: skip
    flash: Note | None = setting(None, "What it says about flash.", example='"no flash"',
        expected=NOTE, without="not said")  # fmt: skip
    kneeling: Note | None = setting(None, "What it says about kneeling and sitting.",
        example='"kneel behind the end lines"', expected=NOTE, without="not said")  # fmt: skip
    other: Annotated[list[Note], Field(max_length=50)] = setting([], "Anything else.",
        example='["vests must be worn"]', expected=f"a list of texts of {NOTE}",
        without="nothing")  # fmt: skip


class VenueFile(SettingsTable):
    """A whole file."""

    name: Line = setting(..., "Name, for people.", example='"Demo"', expected=LINE)
    rules: Literal[tuple(RULES)] = setting(..., "Rule set of the field: hash marks, goal posts, "  # type: ignore[valid-type]
        "limit lines, team areas.", example='"college"')  # fmt: skip
    axis_bearing_deg: float | None = setting(None, "Compass bearing from end A to end B, "
        "clockwise from true north. Take it from a map: a phone may show magnetic north. Give "
        "it together with latitude_deg, longitude_deg and time_zone, or none of the four.",
        example="12.5", expected=_DEGREES, without=_NO_LIGHT, ge=0, le=360)  # fmt: skip
    latitude_deg: float | None = setting(None, "Latitude.", example="40.5",
        expected=f"{_DEGREES}, north positive", without=_NO_LIGHT, ge=-90, le=90)  # fmt: skip
    longitude_deg: float | None = setting(None, "Longitude.", example="-88.4",
        expected=f"{_DEGREES}, east positive (America is negative)", without=_NO_LIGHT, ge=-180,
        le=180)  # fmt: skip
    time_zone: Line | None = setting(None,
        "Time zone of the venue's clock, daylight saving included.", example='"America/Chicago"',
        expected='an IANA name such as "America/Chicago"', without=_NO_LIGHT)  # fmt: skip
    end_names: Annotated[list[Line], Field(min_length=2, max_length=2)] = setting(
        ["end A", "end B"], "What people call the two ends.",
        example='["south end", "north end"]',
        expected="two names, end A first, different from each other")  # fmt: skip
    sideline_names: Annotated[list[Line], Field(min_length=2, max_length=2)] = setting(
        ["sideline A", "sideline B"], "What people call the two sidelines. Facing end B, "
        "sideline A is on the right.", example='["home sideline", "visitors\' sideline"]',
        expected="two names, sideline A first, different from each other")  # fmt: skip
    side_setback_yd: float | None = setting(None,
        "How far outside the sidelines photographers stand.", example="4.0", expected=_YARDS,
        without=_LIMIT_LINE, ge=0.5, le=15)  # fmt: skip
    end_setback_yd: float | None = setting(None,
        "How far behind the end lines photographers stand.", example="4.0", expected=_YARDS,
        without=_LIMIT_LINE, ge=0.5, le=15)  # fmt: skip
    end_line_open_yd: float | None = setting(None,
        "How far behind the end lines one gets from each pylon toward the posts.", example="12.0",
        expected=_YARDS, without="all of it", ge=0, le=26)  # fmt: skip
    goal_posts: Literal[tuple(GOAL_POSTS)] | None = setting(None, "One bent support behind the "  # type: ignore[valid-type]
        "end line, or two uprights on it.", example='"single"',
        without="the rule set's")  # fmt: skip
    covered: bool = setting(False, "Whether there is a roof.", example="false")
    team_areas: TeamAreas = setting(TeamAreas(),
        "Team areas: nobody photographs from them.")  # fmt: skip
    closed: Annotated[list[Closed], Field(max_length=100)] = setting([],
        "Other closed stretches of the perimeter, one [[closed]] for each. By kind, front_yd, "
        f"depth_yd, blocks_view and walk_behind are: {_KINDS_TEXT}; a team area has the rule "
        "set's.", expected="tables headed [[closed]], one for each closed stretch (at most "
        "100)")  # fmt: skip
    floodlights: Floodlights = setting(Floodlights(), "Floodlights. Levels in "
        "tables are maintained values; measure if you can.")  # fmt: skip
    stands: Stands = setting(Stands(), "Stands that can shade the field.")
    house_rules: HouseRules = setting(HouseRules(),
        "House rules, as notes that are shown as written.")  # fmt: skip


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
    """``[weights]``; all but the last are needed."""

    touchdown: float = _weight("A touchdown.", 10.0)
    gain20: float = _weight("A gain of 20 yards or more.", 4.0)
    incompletion: float = _weight("An incompletion.", 0.5)
    interception: float = _weight("An interception.", 1.0)
    sack: float = _weight("A sack.", 1.0)
    other: float = _weight("Any other carry or catch.", 1.0)
    drop_back: float = setting(0.0, "The quarterback's face as he drops back, on top of the play; "
        "half of it once the frame drop-back is ticked.", example="0.5", expected=_WEIGHT,
        ge=0, le=100)  # fmt: skip


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


class DeadlineTable(SettingsTable):
    """``[[deadline]]``: when frames are due."""

    at: Annotated[str, Field(max_length=20)] = setting(...,
        "When: in halftime, as a quarter ends, or at a time of day on the venue's clock.",
        example='"halftime"', expected=MOMENT_FORM)  # fmt: skip
    minutes: float = setting(..., "Minutes needed at the desk, the walk there not counted.",
        example="10.0", expected="minutes from {low:g} to {high:g}", ge=0,
        le=MOST_MINUTES)  # fmt: skip


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
    desk: Annotated[str, Field(max_length=80)] = setting("", "Where frames are filed: a place on "
        "the perimeter, as the team that attacks end B sees it.", example='"right:own20"',
        expected="left:opp40, right:own20, end:middle and so on", without="no desk")  # fmt: skip
    deadline: Annotated[list[DeadlineTable], Field(max_length=10)] = setting([],
        "When frames are due at the desk, one [[deadline]] for each.",
        without="nobody waits for frames")  # fmt: skip
