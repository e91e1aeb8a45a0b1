"""The field picture: one SVG of the field, the play and the people around it.

>>> from lensyard.domain.field import rules_named
>>> from lensyard.render.theme import SUNLIGHT
>>> svg = field_svg(FieldPicture(rules_named("pro")), theme=SUNLIGHT)
>>> svg.startswith("<svg"), svg.endswith("</svg>")
(True, True)
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, partial
from typing import Any, Literal
from zlib import crc32

from lensyard.domain.places import spot_label, yard_line_text
from lensyard.domain.venue import side_names
from lensyard.errors import UnknownNameError
from lensyard.records import Record
from lensyard.render.field import ground, play, spots
from lensyard.render.field.canvas import Box, Canvas, Scale, scale_of
from lensyard.render.field.picture import FieldPicture, Orientation, SpotRole, StationMark
from lensyard.render.field.play import SHARES, bands_of
from lensyard.render.field.spots import shape, spot_words
from lensyard.render.html import (
    FONT_FAMILY,
    Attributes,
    Point,
    clean,
    element,
    group,
    number,
    text,
    text_width_px,
)
from lensyard.render.theme import Theme
from lensyard.render.words import percent

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

    - ``orientation``: ``horizontal`` for laptops and paper: the offense attacks to the right.
      ``vertical`` for phones: it attacks to the top.
    - ``width_px``: 280 to 4000; the height follows. Default: `WIDTHS_PX`. [px]
    - ``legend``: whether the legend is added below.

    The result: a whole SVG document without outside resources; the same input gives the same text.

    Raises `UnknownNameError` or `OutOfRangeError` if the orientation or the width is none of these.
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
    under, over, taken = _ground(
        canvas.theme,
        canvas.scale,
        f"{key}h",
        rules=picture.rules,
        closed=picture.closed,
        side_setback_yd=picture.side_yd,
        end_setback_yd=picture.end_yd,
        direction=picture.direction,
        end_names=picture.end_names,
    )
    canvas.taken += taken
    bottom = [
        under,
        group([play.bands(shapes, canvas)], clip_path=on_field, data_role="density"),
        over,
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


@lru_cache(maxsize=8)
def _ground(
    theme: Theme, scale: Scale, pattern: str, **shown: Any
) -> tuple[str, str, tuple[Box, ...]]:
    """Return the ground under the play, what is over it, and the places that this takes.

    ``pattern`` is that of closed stretches; ``shown`` is what a picture says of the ground.
    """
    picture, canvas = FieldPicture(**shown), Canvas(theme, scale)
    under = ground.surroundings(picture, canvas) + ground.turf(canvas)
    over = [
        ground.lines(picture, canvas),
        ground.numbers(canvas),
        ground.end_names(picture, canvas),
        ground.closed_stretches(picture, canvas, pattern),
        ground.goals_and_pylons(picture, canvas),
    ]
    return under, "".join(over), tuple(canvas.taken)


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


_ROLE_WORDS = {
    SpotRole.BEST: "best spot",
    SpotRole.EQUAL: "as good",
    SpotRole.OTHER: "next best",
    SpotRole.HABIT: "usual habit",
}
_ICON_GAP_PX = 6.0
_ITEM_GAP_PX = 18.0
Icon = Callable[[Point], str]


class LegendItem(Record):
    """An icon of a width and the words beside it."""

    icon: Icon
    icon_width_px: float
    words: str


def legend_of(picture: FieldPicture, canvas: Canvas) -> tuple[str, float]:
    """Return the legend below the ground, and its height. [px]"""
    items = [*_spot_items(picture, canvas.theme), *_play_items(picture, canvas.theme)]
    if not items:
        return "", 0.0
    width, top = canvas.scale.size_px
    font = max(canvas.scale.font_px * 0.95, 11.0)
    line = font * 1.9
    left = pad = 10.0
    middle = top + line * 0.75
    parts = []
    for item in items:
        wide = item.icon_width_px + _ICON_GAP_PX + text_width_px(item.words, font)
        if left > pad and left + wide > width - pad:
            left, middle = pad, middle + line
        parts.append(item.icon((left + item.icon_width_px / 2, middle)))
        parts.append(text(item.words, (left + item.icon_width_px + _ICON_GAP_PX, middle)))
        left += wide + _ITEM_GAP_PX
    style: Attributes = {
        "font_size": font,
        "fill": canvas.theme.ink,
        "dominant_baseline": "central",
    }
    return group(parts, **style, data_role="legend"), middle + line * 0.75 - top


def _spot_items(picture: FieldPicture, theme: Theme) -> list[LegendItem]:
    present = {spot.role for spot in picture.spots}
    return [
        LegendItem(partial(shape, role, radius=6.5, theme=theme), 16.0, words)
        for role, words in _ROLE_WORDS.items()
        if role in present
    ]


def _play_items(picture: FieldPicture, theme: Theme) -> list[LegendItem]:
    items = []
    if picture.mass is not None and float(picture.mass.sum()) > 0:
        narrow, middle, wide = (percent(share) for share in reversed(SHARES))
        words = f"{narrow}, {middle}, {wide} of plays end inside"
        items.append(LegendItem(_band_icon(theme), 42.0, words))
    if picture.best is not None and picture.rings:
        items.append(LegendItem(_stroke_icon(theme.accent, 1.8, None), 22.0, "reach"))
        if any(ring.nearest_yd > 0 for ring in picture.rings):
            items.append(LegendItem(_stroke_icon(theme.accent, 1.8, "2 4"), 22.0, "too near"))
    if picture.ball is not None:
        items.append(LegendItem(_stroke_icon(theme.ink, 2.4, None), 22.0, "line of scrimmage"))
    if picture.line_to_gain_x_yd is not None:
        items.append(LegendItem(_stroke_icon(theme.ink, 2.4, "6 4"), 24.0, "line to gain"))
    return items


def _band_icon(theme: Theme) -> Icon:
    def icon(at: Point) -> str:
        left, top = at[0] - 21.0, at[1] - 6.0
        size = {"y": top, "width": 14, "height": 12, "stroke_width": 0.8}
        return "".join(
            element("rect", x=left + 14.0 * i, **size, fill=fill, stroke=theme.band_edge)
            for i, fill in enumerate(reversed(theme.band))
        )

    return icon


def _stroke_icon(color: str, width: float, dash: str | None) -> Icon:
    def icon(at: Point) -> str:
        data = f"M{at[0] - 11:.1f} {at[1]:.1f}h22"
        return element("path", d=data, stroke=color, stroke_width=width, stroke_dasharray=dash)

    return icon


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
    for role, words in _ROLE_WORDS.items():
        marked = [spot_words(spot, picture) for spot in picture.spots if spot.role == role]
        if marked:
            sentences.append(f"{words.capitalize()}: {'; '.join(marked)}.")
    if picture.best is not None and picture.rings:
        reach = "; ".join(f"{ring.label} to {ring.reach_yd:.0f} yd" for ring in picture.rings)
        sentences.append(f"Reach from the best spot: {reach}.")
    if picture.standing is not None:
        sides = side_names(
            end_names=picture.end_names,
            sideline_names=picture.sideline_names,
            direction=picture.direction,
        )
        place = spot_label(x_yd=picture.standing.x_yd, y_yd=picture.standing.y_yd, names=sides)
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
