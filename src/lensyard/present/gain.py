"""Where the play is likely to end along the field, from an answer."""

from __future__ import annotations

from lensyard.service.next_play import NextAnswer
from lensyard.views.gain_plot import GainPlot


def gain_plot(answer: NextAnswer) -> GainPlot:
    """Return what is drawn of the play's end; a pass that falls counts where the ball came down."""
    situation, outcome = answer.request.situation, answer.outcome
    along = answer.masses.plain.sum(axis=1).astype(float)
    along = along / along.sum()
    return GainPlot(
        p_by_yard=tuple(along.tolist()),
        line_of_scrimmage_x_yd=situation.line_of_scrimmage_x_yd,
        line_to_gain_x_yd=situation.line_to_gain_x_yd,
        said=(
            "Where the action ends, in yards from the ball, passes that fall where they come "
            f"down. Half of the plays gain {outcome.gain_p50_yd} yd or more; one in ten gains "
            f"{outcome.gain_p90_yd} or more, one in ten {outcome.gain_p10_yd} or less."
        ),
    )
