"""Options that several commands share, and what they turn into."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar

import click
from click.core import ParameterSource

from lensyard.domain.assignment import Assignment, Faces, LightPreference, assignment_for
from lensyard.domain.field import RULES, Direction, HashMark
from lensyard.domain.kit import DEMO_KIT, Kit, kit_of
from lensyard.domain.situation import Situation, parse_ball, parse_clock
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import ParseError

if TYPE_CHECKING:
    from lensyard.planner.solve import Walking

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


_VENUE = "lensyard.venue"


def _remember_venue(ctx: click.Context, _: click.Parameter, value: str | None) -> None:
    """Keep --venue for `venue_from`, so that no command has to pass it on."""
    ctx.meta[_VENUE] = value


def venue_options(command: Command) -> Command:
    """Add --venue, --rules and --team-area; `venue_from` turns them into a venue."""
    for option in (
        click.option(
            "--venue",
            expose_value=False,
            callback=_remember_venue,
            help="A venue's name, or the path of its TOML file; in place of --rules and "
            "--team-area. `lensyard venue list` names them.",
        ),
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


def venue_from(*, rules: str, team_area: float | None, venue: str | None = None) -> Venue:
    """Return the venue that the options name.

    Parameters
    ----------
    rules, team_area
        Of --rules and --team-area.
    venue
        A name or a path; by default what --venue of the running command says.

    Raises
    ------
    click.UsageError
        If --rules or --team-area is typed beside --venue.
    InvalidInputError
        If there is no such venue, or its file is not usable.
    """
    context = click.get_current_context(silent=True)
    if venue is None and context is not None:
        venue = context.meta.get(_VENUE)
    if venue is None:
        return standard_venue(rules, team_area_from_yard_line=team_area)
    typed = [
        option
        for option, name in (("--rules", "rules"), ("--team-area", "team_area"))
        if context is not None
        and context.get_parameter_source(name)
        in (ParameterSource.COMMANDLINE, ParameterSource.ENVIRONMENT)
    ]
    if typed:
        raise click.UsageError(
            f"--venue already says what {' and '.join(typed)} would; leave one of the two out"
        )
    from lensyard.settings.venue_file import load_venue

    return load_venue(venue)


attacking_option = click.option(
    "--attacking",
    help="The end that the offense plays toward: A, B or its name. It matters where the two ends "
    "of a venue differ.",
)


def direction_from(attacking: str | None, venue: Venue) -> Direction:
    """Return the direction of attack that --attacking names; toward B when it is left out.

    Where that matters and was not said, standard error says what was assumed.

    Raises
    ------
    UnknownNameError
        If the venue has no such end.
    """
    if attacking is not None:
        return venue.toward(attacking)
    if not venue.symmetric:
        click.echo(
            f"lensyard: the two ends of {venue.name} differ; taking the offense to play toward "
            f"the {venue.end_names[1]} (B). Say --attacking {venue.end_names[0]!r} otherwise",
            err=True,
        )
    return Direction.TOWARD_B


_ASSIGNMENT = "lensyard.assignment"


def _remember_assignment(ctx: click.Context, _: click.Parameter, value: str | None) -> None:
    """Keep --assignment for `assignment_from`, so that no command has to pass it on."""
    ctx.meta[_ASSIGNMENT] = value


assignment_option = click.option(
    "--assignment",
    expose_value=False,
    callback=_remember_assignment,
    help="What you are sent for: a name (`lensyard assignment list`), or the path of a TOML file. "
    "It brings weights, faces, whose plays count, the shot list and what light should do.",
)


def assignment_options(command: Command) -> Command:
    """Add --assignment and --faces; `assignment_from` turns them into an assignment."""
    for option in (
        click.option(
            "--faces",
            type=click.Choice([faces.value for faces in Faces]),
            default=Faces.OFFENSE.value,
            show_default=True,
            help="Whose faces the frames must show; with --assignment, in place of its own.",
        ),
        assignment_option,
    ):
        command = option(command)
    return command


def assignment_from(faces: str) -> Assignment:
    """Return the assignment that --assignment names, or the plain one for whose faces are wanted.

    Faces that are typed win over those of the assignment.

    Raises
    ------
    InvalidInputError
        If there is no such assignment, or its file is not usable.
    """
    context = click.get_current_context(silent=True)
    named = None if context is None else context.meta.get(_ASSIGNMENT)
    if context is None or named is None:
        return assignment_for(Faces(faces))
    from dataclasses import replace

    from lensyard.settings.assignment_file import load_assignment

    assignment = load_assignment(named)
    typed = context.get_parameter_source("faces") in (
        ParameterSource.COMMANDLINE,
        ParameterSource.ENVIRONMENT,
    )
    return replace(assignment, faces=Faces(faces)) if typed else assignment


have_option = click.option(
    "--have",
    multiple=True,
    help="A frame of the shot list that you have: drop-back. Repeat for more, or separate with "
    "commas. What is left of its bonus counts.",
)


def have_from(have: tuple[str, ...]) -> tuple[str, ...]:
    """Return the ticked keys that --have names, each once.

    >>> have_from(("drop-back,carrier", "carrier"))
    ('drop-back', 'carrier')
    """
    keys = (key.strip() for text in have for key in text.split(","))
    return tuple(dict.fromkeys(key for key in keys if key))


def walking_options(command: Command) -> Command:
    """Add --between, --at-change and --price; `walking_from` turns them into walking."""
    for option in (
        click.option(
            "--price", type=float, help="Of a yard walked, in usable plays. Default: by reach."
        ),
        click.option(
            "--at-change", default=110.0, show_default=True, help="Yards when the ball changes."
        ),
        click.option(
            "--between", default=30.0, show_default=True, help="Yards one walks between plays."
        ),
    ):
        command = option(command)
    return command


def walking_from(
    kit: Kit, assignment: Assignment, *, between: float, at_change: float, price: float | None
) -> Walking:
    """Return the walking that the options say; the usual price for the kit where none is said."""
    from dataclasses import replace

    from lensyard.planner.problem import usual_walking

    usual = usual_walking(kit, assignment)
    return replace(
        usual,
        drive_limit_yd=between,
        change_limit_yd=at_change,
        price_per_yd=usual.price_per_yd if price is None else price,
    )


def time_option(command: Command) -> Command:
    """Add --at and --light, the light in the ranking."""
    for option in (
        click.option(
            "--light",
            type=click.Choice([preference.value for preference in LightPreference]),
            help="With --at: what light should do to the order. Default: as the assignment says.",
        ),
        click.option(
            "--at",
            "at_text",
            help="When: 2026-10-03T15:30 (the venue's clock), or with an offset. Then each spot "
            "has its light. Needs a --venue with its place.",
        ),
    ):
        command = option(command)
    return command


def time_from(text: str) -> datetime:
    """Return a date and a time of day, with a zone only if the text has one.

    Raises
    ------
    ParseError
        If the text is something else.

    >>> time_from("2026-10-03T15:30").hour
    15
    """
    expected = "a date and a time such as 2026-10-03T15:30, or with an offset: …15:30-05:00"
    try:
        at = datetime.fromisoformat(text.strip())
    except ValueError:
        raise ParseError(name="--at", text=text, expected=expected) from None
    if "T" not in text.upper() and " " not in text.strip():
        raise ParseError(name="--at", text=text, expected=expected)
    return at


def situation_from(
    *,
    down: int,
    distance: int | None,
    ball: str,
    hash_mark: str | None,
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
        hash_mark=HashMark(hash_mark) if hash_mark else None,
        score_diff=score,
        quarter=quarter,
        clock_s=parse_clock(clock),
    )


def echo_json(document: dict[str, Any]) -> None:
    """Write one JSON document to standard output."""
    click.echo(json.dumps(document, indent=2, allow_nan=False))
