"""The words of ``lensyard evidence evaluate``.

An evaluation as a reliability plot.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from lensyard.features.evidence.charts import ReliabilityCurve, ReliabilityPlot
from lensyard.model.evaluation.evaluate import CLIPPING

if TYPE_CHECKING:
    from lensyard.model.evaluation.evaluate import Evaluation, ModelScores


SCORES = (
    ("crps_yd", "CRPS of the gain [yd]", ".4f"),
    ("log_loss", "log-loss of the gain", ".4f"),
    ("slope_gain10", "slope of P(gain >= 10)", ".3f"),
    ("ece_gain10", "calibration error of it", ".4f"),
    ("kind_log_loss", "log-loss of the kind", ".4f"),
    ("touchdown_brier", "Brier, touchdown", ".5f"),
    ("touchdown_log_loss", "log-loss, touchdown", ".4f"),
    ("touchdown_slope", "slope, touchdown", ".3f"),
    ("first_down_brier", "Brier, first down", ".5f"),
    ("first_down_log_loss", "log-loss, first down", ".4f"),
    ("drive_touchdown_brier", "Brier, drive touchdown", ".5f"),
    ("drive_touchdown_log_loss", "log-loss, drive touchd.", ".4f"),
    ("drive_touchdown_ece", "calibration error of it", ".4f"),
    ("out_of_bounds_brier", "Brier, out of bounds", ".5f"),
    ("out_of_bounds_log_loss", "log-loss, out of bounds", ".4f"),
    ("fit_s", "seconds to fit", ".1f"),
    ("predict_us", "microseconds a play", ".1f"),
    ("size_bytes", "bytes", ",.0f"),
)
"""Attribute, name and format of the rows."""
INTERVALS = ("crps_yd", "log_loss", "slope_gain10", "kind_log_loss", "drive_touchdown_brier")


def evaluation_text(result: Evaluation) -> str:
    """Return an evaluation as tables for the terminal."""
    first, last = result.train_seasons[0], result.train_seasons[-1]
    lines = [
        f"Season {result.season}: {result.plays:,} plays, {result.games} games. Fitted on "
        f"{len(result.train_seasons)} seasons, {first}-{last}, {result.train_plays:,} plays.",
        "",
        f"{'':<25}" + "".join(f"{scores.name:>11}" for scores in result.models),
    ]
    for attribute, name, form in SCORES:
        values = (format(getattr(scores, attribute), form) for scores in result.models)
        lines.append(f"{name:<25}" + "".join(f"{value:>11}" for value in values))
    lines += ["", "gains by tenth of their forecast, % (10 each is ideal)"]
    for scores in result.models:
        tenths = "".join(f"{100 * share:6.1f}" for share in scores.pit_deciles)
        lines.append(f"  {scores.name:<10}{tenths}")
    lines += ["", "95 % intervals, games drawn again"]
    lines += [_intervals(scores) for scores in result.models]
    lines += ["", *_zones(result), "", textwrap.fill(CLIPPING, 80)]
    return "\n".join(lines)


def _intervals(scores: ModelScores) -> str:
    """Return the intervals of one model, wrapped."""
    spans = ", ".join(
        f"{name} {scores.low[name]:.4f}-{scores.high[name]:.4f}"
        for name in INTERVALS
        if name in scores.low
    )
    return textwrap.fill(f"  {scores.name}: {spans}", 80, subsequent_indent="    ")


def _zones(result: Evaluation) -> list[str]:
    """Return the table of zones, this model's."""
    lines = ["this model by part of the field    plays  predicted  happened  difference"]
    for zone in result.zones:
        gap = 100 * (zone.predicted - zone.observed)
        verdict = "" if zone.agrees else "  *"
        lines.append(
            f"{zone.zone:<15}{zone.event.replace('_', ' '):<15}{zone.plays:>9,}"
            f"{zone.predicted:>11.1%}{zone.observed:>10.1%}{gap:>+8.1f} pts{verdict}"
        )
    lines.append("* differs by more than 1.5 points and two standard errors")
    return lines


PLOTTED = {
    "gain_10": "Gain of 10 yd or more",
    "touchdown": "Touchdown on this play",
    "first_down": "First down",
    "drive_touchdown": "Drive ends in a touchdown",
    "out_of_bounds": "Out of bounds",
    "pass": "A pass is thrown",
}
"""The probabilities that are drawn, with their titles."""


def reliability_plot(result: Evaluation) -> ReliabilityPlot:
    """Return the reliability plot of an evaluation."""
    curves = tuple(
        ReliabilityCurve(
            title=PLOTTED[check.name],
            predicted=check.curve.p_mean.tolist(),
            observed=check.curve.observed.tolist(),
            low=check.curve.low.tolist(),
            high=check.curve.high.tolist(),
            note=f"slope {check.slope:.2f} ({check.slope_low:.2f}-{check.slope_high:.2f})\n"
            f"calibration error {check.ece:.4f}",
        )
        for name in PLOTTED
        for check in result.checks
        if check.name == name
    )
    first, last = result.train_seasons[0], result.train_seasons[-1]
    return ReliabilityPlot(
        title=f"Season {result.season}, predicted from {first}-{last}",
        curves=curves,
        note=f"{result.plays:,} plays in twelve groups each; bars: 95 % of the rate",
    )
