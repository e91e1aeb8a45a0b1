"""The dashboard: its pages and what they share."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module

import streamlit as st

from lensyard.ui import browser, guard, session
from lensyard.ui.navigation import show_header
from lensyard.ui.style import show_style
from lensyard.views.palette import LOOKS

# title, last part of the address, module of lensyard.ui.pages
PAGES: tuple[tuple[str, str, str], ...] = (
    ("Next play", "", "next_play"),
    ("Game plan", "plan", "game_plan"),
    ("Field zones", "zones", "field_zones"),
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
        show_style(LOOKS[controls.look])
        show_header(pages, current=chosen.url_path)
        chosen.run()
        browser.show()


def _runner(module: str) -> Callable[[], None]:
    """A page's function; its module is imported when the page is opened."""

    def page() -> None:
        import_module(f"lensyard.ui.pages.{module}").page(session.current().controls)

    page.__name__ = module
    return page
