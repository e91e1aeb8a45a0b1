"""Sides of a plan: which way the offense goes, and whether its plays count."""

from __future__ import annotations

from dataclasses import dataclass

from lensyard.domain.assignment import Assignment, Coverage
from lensyard.domain.field import Direction
from lensyard.domain.perimeter import Perimeter


@dataclass(frozen=True, slots=True)
class Side:
    """One side of the plan: whose ball, and which way it goes.

    ``ours`` says whether the team with the ball is the one whose plays with the ball count (always
    true when both teams count).
    """

    direction: Direction
    ours: bool


def sides_of(perimeter: Perimeter, assignment: Assignment) -> tuple[Side, ...]:
    """Return the sides that a plan must tell apart (see `lensyard.planner.solve`)."""
    both_ways = both_directions(assignment)
    if not perimeter.venue.symmetric:
        return both_ways
    return tuple(side for side in both_ways if side.direction is Direction.TOWARD_B)


def both_directions(assignment: Assignment) -> tuple[Side, ...]:
    """Return the sides of both directions, and of both teams where it matters whose plays count."""
    teams = (True,) if assignment.coverage is Coverage.BOTH else (True, False)
    return tuple(Side(d, ours) for ours in teams for d in (Direction.TOWARD_B, Direction.TOWARD_A))


def side_index(sides: tuple[Side, ...], *, direction: Direction, ours: bool) -> int:
    """Return which side a play belongs to."""
    symmetric = len({s.direction for s in sides}) == 1
    both = len({s.ours for s in sides}) == 1
    for k, side in enumerate(sides):
        if (symmetric or side.direction is direction) and (both or side.ours == ours):
            return k
    raise AssertionError("sides cover every direction and team")  # pragma: no cover


def after_change(sides: tuple[Side, ...]) -> tuple[int, ...]:
    """Return for each side the side after a change of possession."""
    return tuple(side_index(sides, direction=s.direction.reversed, ours=not s.ours) for s in sides)
