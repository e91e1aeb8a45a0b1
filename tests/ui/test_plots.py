"""Pictures and parts of pages, without a server: whole, told in words, in colors that stand out."""

from __future__ import annotations

from xml.etree import ElementTree as Xml

import pytest

from lensyard.dashboard.controls import Controls
from lensyard.errors import InvalidInputError
from lensyard.features.next_play.answer import next_play
from lensyard.features.next_play.charts import GainPlot, gain_plot, gain_rows, gain_svg
from lensyard.model.context import load_context
from lensyard.render.html import figure_html, lead_of, progress_html, section_html, table_html
from lensyard.render.theme import GRAPHIC_MINIMUM, TEXT_MINIMUM, THEMES, Theme, contrast_ratio

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


@pytest.mark.parametrize("theme", THEMES.values(), ids=list(THEMES))
def test_pictures_keep_their_contrast(theme: Theme) -> None:
    # WCAG 2.2, success criteria 1.4.3 and 1.4.11: text, then marks, on the page.
    for color in (theme.ink, theme.ink_soft, theme.accent):
        assert contrast_ratio(color, theme.page) >= TEXT_MINIMUM
    for color in (theme.accent, theme.ink, theme.band_edge, theme.ink_soft):
        assert contrast_ratio(color, theme.page) >= GRAPHIC_MINIMUM


def test_nothing_that_people_type_is_markup() -> None:
    bad = '<script>alert(1)</script>"&'
    for html in (
        table_html(["Name", "Where"], [[bad, bad]], caption=bad),
        section_html(bad, [bad], listed=True),
        lead_of(bad, [bad]),
        figure_html("<svg/>", "<svg/>", alt_text=bad, heading=bad),
    ):
        assert "script" not in {part.tag for part in Xml.fromstring(html).iter()}


def test_a_table_says_its_columns_to_screen_readers_and_phones() -> None:
    html = table_html(["Zone", "Plays"], [["red zone", "12"]], caption="Counts")
    assert '<th scope="col">Plays</th>' in html
    assert '<th scope="row">red zone</th>' in html
    assert '<td data-label="Plays">12</td>' in html


def test_a_figure_has_one_text_for_both_sizes() -> None:
    html = figure_html("<svg/>", "<svg/>", alt_text="Half of the plays gain 4 yd or more.")
    assert html.count('alt="Half of the plays gain 4 yd or more."') == 2
    assert "<figcaption" in html


@pytest.mark.parametrize(("done", "of", "width"), [(0, 10, 0), (5, 10, 50), (10, 10, 100)])
def test_progress_is_read_as_words(done: int, of: int, width: int) -> None:
    html = progress_html(done, of)
    assert f'aria-label="{done} of {of} answered"' in html
    assert f"width:{width}%" in html
