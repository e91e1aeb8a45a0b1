"""Reliability plots: what was predicted against what happened; matplotlib is imported when called.

Every panel has the diagonal on which predictions would be exact, dots with their 95 % intervals,
and how often each prediction was made as ticks along the bottom.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lensyard.errors import InvalidInputError
from lensyard.views.charts import new_figure, save_figure
from lensyard.views.palette import SUNLIGHT, Look

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

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


def reliability_figure(plot: ReliabilityPlot, *, look: Look = SUNLIGHT) -> Figure:
    """Return the picture as a matplotlib figure."""
    columns = min(COLUMNS, len(plot.curves))
    rows = -(-len(plot.curves) // columns)
    figure = new_figure(width_in=3.1 * columns, height_in=3.0 * rows + 0.9, page=look.page)
    panels = figure.subplots(rows, columns, squeeze=False).ravel()
    for axes, curve in zip(panels, plot.curves, strict=False):
        _draw(axes, curve, look)
    for axes in panels[len(plot.curves) :]:
        axes.set_axis_off()
    figure.suptitle(plot.title, color=look.ink, fontsize=11)
    figure.supylabel("happened [%]", color=look.ink, fontsize=9)
    figure.supxlabel(f"predicted [%]\n{plot.note}".rstrip(), color=look.ink, fontsize=9)
    return figure


def _draw(axes: Axes, curve: ReliabilityCurve, look: Look) -> None:
    """Draw one panel."""
    predicted = [100.0 * p for p in curve.predicted]
    observed = [100.0 * p for p in curve.observed]
    below = [max(100.0 * (o - x), 0.0) for o, x in zip(curve.observed, curve.low, strict=True)]
    above = [max(100.0 * (x - o), 0.0) for o, x in zip(curve.observed, curve.high, strict=True)]
    top = 1.05 * max([*predicted, *(100.0 * x for x in curve.high), 1e-3])
    axes.set_facecolor(look.page)
    axes.plot([0.0, top], [0.0, top], color=look.ink_soft, lw=1.0, ls="--")
    axes.errorbar(
        predicted,
        observed,
        yerr=[below, above],
        color=look.accent,
        marker="o",
        ms=4,
        lw=1.2,
        elinewidth=0.9,
        capsize=2,
    )
    axes.plot(predicted, [0.0] * len(predicted), color=look.ink, marker="|", ms=8, ls="none")
    axes.set_xlim(0.0, top)
    axes.set_ylim(0.0, top)
    axes.set_aspect("equal")
    axes.set_title(curve.title, color=look.ink, fontsize=9, loc="left")
    axes.text(
        0.03, 0.97, curve.note, transform=axes.transAxes, va="top", color=look.ink_soft, fontsize=8
    )
    axes.tick_params(colors=look.ink, labelsize=8)
    axes.grid(color=look.surround, lw=0.6)
