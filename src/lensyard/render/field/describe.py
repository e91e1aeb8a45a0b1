"""The field picture in words, for whoever does not see it."""

from __future__ import annotations

from lensyard.domain.places import spot_label, yard_line_text
from lensyard.render.field.picture import FieldPicture, SpotRole
from lensyard.render.field.spots import spot_words
from lensyard.render.words import percent


def title_of(picture: FieldPicture) -> str:
    """Return the picture's name: the answer in a few words."""
    if picture.title:
        return picture.title
    if picture.best is None:
        return "The field"
    usable = "" if picture.best.p_usable is None else f", {percent(picture.best.p_usable)} usable"
    return f"Where to stand: {picture.best.label}{usable}"


def description_of(picture: FieldPicture) -> str:
    """Return everything that the picture says, in sentences."""
    if picture.description:
        return picture.description
    sentences = [f"Football field, {picture.rules.name} rules, seen from above."]
    sentences += _play(picture)
    for role, words in (
        (SpotRole.BEST, "Best spot"),
        (SpotRole.EQUAL, "As good"),
        (SpotRole.OTHER, "Next best"),
        (SpotRole.HABIT, "Usual habit"),
    ):
        marked = [spot_words(spot, picture) for spot in picture.spots if spot.role == role]
        if marked:
            sentences.append(f"{words}: {'; '.join(marked)}.")
    if picture.best is not None and picture.rings:
        reach = "; ".join(f"{ring.label} to {ring.reach_yd:.0f} yd" for ring in picture.rings)
        sentences.append(f"Reach from the best spot: {reach}.")
    if picture.standing is not None:
        place = spot_label(x_yd=picture.standing.x_yd, y_yd=picture.standing.y_yd)
        walk = f"; the walk is {picture.walk_text}" if picture.walk_text else ""
        sentences.append(f"You stand at: {place}{walk}.")
    if picture.closed:
        names = ", ".join(dict.fromkeys(mark.label for mark in picture.closed))
        sentences.append(f"Closed to photographers: {names}.")
    return " ".join(sentences)


def _play(picture: FieldPicture) -> list[str]:
    sentences = []
    if picture.ball is not None:
        sentences.append(f"The ball is at {_line(picture.ball.x_yd)}.")
    if picture.line_to_gain_x_yd is not None:
        sentences.append(f"The line to gain is {_line(picture.line_to_gain_x_yd)}.")
    return sentences


def _line(x_yd: float) -> str:
    words = yard_line_text(x_yd)
    return words if words.startswith("the ") else f"the {words}"
