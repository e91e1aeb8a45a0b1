"""The trade-off of the price of walking in words, and as a picture."""

from __future__ import annotations

from lensyard.present.next_play import attribution_of
from lensyard.service.price_curve import PriceCurve
from lensyard.views.price_curve import PriceMark, PricePlot
from lensyard.views.tables import paragraph, text_table
from lensyard.views.words import percent, sentence


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
    evidence = curve.evidence
    blocks = [
        paragraph(first, width=width),
        paragraph(
            f"{curve.request.kit.text}; {curve.request.venue.name}; for "
            f"{curve.request.assignment.name}; {evidence.games} games of {evidence.season}",
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
