"""The application that ``lensyard dashboard`` serves: the pages behind the gate.

While the server starts, what an answer needs is loaded aside. Whoever opens the first page is given
its answer at once, with the document that loads the page and over it until the page has come; and
the plan of the kit that the browser remembers is solved meanwhile.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, MutableMapping
from contextlib import asynccontextmanager
from importlib import import_module
from threading import Thread
from typing import Any

from starlette.middleware import Middleware
from streamlit.starlette import App

from lensyard.dashboard.gate import Gate, Receive, Scope, Send, cookies_of
from lensyard.dashboard.serve import script_path

MOST_S = 1.0
"""How long a document waits for its answer; without one it is sent as it is. [s]"""
_END = b"</body>"


class FirstAnswer:
    """Puts the answer to an address into the document that loads the page.

    - ``app``: what serves the document.
    - ``answer``: returns a piece of HTML for a query and the browser's cookies, or nothing.
    """

    def __init__(self, app: Any, answer: Callable[[str, dict[str, str]], str]) -> None:
        self._app = app
        self._answer = answer

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        asked = scope["type"] == "http" and (scope["method"], scope["path"]) == ("GET", "/")
        if not asked:
            await self._app(scope, receive, send)
            return
        query = scope["query_string"].decode("latin-1")
        making = asyncio.ensure_future(asyncio.to_thread(self._answer, query, cookies_of(scope)))
        start: MutableMapping[str, Any] = {}
        document = b""

        async def sent(message: MutableMapping[str, Any]) -> None:
            nonlocal document
            if message["type"] == "http.response.start":
                start.update(message)
                return
            document += message.get("body", b"")
            if message.get("more_body"):
                return
            answer = b""
            if start["status"] == 200 and _END in document:
                done, _ = await asyncio.wait([making], timeout=MOST_S)
                if done and making.exception() is None:  # else the page says what is wrong
                    answer = making.result().encode()
            body = document.replace(_END, answer + _END, 1) if answer else document
            length = [(b"content-length", str(len(body)).encode())]
            kept = [pair for pair in start["headers"] if pair[0].lower() != b"content-length"]
            await send({**start, "headers": kept + length})
            await send({**message, "body": body})

        await self._app(scope, receive, sent)


def first_answer(query: str, cookies: dict[str, str]) -> str:
    """Return what the first page says first, as HTML; nothing where only the page can say it."""
    html: str = import_module("lensyard.pages").first_answer(query, cookies)
    return html


@asynccontextmanager
async def _starting(_app: App) -> AsyncIterator[None]:
    Thread(target=first_answer, args=("", {}), daemon=True).start()
    yield


app = App(
    script_path(),
    middleware=[Middleware(Gate), Middleware(FirstAnswer, answer=first_answer)],
    lifespan=_starting,
)
