"""The evidence in words, tables and pictures, from what is kept.

The words of ``lensyard evidence backtest``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lensyard.features.evidence.build import Evidence
from lensyard.features.evidence.charts import CalibrationCurve, IntervalRow
from lensyard.planner.backtest import Backtest
from lensyard.planner.rule_card import rule_text
from lensyard.plays.store import attribution_lines
from lensyard.render.text import text_table
from lensyard.render.words import percent

Table = tuple[tuple[str, ...], Sequence[tuple[str, ...]]]

POLICY_TITLES = {
    "level": "Level with the ball",
    "ahead20": "Habit: 20 yd ahead",
    "rule": "Best two-number rule",
    "greedy": "Best spot, no look ahead",
    "plan": "The plan",
    "free": "Best spot, walking free",
    "hindsight": "Perfect hindsight",
}
MODEL_TITLES = {
    "lensyard": "This model",
    "marginal": "One average for all plays",
    "cells": "Averages by situation",
    "histgb": "Boosted trees",
    "lightgbm": "Boosted trees, another kind",
}
CHECK_TITLES = {
    "gain_10": "Gain of 10 yd or more",
    "touchdown": "Touchdown on this play",
    "first_down": "First down",
    "drive_touchdown": "Drive ends in a touchdown",
    "out_of_bounds": "Out of bounds",
    "pass": "A pass is thrown",
}
LIMITS = (
    "The plays are professional regular-season plays of 2009 to 2019. College and high-school "
    "fields are drawn right, but how those teams play is not in this model.",
    "Nobody can foresee left or right: only the hash mark moves the odds sideways, and the data do "
    "not say where across the field a play ended. That part comes from published shares.",
    "Usable means in reach, not too close, coming toward the camera and with nothing in between. "
    "It does not know focus, expression, or the official who steps into the frame.",
    "Walking is along the edge at an even pace, up to 30 yd between two plays and 110 yd when the "
    "ball changes hands. Crowded sidelines are slower.",
    "Score and clock shift the odds only as far as they did in the seasons it was fitted on.",
    "One season is one draw: its own drift can move a figure by more than its interval shows.",
    "A spot that is allowed is not a spot that is safe. Watch the play; venue, officials and your "
    "credential come first.",
)
"""What the figures do not say."""


def lead_words(evidence: Evidence, kit: int) -> tuple[str, tuple[str, ...]]:
    """Return the page's answer: what the plan brought home, and whether the odds are right."""
    document = evidence.backtests[kit]
    by_name = {policy["name"]: policy for policy in document["policies"]}
    plan, habit = by_name["plan"], by_name["ahead20"]
    over = document["plan_over"]["ahead20"]
    title = (
        f"Over season {document['season']}, which the model had not seen, the plan brought home "
        f"{percent(plan['value_share'])} of the value; the usual habit "
        f"{percent(habit['value_share'])}"
    )
    sentences = [
        f"That is {over['ratio']:.2f} times as much ({over['low']:.2f} to {over['high']:.2f}), in "
        f"{plan['usable_per_game']:.0f} usable plays a game for {habit['usable_per_game']:.0f}; "
        f"{document['kit']}, {document['games']} games.",
    ]
    if not evidence.fresh:
        sentences.append(
            f"Measured with another build of the model ({evidence.model_id}); measure again with "
            "lensyard evidence build."
        )
    return title, tuple(sentences)


def policy_rows(evidence: Evidence, kit: int) -> tuple[IntervalRow, ...]:
    """Return the share of the value that each way of working brought home."""
    return tuple(
        IntervalRow(
            POLICY_TITLES.get(policy["name"], policy["name"]),
            100 * policy["value_share"],
            100 * policy["low"],
            100 * policy["high"],
            f"{100 * policy['value_share']:.1f}%",
            strong=policy["name"] == "plan",
        )
        for policy in evidence.backtests[kit]["policies"]
    )


def policy_table(evidence: Evidence, kit: int) -> Table:
    """Return the ways of working as a table."""
    header = ("Way of working", "Usable", "Value", "Within", "Touchdowns", "Walked a game")
    rows = [
        (
            POLICY_TITLES.get(p["name"], p["name"]),
            f"{100 * p['p_usable']:.1f}%",
            f"{100 * p['value_share']:.1f}%",
            f"{100 * p['low']:.1f}-{100 * p['high']:.1f}%",
            percent(p["p_usable_touchdown"]),
            f"{p['walk_yd_per_game']:,.0f} yd",
        )
        for p in evidence.backtests[kit]["policies"]
    ]
    return header, rows


def zone_table(evidence: Evidence, kit: int) -> Table:
    """Return what the plan expected of itself by zone, beside what came."""
    header = ("Zone", "Plays", "Usable", "Expected", "Habit")
    rows = [
        (
            str(zone["zone"]).capitalize(),
            f"{zone['plays']:,}",
            f"{100 * zone['p_usable']:.1f}%",
            f"{100 * zone['p_usable_predicted']:.1f}%",
            f"{100 * zone['habit_p_usable']:.1f}%",
        )
        for zone in evidence.backtests[kit]["zones"]
    ]
    return header, rows


def calibration_curves(evidence: Evidence) -> tuple[CalibrationCurve, ...]:
    """Return the calibration of every probability that is shown to people."""
    checks = {check["name"]: check for check in evidence.evaluation["checks"]}
    return tuple(
        _curve(title, checks[name]) for name, title in CHECK_TITLES.items() if name in checks
    )


def _curve(title: str, check: dict[str, Any]) -> CalibrationCurve:
    groups = check["groups"]
    slope = check["slope"]
    note = f"{check['plays']:,} plays" if slope is None else f"slope {slope:.2f} (1 is exact)"
    return CalibrationCurve(
        title,
        note,
        *(tuple(float(g[name]) for g in groups) for name in ("p_mean", "observed", "low", "high")),
    )


def calibration_said(evidence: Evidence) -> str:
    """Return the calibration in words."""
    parts = [
        f"{CHECK_TITLES[check['name']].lower()} {100 * check['predicted']:.1f}% predicted, "
        f"{100 * check['observed']:.1f}% seen"
        for check in evidence.evaluation["checks"]
        if check["name"] in CHECK_TITLES
    ]
    return (
        "Of plays given a chance, so many had it: dots on the diagonal are right, bars hold 95 % "
        f"of chance. Over the season: {'; '.join(parts)}."
    )


def calibration_table(evidence: Evidence) -> tuple[tuple[str, ...], Sequence[tuple[object, ...]]]:
    """Return the groups behind the calibration."""
    header = ("event", "p_mean", "observed", "low", "high")
    rows: list[tuple[object, ...]] = [
        (check["name"], *(round(float(group[name]), 6) for name in header[1:]))
        for check in evidence.evaluation["checks"]
        for group in check["groups"]
    ]
    return header, rows


def baseline_rows(evidence: Evidence) -> tuple[IntervalRow, ...]:
    """Return how far the forecasts of the gain are off, by model."""
    return tuple(
        IntervalRow(
            MODEL_TITLES.get(scores["name"], scores["name"]),
            scores["crps_yd"],
            scores["low"]["crps_yd"],
            scores["high"]["crps_yd"],
            f"{scores['crps_yd']:.3f}",
            strong=scores["name"] == "lensyard",
        )
        for scores in evidence.evaluation["models"]
    )


def baseline_table(evidence: Evidence) -> Table:
    """Return model and baselines as a table."""
    header = ("Model", "Gain off by", "Kind log-loss", "Touchdown Brier", "Slope gain 10", "Size")
    rows = [
        (
            MODEL_TITLES.get(s["name"], s["name"]),
            f"{s['crps_yd']:.3f} yd",
            f"{s['kind_log_loss']:.4f}",
            f"{s['touchdown_brier']:.5f}",
            f"{s['slope_gain10']:.3f}",
            f"{s['size_bytes'] / 1e6:.2f} MB",
        )
        for s in evidence.evaluation["models"]
    ]
    return header, rows


def provenance_words(evidence: Evidence) -> tuple[str, ...]:
    """Return where the plays come from, and what was fitted on them."""
    facts, evaluation = evidence.provenance, evidence.evaluation
    seasons = facts["seasons"]
    first, last = evaluation["train_seasons"][0], evaluation["train_seasons"][-1]
    return (
        f"{facts['attribution']} License: {facts['license']}. Seasons {seasons[0]} to "
        f"{seasons[-1]}.",
        f"Model {evidence.model_id}, fitted on {first} to {last} "
        f"({evaluation['model']['plays']:,} plays); season {evidence.season} was held out: "
        f"{evaluation['plays']:,} plays of {evaluation['games']} games.",
        f"Fingerprint of the plays: {str(evaluation['model']['data_sha256'])[:16]}.",
    )


def evidence_text(evidence: Evidence, *, width: int = 80) -> str:
    """Return the evidence for a terminal."""
    lines = []
    for kit in range(len(evidence.backtests)):
        title, sentences = lead_words(evidence, kit)
        header, rows = policy_table(evidence, kit)
        lines += [title + ".", *sentences, "", text_table(header, rows, wrap=0, width=width), ""]
    header, rows = baseline_table(evidence)
    lines += [text_table(header, rows, wrap=0, width=width), "", calibration_said(evidence), ""]
    lines += [*provenance_words(evidence), "", *(f"- {limit}" for limit in LIMITS)]
    return "\n".join(lines)


def backtest_text(result: Backtest) -> str:
    """Return a backtest as a table for the terminal."""
    lines = [
        f"Season {result.season}, {result.games} games, {result.plays:,} plays; "
        f"{result.request.kit.text}",
        "",
        "policy      usable  value share (95 %)     touchdowns  yards walked a game",
    ]
    for p in result.policies:
        lines.append(
            f"{p.name:<10}  {p.p_usable:6.1%}  {p.value_share:6.1%} ({p.low:.1%}-{p.high:.1%})"
            f"  {p.p_usable_touchdown:9.0%}  {p.walk_yd_per_game:14,.0f}"
        )
    lines.append("")
    for name, (ratio, low, high) in result.over.items():
        lines.append(f"plan over {name}: {ratio:.2f} times the value ({low:.2f}-{high:.2f})")
    lines += [
        "",
        f"The plan expected {result.p_usable_predicted:.1%} of plays usable.",
        "",
        "zone                        plays  usable  expected  20 ahead",
    ]
    for z in result.zones:
        lines.append(
            f"{z.zone:<26} {z.plays:>6,}  {z.p_usable:6.1%}  {z.p_usable_predicted:8.1%}"
            f"  {z.habit_p_usable:8.1%}"
        )
    lines += [
        "",
        f"Rule card: {rule_text(result.card.rule)} "
        f"({result.card.value_share:.1%} of the value in training).",
        f"Better: {rule_text(result.card.inside)} "
        f"({result.card.inside_value_share:.1%} in training).",
        f"Model {result.model['id']}. {result.model['attribution']}",
        *(f"Plays: {line}" for line in attribution_lines([result.season])),
    ]
    return "\n".join(lines)
