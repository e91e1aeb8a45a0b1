"""The picture of the gain: what it draws is what the model says."""

from __future__ import annotations

from xml.etree import ElementTree as Xml

import pytest

from lensyard.dashboard.controls import Controls
from lensyard.errors import InvalidInputError
from lensyard.features.next_play.answer import next_play
from lensyard.features.next_play.charts import GainPlot, gain_plot, gain_rows, gain_svg
from lensyard.model.context import load_context
from lensyard.render.theme import THEMES

SITUATIONS = (
    Controls(),
    Controls(down=3, distance_yd=7, yardline_100=35),
    Controls(down=1, distance_yd=2, yardline_100=2),
    Controls(down=4, distance_yd=20, yardline_100=99),
)


@pytest.mark.parametrize("controls", SITUATIONS)
def test_the_gain_is_drawn_as_the_model_says(controls: Controls) -> None:
    answer = next_play(load_context(), controls.request())
    plot = gain_plot(answer)
    assert sum(plot.p_by_yard) == pytest.approx(1.0, abs=1e-6)  # float32 masses, 2,178 cells
    _, rows = gain_rows(plot)
    # No play ends more yards ahead than there are to the far end line (10 yd of end zone).
    assert max(int(str(row[0])) for row in rows) <= controls.yardline_100 + 10
    for theme in THEMES.values():
        for wide in (True, False):
            drawn = Xml.fromstring(gain_svg(plot, theme=theme, wide=wide))
            texts = [e.text for e in drawn.iter() if e.tag.endswith("text")]
            assert {"ball", "line to gain", "0"} <= set(texts)
    assert f"gain {answer.outcome.gain_p50_yd} yd or more" in plot.said


def test_what_is_no_distribution_is_refused() -> None:
    with pytest.raises(InvalidInputError, match="one probability for each yard"):
        GainPlot((0.5, 0.5), 35.0, 45.0, "")
