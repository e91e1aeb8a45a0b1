"""The offline card as a page: what the service assembled, with the ground drawn under it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from lensyard.domain.field import Direction
from lensyard.domain.venue import Venue
from lensyard.present.light_table import kickoff_text, light_table
from lensyard.service.card_content import CardContent, card_document
from lensyard.service.sheet_content import GameLight
from lensyard.sheets.card import CardPage
from lensyard.views.from_domain import closed_marks, station_marks
from lensyard.views.picture import FieldPicture


def card_page(content: CardContent, light: GameLight | None = None) -> CardPage:
    """Return the page of a card, with the light of a game where that is known."""
    venue = content.request.venue
    perimeter = content.solved.scorers[0].perimeter
    ground = FieldPicture(
        rules=venue.rules,
        closed=closed_marks(venue, Direction.TOWARD_B),
        stations=station_marks(perimeter, Direction.TOWARD_B),
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        end_names=venue.end_names,
        sideline_names=venue.sideline_names,
        title=f"The field of {venue.name}",
        tappable=True,
    )
    return CardPage(
        title=f"Card: {venue.name}, {content.request.assignment.name}",
        document={**card_document(content), "light": _light(light, venue)},
        tables=content.packed.payload,
        ground=ground,
    )


def _light(light: GameLight | None, venue: Venue) -> dict[str, Any] | None:
    if light is None:
        return None
    return {"when": kickoff_text(light), **asdict(light_table(light, venue))}
