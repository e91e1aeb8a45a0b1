"""What a price on walking does, as a report."""

from __future__ import annotations

from lensyard.features.game_plan.price_curve import PriceCurve
from lensyard.render.report import Chart, ChartKind, Format, Report, table_of
from lensyard.render.words import attribution_of, sentence


def price_report(curve: PriceCurve) -> Report:
    """Describe what a price on every yard does: the default and its reason, then every price."""
    default, free = curve.default, curve.free
    sample = curve.evaluation_sample
    table = table_of(
        "prices",
        "Walking and value at several prices of a yard",
        curve.points,
        ("price_per_yd", "Price of a yard", Format.DECIMAL_4),
        ("walk_yd_per_game", "Yards a game", Format.COUNT),
        ("p_usable", "Usable", Format.PERCENT_1),
        ("value_share", "Value", Format.PERCENT_1),
        (
            "of_free",
            "Of no price's",
            Format.PERCENT,
            lambda point: point.value_share / max(free.value_share, 1e-9),
        ),
        ("mark", "", lambda point: "default" if point.is_default else ""),
    )
    answer = (
        f"At the default price of {default.price_per_yd:.2g} ordinary plays a yard one walks "
        f"{default.walk_yd_per_game:,.0f} yd a game for {default.value_share:.1%} of the value; at "
        f"no price {free.walk_yd_per_game:,.0f} yd for {free.value_share:.1%}"
    )
    marks = ((default.price_per_yd, "default"),)
    return Report(
        headline=answer,
        sentences=(
            sentence(f"why: {curve.reason}"),
            f"{curve.setup.kit}; {curve.setup.venue}; for {curve.setup.assignment}; "
            f"{sample.games} games of {sample.season}.",
        ),
        tables=(table,),
        charts=tuple(
            Chart(
                key=y,
                title=title,
                kind=ChartKind.LINE,
                table="prices",
                x="price_per_yd",
                y=y,
                alt_text=answer,
                rules=marks,
            )
            for y, title in (
                ("value_share", "Share of the value had"),
                ("walk_yd_per_game", "Yards walked in a game"),
            )
        ),
        cautions=curve.cautions,
        sources=(attribution_of(curve.model),),
    )
