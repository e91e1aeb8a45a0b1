"""The evidence as pictures: calibration curves, and figures with their intervals.

A calibration panel has the diagonal on which predictions would be exact; dots stand at what was
predicted and what happened, with the 95 % interval of the rate. An interval plot has a row for each
name: a dot, its interval, and the figure beside it.

Reliability plots: what was predicted against what happened; matplotlib is imported when called.

Every panel has the diagonal on which predictions would be exact, dots with their 95 % intervals,
and how often each prediction was made as ticks along the bottom.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

from lensyard.errors import InvalidInputError
from lensyard.render.paper_chart import new_figure, save_figure
from lensyard.render.svg import FONT_FAMILY, element, group, number, shortened, text
from lensyard.render.theme import SUNLIGHT, Theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


_FONT_PX = 13.0


@dataclass(frozen=True, slots=True)
class CalibrationCurve:
    """One panel: mean prediction, rate and its interval, by group of plays."""

    title: str
    note: str
    predicted: tuple[float, ...]
    observed: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse a curve whose parts do not belong together."""
        sizes = {len(part) for part in (self.predicted, self.observed, self.low, self.high)}
        if len(sizes) != 1 or not self.predicted:
            raise InvalidInputError(f"the calibration of {self.title} needs groups of one length")


@dataclass(frozen=True, slots=True)
class IntervalRow:
    """One figure with its interval; ``strong`` sets it apart."""

    name: str
    value: float
    low: float
    high: float
    shown: str
    strong: bool = False


def calibration_svg(curves: Sequence[CalibrationCurve], *, theme: Theme, wide: bool = True) -> str:
    """Return the panels as SVG text, three side by side on a wide screen."""
    if not curves:
        raise InvalidInputError("a calibration plot needs at least one curve")
    columns = min(3 if wide else 1, len(curves))
    panel = (300.0, 320.0) if wide else (360.0, 340.0)
    rows = ceil(len(curves) / columns)
    parts = [
        group(
            [_panel(curve, theme, panel)],
            transform=f"translate({number(i % columns * panel[0])} "
            f"{number(i // columns * panel[1])})",
        )
        for i, curve in enumerate(curves)
    ]
    return _page(parts, theme, width=columns * panel[0], height=rows * panel[1])


def _panel(curve: CalibrationCurve, theme: Theme, size: tuple[float, float]) -> str:
    left, top, right, bottom = 40.0, 50.0, 14.0, 26.0
    side = min(size[0] - left - right, size[1] - top - bottom)
    most = max(*curve.predicted, *curve.high)
    scale = side / (_ceiling(most))

    def at(p: float, q: float) -> tuple[float, float]:
        return left + p * scale, top + side - q * scale

    frame = element(
        "rect", x=left, y=top, width=side, height=side, fill="none", stroke=theme.ink_soft
    )
    (ax, ay), (bx, by) = at(0, 0), at(side / scale, side / scale)
    diagonal = element(
        "line", x1=ax, y1=ay, x2=bx, y2=by, stroke=theme.ink_soft, stroke_dasharray="5 4"
    )
    ticks = []
    for i in range(5):
        p = i / 4 * side / scale
        words = f"{100 * p:.0f}" if side / scale > 0.2 else f"{100 * p:.1f}".removesuffix(".0")
        ticks.append(text(words, (at(p, 0)[0], top + side + 17), text_anchor="middle"))
        ticks.append(text(words, (left - 6, at(0, p)[1] + 4), text_anchor="end"))
    dots = []
    for p, q, low, high in zip(curve.predicted, curve.observed, curve.low, curve.high, strict=True):
        x, y = at(p, q)
        dots.append(
            element("line", x1=x, x2=x, y1=at(p, low)[1], y2=at(p, high)[1], stroke=theme.band_edge)
        )
        dots.append(element("circle", cx=x, cy=y, r=4.0, fill=theme.accent, stroke=theme.page))
    head = text(curve.title, (left, 18.0), font_weight="600", font_size=14.0)
    head += text(curve.note, (left, 36.0), fill=theme.ink_soft, font_size=12.0)
    return group([head, frame, diagonal, group(ticks, font_size=11.5, fill=theme.ink_soft), *dots])


def _ceiling(most: float) -> float:
    """A round end of the scale."""
    for end in (0.02, 0.04, 0.08, 0.12, 0.2, 0.32, 0.4, 0.6, 0.8, 1.0):
        if most <= end:
            return end
    return 1.0


def interval_svg(
    rows: Sequence[IntervalRow], *, theme: Theme, wide: bool = True, unit: str = "%"
) -> str:
    """Return the rows as SVG text; the scale starts at 0 for shares, else close to the figures."""
    if not rows:
        raise InvalidInputError("an interval plot needs at least one row")
    width = 760.0 if wide else 370.0
    line = 34.0 if wide else 46.0
    name_px = 230.0 if wide else 0.0
    shown_px = 74.0
    low, high = min(row.low for row in rows), max(row.high for row in rows)
    start = 0.0 if unit == "%" else low - (high - low) * 0.15
    end = high + (high - start) * 0.04
    scale = (width - name_px - shown_px - 20.0) / (end - start)
    parts = []
    for i, row in enumerate(rows):
        y = 12.0 + i * line + (0.0 if wide else 18.0)
        base = name_px + 8.0
        weight = "700" if row.strong else "400"
        color = theme.accent if row.strong else theme.ink
        room = name_px - 10 if wide else width - 10
        name = shortened(row.name, font_px=_FONT_PX, room_px=room)
        if wide:
            parts.append(text(name, (name_px, y + 5), text_anchor="end", font_weight=weight))
        else:
            parts.append(text(name, (base, y - 9), font_weight=weight))
        a, b, m = (base + (v - start) * scale for v in (row.low, row.high, row.value))
        parts.append(
            element("line", x1=base, x2=width - shown_px, y1=y, y2=y, stroke=theme.surround)
        )
        parts.append(element("line", x1=a, x2=b, y1=y, y2=y, stroke=color, stroke_width=3.0))
        parts += [
            element("line", x1=end, x2=end, y1=y - 7, y2=y + 7, stroke=color, stroke_width=2.0)
            for end in (a, b)
        ]
        parts.append(element("circle", cx=m, cy=y, r=4.0, fill=color))
        parts.append(
            text(row.shown, (width - 6, y + 5), text_anchor="end", font_weight="700", fill=color)
        )
    return _page(parts, theme, width=width, height=12.0 + len(rows) * line)


def _page(parts: Sequence[str], theme: Theme, *, width: float, height: float) -> str:
    return element(
        "svg",
        element("rect", width=width, height=height, fill=theme.page)
        + group(parts, font_size=_FONT_PX, fill=theme.ink),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        font_family=FONT_FAMILY,
    )


COLUMNS = 3


@dataclass(frozen=True, slots=True)
class ReliabilityCurve:
    """One panel.

    Attributes
    ----------
    title
        What was predicted.
    predicted, observed, low, high
        Mean prediction, rate and its interval by group of plays, in the order of the
        predictions; at least two.
    note
        Under the title, such as the calibration slope.
    """

    title: str
    predicted: Sequence[float]
    observed: Sequence[float]
    low: Sequence[float]
    high: Sequence[float]
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse a curve whose parts do not belong together."""
        sizes = {len(part) for part in (self.predicted, self.observed, self.low, self.high)}
        if len(sizes) != 1 or len(self.predicted) < 2:
            raise InvalidInputError(
                f"a curve needs at least two groups, each with a rate and an interval; {self.title}"
            )


@dataclass(frozen=True, slots=True)
class ReliabilityPlot:
    """What is drawn: a title, the panels, and a line below them."""

    title: str
    curves: tuple[ReliabilityCurve, ...]
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse a plot of nothing."""
        if not self.curves:
            raise InvalidInputError("a reliability plot needs at least one curve")


def save_reliability_plot(plot: ReliabilityPlot, path: Path) -> None:
    """Write the picture as PNG, SVG or PDF, by the file's suffix; raises as `save_figure`."""
    save_figure(reliability_figure(plot), path)


def reliability_figure(plot: ReliabilityPlot, *, theme: Theme = SUNLIGHT) -> Figure:
    """Return the picture as a matplotlib figure."""
    columns = min(COLUMNS, len(plot.curves))
    rows = -(-len(plot.curves) // columns)
    figure = new_figure(width_in=3.1 * columns, height_in=3.0 * rows + 0.9, page=theme.page)
    panels = figure.subplots(rows, columns, squeeze=False).ravel()
    for axes, curve in zip(panels, plot.curves, strict=False):
        _draw(axes, curve, theme)
    for axes in panels[len(plot.curves) :]:
        axes.set_axis_off()
    figure.suptitle(plot.title, color=theme.ink, fontsize=11)
    figure.supylabel("happened [%]", color=theme.ink, fontsize=9)
    figure.supxlabel(f"predicted [%]\n{plot.note}".rstrip(), color=theme.ink, fontsize=9)
    return figure


def _draw(axes: Axes, curve: ReliabilityCurve, theme: Theme) -> None:
    """Draw one panel."""
    predicted = [100.0 * p for p in curve.predicted]
    observed = [100.0 * p for p in curve.observed]
    below = [max(100.0 * (o - x), 0.0) for o, x in zip(curve.observed, curve.low, strict=True)]
    above = [max(100.0 * (x - o), 0.0) for o, x in zip(curve.observed, curve.high, strict=True)]
    top = 1.05 * max([*predicted, *(100.0 * x for x in curve.high), 1e-3])
    axes.set_facecolor(theme.page)
    axes.plot([0.0, top], [0.0, top], color=theme.ink_soft, lw=1.0, ls="--")
    axes.errorbar(
        predicted,
        observed,
        yerr=[below, above],
        color=theme.accent,
        marker="o",
        ms=4,
        lw=1.2,
        elinewidth=0.9,
        capsize=2,
    )
    axes.plot(predicted, [0.0] * len(predicted), color=theme.ink, marker="|", ms=8, ls="none")
    axes.set_xlim(0.0, top)
    axes.set_ylim(0.0, top)
    axes.set_aspect("equal")
    axes.set_title(curve.title, color=theme.ink, fontsize=9, loc="left")
    axes.text(
        0.03, 0.97, curve.note, transform=axes.transAxes, va="top", color=theme.ink_soft, fontsize=8
    )
    axes.tick_params(colors=theme.ink, labelsize=8)
    axes.grid(color=theme.surround, lw=0.6)
