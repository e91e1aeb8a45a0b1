"""The server that ``lensyard dashboard`` becomes: the pages behind the gate.

It listens at once and imports what it serves then, what the first answer needs before all else.
Whoever opens the first page is given that answer with the document that loads the page; the plan of
the kit that the browser remembers is solved once the page has come.
"""

from __future__ import annotations

import asyncio
import gc
import signal
import socket
import sys
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module
from threading import Thread
from typing import Any

import click

from lensyard.dashboard.document import FirstAnswer
from lensyard.dashboard.gate import Gate, Receive, Scope, Send
from lensyard.dashboard.serve import script_path, settings

BACKLOG = 2048
SWITCH_S = 0.001
"""So long a computation may keep the thread waiting that sends what it has said so far. [s]"""
FIRST = "lensyard.features.next_play.first"
"""What answers the first page's address without the page."""
PAGE = "lensyard.features.next_play.page"


class Loading:
    """An application that is imported while it is asked already: who asks waits for it.

    ``load``: returns the application; it runs aside.
    """

    def __init__(self, load: Callable[[], Any]) -> None:
        self._load = load
        self._loaded: asyncio.Future[Any] | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection, or live from the server's start to its end."""
        if scope["type"] == "lifespan":
            await self._live(receive, send)
        elif self._loaded is not None:
            await (await asyncio.shield(self._loaded))(scope, receive, send)

    async def _live(self, receive: Receive, send: Send) -> None:
        await receive()
        self._loaded = asyncio.get_running_loop().create_future()
        await send({"type": "lifespan.startup.complete"})
        try:
            app = await asyncio.to_thread(self._load)
            async with app.lifespan()(app):
                self._loaded.set_result(app)
                await receive()
        except BaseException:
            self._loaded.cancel()
            signal.raise_signal(signal.SIGTERM)  # without its pages there is nothing to serve
            raise
        await send({"type": "lifespan.shutdown.complete"})


def first_answer(query: str, cookies: dict[str, str]) -> str:
    """Return what the first page says first, as HTML; nothing where only the page can say it."""
    html: str = import_module(FIRST).first_answer(query, cookies)
    return html


def load(address: str, port: int) -> Any:
    """Import the pages and return the application that serves them."""
    first_answer("", {})
    from streamlit.starlette import App
    from streamlit.web.bootstrap import load_config_options

    load_config_options(settings(address, port))
    app = App(script_path())
    Thread(target=_import_page, daemon=True).start()
    return app


def _import_page() -> None:
    import_module(PAGE)
    # What was imported stays: nobody has to look for garbage in it while an answer is made.
    gc.freeze()
    gc.enable()


def main(address: str, port: int) -> None:
    """Serve until told to end."""
    gc.disable()
    sys.setswitchinterval(SWITCH_S)
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    try:
        listener = socket.create_server((address, port), family=family, backlog=BACKLOG)
    except OSError as error:
        sys.exit(f"lensyard: cannot listen on {address}, port {port}: {error.strerror}")
    click.echo(f"URL: http://{address}:{port}", err=True)
    import uvicorn

    server = uvicorn.Server(
        uvicorn.Config(
            Gate(FirstAnswer(Loading(lambda: load(address, port)), first_answer)),
            access_log=False,
            lifespan="on",
            log_level="warning",
            ws="websockets-sansio",
            ws_per_message_deflate=False,  # it takes longer than what it saves on the way
        )
    )
    with suppress(KeyboardInterrupt):
        server.run(sockets=[listener])


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
