"""The shape of a venue file as pydantic models.

Imported only when a file is read (pydantic takes a tenth of a second).
`lensyard.features.venues.schema` says in words what each key means; a test holds the two to the
same
keys and defaults.

Every key of a venue file: what it means, what is expected, and what holds without it.

One table serves the error messages, the commented file that ``lensyard venue new`` writes, and the
documentation. Places are in the stadium frame: end A to end B, sideline A to sideline B; facing end
B, sideline A is on the right hand.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from lensyard.domain.field import RULES
from lensyard.domain.floodlights import FLOODLIGHT_LEVELS
from lensyard.domain.venue import GOAL_POSTS, ClosedKind


def _printable(text: str) -> str:
    """Refuse what would break, hide or turn around the line that it is shown on."""
    if not text.isprintable() or not text.strip():
        raise ValueError("not printable")
    return text


Line = Annotated[str, Field(max_length=80), AfterValidator(_printable)]
Note = Annotated[str, Field(max_length=200), AfterValidator(_printable)]
Names = Annotated[list[Line], Field(min_length=2, max_length=2)]
SetbackYd = Annotated[float, Field(ge=0.5, le=15)]
Place = float | str


class _Table(BaseModel):
    """A table that refuses unknown keys, wrong types, infinities and what is not a number."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, frozen=True)


class TeamAreas(_Table):
    """``[team_areas]``."""

    from_yard_line: Annotated[float, Field(ge=0, le=50)] | Literal["none"] | None = None
    walk_behind: bool = True


class Closed(_Table):
    """One of ``[[closed]]``."""

    edge: Line
    from_: Place = Field(alias="from")
    to: Place
    kind: Literal[
        "team area",
        "television platform",
        "band",
        "camera rail",
        "student section",
        "wall",
        "other",
    ] = "other"
    name: Line | None = None
    front_yd: Annotated[float, Field(ge=0, le=30)] | None = None
    depth_yd: Annotated[float, Field(ge=0.1, le=30)] | None = None
    blocks_view: bool | None = None
    walk_behind: bool | None = None


class Floodlights(_Table):
    """``[floodlights]``; one of the three."""

    lux: Annotated[float, Field(ge=0, le=20000)] | None = None
    footcandles: Annotated[float, Field(ge=0, le=1850)] | None = None
    class_: str | None = Field(default=None, alias="class")


class Stand(_Table):
    """``[stands.sideline_a]`` and its like."""

    height_m: Annotated[float, Field(ge=0, le=200)] = 0.0
    distance_yd: Annotated[float, Field(ge=0, le=500)] = 15.0


class Stands(_Table):
    """``[stands]``."""

    sideline_a: Stand = Stand()
    end_b: Stand = Stand()
    sideline_b: Stand = Stand()
    end_a: Stand = Stand()


class HouseRules(_Table):
    """``[house_rules]``."""

    monopods: Note | None = None
    flash: Note | None = None
    kneeling: Note | None = None
    other: Annotated[list[Note], Field(max_length=50)] = []


class VenueFile(_Table):
    """A whole file."""

    name: Line
    rules: Literal["pro", "college", "high-school"]
    axis_bearing_deg: Annotated[float, Field(ge=0, le=360)] | None = None
    latitude_deg: Annotated[float, Field(ge=-90, le=90)] | None = None
    longitude_deg: Annotated[float, Field(ge=-180, le=180)] | None = None
    time_zone: Line | None = None
    end_names: Names = ["end A", "end B"]
    sideline_names: Names = ["sideline A", "sideline B"]
    side_setback_yd: SetbackYd | None = None
    end_setback_yd: SetbackYd | None = None
    goal_posts: Literal["single", "double"] | None = None
    covered: bool = False
    team_areas: TeamAreas = TeamAreas()
    closed: Annotated[list[Closed], Field(max_length=100)] = []
    floodlights: Floodlights = Floodlights()
    stands: Stands = Stands()
    house_rules: HouseRules = HouseRules()


def validate(values: dict[str, Any]) -> tuple[VenueFile | None, list[dict[str, Any]]]:
    """Return the file's model, or None and everything that is wrong with the values.

    Each problem is a dictionary with ``type``, ``loc``, ``msg`` and ``input`` as pydantic gives it.
    """
    from pydantic import ValidationError

    try:
        return VenueFile.model_validate(values), []
    except ValidationError as error:
        return None, [dict(problem) for problem in error.errors(include_url=False)]


EDGE_TABLES = ("sideline_a", "end_b", "sideline_b", "end_a")
"""Tables under ``[stands]``, in the order of the domain's edges."""


@dataclass(frozen=True, slots=True)
class VenueKey:
    """One key of a venue file.

    Attributes
    ----------
    table
        The table it stands in; empty at the top of the file. ``closed`` is an array of tables.
    key
        Its name.
    expected
        The values that are understood, for error messages.
    default
        What holds without it, in words; ``required`` where it must be given.
    text
        What it means.
    example
        A value as TOML.
    """

    table: str
    key: str
    expected: str
    default: str
    text: str
    example: str

    @property
    def dotted(self) -> str:
        """The key with its table, as documentation writes it."""
        if not self.table:
            return self.key
        return f"[[closed]] {self.key}" if self.table == "closed" else f"{self.table}.{self.key}"

    @property
    def is_required(self) -> bool:
        """Whether a file without it is refused (within its table)."""
        return self.default == "required"


def _choices(names: Iterable[str]) -> str:
    return "one of " + ", ".join(f'"{name}"' for name in names)


def _edge_text(table: str) -> str:
    """The domain's words for a table of `EDGE_TABLES`: ``sideline_a`` is sideline A."""
    word, letter = table.split("_")
    return f"{word} {letter.upper()}"


_YARDS_OR_WORDS = (
    "yards along the edge as a number, or on a sideline a yard line in quotes: "
    '"A 20", "50", "B 35", "goal B" (an end\'s own name works like its letter)'
)

_TOP = (
    VenueKey("", "name", "1 to 80 printable characters", "required", "Name, for people.", '"Demo"'),
    VenueKey(
        "",
        "rules",
        _choices(RULES),
        "required",
        "Rule set of the field: hash marks, goal posts, limit lines, team areas.",
        '"college"',
    ),
    VenueKey(
        "",
        "axis_bearing_deg",
        "degrees from 0 to 360",
        "light is left out",
        "Compass bearing from end A to end B, clockwise from true north. Take it from a map: a "
        "phone may show magnetic north. Give it together with latitude_deg, longitude_deg and "
        "time_zone, or none of the four.",
        "12.5",
    ),
    VenueKey(
        "",
        "latitude_deg",
        "degrees from -90 to 90, north positive",
        "light is left out",
        "Latitude.",
        "40.5",
    ),
    VenueKey(
        "",
        "longitude_deg",
        "degrees from -180 to 180, east positive (America is negative)",
        "light is left out",
        "Longitude.",
        "-88.4",
    ),
    VenueKey(
        "",
        "time_zone",
        'an IANA name such as "America/Chicago"',
        "light is left out",
        "Time zone of the venue's clock, daylight saving included.",
        '"America/Chicago"',
    ),
    VenueKey(
        "",
        "end_names",
        "two names, end A first, different from each other",
        '["end A", "end B"]',
        "What people call the two ends.",
        '["south end", "north end"]',
    ),
    VenueKey(
        "",
        "sideline_names",
        "two names, sideline A first, different from each other",
        '["sideline A", "sideline B"]',
        "What people call the two sidelines. Facing end B, sideline A is on the right.",
        '["home sideline", "visitors\' sideline"]',
    ),
    VenueKey(
        "",
        "side_setback_yd",
        "yards from 0.5 to 15",
        "the rule set's limit line",
        "How far outside the sidelines photographers stand.",
        "4.0",
    ),
    VenueKey(
        "",
        "end_setback_yd",
        "yards from 0.5 to 15",
        "the rule set's limit line",
        "How far behind the end lines photographers stand.",
        "4.0",
    ),
    VenueKey(
        "",
        "goal_posts",
        _choices(GOAL_POSTS),
        "the rule set's",
        "One bent support behind the end line, or two uprights on it.",
        '"single"',
    ),
    VenueKey("", "covered", "true or false", "false", "Whether there is a roof.", "false"),
)

_TEAM_AREAS = (
    VenueKey(
        "team_areas",
        "from_yard_line",
        'a yard line from 0 to 50, or "none"',
        "the rule set's",
        "Team areas lie between this yard line and its twin, on both sidelines.",
        "25",
    ),
    VenueKey(
        "team_areas",
        "walk_behind",
        "true or false",
        "true",
        "Whether photographers may pass, and wait, behind the team areas.",
        "true",
    ),
)

_CLOSED = (
    VenueKey(
        "closed",
        "edge",
        '"sideline A", "sideline B", "end A", "end B", or the name given to it',
        "required",
        "Along which edge of the field the closed stretch lies.",
        '"sideline A"',
    ),
    VenueKey(
        "closed",
        "from",
        _YARDS_OR_WORDS,
        "required",
        "Where it begins. A number counts along a sideline from end A's end line (its goal line "
        "is 10), along an end from sideline A; it may reach past the corner of the field as far as "
        "photographers stand there (the setback). A stretch around a corner is written as two.",
        '"A 40"',
    ),
    VenueKey(
        "closed",
        "to",
        _YARDS_OR_WORDS,
        "required",
        "Where it ends, counted like from; farther along than from.",
        '"A 45"',
    ),
    VenueKey(
        "closed",
        "kind",
        _choices(ClosedKind),
        '"other"',
        "What closes it; it decides the defaults of the keys below.",
        '"television platform"',
    ),
    VenueKey(
        "closed", "name", "1 to 80 printable characters", "the kind", "For people.", '"main camera"'
    ),
    VenueKey(
        "closed",
        "front_yd",
        "yards from 0 to 30",
        "by kind",
        "How far outside the field it begins.",
        "4.0",
    ),
    VenueKey("closed", "depth_yd", "yards from 0.1 to 30", "by kind", "How deep it is.", "4.0"),
    VenueKey(
        "closed",
        "blocks_view",
        "true or false",
        "by kind",
        "Whether one cannot photograph across it.",
        "true",
    ),
    VenueKey(
        "closed",
        "walk_behind",
        "true or false",
        "by kind",
        "Whether one may pass, and wait, behind it.",
        "true",
    ),
)

_FLOODLIGHTS = (
    VenueKey(
        "floodlights",
        "lux",
        "lux from 0 to 20000",
        "no floodlights",
        "Measured or maintained illuminance on the field. Give one of lux, footcandles, class.",
        "540",
    ),
    VenueKey(
        "floodlights",
        "footcandles",
        "footcandles from 0 to 1850",
        "no floodlights",
        "The same in footcandles (1 is 10.764 lx).",
        "50",
    ),
    VenueKey(
        "floodlights",
        "class",
        _choices(FLOODLIGHT_LEVELS),
        "no floodlights",
        "A class of the published tables instead of a number.",
        '"class-2"',
    ),
)

_STANDS = tuple(
    key
    for edge in EDGE_TABLES
    for key in (
        VenueKey(
            f"stands.{edge}",
            "height_m",
            "meters from 0 to 200",
            "0, open",
            f"Height of the stands behind {_edge_text(edge)} above the field; they shade it.",
            "15.0",
        ),
        VenueKey(
            f"stands.{edge}",
            "distance_yd",
            "yards from 0 to 500",
            "15",
            "From the edge of the field out to their top.",
            "30.0",
        ),
    )
)

_HOUSE_RULES = (
    VenueKey(
        "house_rules",
        "monopods",
        "1 to 200 printable characters",
        "not said",
        "What the house says about monopods and tripods. A note, shown as written.",
        '"monopods yes, tripods no"',
    ),
    VenueKey(
        "house_rules",
        "flash",
        "1 to 200 printable characters",
        "not said",
        "What it says about flash.",
        '"no flash"',
    ),
    VenueKey(
        "house_rules",
        "kneeling",
        "1 to 200 printable characters",
        "not said",
        "What it says about kneeling and sitting.",
        '"kneel behind the end lines"',
    ),
    VenueKey(
        "house_rules",
        "other",
        "a list of texts of 1 to 200 printable characters",
        "nothing",
        "Anything else.",
        '["vests must be worn"]',
    ),
)

VENUE_KEYS: tuple[VenueKey, ...] = (
    *_TOP,
    *_TEAM_AREAS,
    *_CLOSED,
    *_FLOODLIGHTS,
    *_STANDS,
    *_HOUSE_RULES,
)


@dataclass(frozen=True, slots=True)
class KindDefaults:
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


def keys_of(table: str) -> dict[str, VenueKey]:
    """Return the keys of one table by name."""
    return {key.key: key for key in VENUE_KEYS if key.table == table}


def markdown_table() -> str:
    """Return every key as rows of a Markdown table, for the documentation."""
    rows = ["| key | expected | default | meaning |", "| --- | --- | --- | --- |"]
    for key in VENUE_KEYS:
        cells = (f"`{key.dotted}`", key.expected, key.default, key.text)
        rows.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(rows)
