"""A picture on a page: drawn for both sizes of screen, told in words, with its figures as CSV."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import streamlit as st

from lensyard.dashboard.show import plain as plain  # noqa: PLC0414
from lensyard.render.html import csv_text, figure_html, table_html
from lensyard.render.theme import Theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure


DRAWING = threading.Lock()
"""Held while matplotlib draws: its settings are the whole server's."""
Table = tuple[Sequence[str], Sequence[Sequence[object]]]


def show_figure(
    draw: Callable[[bool], str], *, name: str, said: str, table: Table, heading: str = ""
) -> None:
    """Show a picture with its text alternative, and offer its figures.

    Parameters
    ----------
    draw
        Makes the SVG, for a wide screen or a narrow one.
    name
        Of the CSV file, and of the button's key.
    said
        What the picture says, in words.
    table
        Header and rows of the figures.
    heading
        Above it; may be empty.
    """
    st.html(figure_html(draw(True), draw(False), alt_text=said, heading=heading))
    offer_csv(table, name=name)


def offer_csv(table: Table, *, name: str) -> None:
    """Offer figures as a CSV file that no spreadsheet takes for formulas."""
    header, rows = table
    st.download_button(
        "Figures as CSV",
        data=csv_text(header, rows),
        file_name=f"lensyard-{name}.csv",
        mime="text/csv",
        key=f"ly_csv_{name}",
        on_click="ignore",
    )


def show_table(header: Sequence[str], rows: Sequence[Sequence[str]], *, caption: str = "") -> None:
    """Show a table; on a phone each row becomes a block."""
    st.html(table_html(header, rows, caption=caption))


def in_the_dark(figure: Figure, theme: Theme) -> Figure:
    """Return a figure without the white of paper, for eyes used to the dark; others as they are."""
    if theme.name != "night":
        return figure
    for axes in figure.axes:
        axes.set_facecolor(theme.page)
        axes.tick_params(colors=theme.ink)
        for spine in axes.spines.values():
            spine.set_edgecolor(theme.ink_soft)
        for patch in axes.patches:
            patch.set_facecolor(theme.surround)
            patch.set_edgecolor(theme.ink_soft)
    return figure


def show_drawn(key: str, make: Callable[[], Figure], *, name: str, said: str, table: Table) -> None:
    """Show a matplotlib figure, drawn once a key, with its text alternative and its figures."""
    st.image(_drawn(key, make), width="stretch", alt=said)
    st.caption(plain(said))
    offer_csv(table, name=name)


@st.cache_data(show_spinner=False, max_entries=48)
def _drawn(key: str, _make: Callable[[], Figure]) -> bytes:
    from io import BytesIO

    stream = BytesIO()
    with DRAWING:
        _make().savefig(stream, format="png", dpi=130, metadata={"Software": None})
    return stream.getvalue()
