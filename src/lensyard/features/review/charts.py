"""The charts of a review, as data over its report's tables."""

from __future__ import annotations

from typing import Final

from lensyard.features.review.compute import Review
from lensyard.features.review.keep_rates import Rate
from lensyard.render.report import Chart, ChartKind
from lensyard.render.words import percent, sentence

_LABELS_APART_YD: Final = 8.0
"""Reference lines nearer to each other share one label. [yd]"""


def charts_of(review: Review) -> tuple[Chart, ...]:
    """Return the three policies, shares by zone, and the keep rate by distance."""
    charts = (_policies(review), _zones(review))
    return (*charts, _keeping(review)) if review.figures.by_distance else charts


def _policies(review: Review) -> Chart:
    who = {"you": "you", "plan": "the plan", "habit": f"the habit ({review.habit})"}
    told = [
        f"{who[p.name]} {percent(p.p_usable)} ({percent(p.p_usable_low)} to "
        f"{percent(p.p_usable_high)}), {percent(p.value_share)} of the value"
        for p in review.figures.policies
    ]
    return Chart(
        "policies",
        "The same plays, three ways",
        ChartKind.INTERVALS,
        table="policies",
        x="who",
        y="usable",
        alt_text=sentence(f"usable share of the same plays: {'; '.join(told)}"),
    )


def _zones(review: Review) -> Chart:
    told = [
        f"{group.name}, {group.plays} plays: predicted {percent(group.predicted)}, usable "
        f"{_share(group.usable)}" + (f", kept {_share(group.kept)}" if group.kept.plays else "")
        for group in review.figures.zones
    ]
    return Chart(
        "zones",
        "By zone of the field",
        ChartKind.INTERVALS,
        table="zones",
        x="zone",
        y="",
        ys=("predicted", "usable", "kept"),
        alt_text=sentence("; ".join(told)),
    )


def _keeping(review: Review) -> Chart:
    reach = review.figures.reach
    rules: tuple[tuple[float, str], ...] = ()
    if reach is not None:
        usual, own = f"{reach.default_yd:.0f} yd", f"own reach {reach.reach_yd:.0f} yd"
        if abs(reach.reach_yd - reach.default_yd) < _LABELS_APART_YD:
            rules = ((reach.default_yd, ""), (reach.reach_yd, f"{own}, usual {usual}"))
        else:
            rules = ((reach.default_yd, f"usual reach {usual}"), (reach.reach_yd, own))
    told = [
        f"{band.from_yd:.0f} to {band.to_yd:.0f} yd {_share(band.rate)}"
        for band in review.figures.by_distance
    ]
    return Chart(
        "keeping",
        "How often you keep a usable play, by distance",
        ChartKind.LINE,
        table="keeping",
        x="middle_yd",
        y="",
        ys=("kept", "falling_curve"),
        alt_text=sentence(
            "; ".join(
                [f"usable plays kept, by distance: {'; '.join(told)}"] + [w for _, w in rules]
            )
        ),
        rules=rules,
    )


def _share(rate: Rate) -> str:
    return f"{percent(rate.p)} ({percent(rate.p_low)} to {percent(rate.p_high)})"
