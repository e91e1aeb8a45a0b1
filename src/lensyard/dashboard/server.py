"""The application that ``lensyard dashboard`` serves: the pages behind the gate.

While the server starts, and again while a browser loads a page, the first answer is made aside:
what it needs is loaded, and the plan of the kit that the browser remembers is solved, before the
page asks.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import import_module
from threading import Thread
from typing import Any

from starlette.middleware import Middleware
from streamlit.starlette import App

from lensyard.dashboard.gate import Gate, Receive, Scope, Send, cookies_of
from lensyard.dashboard.serve import script_path


class Prepare:
    """Makes the answer to an address that a browser opens, while it loads the page."""

    def __init__(self, app: Any) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] == "http" and scope["path"] == "/":
            _prepare(scope["query_string"].decode("latin-1"), cookies_of(scope))
        await self._app(scope, receive, send)


@asynccontextmanager
async def _starting(_app: App) -> AsyncIterator[None]:
    _prepare("", {})
    yield


def _prepare(query: str, cookies: dict[str, str]) -> None:
    def prepare() -> None:
        import_module("lensyard.pages").prepare(query, cookies)

    Thread(target=prepare, daemon=True).start()


app = App(script_path(), middleware=[Middleware(Gate), Middleware(Prepare)], lifespan=_starting)
