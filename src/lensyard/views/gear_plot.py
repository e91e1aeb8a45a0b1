"""Kits side by side as bars by zone; drawn with matplotlib, imported when called.

Each kit has a hatching beside its gray, so nothing hangs on color.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lensyard.errors import InvalidInputError
from lensyard.views.charts import new_figure, save_figure
from lensyard.views.palette import SUNLIGHT, Look

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_FILLS = (
    ("#FFFFFF", ""),
    ("#DDD9CF", ""),
    ("#A9A69C", "///"),
    ("#6B6A62", ""),
    ("#FFFFFF", "xxx"),
    ("#DDD9CF", "..."),
    ("#A9A69C", "---"),
    ("#6B6A62", "\\\\\\"),
)


@dataclass(frozen=True, slots=True)
class GearBars:
    """One kit: usable plays a game by zone and altogether, and its share of the value."""

    name: str
    usable_per_game: tuple[float, ...]
    total: float
    value_share: float


@dataclass(frozen=True, slots=True)
class GearPlot:
    """What is drawn: a title, the zones from the offense's own end on, and a set of bars a kit."""

    title: str
    zones: tuple[str, ...]
    bars: tuple[GearBars, ...]

    def __post_init__(self) -> None:
        """Refuse bars that do not fit the zones."""
        if not self.bars or len(self.bars) > len(_FILLS):
            raise InvalidInputError(f"expected 1 to {len(_FILLS)} kits; got {len(self.bars)}")
        if any(len(bars.usable_per_game) != len(self.zones) for bars in self.bars):
            raise InvalidInputError(f"every kit needs a bar for each of {len(self.zones)} zones")


def save_gear_plot(plot: GearPlot, path: Path) -> None:
    """Write the picture as PNG, SVG or PDF, by the file's suffix; raises as `save_figure`."""
    save_figure(gear_figure(plot), path)


def gear_figure(plot: GearPlot, *, look: Look = SUNLIGHT) -> Figure:
    """Return the picture as a matplotlib figure."""
    figure = new_figure(width_in=9.0, height_in=5.0, page=look.page)
    axes = figure.subplots()
    axes.set_facecolor(look.page)
    width = 0.8 / len(plot.bars)
    for k, (bars, (fill, hatch)) in enumerate(zip(plot.bars, _FILLS, strict=False)):
        left = [i - 0.4 + (k + 0.5) * width for i in range(len(plot.zones))]
        label = f"{bars.name}: {bars.total:.0f} plays, {bars.value_share:.0%} of the value"
        drawn = axes.bar(
            left,
            bars.usable_per_game,
            width=width,
            color=fill,
            hatch=hatch,
            edgecolor=look.ink,
            lw=0.8,
            label=label,
        )
        axes.bar_label(drawn, fmt="%.1f", fontsize=6 if len(plot.bars) > 3 else 8, color=look.ink)
    axes.set_xticks(
        range(len(plot.zones)), [zone.replace(" to ", "\nto ") for zone in plot.zones], fontsize=8
    )
    axes.set_ylabel("usable plays a game", color=look.ink)
    axes.margins(y=0.12)
    axes.set_title(plot.title, color=look.ink, fontsize=10, loc="left")
    axes.legend(fontsize=8, frameon=False)
    return figure
