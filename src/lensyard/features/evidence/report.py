"""The evidence in words, tables and charts.

Backtests and evaluations are described from their JSON documents, so that a season that is measured
now and one whose measurement was kept read alike.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import partial
from typing import Final

from lensyard.features.evidence.model_reports import (
    CHECK_COLUMNS,
    CHECK_TITLES,
    Columns,
    Found,
    calibration,
    curve_charts,
    curves,
)
from lensyard.render.report import (
    Chart,
    ChartKind,
    Fact,
    Format,
    Interval,
    Report,
    Section,
    Table,
    Value,
    table_of,
)
from lensyard.render.words import attribution_of, format_value, percent, sentence

POLICY_TITLES: Final = {
    "level": "Level with the ball",
    "ahead20": "20 yd ahead of the ball",
    "rule": "Best two-number rule",
    "greedy": "Best spot, no look ahead",
    "plan": "The plan",
    "unconstrained": "Best spot, no limit of walking",
    "hindsight": "Perfect hindsight",
}
MODEL_TITLES: Final = {
    "lensyard": "This model",
    "marginal": "One average for all plays",
    "cells": "Averages by situation",
    "histgb": "Boosted trees",
    "lightgbm": "Boosted trees, another kind",
}
SAFETY: Final = (
    "A spot that is allowed is not a spot that is safe. Watch the play; venue, officials and your "
    "credential come first."
)
SCORES: Final = (
    ("crps_yd", "Gain off by (CRPS), yd", Format.DECIMAL_3),
    ("log_loss", "Log-loss, gain", Format.DECIMAL_4),
    ("slope_gain10", "Slope, gain of 10", Format.DECIMAL_3),
    ("ece_gain10", "Calibration error of it", Format.DECIMAL_4),
    ("kind_log_loss", "Log-loss, kind", Format.DECIMAL_4),
    ("touchdown_brier", "Brier, touchdown", Format.DECIMAL_4),
    ("touchdown_log_loss", "Log-loss, touchdown", Format.DECIMAL_4),
    ("touchdown_slope", "Slope, touchdown", Format.DECIMAL_3),
    ("first_down_brier", "Brier, first down", Format.DECIMAL_4),
    ("first_down_log_loss", "Log-loss, first down", Format.DECIMAL_4),
    ("drive_touchdown_brier", "Brier, drive touchdown", Format.DECIMAL_4),
    ("drive_touchdown_log_loss", "Log-loss, drive touchdown", Format.DECIMAL_4),
    ("drive_touchdown_ece", "Calibration error of it", Format.DECIMAL_4),
    ("out_of_bounds_brier", "Brier, out of bounds", Format.DECIMAL_4),
    ("out_of_bounds_log_loss", "Log-loss, out of bounds", Format.DECIMAL_4),
    ("fit_s", "Seconds to fit", Format.DECIMAL),
    ("predict_us", "Microseconds a play", Format.DECIMAL),
    ("size_bytes", "Bytes", Format.COUNT),
)
MAIN_SCORES: Final = ("crps_yd", "kind_log_loss", "touchdown_brier", "slope_gain10", "size_bytes")

POLICY_COLUMNS: Final[Columns] = (
    ("policy", "Way of working", lambda one: POLICY_TITLES.get(one["name"], one["name"])),
    ("p_usable", "Usable", Format.PERCENT_1),
    (
        "value_share",
        "Share of the value",
        Format.PERCENT_1,
        lambda one: Interval(one["value_share"], one["low"], one["high"]),
    ),
    ("p_usable_touchdown", "Touchdowns", Format.PERCENT),
    ("walk_yd_per_game", "Yards walked a game", Format.COUNT),
)
ZONE_COLUMNS: Final[Columns] = (
    ("zone", "Zone"),
    ("plays", "Plays", Format.COUNT),
    ("p_usable", "Usable", Format.PERCENT_1),
    ("p_usable_predicted", "Expected", Format.PERCENT_1),
    ("habit_p_usable", "20 yd ahead", Format.PERCENT_1),
)
ZONE_CHECK_COLUMNS: Final[Columns] = (
    ("zone", "Zone"),
    *CHECK_COLUMNS[:-1],
    ("agrees", "Agrees"),
)
DRIVE_TITLES: Final = {
    "touchdown": "Touchdown",
    "field_goal": "Field goal",
    "punt": "Punt",
    "turnover": "Turnover, or on downs",
    "other": "End of the half, missed kick, safety",
}
CHOICE_TITLES: Final = {"go": "Goes for it", "punt": "Punts", "kick": "Tries a field goal"}
DRIVE_COLUMNS: Final[Columns] = (
    ("down", "Down", Format.COUNT),
    ("outcome", "The drive ends in", lambda check: DRIVE_TITLES[check["outcome"]]),
    ("plays", "Snaps", Format.COUNT),
    ("predicted", "Predicted", Format.PERCENT_1),
    ("observed", "Seen", Format.PERCENT_1),
    ("ece", "Calibration error", Format.DECIMAL_4),
    (
        "ece_by_chance",
        "By chance alone",
        Format.DECIMAL_4,
        lambda check: check.get("ece_by_chance"),
    ),
)
CHOICE_COLUMNS: Final[Columns] = (
    ("zone", "Fourth downs"),
    ("event", "The offense", lambda check: CHOICE_TITLES[check["event"]]),
    *CHECK_COLUMNS[1:-1],
    ("agrees", "Agrees"),
)


def interval_chart(table: Table, *, x: str, y: str, title: str, before: str) -> Chart:
    """Return a chart of a column of intervals; the words begin with ``before``."""
    form = next(column.format for column in table.columns if column.key == y)
    cells = zip(table.column(x), table.column(y), strict=True)
    written = "; ".join(f"{name} {format_value(cell, form)}" for name, cell in cells)
    return Chart(
        key=table.key,
        title=title,
        kind=ChartKind.INTERVALS,
        table=table.key,
        x=x,
        y=y,
        alt_text=sentence(f"{before}: {written}"),
    )


def backtest_report(found: Found) -> Report:
    """Describe what each policy brought home in a season."""
    policies, card = policies_table(found), found["rule_card"]
    over = {
        name: Interval(of["ratio"], of["low"], of["high"])
        for name, of in found["plan_over"].items()
    }
    return Report(
        headline=brought_home(found),
        sentences=over_habit(found),
        facts=(
            Fact(
                "plan_expected",
                "Plays that the plan expected usable",
                found["p_usable_predicted"],
                Format.PERCENT_1,
            ),
            *(
                Fact(
                    name, f"Value of the plan over: {POLICY_TITLES[name]}", ratio, Format.DECIMAL_2
                )
                for name, ratio in over.items()
            ),
        ),
        tables=(policies, *_with_kicks(found), zones_table(found)),
        charts=(policies_chart(policies),),
        sections=(
            Section(
                "The two-number rule, with its share of the value in training",
                (
                    f"{card['text']} ({percent(card['value_share_in_training'])})",
                    f"Farther in: {card['farther_in_text']} "
                    f"({percent(card['farther_in_value_share_in_training'])})",
                ),
            ),
        ),
        cautions=(SAFETY,),
        sources=(
            attribution_of(found["model"]),
            *(source["text"] for source in found["attributions"]),
        ),
    )


def _with_kicks(found: Found) -> tuple[Table, ...]:
    """The same policies where punts and field goals count as plays, if that was asked for."""
    if "with_kicks" not in found:
        return ()
    kicked = found["with_kicks"]
    table = policies_table({**found, **kicked}, key="policies_with_kicks")
    return (
        replace(table, title=f"The same with punts and field goals: {kicked['plays']:,} plays"),
    )


def _plan_and_habit(found: Found) -> tuple[Found, Found]:
    by_name = {policy["name"]: policy for policy in found["policies"]}
    return by_name["plan"], by_name["ahead20"]


def brought_home(found: Found) -> str:
    """Say what plan and habit brought home in a season."""
    plan, habit = _plan_and_habit(found)
    return (
        f"Over season {found['season']}, which the model had not seen, the plan brought home "
        f"{percent(plan['value_share'])} of the value; 20 yd ahead of the ball "
        f"{percent(habit['value_share'])}"
    )


def over_habit(found: Found) -> tuple[str, ...]:
    """Say how much more the plan brought than the habit, with the interval."""
    (plan, habit), over = _plan_and_habit(found), found["plan_over"]["ahead20"]
    ratio = Interval(over["ratio"], over["low"], over["high"])
    return (
        f"That is {format_value(ratio, Format.DECIMAL_2)} times as much, in "
        f"{plan['usable_per_game']:.0f} usable plays a game in place of "
        f"{habit['usable_per_game']:.0f}; "
        f"{found['kit']}, {found['games']} games.",
    )


def policies_table(found: Found, *, key: str = "policies") -> Table:
    """Return every policy of a backtest with its share of the value."""
    title = f"What each way of working brought home: {found['kit']}"
    return table_of(
        key, title, found["policies"], *POLICY_COLUMNS, note="95 % intervals over games."
    )


def policies_chart(policies: Table) -> Chart:
    """Return the policies' shares of the value with their intervals."""
    title = "Share of the season's value brought home"
    return interval_chart(policies, x="policy", y="value_share", title=title, before=title)


def zones_table(found: Found) -> Table:
    """Return what the plan had and expected in each zone."""
    return table_of("zones", "The plan by zone of the field", found["zones"], *ZONE_COLUMNS)


def evaluation_report(found: Found) -> Report:
    """Describe the scores of the model and of baselines on a season that none of them has seen."""
    seasons, models = found["train_seasons"], models_table(found, SCORES)
    own, *others = found["models"]
    nearest = min(others, key=lambda scores: float(scores["crps_yd"]), default=None)
    beside = (
        ""
        if nearest is None
        else f", that of {MODEL_TITLES[nearest['name']].lower()} by {nearest['crps_yd']:.3f} yd"
    )
    zones = ({**zone, "event": CHECK_TITLES[zone["event"]]} for zone in found["zones"])
    note = "Agrees within 1.5 points or two standard errors."
    return Report(
        headline=(
            f"On season {found['season']} the model's forecast of the gain is off by "
            f"{own['crps_yd']:.3f} yd{beside}"
        ),
        sentences=(
            f"{found['plays']:,} plays of {found['games']} games; fitted on {len(seasons)} "
            f"seasons, {seasons[0]}-{seasons[-1]}, {found['model']['plays']:,} plays.",
            _fourth_downs(found["fourth_down"]),
        ),
        tables=(
            models,
            _tenths(found),
            calibration(found),
            table_of(
                "zones", "This model by part of the field", zones, *ZONE_CHECK_COLUMNS, note=note
            ),
            _drives(found),
            table_of(
                "choices",
                "The choice on fourth down, by distance and by part of the field",
                found["fourth_down"]["checks"],
                *CHOICE_COLUMNS,
                note=note,
            ),
            *curves(found),
        ),
        charts=(models_chart(models), *curve_charts(found)),
        notes=(found["clipping"],),
        cautions=tuple(found["cautions"]),
    )


def _fourth_downs(found: Found) -> str:
    """The log-loss of the choice on fourth down beside a table's, in a sentence."""
    gained = Interval(found["table_log_loss"] - found["log_loss"], found["low"], found["high"])
    return (
        f"The choice on {found['plays']:,} fourth downs: log-loss {found['log_loss']:.3f}, of a "
        f"table by yard line and distance {found['table_log_loss']:.3f}; the difference is "
        f"{format_value(gained, Format.DECIMAL_3)}."
    )


def _drives(found: Found) -> Table:
    errors: dict[int, list[float]] = {}
    for check in found["drives"]:
        errors.setdefault(check["down"], []).append(check["ece"])
    means = ", ".join(f"{sum(of) / len(of):.4f} on {down}" for down, of in errors.items())
    worst = ", ".join(f"{max(of):.4f}" for of in errors.values())
    return table_of(
        "drives",
        "How drives end, by down, kicks included",
        found["drives"],
        *DRIVE_COLUMNS,
        note=(
            f"Mean calibration error by down: {means}; the worst of each: {worst}. By chance "
            "alone: of ends drawn from the forecasts themselves, as a perfect forecast has it."
        ),
    )


def models_table(found: Found, columns: Iterable[tuple[str, str, Format]]) -> Table:
    """Return some scores of the model and its baselines."""

    def cell(name: str, scores: Found) -> Value:
        value: Value = scores[name]
        if name in scores["low"] and isinstance(value, float):
            return Interval(value, scores["low"][name], scores["high"][name])
        return value

    return table_of(
        "models",
        "Beside simpler and larger models; 95 % intervals over games",
        found["models"],
        ("model", "Model", _model_title),
        *((name, label, form, partial(cell, name)) for name, label, form in columns),
        note="Less is better; a slope is best at 1.",
    )


def _model_title(scores: Found) -> str:
    name = str(scores["name"])
    return MODEL_TITLES.get(name, name)


def models_chart(models: Table) -> Chart:
    """Return the errors of the forecasts of the gain."""
    title = "How far forecasts of the gain are off"
    before = "CRPS of the gain in yards, less is better"
    return interval_chart(models, x="model", y="crps_yd", title=title, before=before)


def _tenths(found: Found) -> Table:
    return table_of(
        "tenths",
        "Gains by tenth of their forecast; 10 % each is ideal",
        found["models"],
        ("model", "Model", _model_title),
        *(
            (str(i + 1), str(i + 1), Format.PERCENT_1, lambda s, i=i: s["pit_deciles"][i])
            for i in range(10)
        ),
        detail=True,
    )
