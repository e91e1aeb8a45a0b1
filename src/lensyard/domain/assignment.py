"""Assignments: what the client wants, as weights, whose faces, and the must-have frames."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from enum import StrEnum

from lensyard.domain.shots import FRAMES, FrameKind, MustHave, Window
from lensyard.errors import InvalidInputError, require_range

__all__ = [
    "DEFENSE_WEIGHTS",
    "FRAMES",
    "OFFENSE_WEIGHTS",
    "USABLE_WEIGHTS",
    "Assignment",
    "Coverage",
    "Faces",
    "FrameKind",
    "LightPreference",
    "MustHave",
    "OutcomeWeights",
    "Window",
    "assignment_for",
]


class Faces(StrEnum):
    """Whose faces the frames must show."""

    OFFENSE = "offense"
    DEFENSE = "defense"


class Coverage(StrEnum):
    """Which team's plays count: both, or one of the two."""

    BOTH = "both"
    HOME = "home"
    AWAY = "away"


class LightPreference(StrEnum):
    """What the assignment thinks of light."""

    IGNORE = "ignore"
    AVOID_BACKLIGHT = "avoid-backlight"
    PREFER_BACKLIGHT = "prefer-backlight"


@dataclass(frozen=True, slots=True)
class OutcomeWeights:
    """What a usable frame of each outcome is worth; a touchdown outranks a gain of 20 or more.

    All are at least 0 and at most 100. `other` is any other carry or catch.
    """

    touchdown: float = 10.0
    gain20: float = 4.0
    incompletion: float = 0.5
    interception: float = 1.0
    sack: float = 1.0
    other: float = 1.0

    def __post_init__(self) -> None:
        """Refuse weights below 0."""
        require_range(
            low=0, high=100, **{name: getattr(self, name) for name in self.__dataclass_fields__}
        )


USABLE_WEIGHTS = OutcomeWeights(
    touchdown=1.0, gain20=1.0, incompletion=1.0, interception=1.0, sack=1.0, other=1.0
)
OFFENSE_WEIGHTS = OutcomeWeights()
# A defense's story: the interception and the sack, then stops; a touchdown is the other team's.
DEFENSE_WEIGHTS = OutcomeWeights(
    touchdown=1.0, gain20=1.0, incompletion=1.0, interception=10.0, sack=6.0, other=1.0
)


@dataclass(frozen=True, slots=True)
class Assignment:
    """What one is sent for.

    Attributes
    ----------
    name
        For people.
    faces
        Whose faces count.
    weights
        What usable plays are worth.
    coverage
        Which team's plays count.
    must_have
        The shot list.
    light
        What to do about backlight.
    about
        One sentence on whom it is for.
    """

    name: str = "both teams"
    faces: Faces = Faces.OFFENSE
    weights: OutcomeWeights = OFFENSE_WEIGHTS
    coverage: Coverage = Coverage.BOTH
    must_have: tuple[MustHave, ...] = ()
    light: LightPreference = LightPreference.IGNORE
    about: str = ""

    def __post_init__(self) -> None:
        """Refuse a shot list that names a frame twice."""
        twice = [key for key, n in Counter(f.key for f in self.must_have).items() if n > 1]
        if twice:
            raise InvalidInputError(
                f"the shot list names {', '.join(twice)} more than once; name each frame once"
            )

    @property
    def action(self) -> tuple[MustHave, ...]:
        """The frames that are made of plays."""
        return tuple(f for f in self.must_have if f.kind is FrameKind.ACTION)


def assignment_for(faces: Faces) -> Assignment:
    """Return the plain assignment for the offense's or the defense's faces."""
    if faces is Faces.DEFENSE:
        return Assignment("defense", Faces.DEFENSE, DEFENSE_WEIGHTS)
    return Assignment("offense", Faces.OFFENSE, OFFENSE_WEIGHTS)
