"""The shape of a venue file as pydantic models.

Imported only when a file is read (pydantic takes a tenth of a second).
`lensyard.service.venue_keys` says in words what each key means; a test holds the two to the same
keys and defaults.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field


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
