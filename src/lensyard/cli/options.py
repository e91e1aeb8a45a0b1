"""Options that several commands share, and what they turn into."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, TypeVar

import click

from lensyard.domain.assignment import Assignment, Faces, assignment_for
from lensyard.domain.field import RULES, HashMark
from lensyard.domain.optics import DEMO_KIT, Kit, kit_of
from lensyard.domain.situation import Situation, parse_ball, parse_clock
from lensyard.domain.venue import Venue, standard_venue

Command = TypeVar("Command", bound=Callable[..., Any])


def kit_options(command: Command) -> Command:
    """Add --lens, --body, --bodies and --converter."""
    for option in (
        click.option(
            "--converter",
            type=float,
            default=1.0,
            show_default=True,
            help="Teleconverter on the longest lens.",
        ),
        click.option("--bodies", type=int, help="How many cameras. Default: one a lens."),
        click.option(
            "--body",
            "crop_factors",
            type=float,
            multiple=True,
            help="Crop factor: one for all, or one a lens in the same order. Default: 1.0.",
        ),
        click.option(
            "--lens",
            "lenses",
            multiple=True,
            help="Focal length in mm: 70-200, 400, 70-200/2.8. Repeat for more. "
            "Default: the demo kit, 70-200 and 400.",
        ),
    ):
        command = option(command)
    return command


def kit_from(
    *,
    lenses: tuple[str, ...],
    crop_factors: tuple[float, ...],
    bodies: int | None,
    converter: float,
) -> Kit:
    """Return the kit that the options name; the demo kit when no lens is named."""
    if not lenses and not crop_factors and bodies is None and converter == 1.0:
        return DEMO_KIT
    return kit_of(
        list(lenses) or ["70-200", "400"],
        crop_factors=list(crop_factors) or None,
        bodies=bodies,
        converter=converter,
    )


def ground_options(command: Command) -> Command:
    """Add --rules and --team-area."""
    for option in (
        click.option(
            "--team-area",
            type=float,
            help="Team areas lie between this yard line and its twin; 50 closes nothing. "
            "Default: the rule set's.",
        ),
        click.option(
            "--rules",
            type=click.Choice(list(RULES)),
            default="pro",
            show_default=True,
            help="Rule set of the field.",
        ),
    ):
        command = option(command)
    return command


def venue_from(*, rules: str, team_area: float | None) -> Venue:
    """Return the venue that the options name."""
    return standard_venue(rules, team_area_from_yard_line=team_area)


def assignment_from(faces: str) -> Assignment:
    """Return the plain assignment for whose faces are wanted."""
    return assignment_for(Faces(faces))


def situation_from(
    *,
    down: int,
    distance: int | None,
    ball: str,
    hash_mark: str,
    score: int,
    quarter: int,
    clock: str,
) -> Situation:
    """Return the situation that the options name; goal to go where no distance is left."""
    yardline_100 = parse_ball(ball)
    return Situation(
        down=down,
        distance_yd=min(10, yardline_100) if distance is None else distance,
        yardline_100=yardline_100,
        hash_mark=HashMark(hash_mark),
        score_diff=score,
        quarter=quarter,
        clock_s=parse_clock(clock),
    )


def echo_json(document: dict[str, Any]) -> None:
    """Write one JSON document to standard output."""
    click.echo(json.dumps(document, indent=2, allow_nan=False))
