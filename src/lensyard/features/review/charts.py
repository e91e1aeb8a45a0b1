"""A review as pictures for a screen: shares by zone, and how often one keeps at which distance.

Predicted, usable and kept have a shape of their own (a bar, a ring, a diamond), so nothing hangs
on color.

A review as a picture: what each zone brought, and how often one keeps at which distance.

Drawn with matplotlib (imported when called) for paper and screen. Kept, usable and predicted have a
shape of their own, so nothing hangs on color.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import InvalidInputError
from lensyard.render.svg import (
    NARROW_PX,
    WIDE_PX,
    Point,
    element,
    group,
    number,
    polyline,
    svg_page,
    text,
)
from lensyard.render.theme import PRINT, SUNLIGHT, Theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


FORMATS: Final = (".png", ".svg", ".pdf")
_SETTINGS: Final[dict[Any, Any]] = {
    "svg.hashsalt": "lensyard", "pdf.fonttype": 42, "font.size": 9,
}  # fmt: skip
_METADATA: Final[dict[str, dict[str, Any]]] = {
    ".svg": {"Date": None}, ".pdf": {"CreationDate": None}, ".png": {"Software": None},
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ShareBar:
    """A share with its interval, and what it is of."""

    p: float
    p_low: float
    p_high: float

    def __post_init__(self) -> None:
        """Refuse what is no share inside its interval."""
        if not 0 <= self.p_low <= self.p <= self.p_high <= 1:
            raise InvalidInputError(
                f"a share lies inside its interval, between 0 and 1; got {self.p_low}, {self.p}, "
                f"{self.p_high}"
            )


@dataclass(frozen=True, slots=True)
class ZoneBars:
    """One zone: plays, what was predicted, usable and kept."""

    name: str
    plays: int
    predicted: float
    usable: ShareBar
    kept: ShareBar


@dataclass(frozen=True, slots=True)
class DistanceBar:
    """The keep rate in a band of distances, and the falling curve there (None for no curve)."""

    from_yd: float
    to_yd: float
    share: ShareBar
    p_monotone: float | None


@dataclass(frozen=True, slots=True)
class ReviewPlot:
    """What is drawn.

    Attributes
    ----------
    title, subtitle
        Above it.
    zones
        From one's own end to the goal.
    distances
        Empty where keepers were never noted.
    default_reach_yd, own_reach_yd
        Of the longest lens; None where there is no own one. [yd]
    note
        Below it.
    """

    title: str
    subtitle: str
    zones: tuple[ZoneBars, ...]
    distances: tuple[DistanceBar, ...]
    default_reach_yd: float
    own_reach_yd: float | None
    note: str

    def __post_init__(self) -> None:
        """Refuse a picture of nothing."""
        if not self.zones:
            raise InvalidInputError("a plot of a review needs at least one zone with plays")


def save_review_plot(plot: ReviewPlot, path: Path) -> None:
    """Write the picture as PNG, SVG or PDF, by the file's suffix.

    The same plot gives the same bytes: no date is written into the file.

    Raises
    ------
    InvalidInputError
        If the suffix is none of these, or the file cannot be written.
    """
    import matplotlib as mpl

    suffix = path.suffix.lower()
    if suffix not in FORMATS:
        raise InvalidInputError(f"a plot is {', '.join(FORMATS)}; got {path.name!r}")
    with mpl.rc_context(_SETTINGS):
        figure = review_figure(plot, theme=SUNLIGHT)
        try:
            figure.savefig(path, metadata=_METADATA[suffix], dpi=150)
        except OSError as error:
            raise InvalidInputError(
                f"cannot write {path} ({error.strerror or error}); name a file in a folder that "
                "can be written"
            ) from error


def review_figure(
    plot: ReviewPlot, *, theme: Theme = PRINT, size_in: tuple[float, float] = (8.0, 5.2)
) -> Figure:
    """Return the picture as a matplotlib figure of some size. [in]"""
    from matplotlib.figure import Figure

    figure = Figure(figsize=size_in, facecolor=theme.page)
    figure.suptitle(plot.title, x=0.02, y=0.975, ha="left", color=theme.ink, fontsize=12,
                    fontweight="bold")  # fmt: skip
    figure.text(0.02, 0.905, plot.subtitle, color=theme.ink_soft, va="top")
    figure.text(0.02, 0.015, plot.note, color=theme.ink_soft, fontsize=7.5)
    wide = 0.45 if plot.distances else 0.75
    draw_zones(figure.add_axes((0.2, 0.15, wide - 0.05, 0.66)), plot, theme)
    if plot.distances:
        draw_distances(figure.add_axes((0.69, 0.15, 0.28, 0.66)), plot, theme)
    return figure


def draw_zones(axes: Axes, plot: ReviewPlot, theme: Theme) -> None:
    """Draw the shares by zone: predicted as a bar, usable and kept with their intervals."""
    at = list(range(len(plot.zones)))
    axes.barh(at, [zone.predicted for zone in plot.zones], height=0.62, color=theme.band[0],
              edgecolor=theme.band_edge, linewidth=0.6, label="predicted usable")  # fmt: skip
    for name, marker, off, filled in (("usable", "o", -0.14, False), ("kept", "D", 0.14, True)):
        shares: list[ShareBar] = [getattr(zone, name) for zone in plot.zones]
        axes.errorbar(
            [share.p for share in shares],
            [y + off for y in at],
            xerr=[
                [share.p - share.p_low for share in shares],
                [share.p_high - share.p for share in shares],
            ],
            fmt=marker, markersize=5, color=theme.ink, capsize=2, linewidth=1.1,
            markerfacecolor=theme.accent if filled else theme.paper, markeredgecolor=theme.ink,
            label=name,
        )  # fmt: skip
    axes.set_yticks(at, [f"{zone.name}\n{zone.plays} plays" for zone in plot.zones])
    axes.invert_yaxis()
    axes.set_xlim(0, 1)
    axes.set_title("by zone", fontsize=9, color=theme.ink, loc="left")
    axes.set_xlabel("share of plays")
    legend = axes.legend(
        loc="lower right", bbox_to_anchor=(1.02, 0.985), ncols=3, fontsize=7.5, frameon=False,
        columnspacing=0.9, handletextpad=0.4,
    )  # fmt: skip
    for label in legend.get_texts():
        label.set_color(theme.ink)
    _dress(axes, theme)


def draw_distances(axes: Axes, plot: ReviewPlot, theme: Theme) -> None:
    """Draw the keep rate by distance, with usual and own reach."""
    middle = [(bar.from_yd + bar.to_yd) / 2 for bar in plot.distances]
    shares = [bar.share for bar in plot.distances]
    axes.errorbar(
        middle,
        [share.p for share in shares],
        yerr=[
            [share.p - share.p_low for share in shares],
            [share.p_high - share.p for share in shares],
        ],
        fmt="D", markersize=5, color=theme.ink, capsize=2, linewidth=1.1,
        markerfacecolor=theme.accent, markeredgecolor=theme.ink,
    )  # fmt: skip
    curve = [bar.p_monotone for bar in plot.distances]
    if None not in curve:
        axes.plot(middle, [p or 0.0 for p in curve], color=theme.ink, linewidth=1.0, linestyle="--")
    axes.axvline(plot.default_reach_yd, color=theme.ink_soft, linewidth=1.0)
    axes.text(plot.default_reach_yd - 0.7, 0.02, "usual reach", rotation=90, ha="right",
              fontsize=7.5, color=theme.ink_soft)  # fmt: skip
    if plot.own_reach_yd is not None:
        axes.axvline(plot.own_reach_yd, color=theme.ink, linewidth=1.0, linestyle=":")
        axes.text(plot.own_reach_yd + 0.7, 0.02, "own reach", rotation=90, ha="left",
                  fontsize=7.5, color=theme.ink)  # fmt: skip
    axes.set_xlim(0, max(plot.default_reach_yd * 1.25, plot.distances[-1].to_yd))
    axes.set_ylim(0, 1)
    axes.set_title("usable plays kept", fontsize=9, color=theme.ink, loc="left")
    axes.set_xlabel("distance, yd")
    _dress(axes, theme)


def _dress(axes: Axes, theme: Theme) -> None:
    axes.set_facecolor(theme.page)
    axes.tick_params(colors=theme.ink, labelsize=8)
    axes.xaxis.label.set_color(theme.ink)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(theme.ink_soft)


_LINE_PX = 64.0
_EDGE_PX = 14.0

_At = Callable[[float, float], Point]


def zone_shares_svg(
    zones: Sequence[ZoneBars], *, kept: bool, theme: Theme, wide: bool = True
) -> str:
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
    parts = [_key(theme, kept=kept)]
    for i, zone in enumerate(zones):
        y = top + i * _LINE_PX
        parts += _zone(zone, theme, kept=kept, y=y, scale=scale, right=width)
    bottom = top + len(zones) * _LINE_PX + 6.0
    for share in range(0, 101, 25):
        x = _EDGE_PX + scale * share / 100.0
        parts.append(
            element("line", x1=x, x2=x, y1=bottom - 8, y2=bottom - 2, stroke=theme.ink_soft)
        )
        anchor = {0: "start", 100: "end"}.get(share, "middle")
        at = (x, bottom + 13)
        parts.append(text(f"{share}%", at, text_anchor=anchor, fill=theme.ink_soft, font_size=12.0))
    return svg_page(parts, theme, width=width, height=bottom + 22.0)


def _key(theme: Theme, *, kept: bool) -> str:
    """The words for the three shapes."""
    bar = element("rect", x=2.0, y=9.0, width=22.0, height=10.0, fill=theme.band[0],
                  stroke=theme.band_edge, stroke_width=0.8)  # fmt: skip
    words = "usable" if kept else "usable, with 95 % intervals"
    parts = [bar, text("predicted", (30.0, 19.0)), _ring((118.0, 14.0), theme)]
    parts.append(text(words, (130.0, 19.0)))
    if kept:
        parts.append(_diamond((198.0, 14.0), theme))
        parts.append(text("kept, with 95 % intervals", (210.0, 19.0)))
    return group(parts, font_size=12.5, fill=theme.ink_soft)


def _zone(
    zone: ZoneBars, theme: Theme, *, kept: bool, y: float, scale: float, right: float
) -> list[str]:
    def at(share: float) -> float:
        return _EDGE_PX + share * scale

    plays = f"{zone.plays} play{'' if zone.plays == 1 else 's'}"
    parts = [
        text(zone.name, (2.0, y + 12.0), font_weight="700"),
        text(plays, (right - 4.0, y + 12.0), text_anchor="end", fill=theme.ink_soft,
        font_size=12.0),
        element("rect", x=at(0), y=y + 20.0, width=zone.predicted * scale, height=34.0,
                fill=theme.band[0], stroke=theme.band_edge, stroke_width=0.8),
        element("line", x1=at(0), x2=at(1), y1=y + 54.0, y2=y + 54.0, stroke=theme.surround),
    ]  # fmt: skip
    rows = [(zone.usable, 29.0, _ring), (zone.kept, 45.0, _diamond)]
    for share, down, mark in rows if kept else rows[:1]:
        parts.append(_interval(share, theme, at(share.p_low), at(share.p_high), y + down))
        parts.append(mark((at(share.p), y + down), theme))
    return parts


def _interval(share: ShareBar, theme: Theme, left: float, right: float, y: float) -> str:
    d = (
        f"M{number(left)} {number(y - 4)}v8M{number(left)} {number(y)}H{number(right)}"
        f"M{number(right)} {number(y - 4)}v8"
    )
    return element("path", d=d, stroke=theme.ink, stroke_width=1.6, fill="none")


def _ring(at: Point, theme: Theme) -> str:
    return element("circle", cx=at[0], cy=at[1], r=5.5, fill=theme.paper, stroke=theme.ink,
                   stroke_width=1.8)  # fmt: skip


def _diamond(at: Point, theme: Theme) -> str:
    x, y = at
    corners = [(x - 6.5, y), (x, y - 6.5), (x + 6.5, y), (x, y + 6.5)]
    return element("path", d=polyline(corners, closed=True), fill=theme.accent, stroke=theme.page)


def keep_curve_svg(
    bars: Sequence[DistanceBar],
    *,
    default_reach_yd: float,
    own_reach_yd: float | None,
    theme: Theme,
    wide: bool = True,
) -> str:
    """Return the keep rate by distance as SVG text, with the usual and the own reach.

    Parameters
    ----------
    bars
        Bands of distances with their rates, and the falling curve where there is one.
    default_reach_yd, own_reach_yd
        Of the longest lens; None where there is no own one. [yd]
    theme, wide
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

    parts = _axes(at, theme, most)
    parts += _reach_lines(at, theme, default_reach_yd, own_reach_yd)
    middles = [(bar.from_yd + bar.to_yd) / 2 for bar in bars]
    curve = [
        at(yd, bar.p_monotone)
        for yd, bar in zip(middles, bars, strict=True)
        if bar.p_monotone is not None
    ]
    if len(curve) == len(bars) > 1:
        parts.append(
            element("path", d=polyline(curve), fill="none", stroke=theme.ink_soft,
                    stroke_width=1.6, stroke_dasharray="5 4")
        )  # fmt: skip
    for yd, bar in zip(middles, bars, strict=True):
        (x, high), (_, low) = at(yd, bar.share.p_high), at(yd, bar.share.p_low)
        d = (
            f"M{number(x - 4)} {number(high)}h8M{number(x)} {number(high)}V{number(low)}"
            f"M{number(x - 4)} {number(low)}h8"
        )
        parts.append(element("path", d=d, stroke=theme.ink, stroke_width=1.6, fill="none"))
        parts.append(_diamond(at(yd, bar.share.p), theme))
    return svg_page(parts, theme, width=width, height=top + tall + 42.0)


def _axes(at: _At, theme: Theme, most: float) -> list[str]:
    parts = []
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        (x, y), (end, _) = at(0, share), at(most, share)
        parts.append(element("line", x1=x, x2=end, y1=y, y2=y, stroke=theme.surround))
        parts.append(
            text(f"{share:.0%}", (x - 5, y + 4), text_anchor="end", fill=theme.ink_soft,
                 font_size=11.5)
        )  # fmt: skip
    for yd in range(0, int(most) + 1, 10):
        x, y = at(yd, 0.0)
        words = f"{yd} yd" if yd == 0 else str(yd)
        parts.append(
            text(words, (x, y + 18), text_anchor="middle", fill=theme.ink_soft, font_size=12.0)
        )
    return parts


def _reach_lines(at: _At, theme: Theme, default_yd: float, own_yd: float | None) -> list[str]:
    lines: list[tuple[float, str, str | None, float]] = [
        (default_yd, f"usual reach {default_yd:.0f} yd", None, 14.0)
    ]
    if own_yd is not None:
        lines.append((own_yd, f"own reach {own_yd:.0f} yd", "2 4", 28.0))
    parts = []
    for yd, words, dash, y in lines:
        (x, top), (_, bottom) = at(yd, 1.0), at(yd, 0.0)
        parts.append(
            element("line", x1=x, x2=x, y1=top, y2=bottom, stroke=theme.ink, stroke_width=1.6,
                    stroke_dasharray=dash)
        )  # fmt: skip
        parts.append(text(words, (x - 4, y), text_anchor="end", font_size=12.0))
    return parts
