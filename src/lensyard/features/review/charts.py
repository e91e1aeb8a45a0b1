"""The charts of a review, as data over its report's tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from lensyard.features.review.keep_rates import OwnReach
from lensyard.render.report import Chart, ChartKind, Table
from lensyard.render.words import table_words

_LABELS_APART_YD: Final = 8.0
"""Reference lines nearer to each other share one label. [yd]"""
_CHARTS: Final = (
    ("policies", ChartKind.INTERVALS, "who", ("usable",)),
    ("zones", ChartKind.INTERVALS, "zone", ("predicted", "usable", "kept")),
    ("keeping", ChartKind.LINE, "middle_yd", ("kept", "falling_curve")),
)
"""Table, shape, and the columns of both axes."""


def charts_of(tables: Sequence[Table], reach: OwnReach | None) -> tuple[Chart, ...]:
    """Return the three policies, shares by zone, and the keep rate by distance."""
    by_key = {table.key: table for table in tables}
    return tuple(
        Chart(
            key,
            by_key[key].title,
            kind,
            table=key,
            x=x,
            y="",
            ys=ys,
            alt_text=table_words(by_key[key], x, ys),
            rules=reach_rules(reach) if key == "keeping" else (),
        )
        for key, kind, x, ys in _CHARTS
        if key in by_key
    )


def reach_rules(reach: OwnReach | None) -> tuple[tuple[float, str], ...]:
    """Return the usual and the own reach as reference lines."""
    if reach is None:
        return ()
    usual, own = f"{reach.default_yd:.0f} yd", f"own reach {reach.reach_yd:.0f} yd"
    if abs(reach.reach_yd - reach.default_yd) < _LABELS_APART_YD:
        return (reach.default_yd, ""), (reach.reach_yd, f"{own}, usual {usual}")
    return (reach.default_yd, f"usual reach {usual}"), (reach.reach_yd, own)
