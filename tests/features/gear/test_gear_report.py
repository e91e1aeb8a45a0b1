"""What a comparison of kits says: one headline for every face, gaps, light, tables and charts."""

import pytest
from tests.features.gear.invented import comparison_of, three_kits

from lensyard.features.gear.report import gear_report
from lensyard.render.charts import chart_marks
from lensyard.render.text import render_text

NOTABLE_GAIN = 0.5


def test_the_headline_names_the_best_kit_and_the_sentences_say_what_it_adds():
    report = gear_report(three_kits())
    # Under 20 footcandles f/2.8 at 1/1000 s needs ISO 10000: the same sentence says so.
    assert report.headline == (
        "70-200 + 400 (1 body, reach 40 yd) brings the most, but no lens of it freezes action "
        "under the lamps of this field"
    )
    (first, *_) = [s for s in report.sections if s.title == "Light"]
    assert "Assumed, as nobody gave it: f/2.8 for 70-200" in first.lines[0]
    # 13.5 usable plays with it, 8.0 with the first.
    assert "5.5 (5.5 to 5.5) more usable plays a game" in report.sentences[1]


def test_the_best_of_those_that_freeze_action_is_named_beside_the_best():
    """What ISO 6400 allows under 50 footcandles at 1/1000 s is f/4: not a 600 with a converter."""
    report = gear_report(
        comparison_of(("70-200", (3.0, 5.0)), ("600 x1.4", (6.0, 7.0)), footcandles=50)
    )
    assert report.headline.endswith(
        "brings the most, but no lens of it freezes action under the lamps of this field"
    )
    assert any(
        "of those that freeze action there A: 70-200" in s.lower().replace("a: 7", "A: 7")
        for s in report.sentences
    )


@pytest.mark.parametrize("gain", [NOTABLE_GAIN - 0.4, NOTABLE_GAIN - 0.01])
def test_a_gain_that_is_not_notable_is_no_reason_on_any_face(gain):
    """The command called such a kit the best, the page did not."""
    report = gear_report(
        comparison_of(("400", (6.0, 6.0)), ("400 + 24-70", (6.0, 6.0 + gain)), ("200", (1.0, 1.0)))
    )
    assert report.headline == "None of these brings notably more than 400 (1 body, reach 40 yd)"
    assert "No notable change with B" in report.sentences[1]
    text = render_text(report)
    assert "brings the most" not in text
    assert text.startswith("None of these brings notably more than 400")


def test_one_kit_alone_is_said_by_what_it_brings():
    report = gear_report(comparison_of(("400", (6.0, 6.0))))
    assert report.headline.endswith("brings 12 usable plays a game (60%) and 60% of the value")
    assert "gains" not in [table.key for table in report.tables]


def test_the_gap_of_a_long_prime_is_said_and_drawn():
    # A player 0.915 m wide overflows the 36 mm of a 400 mm lens nearer than 400 x 0.915 / 36 m,
    # 11.1 yd (pinhole).
    report = gear_report(three_kits())
    lines = next(section.lines for section in report.sections if section.title == "Coverage gaps")
    assert len(lines) == 1
    assert lines[0].startswith("B: under 11 yd no lens of it works")
    chart = next(chart for chart in report.charts if chart.key == "reach")
    assert lines[0] in chart.alt_text
    bands = [m for m in chart_marks(chart, report.table("reach")).marks if m.category[0] == "B"]
    assert [(round(m.low, 1), m.high) for m in bands] == [(11.1, 40.0)]


def test_the_figures_of_the_zones_are_the_results():
    comparison = three_kits()
    report = gear_report(comparison)
    for letter, kit in zip("ABC", comparison.kits, strict=True):
        zones = kit.figures.zones
        assert report.table("usable_per_game").column(letter) == tuple(
            z.usable_per_game for z in zones
        )
        assert report.table("value_share").column(letter) == tuple(z.value_share for z in zones)
    assert report.table("gains").column("usable_more")[1].value == pytest.approx(5.5)


def test_what_the_lamps_and_fewer_bodies_mean_is_said():
    report = gear_report(three_kits())
    light = next(section.lines for section in report.sections if section.title == "Light")
    assert [line[0] for line in light] == ["A", "B", "C"]
    assert "20 footcandles" in light[0]
    assert "With fewer bodies than lenses (C)" in report.notes[1]
