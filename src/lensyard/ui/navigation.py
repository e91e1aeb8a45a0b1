"""The header: the name, and the way to every page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st

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
