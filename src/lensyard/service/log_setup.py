"""Setting up a game for the log: teams, ground, assignment and kit, each tried once."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from lensyard.data.log_entry import Game
from lensyard.errors import InvalidInputError


@dataclass(frozen=True, slots=True)
class GameSetup:
    """A game as the photographer sets it up; see `lensyard.data.log_entry.Game`.

    ``game_id`` None makes one from the day and the teams, ``season`` None takes the day's (a game
    in January or February belongs to the year before). ``home_attacks`` is the end, A or B, that
    the home team attacks in the first quarter.
    """

    home: str
    away: str
    game_id: str | None = None
    season: int | None = None
    venue: str = ""
    rules: str = "pro"
    team_area: float | None = None
    assignment: str = ""
    faces: str = "offense"
    lenses: tuple[str, ...] = ()
    crop_factors: tuple[float, ...] = ()
    bodies: int | None = None
    converter: float = 1.0
    home_attacks: str = "B"


def game_of(setup: GameSetup, *, now: datetime) -> Game:
    """Return the game of a setup, with everything in it tried once."""
    from lensyard.domain.optics import kit_of
    from lensyard.domain.venue import standard_venue

    time_zone, rules = "", setup.rules
    if setup.venue:
        from lensyard.service.venue_file import load_venue

        venue = load_venue(setup.venue)
        time_zone = venue.time_zone if venue.has_place else ""
        rules = venue.rules.name
    else:
        standard_venue(setup.rules, team_area_from_yard_line=setup.team_area)
    if setup.assignment:
        from lensyard.service.assignment_file import load_assignment

        load_assignment(setup.assignment)
    if setup.lenses:
        kit_of(
            list(setup.lenses),
            crop_factors=list(setup.crop_factors) or None,
            bodies=setup.bodies,
            converter=setup.converter,
        )
    elif setup.crop_factors or setup.bodies is not None or setup.converter != 1.0:
        raise InvalidInputError("bodies and converters belong to lenses; give --lens as well")
    ends = {"A": -1, "B": 1}
    if setup.home_attacks.upper() not in ends:
        raise InvalidInputError(f"home attacks end A or B; got {setup.home_attacks!r}")
    return Game(
        game_id=setup.game_id or _id_of(setup, now),
        home=setup.home,
        away=setup.away,
        season=setup.season or (now.year if now.month > 2 else now.year - 1),
        started_at=now,
        venue=_whole_path(setup.venue),
        rules=rules,
        team_area=setup.team_area,
        assignment=_whole_path(setup.assignment),
        faces=setup.faces,
        lenses=setup.lenses,
        crop_factors=setup.crop_factors,
        bodies=setup.bodies,
        converter=setup.converter,
        home_direction=ends[setup.home_attacks.upper()],
        time_zone=time_zone,
    )


def _whole_path(name: str) -> str:
    """A path is kept whole, so that the log works from any folder."""
    return str(Path(name).expanduser().resolve()) if name.lower().endswith(".toml") else name


def _id_of(setup: GameSetup, now: datetime) -> str:
    words = re.sub(r"[^a-z0-9]+", "-", f"{setup.away}-{setup.home}".lower()).strip("-")
    return f"{now.astimezone():%Y-%m-%d}-{words}"[:64].rstrip("-")
