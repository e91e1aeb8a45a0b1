"""Parts of pages: whole, told in words, and never markup that somebody typed."""

from xml.etree import ElementTree as Xml

import pytest

from lensyard.render.html import (
    facts_html,
    figure_html,
    folded_html,
    lead_html,
    progress_html,
    section_html,
    table_html,
)
from lensyard.render.report import Column, Fact, Format, Interval, Table


def test_nothing_that_people_type_is_markup():
    bad = '<script>alert(1)</script>"&'
    for html in (
        section_html(bad, [bad], listed=True),
        lead_html(bad, [bad]),
        facts_html([Fact("f", bad, bad)]),
        folded_html(bad, "<p>open</p>"),
        table_html(Table("t", bad, (Column("c", bad),), ((bad,),))),
        figure_html("<svg/>", "<svg/>", alt_text=bad, heading=bad),
    ):
        assert "script" not in {part.tag for part in Xml.fromstring(html).iter()}


def test_a_table_says_its_columns_to_screen_readers_and_phones():
    columns = (Column("zone", "Zone"), Column("plays", "Plays"))
    html = table_html(Table("t", "Counts", columns, (("red zone", "12"),)))
    assert '<th scope="col">Plays</th>' in html
    assert '<th scope="row">red zone</th>' in html
    assert '<td data-label="Plays" class="ly-short">12</td>' in html


def test_a_figure_has_one_text_for_both_sizes():
    html = figure_html("<svg/>", "<svg/>", alt_text="Half of the plays gain 4 yd or more.")
    assert html.count('alt="Half of the plays gain 4 yd or more."') == 2
    assert "<figcaption" in html


@pytest.mark.parametrize(("done", "of", "width"), [(0, 10, 0), (5, 10, 50), (10, 10, 100)])
def test_progress_is_read_as_words(done, of, width):
    html = progress_html(done, of)
    assert f'aria-label="{done} of {of} answered"' in html
    assert f"width:{width}%" in html


def test_a_reports_cells_are_written_in_their_columns_formats():
    table = Table("t", "", (Column("p", "Share", Format.PERCENT),), ((Interval(0.5, 0.4, 0.6),),))
    assert ">50% (40% to 60%)<" in table_html(table)
    assert ">27 yd<" in facts_html([Fact("w", "Walk", 27.2, Format.YARDS)])
