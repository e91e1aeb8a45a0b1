"""A crew: who is sent, and what for."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum

from lensyard.domain.venue import ClosedStretch, Edge, Venue
from lensyard.errors import InvalidInputError, ParseError
from lensyard.records import Record

LONGEST_NAME = 40
LEFT_TO_OTHERS = "left to the others"


class Role(StrEnum):
    """What one of a crew is there for."""

    ROAMING = "roaming"
    END_ZONE = "end-zone"
    SAFE_SPOT = "safe-spot"
    FEATURES = "features"


ROLES = {
    Role.ROAMING: "roaming: wherever the others leave most",
    Role.END_ZONE: "end zone: behind the end lines only",
    Role.SAFE_SPOT: "safe spot: where most plays are usable, whatever the others do",
    Role.FEATURES: "features: the life around the game, no plays",
}
"""What each role does, for people."""


class Member(Record):
    """One of a crew: a name, and a role."""

    name: str
    role: Role = Role.ROAMING

    def __post_init__(self) -> None:
        """Refuse a name that no file and no line could carry."""
        if not 1 <= len(self.name) <= LONGEST_NAME or not self.name.isprintable():
            raise InvalidInputError(
                f"a photographer's name has 1 to {LONGEST_NAME} printable characters; "
                f"got {self.name[:60]!r}"
            )


def parse_member(text: str) -> Member:
    """Return one of a crew from ``NAME`` or ``NAME=ROLE``.

    >>> parse_member("Ann=end-zone")
    Member(name='Ann', role=<Role.END_ZONE: 'end-zone'>)
    """
    name, _, role = (part.strip() for part in text.partition("="))
    try:
        return Member(name, Role(role.lower().replace(" ", "-")) if role else Role.ROAMING)
    except ValueError as error:
        if isinstance(error, InvalidInputError):
            raise
        raise ParseError(name="a role", text=role[:60], expected=", ".join(Role)) from None


def members_of(texts: list[str], *, size: int) -> tuple[Member, ...]:
    """Return a crew of a size; who is not named has a number for a name.

    Raises `InvalidInputError` if more are named than there are, two have one name, or nobody is
    there for plays.
    """
    named = [parse_member(text) for text in texts]
    if len(named) > size:
        raise InvalidInputError(f"{len(named)} photographers are named, and there are {size}")
    members = (*named, *(Member(str(i)) for i in range(len(named) + 1, size + 1)))
    if len({member.name.casefold() for member in members}) < size:
        raise InvalidInputError("two photographers have the same name; give each one of their own")
    if all(member.role is Role.FEATURES for member in members):
        raise InvalidInputError("everybody shoots features; leave somebody for the plays")
    return members


def venue_of(member: Member, venue: Venue) -> Venue:
    """Return a venue as one of a crew has it: what their role leaves to the others is closed."""
    if member.role is not Role.END_ZONE:
        return venue
    sidelines = tuple(
        ClosedStretch(edge, 0.0, edge.length_yd, LEFT_TO_OTHERS, blocks_view=False)
        for edge in (Edge.SIDELINE_A, Edge.SIDELINE_B)
    )
    return replace(venue, closed=(*venue.closed, *sidelines))
