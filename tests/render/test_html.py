"""Parts of pages: whole, told in words, and never markup that somebody typed."""

from xml.etree import ElementTree as Xml

import pytest
from streamlit.testing.v1 import AppTest


def page(typed, as_numbers):
    from lensyard.dashboard.shell import show_body, show_lead
    from lensyard.render.report import Column, Fact, Format, Interval, Report, Section, Table
    from lensyard.render.theme import THEMES

    columns = (
        Column("zone", typed),
        Column("plays", "Plays"),
        Column("p", "Share", Format.PERCENT),
    )
    rows = ((typed, "12", Interval(0.5, 0.4, 0.6)),)
    report = Report(
        headline=typed,
        sentences=(typed,),
        facts=(Fact("f", typed, typed), Fact("w", "Walk", 27.2, Format.YARDS)),
        tables=(Table("t", typed, columns, rows, note=typed, detail=as_numbers),),
        sections=(Section(typed, (typed,)), Section(f"{typed}2", (typed,), True)),
        notes=(typed,),
        cautions=(typed,),
        sources=(typed,),
    )
    show_lead(report)
    show_body(report, theme=THEMES["sunlight"], key="t")


def shown(typed, *, detail=False):
    app = AppTest.from_function(page, args=(typed, detail), default_timeout=60).run()
    assert not app.exception
    return [element.body for element in app.get("html")]


@pytest.mark.parametrize("detail", [False, True])
def test_nothing_that_people_type_is_markup(detail):
    for html in shown('<script>alert(1)</script>"&', detail=detail):
        assert "script" not in {part.tag for part in Xml.fromstring(f"<p>{html}</p>").iter()}


def test_a_table_says_its_columns_to_screen_readers_and_phones_in_their_formats():
    html = " ".join(shown("Zone"))
    assert '<th scope="col">Plays</th>' in html
    assert '<th scope="row">Zone</th>' in html
    assert '<td data-label="Plays" class="ly-short">12</td>' in html
    assert ">50% (40% to 60%)<" in html
    assert ">27 yd<" in html
