"""The field with the places where a crew rests: numbered marks without a share beside them."""

from __future__ import annotations

from dataclasses import replace

from lensyard.views.field_picture import field_svg
from lensyard.views.field_spots import leader, letter_in, mark_places, mark_radius_px, shape
from lensyard.views.frame import frame_of
from lensyard.views.palette import Look
from lensyard.views.picture import FieldPicture, Orientation
from lensyard.views.svg import clean, element, group

WIDE_PX, NARROW_PX = 880.0, 380.0


def rest_svg(picture: FieldPicture, *, look: Look, wide: bool = True) -> str:
    """Return the picture as SVG text, lying on a wide screen and upright on a narrow one.

    The probabilities of its spots are not shown: a place to rest has none of its own.
    """
    lying = Orientation.HORIZONTAL if wide else Orientation.VERTICAL
    width = WIDE_PX if wide else NARROW_PX
    frame = frame_of(picture, orientation=lying, width_px=width, stadium=False)
    ground = field_svg(
        replace(picture, spots=()), look=look, orientation=lying, width_px=width, legend=False
    )
    marks = []
    places = mark_places(picture, frame).spots
    for spot, at in zip(picture.spots, places, strict=True):
        radius = mark_radius_px(spot.role, frame)
        name = "" if spot.rank is None else str(spot.rank)
        marks.append(
            group(
                [
                    element("title", clean(f"{name}: {spot.label}")),
                    leader(frame.at(spot.x_yd, spot.y_yd), at, look),
                    shape(spot.role, at, radius, look),
                    letter_in(spot.role, at, radius, look, name),
                ]
            )
        )
    return ground.removesuffix("</svg>") + group(marks, data_role="spots") + "</svg>"
