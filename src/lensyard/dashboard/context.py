"""The loaded model, shared by all sessions of one server."""

from __future__ import annotations

import streamlit as st

from lensyard.model.context import Context, load_context


@st.cache_resource(show_spinner=False)
def context() -> Context:
    """Return the service's context; loaded once a process, never changed.

    Raises
    ------
    ModelError
        If the model is missing or damaged.
    """
    return load_context()
