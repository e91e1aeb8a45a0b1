"""The sun over a game as a picture: its height above, the light from each edge below.

Drawn with matplotlib (imported when called) for paper and screen. Each kind of light has a letter
and a hatching beside its gray, so nothing hangs on color.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.errors import InvalidInputError
from lensyard.render.theme import SUNLIGHT, Theme
from lensyard.sun.direction import LightKind
from lensyard.sun.sides import SideLight, seen_kind

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

KIND_MARKS: dict[LightKind, tuple[str, str, str]] = {
    LightKind.FRONT: ("F", "#FFFFFF", ""),
    LightKind.SIDE: ("S", "#DDD9CF", ""),
    LightKind.BACK: ("B", "#A9A69C", "///"),
    LightKind.SUN_IN_LENS: ("L", "#A9A69C", "xxx"),
    LightKind.TOP: ("T", "#F3F0E6", "..."),
    LightKind.NO_SUN: ("", "#6B6A62", ""),
}
"""Letter, ground and hatching of each kind of light."""


@dataclass(frozen=True, slots=True)
class PlotSpan:
    """A named stretch of time."""

    name: str
    start: datetime
    end: datetime


@dataclass(frozen=True, slots=True)
class LightPlot:
    """What is drawn.

    Attributes
    ----------
    title
        Above it.
    rows
        Sun and sides at each time, in order.
    edge_names
        Of the edges, in the order in which each row has them.
    quarters, golden
        Quarters with halftime, and golden light.
    sunset
        When the sun sets; None when it does not.
    """

    title: str
    rows: tuple[SideLight, ...]
    edge_names: tuple[str, ...]
    quarters: tuple[PlotSpan, ...]
    golden: tuple[PlotSpan, ...]
    sunset: datetime | None

    def __post_init__(self) -> None:
        """Refuse a picture of nothing."""
        if len(self.rows) < 2:
            raise InvalidInputError("a plot of the light needs at least two times")
        if len(self.edge_names) != len(self.rows[0].edges):
            raise InvalidInputError(
                f"{len(self.edge_names)} names for {len(self.rows[0].edges)} edges; "
                "expected one each"
            )


def save_light_plot(plot: LightPlot, path: Path) -> None:
    """Write the picture as PNG, SVG or PDF, by the file's suffix.

    The same plot gives the same bytes: no date is written into the file.

    Raises
    ------
    InvalidInputError
        If the file cannot be written.
    """
    import matplotlib as mpl

    settings: dict[Any, Any] = {
        "svg.hashsalt": "lensyard",
        "pdf.fonttype": 42,
        "font.size": 9,
        "hatch.linewidth": 0.6,
    }
    metadata: dict[str, dict[str, Any]] = {
        ".svg": {"Date": None},
        ".pdf": {"CreationDate": None},
        ".png": {"Software": None},
    }
    suffix = path.suffix.lower()
    if suffix not in metadata:
        raise InvalidInputError(f"expected a file ending in .png, .svg or .pdf; got {path.name!r}")
    with mpl.rc_context(settings):
        figure = light_figure(plot)
        try:
            figure.savefig(path, format=suffix[1:], dpi=150, metadata=metadata[suffix])
        except OSError as error:
            raise InvalidInputError(
                f"cannot write {path} ({error.strerror or error}); give another file"
            ) from error


def light_figure(plot: LightPlot, *, theme: Theme = SUNLIGHT) -> Figure:
    """Return the picture as a matplotlib figure that no window and no global state knows."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure as NewFigure

    figure = NewFigure(figsize=(9.0, 5.2), facecolor=theme.page, layout="constrained")
    FigureCanvasAgg(figure)
    sun, sides = figure.subplots(2, 1, sharex=True, height_ratios=[3, 2])
    _draw_sun(sun, plot, theme)
    _draw_sides(sides, plot, theme)
    marks = [f"{letter} {kind.value}" for kind, (letter, _, _) in KIND_MARKS.items() if letter]
    figure.suptitle(plot.title, color=theme.ink, fontsize=11)
    sides.set_xlabel(
        f"{', '.join(marks)}; dark: no direct sun (down, or behind stands).\n"
        "Seen from the middle of each edge, straight across.",
        color=theme.ink,
    )
    return figure


def _hour(at: datetime, start: datetime) -> float:
    """Hours since the start of its first day, on the clock of the first time."""
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    return (at - start) / timedelta(hours=1) + (start - midnight) / timedelta(hours=1)


def _draw_sun(axes: Axes, plot: LightPlot, theme: Theme) -> None:
    start = plot.rows[0].at
    hours = [_hour(row.at, start) for row in plot.rows]
    height = [row.sun_elevation_deg for row in plot.rows]
    low, high = min(*height, -8.0), max(*height, 10.0) * 1.12
    for span in plot.golden:
        axes.axvspan(
            _hour(span.start, start), _hour(span.end, start), color="#F2D58A", alpha=0.5, lw=0
        )
    for span in plot.quarters:
        begin, end = _hour(span.start, start), _hour(span.end, start)
        for edge in (begin, end):
            axes.axvline(edge, color=theme.line, lw=0.6, ls=":")
        axes.text(
            (begin + end) / 2,
            low + 0.98 * (high - low),
            span.name,
            ha="center",
            va="top",
            color=theme.ink,
            fontsize=8,
        )
    axes.axhline(0.0, color=theme.ink, lw=1.0)
    axes.plot(hours, height, color=theme.sun, lw=2.0, marker="o", ms=3)
    if plot.sunset is not None and hours[0] <= _hour(plot.sunset, start) <= hours[-1]:
        axes.axvline(_hour(plot.sunset, start), color=theme.sun, lw=1.2, ls="--")
        axes.text(
            _hour(plot.sunset, start),
            low,
            f" sunset {plot.sunset:%H:%M}",
            color=theme.ink,
            va="bottom",
            fontsize=8,
        )
    axes.set_ylabel("height of the sun [°]", color=theme.ink)
    axes.set_ylim(low, high)
    axes.set_xlim(hours[0], hours[-1])


def _draw_sides(axes: Axes, plot: LightPlot, theme: Theme) -> None:
    start = plot.rows[0].at
    hours = [_hour(row.at, start) for row in plot.rows]
    for k in range(len(plot.edge_names)):
        kinds = [seen_kind(row.edges[k]) for row in plot.rows]
        # Each row holds until the next; a run of one kind is one bar.
        begin = 0
        for i in range(1, len(kinds)):
            if i < len(kinds) - 1 and kinds[i] is kinds[begin]:
                continue
            letter, ground, hatch = KIND_MARKS[kinds[begin]]
            width = hours[i] - hours[begin]
            axes.barh(
                k, width, left=hours[begin], height=0.8, color=ground, hatch=hatch, ec=theme.line
            )
            axes.text(
                hours[begin] + width / 2,
                k,
                letter,
                ha="center",
                va="center",
                color=theme.ink,
                fontweight="bold",
                bbox={"facecolor": theme.page, "edgecolor": "none", "pad": 1.0} if letter else None,
            )
            begin = i
    axes.set_yticks(range(len(plot.edge_names)), plot.edge_names)
    axes.invert_yaxis()
    axes.xaxis.set_major_formatter(lambda hour, _: f"{int(hour) % 24}:{round(hour % 1 * 60):02d}")
