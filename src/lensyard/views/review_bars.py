"""A review as pictures for a screen: shares by zone, and how often one keeps at which distance.

Predicted, usable and kept have a shape of their own (a bar, a ring, a diamond), so nothing hangs
on color.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from lensyard.errors import InvalidInputError
from lensyard.views.palette import Look
from lensyard.views.review_plot import DistanceBar, ShareBar, ZoneBars
from lensyard.views.svg import Point, element, group, number, polyline, text
from lensyard.views.svg_page import NARROW_PX, WIDE_PX, svg_page

_LINE_PX = 64.0
_EDGE_PX = 14.0

_At = Callable[[float, float], Point]


def zone_shares_svg(zones: Sequence[ZoneBars], *, kept: bool, look: Look, wide: bool = True) -> str:
    """Return predicted, usable and, where it was noted, kept shares by zone as SVG text.

    Raises
    ------
    InvalidInputError
        If there is no zone.
    """
    if not zones:
        raise InvalidInputError("a picture of zones needs at least one with plays")
    width = WIDE_PX if wide else NARROW_PX
    scale = width - 2 * _EDGE_PX
    top = 34.0
    parts = [_key(look, kept=kept)]
    for i, zone in enumerate(zones):
        y = top + i * _LINE_PX
        parts += _zone(zone, look, kept=kept, y=y, scale=scale, right=width)
    bottom = top + len(zones) * _LINE_PX + 6.0
    for share in range(0, 101, 25):
        x = _EDGE_PX + scale * share / 100.0
        parts.append(
            element("line", x1=x, x2=x, y1=bottom - 8, y2=bottom - 2, stroke=look.ink_soft)
        )
        anchor = {0: "start", 100: "end"}.get(share, "middle")
        at = (x, bottom + 13)
        parts.append(text(f"{share}%", at, text_anchor=anchor, fill=look.ink_soft, font_size=12.0))
    return svg_page(parts, look, width=width, height=bottom + 22.0)


def _key(look: Look, *, kept: bool) -> str:
    """The words for the three shapes."""
    bar = element("rect", x=2.0, y=9.0, width=22.0, height=10.0, fill=look.band[0],
                  stroke=look.band_edge, stroke_width=0.8)  # fmt: skip
    words = "usable" if kept else "usable, with 95 % intervals"
    parts = [bar, text("predicted", (30.0, 19.0)), _ring((118.0, 14.0), look)]
    parts.append(text(words, (130.0, 19.0)))
    if kept:
        parts.append(_diamond((198.0, 14.0), look))
        parts.append(text("kept, with 95 % intervals", (210.0, 19.0)))
    return group(parts, font_size=12.5, fill=look.ink_soft)


def _zone(
    zone: ZoneBars, look: Look, *, kept: bool, y: float, scale: float, right: float
) -> list[str]:
    def at(share: float) -> float:
        return _EDGE_PX + share * scale

    plays = f"{zone.plays} play{'' if zone.plays == 1 else 's'}"
    parts = [
        text(zone.name, (2.0, y + 12.0), font_weight="700"),
        text(plays, (right - 4.0, y + 12.0), text_anchor="end", fill=look.ink_soft, font_size=12.0),
        element("rect", x=at(0), y=y + 20.0, width=zone.predicted * scale, height=34.0,
                fill=look.band[0], stroke=look.band_edge, stroke_width=0.8),
        element("line", x1=at(0), x2=at(1), y1=y + 54.0, y2=y + 54.0, stroke=look.surround),
    ]  # fmt: skip
    rows = [(zone.usable, 29.0, _ring), (zone.kept, 45.0, _diamond)]
    for share, down, mark in rows if kept else rows[:1]:
        parts.append(_interval(share, look, at(share.p_low), at(share.p_high), y + down))
        parts.append(mark((at(share.p), y + down), look))
    return parts


def _interval(share: ShareBar, look: Look, left: float, right: float, y: float) -> str:
    d = (
        f"M{number(left)} {number(y - 4)}v8M{number(left)} {number(y)}H{number(right)}"
        f"M{number(right)} {number(y - 4)}v8"
    )
    return element("path", d=d, stroke=look.ink, stroke_width=1.6, fill="none")


def _ring(at: Point, look: Look) -> str:
    return element("circle", cx=at[0], cy=at[1], r=5.5, fill=look.paper, stroke=look.ink,
                   stroke_width=1.8)  # fmt: skip


def _diamond(at: Point, look: Look) -> str:
    x, y = at
    corners = [(x - 6.5, y), (x, y - 6.5), (x + 6.5, y), (x, y + 6.5)]
    return element("path", d=polyline(corners, closed=True), fill=look.accent, stroke=look.page)


def keep_curve_svg(
    bars: Sequence[DistanceBar],
    *,
    default_reach_yd: float,
    own_reach_yd: float | None,
    look: Look,
    wide: bool = True,
) -> str:
    """Return the keep rate by distance as SVG text, with the usual and the own reach.

    Parameters
    ----------
    bars
        Bands of distances with their rates, and the falling curve where there is one.
    default_reach_yd, own_reach_yd
        Of the longest lens; None where there is no own one. [yd]
    look, wide
        The colors, and whether the screen is wide.

    Raises
    ------
    InvalidInputError
        If there is no band.
    """
    if not bars:
        raise InvalidInputError("a curve of kept plays needs at least one band of distances")
    width, tall = (WIDE_PX if wide else NARROW_PX), 240.0
    left, top = 40.0, 30.0
    most = max(bars[-1].to_yd, default_reach_yd * 1.1, (own_reach_yd or 0.0) * 1.1)

    def at(yd: float, share: float) -> Point:
        return left + yd / most * (width - left - 16.0), top + (1.0 - share) * tall

    parts = _axes(at, look, most)
    parts += _reach_lines(at, look, default_reach_yd, own_reach_yd)
    middles = [(bar.from_yd + bar.to_yd) / 2 for bar in bars]
    curve = [
        at(yd, bar.p_monotone)
        for yd, bar in zip(middles, bars, strict=True)
        if bar.p_monotone is not None
    ]
    if len(curve) == len(bars) > 1:
        parts.append(
            element("path", d=polyline(curve), fill="none", stroke=look.ink_soft,
                    stroke_width=1.6, stroke_dasharray="5 4")
        )  # fmt: skip
    for yd, bar in zip(middles, bars, strict=True):
        (x, high), (_, low) = at(yd, bar.share.p_high), at(yd, bar.share.p_low)
        d = (
            f"M{number(x - 4)} {number(high)}h8M{number(x)} {number(high)}V{number(low)}"
            f"M{number(x - 4)} {number(low)}h8"
        )
        parts.append(element("path", d=d, stroke=look.ink, stroke_width=1.6, fill="none"))
        parts.append(_diamond(at(yd, bar.share.p), look))
    return svg_page(parts, look, width=width, height=top + tall + 42.0)


def _axes(at: _At, look: Look, most: float) -> list[str]:
    parts = []
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        (x, y), (end, _) = at(0, share), at(most, share)
        parts.append(element("line", x1=x, x2=end, y1=y, y2=y, stroke=look.surround))
        parts.append(
            text(f"{share:.0%}", (x - 5, y + 4), text_anchor="end", fill=look.ink_soft,
                 font_size=11.5)
        )  # fmt: skip
    for yd in range(0, int(most) + 1, 10):
        x, y = at(yd, 0.0)
        words = f"{yd} yd" if yd == 0 else str(yd)
        parts.append(
            text(words, (x, y + 18), text_anchor="middle", fill=look.ink_soft, font_size=12.0)
        )
    return parts


def _reach_lines(at: _At, look: Look, default_yd: float, own_yd: float | None) -> list[str]:
    lines: list[tuple[float, str, str | None, float]] = [
        (default_yd, f"usual reach {default_yd:.0f} yd", None, 14.0)
    ]
    if own_yd is not None:
        lines.append((own_yd, f"own reach {own_yd:.0f} yd", "2 4", 28.0))
    parts = []
    for yd, words, dash, y in lines:
        (x, top), (_, bottom) = at(yd, 1.0), at(yd, 0.0)
        parts.append(
            element("line", x1=x, x2=x, y1=top, y2=bottom, stroke=look.ink, stroke_width=1.6,
                    stroke_dasharray=dash)
        )  # fmt: skip
        parts.append(text(words, (x - 4, y), text_anchor="end", font_size=12.0))
    return parts
