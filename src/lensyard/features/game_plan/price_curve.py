"""What a price on every yard walked does: less walking, and a little less to bring home.

Walking and what comes home at each price; drawn with matplotlib, imported when called.

The trade-off of the price of walking in words, and as a picture.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.cache import cached
from lensyard.errors import InvalidInputError
from lensyard.model.context import SCHEMA_VERSION, Context
from lensyard.planner.backtest import continuation_rows
from lensyard.planner.plans import PlanRequest, plan_for
from lensyard.planner.problem import usual_walking
from lensyard.planner.season import (
    EvaluationSample,
    PlayedSeason,
    Progress,
    figures,
    play_season,
    report_season,
    silent,
)
from lensyard.planner.simulate import lookahead_policy, simulate_policy
from lensyard.render.paper_chart import new_figure, save_figure
from lensyard.render.text import paragraph, text_table
from lensyard.render.theme import SUNLIGHT, Theme
from lensyard.render.words import attribution_of, percent, sentence

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


# Prices as multiples of the default, and none at all.
MULTIPLES = (0.0, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 8.0)
CURVE_VERSION = 1


@dataclass(frozen=True, slots=True)
class PricePoint:
    """What one price gives.

    Attributes
    ----------
    price_per_yd
        In ordinary usable plays. [1/yd]
    walk_yd_per_game
        Walked. [yd]
    p_usable, value_share
        Shares of plays and of their value had.
    is_default
        Whether it is the price that `lensyard plan` takes.
    """

    price_per_yd: float
    walk_yd_per_game: float
    p_usable: float
    value_share: float
    is_default: bool


@dataclass(frozen=True, slots=True)
class PriceCurve:
    """The curve, from no price up.

    Attributes
    ----------
    request
        Kit, venue, assignment, walking limits.
    points
        By price.
    evaluation_sample
        Which season was played again.
    model
        Facts about the model.
    """

    request: PlanRequest
    points: tuple[PricePoint, ...]
    evaluation_sample: EvaluationSample
    model: dict[str, object]

    @property
    def default(self) -> PricePoint:
        """The point of the default price."""
        return next(point for point in self.points if point.is_default)

    @property
    def free(self) -> PricePoint:
        """The point of no price."""
        return self.points[0]

    @property
    def reason(self) -> str:
        """Why the default is where it is, in one sentence."""
        free, usual = self.free, self.default
        kept_share = usual.value_share / max(free.value_share, 1e-9)
        walked = usual.walk_yd_per_game / max(free.walk_yd_per_game, 1e-9)
        return (
            f"the default keeps {kept_share:.1%} of the value that walking at no price has, for "
            f"{walked:.0%} of its yards; a yard costs the same share of what the kit can bring at "
            "every reach"
        )


def price_curve(
    context: Context, request: PlanRequest, *, progress: Progress = silent
) -> PriceCurve:
    """Return walking and value at several prices of a yard, the default among them.

    Parameters
    ----------
    context, request
        The model; kit, venue, assignment and walking limits. Its price is left aside.
    progress
        Is told what takes a while.
    """
    usual = usual_walking(request.kit, request.assignment).price_per_yd
    limits = replace(request.walking, price_per_yd=usual)
    request = replace(request, walks=limits)
    season, _ = report_season(context)
    key = {
        "version": CURVE_VERSION,
        "plan": request.key(context.model.manifest.arrays_sha256),
        "data": context.model.manifest.data_sha256,
        "season": season,
        "multiples": MULTIPLES,
    }
    found = cached(
        hashlib.sha256(json.dumps(key, sort_keys=True).encode()).hexdigest(),
        lambda: _points(context, request, season=season, progress=progress),
    )
    return PriceCurve(
        request=request,
        points=tuple(PricePoint(**point) for point in found["points"]),
        evaluation_sample=EvaluationSample(**found["evidence"]),
        model=context.model_facts(),
    )


def _points(
    context: Context, request: PlanRequest, *, season: int, progress: Progress
) -> dict[str, Any]:
    played = play_season(context, request, season=season)
    points = []
    for multiple in MULTIPLES:
        price = multiple * request.walking.price_per_yd
        progress(f"a yard at {price:.4f}")
        points.append(price_point(context, played, price_per_yd=price))
    return {
        "points": [asdict(point) for point in points],
        "evidence": asdict(played.evaluation_sample),
    }


def price_point(context: Context, played: PlayedSeason, *, price_per_yd: float) -> PricePoint:
    """Return what one price gives on a season that was played at another."""
    request = played.request
    default = request.walking.price_per_yd
    if price_per_yd == default:
        result = figures(played, played.plan, name="plan")
    else:
        walks = replace(request.walking, price_per_yd=price_per_yd)
        solved = plan_for(context, replace(request, walks=walks))
        reward = played.expected.value * played.season_data.counted[:, None].astype("float32")
        decide = lookahead_policy(
            played.season_data,
            reward=reward,
            continuation=continuation_rows(
                context, solved, played.replay, played.season_data.counted
            ),
            price_per_yd=price_per_yd,
        )
        result = figures(played, simulate_policy(played.season_data, decide), name="plan")
    return PricePoint(
        price_per_yd=price_per_yd,
        walk_yd_per_game=result.walk_yd_per_game,
        p_usable=result.p_usable,
        value_share=result.value_share,
        is_default=price_per_yd == default,
    )


def price_document(curve: PriceCurve) -> dict[str, Any]:
    """Return the curve as one JSON document (``lensyard plan --price-curve --json``)."""
    from lensyard.sun.cautions import DEFERRAL

    return {
        "schema_version": SCHEMA_VERSION,
        "kit": curve.request.kit.text,
        "venue": curve.request.venue.name,
        "assignment": curve.request.assignment.name,
        "walking": asdict(curve.request.walking),
        "points": [asdict(point) for point in curve.points],
        "reason": curve.reason,
        "evidence": asdict(curve.evaluation_sample),
        "model": curve.model,
        "cautions": [DEFERRAL],
    }


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


def price_figure(plot: PricePlot, *, theme: Theme = SUNLIGHT) -> Figure:
    """Return the picture as a matplotlib figure."""
    figure = new_figure(width_in=7.0, height_in=5.4, page=theme.page)
    above, below = figure.subplots(2, 1, sharex=True)
    value = [100.0 * mark.value_share for mark in plot.marks]
    walk = [mark.walk_yd_per_game for mark in plot.marks]
    _draw(above, plot, value, "share of the value had [%]", "{:.1f}", theme)
    _draw(below, plot, walk, "walked in a game [yd]", "{:,.0f}", theme)
    below.set_xticks(range(len(plot.marks)), [mark.label for mark in plot.marks])
    below.set_xlabel("price of a yard [ordinary plays]", color=theme.ink)
    above.set_title(paragraph(plot.title, width=76), color=theme.ink, fontsize=10, loc="left")
    figure.supxlabel(
        paragraph(f"The diamond is the default. {plot.reason}", width=100),
        color=theme.ink_soft,
        fontsize=8,
        x=0.02,
        ha="left",
    )
    return figure


def _draw(
    axes: Axes, plot: PricePlot, heights: list[float], title: str, form: str, theme: Theme
) -> None:
    """Draw one measure against the prices, which are set at even steps."""
    axes.set_facecolor(theme.page)
    axes.plot(range(len(heights)), heights, color=theme.ink_soft, lw=1.2, marker="o", ms=4)
    for i, (mark, height) in enumerate(zip(plot.marks, heights, strict=True)):
        if mark.is_default:
            axes.plot(i, height, marker="D", ms=9, color=theme.accent)
        axes.annotate(
            form.format(height),
            (i, height),
            xytext=(0, 8),
            textcoords="offset points",
            ha="center",
            color=theme.accent if mark.is_default else theme.ink,
            fontsize=8,
            fontweight="bold" if mark.is_default else "normal",
        )
    axes.set_ylim(0.0, 1.2 * max(*heights, 1e-9))
    axes.set_ylabel(title, color=theme.ink)
    axes.grid(color=theme.surround, lw=0.6)


def price_text(curve: PriceCurve, *, width: int = 80) -> str:
    """Return the curve as plain text: the default and its reason, then the table."""
    default, free = curve.default, curve.free
    first = (
        f"At the default price of {default.price_per_yd:.2g} ordinary plays a yard one walks "
        f"{default.walk_yd_per_game:,.0f} yd a game for {default.value_share:.1%} of the value; at "
        f"no price {free.walk_yd_per_game:,.0f} yd for {free.value_share:.1%}."
    )
    rows = [
        (
            f"{point.price_per_yd:.4f}",
            f"{point.walk_yd_per_game:,.0f}",
            f"{point.p_usable:.1%}",
            f"{point.value_share:.1%}",
            percent(point.value_share / max(free.value_share, 1e-9)),
            "default" if point.is_default else "",
        )
        for point in curve.points
    ]
    table = text_table(
        ("price of a yard", "yd a game", "usable", "value", "of no price's", ""),
        rows,
        wrap=5,
        width=width,
    )
    sample = curve.evaluation_sample
    blocks = [
        paragraph(first, width=width),
        paragraph(
            f"{curve.request.kit.text}; {curve.request.venue.name}; for "
            f"{curve.request.assignment.name}; {sample.games} games of {sample.season}",
            width=width,
        ),
        table,
        paragraph(sentence(f"why: {curve.reason}"), width=width),
        paragraph(attribution_of(curve.model), width=width),
    ]
    return "\n\n".join(blocks) + "\n"


def price_plot(curve: PriceCurve) -> PricePlot:
    """Return the curve as what is drawn."""
    return PricePlot(
        title=f"What a price on every yard does: {curve.request.kit.text}",
        marks=tuple(
            PriceMark(
                walk_yd_per_game=point.walk_yd_per_game,
                value_share=point.value_share,
                label=f"{point.price_per_yd:.4f}" if point.price_per_yd else "no price",
                is_default=point.is_default,
            )
            for point in curve.points
        ),
        reason=sentence(curve.reason),
    )
