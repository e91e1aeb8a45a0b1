"""The dashboard: its pages and what they share.

The header: the name, and the way to every page.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from inspect import signature
from typing import Any

import streamlit as st

from lensyard.dashboard import guard, session
from lensyard.dashboard import session as browser
from lensyard.dashboard.figures import show_style
from lensyard.dashboard.shell import PLAIN, WIDE, run_page
from lensyard.render.theme import THEMES

HEADER = '<header class="ly-header"><span class="ly-mark"></span>lensyard</header>'


def show_header(pages: Sequence[Any], *, current: str) -> None:
    """Show the header; a wide screen has the pages side by side, a phone under one button."""
    with st.container(key="ly_top"):
        st.html(HEADER)
        with st.container(key="ly_nav"):
            _links(pages, current, where="wide")
        with (
            st.container(key="ly_menu"),
            st.popover(
                "Pages",
                key=f"ly_pages_{current}",  # of this page alone, so that it closes on the next
                width="stretch",
            ),
        ):
            _links(pages, current, where="phone")


def _links(pages: Sequence[Any], current: str, *, where: str) -> None:
    for page in pages:
        state = "here" if page.url_path == current else "there"
        with st.container(key=f"ly_link_{where}_{page.url_path or 'next'}_{state}"):
            st.page_link(page, label=page.title, width="stretch")


# title, last part of the address, folder in lensyard.features
PAGES: tuple[tuple[str, str, str], ...] = (
    ("Next play", "", "next_play"),
    ("Game plan", "plan", "game_plan"),
    ("Field zones", "zones", "zones"),
    ("Gear", "gear", "gear"),
    ("Crew", "crew", "crew"),
    ("Drill", "drill", "drill"),
    ("Review", "review", "review"),
    ("Evidence", "evidence", "evidence"),
)


def run() -> None:
    """Run the page that the address asks for."""
    st.set_page_config(page_title="lensyard", page_icon="📷", layout="wide")
    if not guard.admitted():
        return
    pages = [
        st.Page(_runner(module), title=title, url_path=path or None, default=not path)
        for title, path, module in PAGES
    ]
    chosen = st.navigation(pages, position="hidden")
    session.note_page(chosen.url_path)
    with session.one_run() as controls:
        show_style(THEMES[controls.theme])
        show_header(pages, current=chosen.url_path)
        chosen.run()
        browser.show()


def _runner(module: str) -> Callable[[], None]:
    """A page's function; its module is imported when the page is opened."""

    def run_it() -> None:
        page = import_module(f"lensyard.features.{module}.page").page
        controls = session.current().controls
        if "shell" not in signature(page).parameters:
            page(controls)
            return
        run_page(page, controls, name=module, frame=WIDE if module == "next_play" else PLAIN)

    run_it.__name__ = module
    return run_it
