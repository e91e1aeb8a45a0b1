"""What a logged game was played with: venue, kit and assignment."""

from __future__ import annotations

from dataclasses import dataclass

from lensyard.domain.assignment import Assignment, Faces, assignment_for
from lensyard.domain.kit import DEMO_KIT, Kit, kit_of
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import LensyardError
from lensyard.game.entry import Game


@dataclass(frozen=True, slots=True)
class GameSetup:
    """What a logged game was played with.

    ``warning`` says why the assignment cannot be read any more, where it cannot; the assignment is
    then the usual one for whose faces count.
    """

    venue: Venue
    kit: Kit
    assignment: Assignment
    warning: str


def game_setup_of(game: Game) -> GameSetup:
    """Return venue, kit and assignment of a game.

    Raises
    ------
    InvalidInputError
        If its venue cannot be read any more.
    """
    if game.venue:
        from lensyard.settings.venue_file import load_venue

        venue = load_venue(game.venue)
    else:
        venue = standard_venue(game.rules, team_area_from_yard_line=game.team_area)
    kit = DEMO_KIT
    if game.lenses:
        kit = kit_of(
            list(game.lenses),
            crop_factors=list(game.crop_factors) or None,
            bodies=game.bodies,
            converter=game.converter,
        )
    assignment, warning = assignment_of(game)
    return GameSetup(venue, kit, assignment, warning)


def assignment_of(game: Game) -> tuple[Assignment, str]:
    """Return the assignment of a game, and a warning where it cannot be read any more."""
    usual = assignment_for(Faces(game.faces))
    if not game.assignment:
        return usual, ""
    # Imported here: the reader of settings files takes longer to import than a play takes to log.
    from lensyard.settings.assignment_file import load_assignment

    try:
        return load_assignment(game.assignment), ""
    except LensyardError as error:
        return usual, f"The assignment cannot be read, so nothing is known of must-haves: {error}."
