"""Walking and what comes home at each price; drawn with matplotlib, imported when called."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lensyard.errors import InvalidInputError
from lensyard.views.charts import new_figure, save_figure
from lensyard.views.palette import SUNLIGHT, Look
from lensyard.views.tables import paragraph

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, slots=True)
class PriceMark:
    """One price: how much one walks, what comes home, and the price in figures."""

    walk_yd_per_game: float
    value_share: float
    label: str
    is_default: bool


@dataclass(frozen=True, slots=True)
class PricePlot:
    """What is drawn: a title, the marks from no price up, and why the default is where it is."""

    title: str
    marks: tuple[PriceMark, ...]
    reason: str

    def __post_init__(self) -> None:
        """Refuse a curve of one point."""
        if len(self.marks) < 2:
            raise InvalidInputError("a curve needs at least two prices")


def save_price_plot(plot: PricePlot, path: Path) -> None:
    """Write the picture as PNG, SVG or PDF, by the file's suffix; raises as `save_figure`."""
    save_figure(price_figure(plot), path)


def price_figure(plot: PricePlot, *, look: Look = SUNLIGHT) -> Figure:
    """Return the picture as a matplotlib figure."""
    figure = new_figure(width_in=7.0, height_in=5.4, page=look.page)
    above, below = figure.subplots(2, 1, sharex=True)
    value = [100.0 * mark.value_share for mark in plot.marks]
    walk = [mark.walk_yd_per_game for mark in plot.marks]
    _draw(above, plot, value, "share of the value had [%]", "{:.1f}", look)
    _draw(below, plot, walk, "walked in a game [yd]", "{:,.0f}", look)
    below.set_xticks(range(len(plot.marks)), [mark.label for mark in plot.marks])
    below.set_xlabel("price of a yard [ordinary plays]", color=look.ink)
    above.set_title(paragraph(plot.title, width=76), color=look.ink, fontsize=10, loc="left")
    figure.supxlabel(
        paragraph(f"The diamond is the default. {plot.reason}", width=100),
        color=look.ink_soft,
        fontsize=8,
        x=0.02,
        ha="left",
    )
    return figure


def _draw(
    axes: Axes, plot: PricePlot, heights: list[float], title: str, form: str, look: Look
) -> None:
    """Draw one measure against the prices, which are set at even steps."""
    axes.set_facecolor(look.page)
    axes.plot(range(len(heights)), heights, color=look.ink_soft, lw=1.2, marker="o", ms=4)
    for i, (mark, height) in enumerate(zip(plot.marks, heights, strict=True)):
        if mark.is_default:
            axes.plot(i, height, marker="D", ms=9, color=look.accent)
        axes.annotate(
            form.format(height),
            (i, height),
            xytext=(0, 8),
            textcoords="offset points",
            ha="center",
            color=look.accent if mark.is_default else look.ink,
            fontsize=8,
            fontweight="bold" if mark.is_default else "normal",
        )
    axes.set_ylim(0.0, 1.2 * max(*heights, 1e-9))
    axes.set_ylabel(title, color=look.ink)
    axes.grid(color=look.surround, lw=0.6)
