"""The field picture: one SVG of the field, the play and the people around it.

>>> from lensyard.domain.field import rules_named
>>> from lensyard.render.theme import SUNLIGHT
>>> from lensyard.render.field.picture import FieldPicture
>>> svg = field_svg(FieldPicture(rules_named("pro")), theme=SUNLIGHT)
>>> svg.startswith("<svg"), svg.endswith("</svg>")
(True, True)

The field with the places where a crew rests: numbered marks without a share beside them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal
from zlib import crc32

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, Direction
from lensyard.errors import UnknownNameError
from lensyard.render.field import ground as field_ground
from lensyard.render.field import marks as field_spots
from lensyard.render.field import people as field_people
from lensyard.render.field import play as field_play
from lensyard.render.field.density import bands_of
from lensyard.render.field.describe import description_of, title_of
from lensyard.render.field.frame import Frame, frame_of
from lensyard.render.field.marks import (
    Room,
    leader,
    legend_of,
    letter_in,
    mark_places,
    mark_radius_px,
    shape,
    text_box,
)
from lensyard.render.field.picture import FieldPicture, Orientation, StationMark
from lensyard.render.svg import FONT_FAMILY, clean, element, group, number, shortened, text
from lensyard.render.theme import Theme


def field_svg(
    picture: FieldPicture,
    *,
    theme: Theme,
    orientation: Literal["horizontal", "vertical"] | Orientation = Orientation.HORIZONTAL,
    width_px: float | None = None,
    stadium: bool = False,
    legend: bool = True,
) -> str:
    """Return the picture as SVG text.

    Parameters
    ----------
    picture
        What is drawn, in the play frame.
    theme
        The colors.
    orientation
        ``horizontal`` for laptops and paper, ``vertical`` for phones.
    width_px
        280 to 4000; the height follows. Default: 1200 horizontal, 380 vertical. [px]
    stadium
        False: the offense attacks to the right (horizontal) or to the top (vertical). True: the
        stadium frame, end B to the right or to the top; an attack on end A goes the other way.
    legend
        Whether the legend is added below.

    Returns
    -------
    str
        A whole SVG document without outside resources; the same input gives the same text.

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If the orientation or the width is none of these.
    """
    lying = _orientation(orientation)
    if width_px is None:
        width_px = 380.0 if lying == Orientation.VERTICAL else 1200.0
    frame = frame_of(picture, orientation=lying, width_px=width_px, stadium=stadium)
    width, height = frame.surround_px
    key = f"ly{crc32(repr((picture.rules.name, theme.name, frame)).encode()):08x}"
    drawn = _layers(picture, theme, frame, key)
    below, below_px = legend_of(picture, theme, frame, top_px=height) if legend else ("", 0.0)
    page = element("rect", width=width, height=height + below_px, fill=theme.page)
    head = _head(picture, theme, frame, key)
    return element(
        "svg",
        head + page + drawn + below,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height + below_px)}",
        width=width,
        height=height + below_px,
        role="group" if picture.tappable else "img",
        aria_labelledby=f"{key}t {key}d",
        font_family=FONT_FAMILY,
        data_theme=theme.name,
        data_orientation=lying.value,
        style="max-width:100%;height:auto",
    )


def _orientation(value: str) -> Orientation:
    try:
        return Orientation(value)
    except ValueError:
        raise UnknownNameError(
            name="orientation", value=value, known=[o.value for o in Orientation]
        ) from None


def _head(picture: FieldPicture, theme: Theme, frame: Frame, key: str) -> str:
    left, top, width, height = frame.box(
        x_min_yd=0.0, x_max_yd=FIELD_LENGTH_YD, y_min_yd=0.0, y_max_yd=FIELD_WIDTH_YD
    )
    clip = element("rect", x=left, y=top, width=width, height=height)
    defs = element("clipPath", clip, id=f"{key}c") + field_ground.hatch_pattern(theme, f"{key}h")
    return (
        element("title", clean(title_of(picture)), id=f"{key}t")
        + element("desc", clean(description_of(picture)), id=f"{key}d")
        + element("defs", defs)
    )


def _layers(picture: FieldPicture, theme: Theme, frame: Frame, key: str) -> str:
    """Return the ground, the play and the people, from the bottom to the top."""
    room = Room(*frame.surround_px)
    shapes = bands_of(picture.mass) if picture.mass is not None else ()
    on_field = f"url(#{key}c)"
    ground = [
        field_ground.surroundings(picture, theme, frame),
        field_ground.turf(theme, frame),
        group([field_play.bands(shapes, theme, frame)], clip_path=on_field, data_role="density"),
        field_ground.lines(picture, theme, frame),
        field_ground.numbers(theme, frame),
        field_ground.end_names(picture, theme, frame),
        field_ground.closed_stretches(picture, theme, frame, f"{key}h"),
        field_ground.goals_and_pylons(picture, theme, frame),
        group([field_play.rings(picture, theme, frame)], clip_path=on_field),
        field_play.start(picture, theme, frame),
        field_people.walk(picture, theme, frame),
    ]
    places = field_spots.mark_places(picture, frame)
    field_spots.take_marks(picture, places, frame, room)
    _take(picture, frame, room)
    # Labels find their places in order of weight; drawing order is another matter.
    spots = field_spots.spots(picture, places, theme, frame, room)
    standing = field_people.standing(picture, places, theme, frame, room)
    walk = field_people.walk_label(picture, theme, frame, room)
    room.taken += field_play.line_boxes(picture, frame)
    ring_labels = field_play.ring_labels(picture, theme, frame, room)
    sun = field_people.sun(picture, theme, frame, room)
    sidelines = _sideline_names(picture, theme, frame, room)
    taps = _tap_layer(picture, frame)
    return "".join([*ground, sidelines, sun, ring_labels, walk, taps, standing, spots])


def _take(picture: FieldPicture, frame: Frame, room: Room) -> None:
    """Take the places that no label may cover: ball, numbers, closed stretches."""
    font = field_ground.number_font_px(frame)
    for yard, at in field_ground.number_places(frame):
        room.taken.append(text_box(str(yard), at, font))
    if picture.ball is not None:
        for behind in (0.0, 3.0, 6.0, 8.0):
            place = frame.at(picture.ball.x_yd - behind, picture.ball.y_yd)
            room.take_circle(place, max(1.4 * frame.px_per_yd, 7.0))
    for mark in picture.closed:
        left, top, width, height = frame.box(
            x_min_yd=mark.x_min_yd,
            x_max_yd=mark.x_max_yd,
            y_min_yd=mark.y_min_yd,
            y_max_yd=mark.y_max_yd,
        )
        room.taken.append((left, top, left + width, top + height))


def _sideline_names(picture: FieldPicture, theme: Theme, frame: Frame, room: Room) -> str:
    """Return the names of both sidelines on the outer ground, where there is room."""
    forward = picture.direction == Direction.TOWARD_B
    right, left = picture.sideline_names if forward else picture.sideline_names[::-1]
    font = frame.font_px
    outer = frame.side_yd - max(1.3, 0.75 * font / frame.px_per_yd)
    parts = []
    for name, y in (
        (left or "offense's left sideline", FIELD_WIDTH_YD + outer),
        (right or "offense's right sideline", -outer),
    ):
        content = shortened(name, font_px=font, room_px=30 * frame.px_per_yd)
        for x in (20.0, 100.0, 28.0, 92.0, 60.0):
            at = frame.at(x, y)
            box = text_box(content, at, font, upright=frame.is_vertical)
            if room.is_free(box):
                room.taken.append(box)
                turn = f"rotate(-90 {number(at[0])} {number(at[1])})"
                parts.append(text(content, at, transform=turn if frame.is_vertical else None))
                break
    return group(
        parts,
        fill=theme.ink_soft,
        font_size=font,
        letter_spacing="0.03em",
        text_anchor="middle",
        dominant_baseline="central",
    )


def _tap_layer(picture: FieldPicture, frame: Frame) -> str:
    """Return the invisible layer that turns taps into yards and stations."""
    if not picture.tappable:
        return ""
    width, height = frame.surround_px
    plate = element("rect", width=width, height=height, fill="none", pointer_events="all")
    radius = max(0.5 * frame.px_per_yd, 2.0)
    stations = [_station(mark, frame, radius) for mark in picture.stations]
    return group(
        [plate, group(stations, fill="none", data_role="stations")],
        data_role="tap-layer",
        data_affine=frame.affine(),
        aria_hidden="true",
    )


def _station(mark: StationMark, frame: Frame, radius_px: float) -> str:
    # Hundreds of them: written directly, numbers need no escaping.
    px, py = frame.at(mark.x_yd, mark.y_yd)
    closed = "" if mark.is_open else ' data-closed="1"'
    return (
        f'<circle cx="{number(px)}" cy="{number(py)}" r="{number(radius_px)}"'
        f' data-station="{mark.station}" data-x-yd="{mark.x_yd:.2f}"'
        f' data-y-yd="{mark.y_yd:.2f}"{closed}/>'
    )


WIDE_PX, NARROW_PX = 880.0, 380.0


def rest_svg(picture: FieldPicture, *, theme: Theme, wide: bool = True) -> str:
    """Return the picture as SVG text, lying on a wide screen and upright on a narrow one.

    The probabilities of its spots are not shown: a place to rest has none of its own.
    """
    lying = Orientation.HORIZONTAL if wide else Orientation.VERTICAL
    width = WIDE_PX if wide else NARROW_PX
    frame = frame_of(picture, orientation=lying, width_px=width, stadium=False)
    ground = field_svg(
        replace(picture, spots=()), theme=theme, orientation=lying, width_px=width, legend=False
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
                    leader(frame.at(spot.x_yd, spot.y_yd), at, theme),
                    shape(spot.role, at, radius, theme),
                    letter_in(spot.role, at, radius, theme, name),
                ]
            )
        )
    return ground.removesuffix("</svg>") + group(marks, data_role="spots") + "</svg>"
