"""The offline card as a page: what the service assembled, with the ground drawn under it."""

from __future__ import annotations

from lensyard.domain.field import Direction
from lensyard.service.card_content import CardContent, card_document
from lensyard.sheets.card import CardPage
from lensyard.views.from_domain import closed_marks, station_marks
from lensyard.views.picture import FieldPicture


def card_page(content: CardContent) -> CardPage:
    """Return the page of a card."""
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
        document=card_document(content),
        tables=content.packed.payload,
        ground=ground,
    )
