"""The heat strip: how usable plays are from each stretch of the perimeter, zone by zone.

Around a small field each stretch carries a bar that grows outward with its share of usable plays;
a dash across it is what the model expected. `zone_strip_svg` draws it, `text_strip` writes one line
of digits a zone for a terminal. The offense attacks to the right.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from zlib import crc32

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.errors import InvalidInputError, require_range
from lensyard.render.field.picture import ClosedMark
from lensyard.render.svg import FONT_FAMILY, clean, element, group, number, text
from lensyard.render.theme import Theme
from lensyard.render.words import percent

Box = tuple[float, float, float, float]

EDGES = ("own end", "own corner", "sideline", "corner", "end")
SIDES = ("left", "right", "both")
_BAR_YD = 20.0  # what a share of 1 is long
_GAP_YD = 2.0
_AROUND_YD = _BAR_YD + _GAP_YD + 3.0
_HEAD_PX = 44.0
_CORNER_YD = 5.0


@dataclass(frozen=True, slots=True)
class StripBar:
    """One stretch.

    Attributes
    ----------
    label
        Its place in words.
    edge, side
        One of `EDGES` and of `SIDES`.
    from_yd, to_yd
        x along a sideline, yards in from the pylon behind an end line. [yd]
    p_usable, p_usable_predicted
        Observed and expected share.
    best
        Whether nothing in its zone is better than it by more than chance.
    """

    label: str
    edge: str
    side: str
    from_yd: float
    to_yd: float
    p_usable: float
    p_usable_predicted: float
    best: bool = False

    def __post_init__(self) -> None:
        """Refuse what has no place around the field."""
        require_range(low=0, high=1, p_usable=self.p_usable, p_predicted=self.p_usable_predicted)
        if self.edge not in EDGES or self.side not in SIDES:
            raise InvalidInputError(
                f"a bar lies on one of {', '.join(EDGES)} and on one of {', '.join(SIDES)}; got "
                f"{self.edge!r} and {self.side!r}"
            )


@dataclass(frozen=True, slots=True)
class ZonePanel:
    """One zone.

    Attributes
    ----------
    title, subtitle
        Its name; how many plays.
    from_x_yd, to_x_yd
        Where the line of scrimmage lies in the play frame. [yd]
    bars
        In their order around the field.
    """

    title: str
    subtitle: str
    from_x_yd: float
    to_x_yd: float
    bars: tuple[StripBar, ...]


@dataclass(frozen=True, slots=True)
class ZoneStrip:
    """Everything in one picture: the panels, the closed stretches, title and notes."""

    title: str
    panels: tuple[ZonePanel, ...]
    closed: tuple[ClosedMark, ...] = ()
    notes: tuple[str, ...] = ()


def zone_strip_svg(strip: ZoneStrip, *, theme: Theme, width_px: float = 1000.0) -> str:
    """Return the heat strip as SVG text.

    Parameters
    ----------
    strip
        What is drawn.
    theme
        The colors.
    width_px
        280 to 4000; two panels side by side from 700 on, if there are two. [px]

    Raises
    ------
    OutOfRangeError
        If the width is none of these.
    """
    require_range(low=280, high=4000, width_px=width_px)
    columns = 2 if width_px >= 700 and len(strip.panels) > 1 else 1
    column_px = width_px / columns
    scale = column_px / (FIELD_LENGTH_YD + 2 * _AROUND_YD)
    panel_px = (FIELD_WIDTH_YD + 2 * _AROUND_YD) * scale + _HEAD_PX
    rows = ceil(len(strip.panels) / columns)
    key = f"zs{crc32(repr((strip.title, theme.name, width_px)).encode()):08x}"
    drawn = [
        group(
            [_panel(panel, strip.closed, theme, scale)],
            transform=f"translate({number(i % columns * column_px)} "
            f"{number(_HEAD_PX + i // columns * panel_px)})",
        )
        for i, panel in enumerate(strip.panels)
    ]
    notes, notes_px = _notes(strip, theme, top_px=_HEAD_PX + rows * panel_px, width_px=width_px)
    height = _HEAD_PX + rows * panel_px + notes_px
    head = element("title", clean(strip.title), id=f"{key}t")
    head += element("desc", clean(_described(strip)), id=f"{key}d")
    page = element("rect", width=width_px, height=height, fill=theme.page)
    title = text(strip.title, (16.0, 28.0), fill=theme.ink, font_size=16.0, font_weight="600")
    return element(
        "svg",
        head + page + title + "".join(drawn) + notes,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width_px)} {number(height)}",
        width=width_px,
        height=height,
        role="img",
        aria_labelledby=f"{key}t {key}d",
        font_family=FONT_FAMILY,
        data_theme=theme.name,
        style="max-width:100%;height:auto",
    )


def _described(strip: ZoneStrip) -> str:
    """Return the picture in words: the best stretch of every zone."""
    parts = []
    for panel in strip.panels:
        if panel.bars:
            best = max(panel.bars, key=lambda bar: bar.p_usable)
            parts.append(
                f"{panel.title}, {panel.subtitle}: most usable from the {best.label}, "
                f"{percent(best.p_usable)} observed, {percent(best.p_usable_predicted)} expected."
            )
    return " ".join(parts)


def _panel(panel: ZonePanel, closed: Sequence[ClosedMark], theme: Theme, scale: float) -> str:
    font = min(max(11.0, 2.2 * scale), 15.0)
    head = text(panel.title, (_AROUND_YD * scale, 16.0), font_weight="600", fill=theme.ink)
    head += text(panel.subtitle, (_AROUND_YD * scale, 32.0), fill=theme.ink_soft)
    ground = element("rect", **_rect(-_AROUND_YD, -_AROUND_YD, scale, whole=True), fill=theme.strip)
    ground += element("rect", **_field_rect(0.0, FIELD_LENGTH_YD, scale), fill=theme.field)
    for start in (0.0, FIELD_LENGTH_YD - 10.0):
        ground += element("rect", **_field_rect(start, start + 10.0, scale), fill=theme.end_zone)
    ground += element(
        "rect", **_field_rect(panel.from_x_yd, panel.to_x_yd, scale), fill=theme.band[1]
    )
    lines = [
        element("line", x1=x, x2=x, y1=_px_y(0.0, scale), y2=_px_y(FIELD_WIDTH_YD, scale))
        for x in (_px_x(10.0 * i, scale) for i in range(13))
    ]
    ground += group(lines, stroke=theme.line, stroke_width=0.7, stroke_opacity="0.6")
    ground += element(
        "rect",
        **_field_rect(0.0, FIELD_LENGTH_YD, scale),
        fill="none",
        stroke=theme.line,
        stroke_width=1.2,
    )
    marks = [_closed(mark, theme, scale) for mark in closed]
    bars = [_bar(bar, box, theme, scale) for bar in panel.bars for box in _boxes(bar)]
    arrow = _arrow(theme, scale)
    body = group([ground, *marks, *bars, arrow], transform=f"translate(0 {number(_HEAD_PX)})")
    return group([head, body], font_size=font)


def _px_x(x_yd: float, scale: float) -> float:
    return (x_yd + _AROUND_YD) * scale


def _px_y(y_yd: float, scale: float) -> float:
    return (FIELD_WIDTH_YD + _AROUND_YD - y_yd) * scale


def _rect(x_yd: float, y_yd: float, scale: float, *, whole: bool) -> dict[str, str | float | None]:
    width, height = FIELD_LENGTH_YD, FIELD_WIDTH_YD
    more = 2 * _AROUND_YD if whole else 0.0
    return {
        "x": _px_x(x_yd, scale),
        "y": _px_y(y_yd + height + more, scale),
        "width": (width + more) * scale,
        "height": (height + more) * scale,
    }


def _field_rect(from_x_yd: float, to_x_yd: float, scale: float) -> dict[str, str | float | None]:
    return {
        "x": _px_x(from_x_yd, scale),
        "y": _px_y(FIELD_WIDTH_YD, scale),
        "width": (to_x_yd - from_x_yd) * scale,
        "height": FIELD_WIDTH_YD * scale,
    }


def _closed(mark: ClosedMark, theme: Theme, scale: float) -> str:
    return element(
        "rect",
        x=_px_x(mark.x_min_yd, scale),
        y=_px_y(mark.y_max_yd, scale),
        width=(mark.x_max_yd - mark.x_min_yd) * scale,
        height=(mark.y_max_yd - mark.y_min_yd) * scale,
        fill=theme.closed,
        stroke=theme.hatch,
        stroke_dasharray="4 3",
    )


def _boxes(bar: StripBar) -> list[tuple[str, Box]]:
    """Return where a bar stands: the way it grows, and x and y from and to, one a side. [yd]"""
    found = []
    for left in (True, False):
        if bar.side not in ("both", "left" if left else "right"):
            continue
        if bar.edge == "sideline":
            y = FIELD_WIDTH_YD + _GAP_YD if left else -_GAP_YD
            found.append(("up" if left else "down", (bar.from_yd, bar.to_yd, y, y)))
        elif bar.edge in ("end", "own end"):
            ahead = bar.edge == "end"
            x = FIELD_LENGTH_YD + _GAP_YD if ahead else -_GAP_YD
            near, far = bar.from_yd, bar.to_yd
            y_span = (FIELD_WIDTH_YD - far, FIELD_WIDTH_YD - near) if left else (near, far)
            found.append(("right" if ahead else "backward", (x, x, *y_span)))
        else:
            ahead = bar.edge == "corner"
            x = FIELD_LENGTH_YD + _GAP_YD if ahead else -_GAP_YD
            low = FIELD_WIDTH_YD if left else -_CORNER_YD
            found.append(("right" if ahead else "backward", (x, x, low, low + _CORNER_YD)))
    return found


def _bar(bar: StripBar, place: tuple[str, Box], theme: Theme, scale: float) -> str:
    way, (x0, x1, y0, y1) = place
    parts = []
    for share, dash in ((bar.p_usable, False), (bar.p_usable_predicted, True)):
        length = share * _BAR_YD
        ax, bx, ay, by = x0, x1, y0, y1
        if way == "up":
            ay, by = (y0 + length, y0 + length) if dash else (y0, y0 + length)
        elif way == "down":
            ay, by = (y0 - length, y0 - length) if dash else (y0 - length, y0)
        elif way == "right":
            ax, bx = (x0 + length, x0 + length) if dash else (x0, x0 + length)
        else:
            ax, bx = (x0 - length, x0 - length) if dash else (x0 - length, x0)
        if dash:
            parts.append(
                element(
                    "line",
                    x1=_px_x(ax, scale),
                    x2=_px_x(bx, scale),
                    y1=_px_y(ay, scale),
                    y2=_px_y(by, scale),
                    stroke=theme.ink,
                    stroke_width=1.6,
                )
            )
        else:
            title = (
                f"{bar.label}: {percent(bar.p_usable)} observed, "
                f"{percent(bar.p_usable_predicted)} expected"
            )
            parts.append(
                element(
                    "rect",
                    element("title", clean(title)),
                    x=_px_x(ax, scale),
                    y=_px_y(by, scale),
                    width=max((bx - ax) * scale, 0.5),
                    height=max((by - ay) * scale, 0.5),
                    fill=theme.accent,
                    fill_opacity="1" if bar.best else "0.55",
                    stroke=theme.accent,
                    stroke_width=0.8,
                )
            )
    if bar.best:
        parts.append(_number(bar, way, (x0, x1, y0, y1), theme, scale))
    return "".join(parts)


def _number(bar: StripBar, way: str, box: Box, theme: Theme, scale: float) -> str:
    """Return the share of a best bar, written on the field side of it."""
    x0, x1, y0, y1 = box
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    inward = 5.5
    if way in ("up", "down"):
        y += -inward if way == "up" else inward
    else:
        x += -inward - 1.0 if way == "right" else inward + 1.0
    return text(
        percent(bar.p_usable),
        (_px_x(x, scale), _px_y(y, scale)),
        fill=theme.accent,
        stroke=theme.halo,
        stroke_width=3.0,
        paint_order="stroke",
        font_weight="600",
        text_anchor="middle",
        dominant_baseline="central",
    )


def _arrow(theme: Theme, scale: float) -> str:
    """Return the direction of attack, in the middle of the field."""
    x, y = _px_x(54.0, scale), _px_y(FIELD_WIDTH_YD / 2, scale)
    return element(
        "path",
        d=f"M{number(x)} {number(y)}h{number(12 * scale)}m{number(-3 * scale)} "
        f"{number(-1.6 * scale)}l{number(3 * scale)} {number(1.6 * scale)}"
        f"l{number(-3 * scale)} {number(1.6 * scale)}",
        fill="none",
        stroke=theme.ink,
        stroke_width=1.8,
    )


def _notes(strip: ZoneStrip, theme: Theme, *, top_px: float, width_px: float) -> tuple[str, float]:
    from textwrap import wrap

    lead = (
        "Bars grow outward with the share of plays that were usable (the scale ends at 100%); the "
        "dash across is what the model expected. Shaded: where the ball was snapped. The offense "
        "attacks to the right."
    )
    columns = max(int((width_px - 32) / 6.4), 30)
    lines = [line for note in (lead, *strip.notes) for line in wrap(note, columns)]
    drawn = group(
        [text(line, (16.0, top_px + 16.0 + 16.0 * i)) for i, line in enumerate(lines)],
        fill=theme.ink_soft,
        font_size=11.5,
    )
    return drawn, 16.0 * len(lines) + 20.0


def text_strip(bars: Sequence[StripBar]) -> str:
    """Return a strip of digits: tenths of usable plays, from behind the offense to the far end.

    ``0`` to ``9``, ``*`` for 95 % and more; a bar parts own end line, sideline, corner and end
    line. Where left and right differ, each has a line of its own.

    >>> bar = StripBar("sideline, own 0-5", "sideline", "both", 10.0, 15.0, 0.42, 0.4)
    >>> text_strip([bar])
    '4'
    """
    lines = []
    for side in SIDES:
        some = [bar for bar in bars if bar.side == side]
        if not some:
            continue
        parts = ["".join(_digit(b.p_usable) for b in some if b.edge == edge) for edge in EDGES]
        name = "" if side == "both" else f"{side:<6}"
        lines.append(name + "|".join(part for part in parts if part))
    return "\n".join(lines)


def _digit(p: float) -> str:
    return "*" if p >= 0.95 else str(round(10 * p))
