"""A game to log, as typed when it starts."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from lensyard.domain.assignment import Faces
from lensyard.game.entry import Game
from lensyard.options.choices import OneOf, Text, choice, parts_of, whole
from lensyard.options.groups import AssignmentOptions, LensOptions, VenueOptions


@dataclass(frozen=True)
class NewGameOptions:
    """A game to log: its teams, and what it is called."""

    home: str = choice("", Text(), "home", "", "What you call the home team.", required=True)
    away: str = choice("", Text(), "away", "", "What you call the visitors.", required=True)
    game_id: str | None = choice(None, Text(), "id", "", "The game's id. Default: day and teams.")
    season: int | None = choice(None, whole(1900, 2200), "season", "", "Default: this one.")
    home_attacks: str = choice(
        "B",
        OneOf(("A", "B")),
        "home-attacks",
        "",
        "The end that the home team attacks in the first quarter.",
    )

    def id_on(self, now: datetime) -> str:
        """Return the id; one of the day and the teams where none was said."""
        words = re.sub(r"[^a-z0-9]+", "-", f"{self.away}-{self.home}".lower()).strip("-")
        return self.game_id or f"{now.astimezone():%Y-%m-%d}-{words}"[:64].rstrip("-")

    def season_on(self, now: datetime) -> int:
        """Return the season; a game in January or February belongs to the year before."""
        return self.season or (now.year if now.month > 2 else now.year - 1)


def game_of(
    new: NewGameOptions,
    *,
    venue: VenueOptions,
    assignment: AssignmentOptions,
    lenses: LensOptions | None,
    now: datetime,
) -> Game:
    """Return a game to log, with everything in it tried once; without lenses it has the demo kit.

    Raises
    ------
    InvalidInputError
        If venue, assignment or kit cannot be used.
    """
    place = venue.venue()
    assignment.assignment()
    kit: dict[str, Any] = {}
    if lenses is not None:
        lenses.kit()
        factors = parts_of(lenses.crop_factors)
        kit = {
            "lenses": tuple(parts_of(lenses.lenses)),
            "crop_factors": () if factors == ["1"] else tuple(map(float, factors)),
            "bodies": lenses.bodies,
            "converter": lenses.converter,
        }
    return Game(
        game_id=new.id_on(now),
        home=new.home,
        away=new.away,
        season=new.season_on(now),
        started_at=now,
        venue=_whole_path(venue.venue_name),
        rules=place.rules.name,
        team_area=None if venue.venue_name else venue.team_area,
        assignment=_whole_path(assignment.assignment_name),
        faces=(assignment.faces or Faces.OFFENSE).value,
        home_direction=1 if new.home_attacks == "B" else -1,
        time_zone=place.time_zone if venue.venue_name and place.has_place else "",
        **kit,
    )


def _whole_path(name: str) -> str:
    """A path is kept whole, so that the log works from any folder."""
    return str(Path(name).expanduser().resolve()) if name.lower().endswith(".toml") else name
