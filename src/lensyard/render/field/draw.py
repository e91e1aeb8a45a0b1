"""The field picture: one SVG of the field, the play and the people around it.

>>> from lensyard.domain.field import rules_named
>>> from lensyard.render.theme import SUNLIGHT
>>> svg = field_svg(FieldPicture(rules_named("pro")), theme=SUNLIGHT)
>>> svg.startswith("<svg"), svg.endswith("</svg>")
(True, True)
"""

from __future__ import annotations

from typing import Literal
from zlib import crc32

from lensyard.errors import UnknownNameError
from lensyard.render.field import ground, play, spots
from lensyard.render.field.canvas import Canvas
from lensyard.render.field.density import bands_of
from lensyard.render.field.describe import description_of, title_of
from lensyard.render.field.legend import legend_of
from lensyard.render.field.picture import FieldPicture, Orientation, StationMark
from lensyard.render.field.scale import Scale, scale_of
from lensyard.render.svg import FONT_FAMILY, clean, element, group, number
from lensyard.render.theme import Theme

WIDTHS_PX = {Orientation.HORIZONTAL: 1200.0, Orientation.VERTICAL: 380.0}
"""How wide a picture is drawn where nobody says it: for laptops and paper, for phones."""


def field_svg(
    picture: FieldPicture,
    *,
    theme: Theme,
    orientation: Literal["horizontal", "vertical"] | Orientation = Orientation.HORIZONTAL,
    width_px: float | None = None,
    legend: bool = True,
) -> str:
    """Return the picture as SVG text.

    Parameters
    ----------
    picture
        What is drawn.
    theme
        The colors.
    orientation
        ``horizontal`` for laptops and paper: the offense attacks to the right. ``vertical`` for
        phones: it attacks to the top.
    width_px
        280 to 4000; the height follows. Default: `WIDTHS_PX`. [px]
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
    scale = scale_of(picture, orientation=lying, width_px=width_px or WIDTHS_PX[lying])
    canvas = Canvas(theme, scale)
    key = f"ly{crc32(repr((picture.rules.name, theme.name, scale)).encode()):08x}"
    width, height = scale.size_px
    drawn = _layers(picture, canvas, key)
    below, below_px = legend_of(picture, canvas) if legend else ("", 0.0)
    page = element("rect", width=width, height=height + below_px, fill=theme.page)
    return element(
        "svg",
        _head(picture, theme, scale, key) + page + drawn + below,
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


def _head(picture: FieldPicture, theme: Theme, scale: Scale, key: str) -> str:
    clip = element("rect", **scale.box())
    defs = element("clipPath", clip, id=f"{key}c") + ground.hatch_pattern(theme, f"{key}h")
    return (
        element("title", clean(title_of(picture)), id=f"{key}t")
        + element("desc", clean(description_of(picture)), id=f"{key}d")
        + element("defs", defs)
    )


def _layers(picture: FieldPicture, canvas: Canvas, key: str) -> str:
    """Return the ground, the play and the people, from the bottom to the top.

    Labels find their places in the order in which they are made here: those of more weight first.
    """
    shapes = bands_of(picture.mass) if picture.mass is not None else ()
    on_field = f"url(#{key}c)"
    places = spots.mark_places(picture, canvas.scale)
    spots.take_marks(picture, places, canvas)
    bottom = [
        ground.surroundings(picture, canvas),
        ground.turf(canvas),
        group([play.bands(shapes, canvas)], clip_path=on_field, data_role="density"),
        ground.lines(picture, canvas),
        ground.numbers(canvas),
        ground.end_names(picture, canvas),
        ground.closed_stretches(picture, canvas, f"{key}h"),
        ground.goals_and_pylons(picture, canvas),
        group([play.rings(picture, canvas)], clip_path=on_field),
        play.start(picture, canvas),
        play.walk(picture, canvas),
    ]
    marks = spots.spots(picture, places, canvas)
    standing = play.standing(picture, places.standing, canvas)
    walk = play.walk_label(picture, canvas)
    play.take_lines(picture, canvas)
    ring_labels = play.ring_labels(picture, canvas)
    sidelines = ground.sideline_names(picture, canvas)
    taps = _tap_layer(picture, canvas.scale)
    return "".join([*bottom, sidelines, ring_labels, walk, taps, standing, marks])


def _tap_layer(picture: FieldPicture, scale: Scale) -> str:
    """Return the invisible layer that turns taps into yards and stations."""
    if not picture.tappable:
        return ""
    width, height = scale.size_px
    plate = element("rect", width=width, height=height, fill="none", pointer_events="all")
    radius = max(0.5 * scale.px_per_yd, 2.0)
    stations = [_station(mark, scale, radius) for mark in picture.stations]
    return group(
        [plate, group(stations, fill="none", data_role="stations")],
        data_role="tap-layer",
        data_affine=scale.affine(),
        aria_hidden="true",
    )


def _station(mark: StationMark, scale: Scale, radius_px: float) -> str:
    # Hundreds of them: written directly, numbers need no escaping.
    px, py = scale.at(mark.x_yd, mark.y_yd)
    closed = "" if mark.is_open else ' data-closed="1"'
    return (
        f'<circle cx="{number(px)}" cy="{number(py)}" r="{number(radius_px)}"'
        f' data-station="{mark.station}" data-x-yd="{mark.x_yd:.2f}"'
        f' data-y-yd="{mark.y_yd:.2f}"{closed}/>'
    )
