"""The dashboard: its pages and what they share."""

from __future__ import annotations

import streamlit as st

from lensyard.ui import session
from lensyard.ui.pages import next_play

PAGES = ((next_play.page, "Next play", "next"),)


HEADER = '<header class="ly-header"><span class="ly-mark"></span>lensyard</header>'


def run() -> None:
    """Run the page that the address asks for."""
    st.set_page_config(page_title="lensyard", page_icon="📷", layout="wide")
    pages = [
        st.Page(page, title=title, url_path=path, default=i == 0)
        for i, (page, title, path) in enumerate(PAGES)
    ]
    chosen = st.navigation(pages, position="hidden")
    session.note_page(chosen.url_path)
    st.html(HEADER)
    chosen.run()
