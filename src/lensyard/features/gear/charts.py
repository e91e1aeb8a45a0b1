"""Kits side by side: usable plays by zone, what each adds to the first, where each sees nothing.

Kits are told apart by their letters, never by color; the accent only marks the most of a zone.

Kits side by side as bars by zone; drawn with matplotlib, imported when called.

Each kit has a hatching beside its gray, so nothing hangs on color.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

from lensyard.errors import InvalidInputError
from lensyard.render.figure import new_figure, save_figure
from lensyard.render.svg import (
    FONT_PX,
    NARROW_PX,
    WIDE_PX,
    element,
    moved,
    shortened,
    svg_page,
    text,
)
from lensyard.render.theme import SUNLIGHT, Theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure


LETTERS = "ABCDEFGH"
_BAR_PX, _LINE_PX, _NAME_PX = 16.0, 22.0, 26.0
_TICK_YD = 10


@dataclass(frozen=True, slots=True)
class ZoneBarGroup:
    """One zone: its plays a game, and the usable ones with each kit."""

    name: str
    plays_per_game: float
    usable_per_game: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class GainRow:
    """What one kit adds to the first, usable plays a game, with its 95 % interval."""

    name: str
    value: float
    low: float
    high: float

    def __post_init__(self) -> None:
        """Refuse a value outside its interval."""
        if not self.low <= self.value <= self.high:
            raise InvalidInputError(
                f"a gain lies inside its interval; got {self.low}, {self.value}, {self.high}"
            )


@dataclass(frozen=True, slots=True)
class BandRow:
    """Distances at which one kit works: up to ``reach_yd`` without ``coverage_gaps_yd``. [yd]"""

    name: str
    reach_yd: float
    coverage_gaps_yd: tuple[tuple[float, float], ...]


def zone_bars_svg(
    zones: Sequence[ZoneBarGroup], names: Sequence[str], *, theme: Theme, wide: bool = True
) -> str:
    """Return usable plays by zone as SVG text: a panel a zone, a bar a kit.

    Parameters
    ----------
    zones
        From one's own end to the goal.
    names
        Of the kits, in the order of their bars; letters are put before them.
    theme, wide
        The colors, and whether the screen is wide.

    Raises
    ------
    InvalidInputError
        If there is no zone, or a zone has not a bar for every kit.
    """
    _require_kits(names)
    if not zones or any(len(zone.usable_per_game) != len(names) for zone in zones):
        raise InvalidInputError(f"expected zones with {len(names)} bars each")
    width = WIDE_PX if wide else NARROW_PX
    columns = min(3 if wide else 1, len(zones))
    panel = (width / columns, _NAME_PX + len(names) * _LINE_PX + 16.0)
    most = max(zone.plays_per_game for zone in zones)
    key, top = _key(names, theme, width)
    parts = [key]
    for i, zone in enumerate(zones):
        drawn = _zone_panel(zone, theme, room=panel[0] - 20.0, most=most)
        parts.append(moved(drawn, right=i % columns * panel[0], down=top + i // columns * panel[1]))
    height = top + ceil(len(zones) / columns) * panel[1]
    return svg_page(parts, theme, width=width, height=height)


def _key(names: Sequence[str], theme: Theme, width: float) -> tuple[str, float]:
    """The names of the kits beside their letters, and the room they take. [px]"""
    parts = []
    for i, (letter, name) in enumerate(zip(LETTERS, names, strict=False)):
        y = 16.0 + i * 20.0
        parts.append(text(letter, (2.0, y), font_weight="700"))
        words = shortened(name, font_px=FONT_PX, room_px=width - 22.0)
        parts.append(text(words, (20.0, y), fill=theme.ink_soft))
    return "".join(parts), 16.0 + len(names) * 20.0


def _zone_panel(zone: ZoneBarGroup, theme: Theme, *, room: float, most: float) -> list[str]:
    left, figure_px = 18.0, 44.0
    scale = (room - left - figure_px) / max(most, 1e-9)
    best = max(zone.usable_per_game)
    parts = [
        text(zone.name, (0.0, 14.0), font_weight="700"),
        text(f"{zone.plays_per_game:.0f} plays a game", (room, 14.0), fill=theme.ink_soft,
             text_anchor="end", font_size=12.0),
    ]  # fmt: skip
    for i, usable in enumerate(zone.usable_per_game):
        y = _NAME_PX + i * _LINE_PX
        color = theme.accent if usable >= best - 0.05 else theme.ink_soft
        weight = "700" if usable >= best - 0.05 else "400"
        middle = y + _BAR_PX * 0.5 + 4.5
        parts += [
            text(LETTERS[i], (0.0, middle), font_weight="700"),
            element("rect", x=left, y=y, width=zone.plays_per_game * scale, height=_BAR_PX,
                    fill="none", stroke=theme.ink_soft, stroke_width=1.0, rx=2.0),
            element("rect", x=left, y=y, width=usable * scale, height=_BAR_PX, fill=color, rx=2.0),
            text(f"{usable:.1f}", (left + zone.plays_per_game * scale + 6.0, middle),
                 font_weight=weight),
        ]  # fmt: skip
    return parts


def gain_rows_svg(rows: Sequence[GainRow], *, theme: Theme, wide: bool = True) -> str:
    """Return what each kit adds to the first as SVG text, around a line at no gain.

    Raises
    ------
    InvalidInputError
        If there is no row.
    """
    _require_kits([row.name for row in rows])
    width = WIDE_PX if wide else NARROW_PX
    line = 50.0
    low, high = min(0.0, *(row.low for row in rows)), max(1.0, *(row.high for row in rows))
    scale = (width - 24.0) / (high - low)
    zero = 8.0 - low * scale
    height = 8.0 + len(rows) * line
    parts = [
        element("line", x1=zero, x2=zero, y1=0.0, y2=height, stroke=theme.ink_soft,
                stroke_dasharray="4 4"),
    ]  # fmt: skip
    for i, row in enumerate(rows):
        y = 36.0 + i * line
        shown = f"{row.value:+.1f} ({row.low:+.1f} to {row.high:+.1f})"
        words = shortened(row.name, font_px=FONT_PX, room_px=width - 160.0)
        a, b, m = (8.0 + (v - low) * scale for v in (row.low, row.high, row.value))
        parts += [
            text(words, (2.0, y - 16.0), font_weight="600", stroke=theme.page, stroke_width=4.0,
                 paint_order="stroke"),
            element("line", x1=zero, x2=m, y1=y, y2=y, stroke=theme.ink_soft, stroke_width=2.0),
            element("line", x1=a, x2=b, y1=y, y2=y, stroke=theme.accent, stroke_width=5.0),
            element("circle", cx=m, cy=y, r=6.0, fill=theme.accent, stroke=theme.page),
            text(shown, (width - 4.0, y - 16.0), text_anchor="end", font_size=12.5,
                 stroke=theme.page, stroke_width=4.0, paint_order="stroke"),
        ]  # fmt: skip
    return svg_page(parts, theme, width=width, height=height)


def bands_svg(rows: Sequence[BandRow], *, theme: Theme, wide: bool = True) -> str:
    """Return the distances at which each kit works as SVG text; holes are hatched.

    Raises
    ------
    InvalidInputError
        If there is no row.
    """
    _require_kits([row.name for row in rows])
    width = WIDE_PX if wide else NARROW_PX
    line, height = 48.0, 48.0 * len(rows) + 30.0
    most = max(row.reach_yd for row in rows)
    scale = (width - 24.0) / most
    parts = [_hatching(theme)]
    for i, row in enumerate(rows):
        parts.append(moved(_band_row(row, theme, scale, width), right=8.0, down=i * line))
    bottom = len(rows) * line + 8.0
    step = _TICK_YD if most <= 80 or wide else 2 * _TICK_YD
    for yd in range(0, int(most) + 1, step):
        x = 8.0 + yd * scale
        parts.append(element("line", x1=x, x2=x, y1=bottom - 6, y2=bottom, stroke=theme.ink_soft))
        anchor = "start" if yd == 0 else "middle"
        words = f"{yd} yd" if yd == 0 else str(yd)
        parts.append(
            text(words, (x, bottom + 15), fill=theme.ink_soft, text_anchor=anchor, font_size=12.0)
        )
    return svg_page(parts, theme, width=width, height=height)


def _hatching(theme: Theme) -> str:
    stripe = element("path", d="M0 8L8 0", stroke=theme.hatch, stroke_width=1.6)
    return element(
        "defs",
        element("pattern", stripe, id="hole", width=8.0, height=8.0, patternUnits="userSpaceOnUse"),
    )


def _band_row(row: BandRow, theme: Theme, scale: float, width: float) -> list[str]:
    top, tall = 22.0, 16.0
    parts = [
        text(shortened(row.name, font_px=FONT_PX, room_px=width - 16.0), (0.0, 16.0),
             font_weight="600"),
        element("rect", x=0.0, y=top, width=row.reach_yd * scale, height=tall, fill=theme.accent,
                rx=2.0),
    ]  # fmt: skip
    for low, high in row.coverage_gaps_yd:
        size = {"x": low * scale, "y": top, "width": (high - low) * scale, "height": tall}
        parts.append(element("rect", fill=theme.page, stroke=theme.hatch, **size))
        parts.append(element("rect", fill="url(#hole)", **size))
    return parts


def _require_kits(names: Sequence[str]) -> None:
    if not 1 <= len(names) <= len(LETTERS):
        raise InvalidInputError(f"expected 1 to {len(LETTERS)} kits; got {len(names)}")


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


def gear_figure(plot: GearPlot, *, theme: Theme = SUNLIGHT) -> Figure:
    """Return the picture as a matplotlib figure."""
    figure = new_figure(width_in=9.0, height_in=5.0, page=theme.page)
    axes = figure.subplots()
    axes.set_facecolor(theme.page)
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
            edgecolor=theme.ink,
            lw=0.8,
            label=label,
        )
        axes.bar_label(drawn, fmt="%.1f", fontsize=6 if len(plot.bars) > 3 else 8, color=theme.ink)
    axes.set_xticks(
        range(len(plot.zones)), [zone.replace(" to ", "\nto ") for zone in plot.zones], fontsize=8
    )
    axes.set_ylabel("usable plays a game", color=theme.ink)
    axes.margins(y=0.12)
    axes.set_title(plot.title, color=theme.ink, fontsize=10, loc="left")
    axes.legend(fontsize=8, frameon=False)
    return figure
