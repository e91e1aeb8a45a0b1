"""An evaluation as a reliability plot."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lensyard.views.reliability import ReliabilityCurve, ReliabilityPlot

if TYPE_CHECKING:
    from lensyard.model.evaluation import Evaluation

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
