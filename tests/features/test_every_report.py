"""Every report on every face: the same headline, the same cells, the same cautions."""

import csv
import io
import json
import re
from html import unescape

import pytest
from streamlit.testing.v1 import AppTest
from tests.features.reports import CASES, made

from lensyard.render.charts import chart_marks
from lensyard.render.paper_chart import charts_figure
from lensyard.render.report import Interval
from lensyard.render.text import csv_text, json_text, render_text
from lensyard.render.words import format_value


def cells(table):
    """Every cell of a table as people read it."""
    return [
        format_value(cell, column.format)
        for row in table.rows
        for cell, column in zip(row, table.columns, strict=True)
    ]


def words(text):
    """The words alone: a page sets what is typed between backticks in another face."""
    return " ".join(text.replace("`", "").split())


def missing(report, text):
    """What a face lacks of a report: sentences, figures, cells, cautions, notes, sources."""
    parts = [
        report.headline.removesuffix(".")[1:],  # a terminal begins it as a sentence
        *report.sentences,
        *(format_value(fact.value, fact.format) for fact in report.facts),
        *(cell for table in report.tables for cell in cells(table)),
        *(line for section in report.sections for line in section.lines),
        *report.notes,
        *report.cautions,
        *report.sources,
    ]
    return [part for part in parts if words(part) not in text]


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_a_report_has_a_headline_and_alternative_texts(name):
    report = made(name).report
    assert report.headline
    for described in (*report.charts, *report.fields):
        assert len(described.alt_text) > 20


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_the_terminal_says_all_of_it(name):
    report = made(name).report
    text = render_text(report, width=400)
    assert text[1:].startswith(report.headline[1:])  # it begins as a sentence does
    assert missing(report, words(text)) == []
    short = words(render_text(report, brief=True))
    assert words(report.headline)[1:] in short
    assert [caution for caution in report.cautions if words(caution) not in short] == []


def page(name):
    from tests.features.reports import made

    from lensyard.dashboard.shell import show_body, show_lead
    from lensyard.render.theme import THEMES

    report = made(name).report
    show_lead(report)
    show_body(report, theme=THEMES["sunlight"], key="report")


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_the_page_shows_all_of_it(name):
    report = made(name).report
    app = AppTest.from_function(page, args=(name,), default_timeout=60).run()
    assert not app.exception
    html = " ".join(element.body for element in app.get("html"))
    text = words(unescape(re.sub(r"<[^>]*>", " ", re.sub(r"</?(?:code|span)[^>]*>", "", html))))
    assert text.startswith(words(report.headline).removesuffix("."))
    assert missing(report, text) == []
    assert [chart.alt_text for chart in report.charts if words(chart.alt_text) not in text] == []
    drawn = [chart for chart in report.charts if report.table(chart.table).rows]
    assert len(app.get("vega_lite_chart")) == len(drawn)


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_csv_holds_the_raw_cells_of_every_table(name):
    for table in made(name).report.tables:
        rows = list(csv.DictReader(io.StringIO(csv_text(table))))
        assert len(rows) == len(table.rows)
        for column in table.columns:
            for row, cell in zip(rows, table.column(column.key), strict=True):
                raw = cell.value if isinstance(cell, Interval) else cell
                written = row[column.key].removeprefix("'")
                if isinstance(raw, bool) or not isinstance(raw, int | float):
                    assert written == ("" if raw is None else str(raw))
                else:
                    assert float(written) == pytest.approx(raw, rel=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_json_is_strict_and_has_the_cautions(name):
    found = json.loads(json_text(made(name).document))
    assert found["schema_version"] >= 1
    assert found.get("cautions", []) == list(made(name).report.cautions)


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_paper_draws_every_chart_below_the_headline(name):
    report = made(name).report
    if not report.charts:
        return
    figure = charts_figure(report)
    assert figure.get_suptitle() == report.headline
    assert [axes.get_title(loc="left") for axes in figure.axes] == [c.title for c in report.charts]
    for chart, axes in zip(report.charts, figure.axes, strict=True):
        marks = chart_marks(chart, report.table(chart.table))
        names = [label.get_text() for label in axes.get_yticklabels()]
        assert not marks.categories or set(marks.categories) - {""} <= {*names, ""}
