"""Venues and assignments by name: what is chosen from a list, never a path.

A file is read again when it has changed.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from lensyard.domain.assignment import Assignment
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import UnknownNameError


def venue_choices() -> tuple[str, ...]:
    """Return the names of venues, the usual field first."""
    from lensyard.features.venues.file import venue_names

    return ("", *venue_names())


def assignment_choices() -> tuple[str, ...]:
    """Return the names of assignments, the plain one first."""
    from lensyard.features.assignments.file import assignment_names

    return ("", *assignment_names())


def venue_named(name: str, *, rules: str, team_area: int | None) -> Venue:
    """Return a venue by name; any field of the rule set where the name is empty.

    Raises
    ------
    UnknownNameError
        If there is none of that name; a path is no name.
    """
    if not name:
        return _standard(rules, team_area)
    from lensyard.features.venues.file import venue_names

    paths = venue_names()
    if name not in paths:
        raise UnknownNameError(name="venue", value=name, known=paths)
    return _venue(paths[name], _changed_at(paths[name]))


def assignment_named(name: str) -> Assignment:
    """Return an assignment by name.

    Raises
    ------
    UnknownNameError
        If there is none of that name; a path is no name.
    """
    from lensyard.features.assignments.file import assignment_names

    paths = assignment_names()
    if name not in paths:
        raise UnknownNameError(name="assignment", value=name, known=paths)
    return _assignment(paths[name], _changed_at(paths[name]))


def _changed_at(path: Path) -> int:
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


@lru_cache(maxsize=64)
def _standard(rules: str, team_area: int | None) -> Venue:
    return standard_venue(rules, team_area_from_yard_line=team_area)


@lru_cache(maxsize=64)
def _venue(path: Path, _changed_at_ns: int) -> Venue:
    from lensyard.features.venues.file import load_venue

    return load_venue(path)


@lru_cache(maxsize=64)
def _assignment(path: Path, _changed_at_ns: int) -> Assignment:
    from lensyard.features.assignments.file import load_assignment

    return load_assignment(path)
