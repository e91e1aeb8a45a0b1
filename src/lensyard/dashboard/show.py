"""A report on a page: its answer on top, then figures, charts, tables and what to mind.

What a chart shows in color stands below it in words and as a table; every table can be taken along
as CSV.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import streamlit as st

from lensyard.render.charts import altair_chart
from lensyard.render.document import csv_text
from lensyard.render.field.draw import field_svg
from lensyard.render.field.picture import Orientation
from lensyard.render.html import (
    facts_html,
    figure_html,
    folded_html,
    lead_html,
    section_html,
    table_html,
)
from lensyard.render.report import Chart, FieldView, Report, Table

if TYPE_CHECKING:
    from lensyard.render.theme import Theme

NOTES_TITLE = "How to read this"
CAUTIONS_TITLE = "Cautions"
SOURCES_TITLE = "Sources"
_MARKDOWN = re.compile(r"([\\`*_{}\[\]()#+!|<>~$:&])")
FIELD_PX = {Orientation.HORIZONTAL: 880.0, Orientation.VERTICAL: 380.0}
FOLDED = "The figures as a table"


def show(report: Report, *, theme: Theme, key: str) -> None:
    """Show a report, the answer first.

    Parameters
    ----------
    report
        What is said.
    theme
        The colors of fields and charts.
    key
        Tells this report's elements from others of the page.
    """
    show_lead(report)
    show_body(report, theme=theme, key=key)


def show_lead(report: Report) -> None:
    """Show the answer: the headline and the sentences right below it."""
    st.html(lead_html(report.headline.removesuffix("."), report.sentences))


def show_body(report: Report, *, theme: Theme, key: str) -> None:
    """Show everything but the answer; charts stand where their table does."""
    if report.facts:
        st.html(facts_html(report.facts))
    for view in report.fields:
        show_field_view(view, theme=theme)
    for table in report.tables:
        charts = [chart for chart in report.charts if chart.table == table.key]
        for chart in charts:
            show_chart(chart, table, theme=theme, key=key)
        fold = FOLDED if charts else table.title if table.detail else ""
        show_table(table, key=key, fold=fold)
    for section in report.sections:
        _show_lines(section.title, section.lines)
    _show_lines(CAUTIONS_TITLE, report.cautions)
    _show_lines(NOTES_TITLE, report.notes)
    _show_lines(SOURCES_TITLE, report.sources)


def show_field_view(view: FieldView, *, theme: Theme) -> None:
    """Show a field at rest, drawn for both sizes of screen."""
    wide, narrow = (
        field_svg(view.picture, theme=theme, orientation=o, width_px=width, legend=False)
        for o, width in FIELD_PX.items()
    )
    st.html(figure_html(wide, narrow, alt_text=view.alt_text, heading=view.title))


def show_chart(chart: Chart, table: Table, *, theme: Theme, key: str) -> None:
    """Show a chart with its heading, and what it says in words below."""
    if not table.rows:
        return
    st.html(section_html(chart.title, ()))
    st.altair_chart(
        altair_chart(chart, table, theme),
        width="stretch",
        theme=None,
        key=f"ly_chart_{key}_{chart.key}",
    )
    st.html(section_html("", (chart.alt_text,), css_class="ly-section ly-said"))


def show_table(table: Table, *, key: str, fold: str = "") -> None:
    """Show a table and offer it as CSV; below a summary, where there is one, to be unfolded."""
    if not table.rows:
        return
    html = table_html(replace(table, title="") if fold else table)
    st.html(folded_html(fold, html) if fold else html)
    offer_csv(table, key=key)


def offer_csv(table: Table, *, key: str) -> None:
    """Offer a table as a CSV file that no spreadsheet takes for formulas."""
    st.download_button(
        "Figures as CSV",
        data=csv_text(table),
        file_name=f"lensyard-{key}-{table.key}.csv",
        mime="text/csv",
        key=f"ly_csv_{key}_{table.key}",
        on_click="ignore",
    )


def _show_lines(title: str, lines: Sequence[str]) -> None:
    if lines:
        st.html(section_html(title, lines, listed=True))


def plain(text: str) -> str:
    """Return text that reads the same where Markdown is understood: what people typed stays text.

    >>> plain("cannot read ball from '[here](x)'")
    "cannot read ball from '\\\\[here\\\\]\\\\(x\\\\)'"
    """
    # Addresses become links even where their signs are escaped; a word joiner inside stops that.
    text = re.sub(r"(?<=:)(?=//)|(?<=www)(?=\.)|(?=@)", "\u2060", text)
    return _MARKDOWN.sub(r"\\\1", text)
