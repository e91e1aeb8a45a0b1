"""The page's style: the colors of a look as custom properties, and one sheet for all looks."""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

import streamlit as st

from lensyard.views.palette import Look

_MARKDOWN = re.compile(r"([\\`*_{}\[\]()#+!|<>~$:&])")


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


def plain(text: str) -> str:
    """Return text that reads the same where Markdown is understood: what people typed stays text.

    >>> plain("cannot read ball from '[here](x)'")
    "cannot read ball from '\\\\[here\\\\]\\\\(x\\\\)'"
    """
    # Addresses become links even where their signs are escaped; a word joiner inside stops that.
    text = re.sub(r"(?<=:)(?=//)|(?<=www)(?=\.)|(?=@)", "\u2060", text)
    return _MARKDOWN.sub(r"\\\1", text)


@cache
def _sheet() -> str:
    return (files("lensyard.ui") / "static" / "page.css").read_text(encoding="utf-8")
