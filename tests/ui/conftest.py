"""The page in Streamlit's own test harness, which has no browser."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

APP = Path(__file__).resolve().parents[2] / "app.py"


@pytest.fixture
def open_page() -> Callable[..., AppTest]:
    """Open the dashboard at an address."""

    def opened(**query: str | list[str]) -> AppTest:
        app = AppTest.from_file(str(APP), default_timeout=30)
        for name, values in query.items():
            app.query_params[name] = values
        return app.run()

    return opened


@pytest.fixture
def said() -> Callable[[AppTest], str]:
    """Return everything that the page's own HTML says, as text."""

    def text(app: AppTest) -> str:
        pieces = [html.body for html in app.get("html") if not html.body.startswith("<style")]
        return " ".join(unescape(re.sub(r"<[^>]*>", " ", " ".join(pieces))).split())

    return text
