"""A review as a picture: what each zone brought, and how often one keeps at which distance.

Drawn with matplotlib (imported when called) for paper and screen. Kept, usable and predicted have a
shape of their own, so nothing hangs on color.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import InvalidInputError
from lensyard.views.palette import PRINT, SUNLIGHT, Look

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
        figure = review_figure(plot, look=SUNLIGHT)
        try:
            figure.savefig(path, metadata=_METADATA[suffix], dpi=150)
        except OSError as error:
            raise InvalidInputError(
                f"cannot write {path} ({error.strerror or error}); name a file in a folder that "
                "can be written"
            ) from error


def review_figure(
    plot: ReviewPlot, *, look: Look = PRINT, size_in: tuple[float, float] = (8.0, 5.2)
) -> Figure:
    """Return the picture as a matplotlib figure of some size. [in]"""
    from matplotlib.figure import Figure

    figure = Figure(figsize=size_in, facecolor=look.page)
    figure.suptitle(plot.title, x=0.02, y=0.975, ha="left", color=look.ink, fontsize=12,
                    fontweight="bold")  # fmt: skip
    figure.text(0.02, 0.905, plot.subtitle, color=look.ink_soft, va="top")
    figure.text(0.02, 0.015, plot.note, color=look.ink_soft, fontsize=7.5)
    wide = 0.45 if plot.distances else 0.75
    draw_zones(figure.add_axes((0.2, 0.15, wide - 0.05, 0.66)), plot, look)
    if plot.distances:
        draw_distances(figure.add_axes((0.69, 0.15, 0.28, 0.66)), plot, look)
    return figure


def draw_zones(axes: Axes, plot: ReviewPlot, look: Look) -> None:
    """Draw the shares by zone: predicted as a bar, usable and kept with their intervals."""
    at = list(range(len(plot.zones)))
    axes.barh(at, [zone.predicted for zone in plot.zones], height=0.62, color=look.band[0],
              edgecolor=look.band_edge, linewidth=0.6, label="predicted usable")  # fmt: skip
    for name, marker, off, filled in (("usable", "o", -0.14, False), ("kept", "D", 0.14, True)):
        shares: list[ShareBar] = [getattr(zone, name) for zone in plot.zones]
        axes.errorbar(
            [share.p for share in shares],
            [y + off for y in at],
            xerr=[
                [share.p - share.p_low for share in shares],
                [share.p_high - share.p for share in shares],
            ],
            fmt=marker, markersize=5, color=look.ink, capsize=2, linewidth=1.1,
            markerfacecolor=look.accent if filled else look.paper, markeredgecolor=look.ink,
            label=name,
        )  # fmt: skip
    axes.set_yticks(at, [f"{zone.name}\n{zone.plays} plays" for zone in plot.zones])
    axes.invert_yaxis()
    axes.set_xlim(0, 1)
    axes.set_title("by zone", fontsize=9, color=look.ink, loc="left")
    axes.set_xlabel("share of plays")
    legend = axes.legend(
        loc="lower right", bbox_to_anchor=(1.02, 0.985), ncols=3, fontsize=7.5, frameon=False,
        columnspacing=0.9, handletextpad=0.4,
    )  # fmt: skip
    for text in legend.get_texts():
        text.set_color(look.ink)
    _dress(axes, look)


def draw_distances(axes: Axes, plot: ReviewPlot, look: Look) -> None:
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
        fmt="D", markersize=5, color=look.ink, capsize=2, linewidth=1.1,
        markerfacecolor=look.accent, markeredgecolor=look.ink,
    )  # fmt: skip
    curve = [bar.p_monotone for bar in plot.distances]
    if None not in curve:
        axes.plot(middle, [p or 0.0 for p in curve], color=look.ink, linewidth=1.0, linestyle="--")
    axes.axvline(plot.default_reach_yd, color=look.ink_soft, linewidth=1.0)
    axes.text(plot.default_reach_yd - 0.7, 0.02, "usual reach", rotation=90, ha="right",
              fontsize=7.5, color=look.ink_soft)  # fmt: skip
    if plot.own_reach_yd is not None:
        axes.axvline(plot.own_reach_yd, color=look.ink, linewidth=1.0, linestyle=":")
        axes.text(plot.own_reach_yd + 0.7, 0.02, "own reach", rotation=90, ha="left",
                  fontsize=7.5, color=look.ink)  # fmt: skip
    axes.set_xlim(0, max(plot.default_reach_yd * 1.25, plot.distances[-1].to_yd))
    axes.set_ylim(0, 1)
    axes.set_title("usable plays kept", fontsize=9, color=look.ink, loc="left")
    axes.set_xlabel("distance, yd")
    _dress(axes, look)


def _dress(axes: Axes, look: Look) -> None:
    axes.set_facecolor(look.page)
    axes.tick_params(colors=look.ink, labelsize=8)
    axes.xaxis.label.set_color(look.ink)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(look.ink_soft)
