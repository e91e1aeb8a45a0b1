"""The shell around every page: style, navigation, controls, jobs, and errors as messages.

A page is ``def page(shell: Shell) -> None``: it shows its widgets, reads the controls, computes and
shows a report. A `LensyardError` becomes a message on the page here, so pages catch none.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from importlib import import_module
from mimetypes import guess_type
from typing import TYPE_CHECKING, Any, TypeVar

import streamlit as st

from lensyard.dashboard import guard, session
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.document import CAUTIONS_TITLE, HEADER, answer_html, here_html, style_html
from lensyard.dashboard.work import Progress, run_job
from lensyard.errors import LensyardError
from lensyard.model.context import chosen_model
from lensyard.render.charts import altair_chart
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
from lensyard.render.text import csv_text
from lensyard.render.theme import THEMES, Theme
from lensyard.render.words import sentence

if TYPE_CHECKING:
    from lensyard.render.theme import Theme


T = TypeVar("T")

_STYLED = "ly_styled"
PLAIN, WIDE = "ly_plain", "ly_page"
"""Keys of the container around a page: a column of text, or the field beside the answer."""


class Shell:
    """One page in one run.

    - ``name``: of the page; tells its elements and jobs from those of others.
    - ``controls``: what was chosen.
    - ``waiting``: whether a job has no result yet.
    """

    def __init__(
        self, *, name: str, controls: Controls, ticked: Callable[[Controls], tuple[str, ...]]
    ) -> None:
        self.name = name
        self.controls = controls
        self.waiting = False
        self._ticked = ticked
        self._lead = st.container()

    @property
    def theme(self) -> Theme:
        """The colors that were chosen."""
        return THEMES[self.controls.theme]

    @cached_property
    def model_key(self) -> str:
        """What tells the answers of the model in use from those of others."""
        rules = self.controls.venue().rules.name
        return chosen_model(self.controls.model_name, rules=rules).key

    @cached_property
    def ticked(self) -> tuple[str, ...]:
        """Frames of the shot list that the game log has."""
        return self._ticked(self.controls)

    def run(
        self,
        key: object,
        make: Callable[[Progress], T],
        *,
        title: str,
        by_model: bool = True,
    ) -> T | None:
        """Return the result of a job; None while it runs, was cancelled or failed.

        - ``key``: what the result depends on beside the model; its ``repr`` must say all of it.
        - ``make``: computes it; it is given a function to report progress to.
        - ``title``: for people, such as "the plan for this kit".
        - ``by_model``: whether another model would give another result.
        """
        model = self.model_key if by_model else ""
        found = self.attempt(lambda: run_job(f"{self.name} {model} {key!r}", make, title=title))
        self.waiting = self.waiting or found is None
        return found

    def attempt(self, make: Callable[[], T]) -> T | None:
        """Return what a function returns; where it raises a `LensyardError`, show that and None."""
        try:
            return make()
        except LensyardError as error:
            show_error(error)
            return None

    def lead(self, title: str, sentences: Sequence[str] = ()) -> None:
        """Show an answer, or what the page waits for, on top of the page."""
        with self._lead:
            st.html(lead_html(title, sentences))

    def show(self, report: Report, *, key: str = "") -> None:
        """Show a report: its answer on top of the page, the rest here."""
        with self._lead:
            show_lead(report)
        show_body(report, theme=self.theme, key=key or self.name)


def show_error(error: LensyardError) -> None:
    """Show an error as a sentence."""
    st.error(plain(sentence(str(error))))


@dataclass(frozen=True, slots=True)
class PageEntry:
    """One page of the dashboard.

    - ``title``: in the navigation.
    - ``path``: last part of its address; empty for the first page.
    - ``module``: its module, imported when the page is opened; it has ``page(shell)``.
    - ``frame``: key of the container around it: `PLAIN` or `WIDE`.
    - ``parts``: modules of other features whose ``page(shell)`` follows on the same page, once no
      job of what stands before is waiting.
    - ``ticked``: module whose ``ticked_for(controls)`` gives the frames that are had; "" for none.
    """

    title: str
    path: str
    module: str
    frame: str = PLAIN
    parts: tuple[str, ...] = ()
    ticked: str = ""

    @property
    def name(self) -> str:
        """Tells its elements and jobs from those of other pages."""
        return self.path or "next"


def run_pages(entries: Sequence[PageEntry]) -> None:
    """Run the page that the address asks for, with style and navigation."""
    st.set_page_config(page_title="lensyard", page_icon="📷", layout="wide")
    if not guard.admitted():
        return
    pages = [
        st.Page(
            st.fragment(_runner(entry)),
            title=entry.title,
            url_path=entry.path or None,
            default=not entry.path,
        )
        for entry in entries
    ]
    chosen = st.navigation(pages, position="hidden")
    session.note_page(chosen.url_path)
    theme = session.begin().theme
    st.session_state[_STYLED] = theme
    st.html(style_html(THEMES[theme]))
    _show_navigation(pages, current=chosen.url_path)
    chosen.run()


def _runner(entry: PageEntry) -> Callable[[], None]:
    """Return a function that imports a page and runs it; the server names pages by functions.

    It is a fragment: after a choice it alone runs, and neither style nor navigation is sent again.
    """

    def run() -> None:
        with session.one_run() as controls:
            if st.session_state[_STYLED] != controls.theme:
                st.rerun()
            run_page(import_module(entry.module).page, controls, entry)
            guard.show()

    run.__name__ = run.__qualname__ = entry.name
    return run


def run_page(page: Callable[[Shell], None], controls: Controls, entry: PageEntry) -> None:
    """Run a page and its parts, below what could not be read in the address."""

    def ticked(controls: Controls) -> tuple[str, ...]:
        found: tuple[str, ...] = import_module(entry.ticked).ticked_for(controls)
        return found

    with st.container(key=entry.frame):
        if issues := session.current().issues:
            st.warning(plain("\n\n".join(issues)))
        shell = Shell(
            name=entry.name,
            controls=controls,
            ticked=ticked if entry.ticked else lambda _: (),
        )
        shell.attempt(lambda: page(shell))
        for part in entry.parts:
            if not shell.waiting:
                shell.attempt(lambda part=part: import_module(part).page(shell))  # type: ignore[misc]


def _show_navigation(pages: Sequence[Any], *, current: str) -> None:
    """Show the way to every page: side by side on a wide screen, under one button on a phone."""
    place = 1 + [page.url_path for page in pages].index(current)
    with st.container(key="ly_top"):
        st.html(HEADER + here_html(place))
        with st.container(key="ly_nav"):
            _links(pages)
        with (
            st.container(key="ly_menu"),
            st.popover(
                "Pages",
                key=f"ly_pages_{current}",  # of this page alone, so that it closes on the next
                width="stretch",
            ),
            st.container(key="ly_links"),
        ):
            _links(pages)


def _links(pages: Sequence[Any]) -> None:
    for page in pages:
        st.page_link(page, label=page.title, width="stretch")


NOTES_TITLE = "How to read this"
SOURCES_TITLE = "Sources"
_MARKDOWN = re.compile(r"([\\`*_{}\[\]()#+!|<>~$:&])")
FIELD_PX = {Orientation.HORIZONTAL: 880.0, Orientation.VERTICAL: 380.0}
FOLDED = "The figures as a table"


def show_lead(report: Report) -> None:
    """Show the answer: the headline and the sentences right below it."""
    st.html(answer_html(report))


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
    said = [
        *((section.title, section.lines) for section in report.sections),
        (CAUTIONS_TITLE, report.cautions),
        (NOTES_TITLE, report.notes),
        (SOURCES_TITLE, report.sources),
    ]
    if html := "".join(section_html(title, lines, listed=True) for title, lines in said if lines):
        st.html(html)


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
    st.vega_lite_chart(
        _chart_spec(chart, table, theme),
        width="stretch",
        theme=None,
        key=f"ly_chart_{key}_{chart.key}",
    )
    st.html(section_html("", (chart.alt_text,), css_class="ly-section ly-said"))


@lru_cache(maxsize=64)
def _chart_spec(chart: Chart, table: Table, theme: Theme) -> dict[str, Any]:
    """Return a chart as Vega-Lite; checking it against its schema takes longest of a page."""
    spec: dict[str, Any] = altair_chart(chart, table, theme).to_dict()
    return spec


def show_table(table: Table, *, key: str, fold: str = "") -> None:
    """Show a table and offer it as CSV; below a summary, where there is one, to be unfolded."""
    if not table.rows:
        return
    html = table_html(replace(table, title="") if fold else table)
    st.html(folded_html(fold, html) if fold else html)
    offer_csv(table, key=key)


def offer_csv(table: Table, *, key: str, label: str = "Figures as CSV") -> None:
    """Offer a table as a CSV file that no spreadsheet takes for formulas."""
    offer(label, f"{key}-{table.key}.csv", lambda: csv_text(table), key=f"ly_csv_{key}_{table.key}")


def offer(label: str, name: str, make: Callable[[], str | bytes], *, key: str) -> None:
    """Offer a file; it is made once somebody wants it."""
    st.download_button(
        label,
        data=make,
        file_name=f"lensyard-{name}",
        mime=guess_type(name)[0],
        key=key,
        on_click="ignore",
    )


def plain(text: str) -> str:
    """Return text that reads the same where Markdown is understood: what people typed stays text.

    >>> plain("cannot read ball from '[here](x)'")
    "cannot read ball from '\\\\[here\\\\]\\\\(x\\\\)'"
    """
    # Addresses become links even where their signs are escaped; a word joiner inside stops that.
    text = re.sub(r"(?<=:)(?=//)|(?<=www)(?=\.)|(?=@)", "\u2060", text)
    return _MARKDOWN.sub(r"\\\1", text)
