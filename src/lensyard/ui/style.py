"""The page's style: the colors of a look as custom properties, and one sheet for all looks."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import streamlit as st

from lensyard.views.palette import Look


def show_style(look: Look) -> None:
    """Put the style of a look on the page."""
    st.html(f"<style>{look_css(look)}{_sheet()}</style>")


def look_css(look: Look) -> str:
    """Return the colors of a look as custom properties ``--ly-<role>``.

    >>> from lensyard.views.palette import SUNLIGHT
    >>> "--ly-ink-soft:#43504C" in look_css(SUNLIGHT)
    True
    """
    colors = look.colors().items()
    properties = ";".join(f"--ly-{role.replace('_', '-')}:{color}" for role, color in colors)
    scheme = "dark" if look.name == "night" else "light"
    return f":root{{{properties};color-scheme:{scheme}}}"


@cache
def _sheet() -> str:
    return (files("lensyard.ui") / "static" / "page.css").read_text(encoding="utf-8")
