"""The dashboard's own components: scripts of this package that the browser runs."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from importlib.resources import files
from typing import Any

import streamlit as st


@cache
def mounted(name: str, *, hidden: bool = False) -> Callable[..., Any] | None:
    """Return the component of a name, made once; None where this Streamlit has none.

    ``static/<name>.js`` is its script and ``static/<name>.css``, where there is one, its style. A
    hidden one takes no room on the page.
    """
    try:
        make = st.components.v2.component
    except AttributeError:
        return None
    folder = files("lensyard.dashboard") / "static"
    style = folder / f"{name}.css"
    component: Callable[..., Any] = make(
        f"lensyard_{name}",
        html=f'<div class="{name}" part="{name}"{" hidden" if hidden else ""}></div>',
        css=style.read_text(encoding="utf-8") if style.is_file() else None,
        js=(folder / f"{name}.js").read_text(encoding="utf-8"),
    )
    return component
