"""The card handed to a phone of one's own hotspot: one file, got only by its whole address.

Guarded like the dashboard: the address holds a random word of 128 bits, the host must be this
server's own, nothing can be sent, and what is not the card is not there.
"""

from __future__ import annotations

import hmac
import io
import secrets
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Final

from lensyard.errors import LensyardError

PORT: Final = 8502
NAME: Final = "card.html"
_SLOWEST_S: Final = 20.0
"""A phone that says nothing for so long is not waited for. [s]"""
_HEADERS: Final = {
    "content-type": "text/html; charset=utf-8",
    "cache-control": "no-store",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "cross-origin-resource-policy": "same-origin",
}

KEEP_OPEN: Final = (
    "Open it on a phone of the same network, and keep it open: from then on it needs none. "
    "Nothing on the way is encrypted: use a network that you trust, and stop this afterwards."
)


def hand_out(page: bytes, *, address: str, port: int = PORT) -> tuple[ThreadingHTTPServer, str]:
    """Return a server of one card under a fresh random word, and the card's whole address.

    Raises `LensyardError` if nothing can listen on the port.
    """
    token = secrets.token_urlsafe(16)
    try:
        server = card_server(page, address=address, port=port, token=token)
    except OSError as error:
        raise LensyardError(
            f"cannot listen on port {port} ({error.strerror or error}); give another --port"
        ) from error
    return server, card_address(address, server.server_port, token)


def card_server(page: bytes, *, address: str, port: int, token: str) -> ThreadingHTTPServer:
    """Return a server of one card; ``serve_forever`` and ``server_close`` are the caller's.

    ``port`` 0 is any free one.

    Raises `OSError` if nothing can listen there.
    """
    path = f"/{token}/{NAME}".encode()

    class Handler(BaseHTTPRequestHandler):
        server_version, sys_version, timeout = "lensyard", "", _SLOWEST_S

        def do_GET(self) -> None:
            """Answer with the card, or with nothing that says what is here."""
            here = card_host(address, made.server_port)
            own = hmac.compare_digest(self.headers.get("host", "").encode(), here.encode())
            asked = self.path.encode("utf-8", "replace")
            if not own or not hmac.compare_digest(asked, path):
                self.send_error(403 if not own else 404)
                return
            self.send_response(200)
            for name, value in _HEADERS.items():
                self.send_header(name, value)
            self.send_header("content-length", str(len(page)))
            self.end_headers()
            self.wfile.write(page)

        def log_message(self, *_: object) -> None:
            """Write no log: it would hold the word."""

    made = ThreadingHTTPServer((address, port), Handler)
    return made


def card_host(address: str, port: int) -> str:
    """Return host and port as a browser says them."""
    return f"[{address}]:{port}" if ":" in address else f"{address}:{port}"


def card_address(address: str, port: int, token: str) -> str:
    """Return the whole address of a card."""
    return f"http://{card_host(address, port)}/{token}/{NAME}"


def qr_image(text: str) -> str:
    """Return a QR code as an image in an address of its own: dark on white in every theme.

    >>> qr_image("http://192.0.2.1:8502/x")[:18]
    'data:image/svg+xml'
    """
    import segno

    address: str = segno.make(text, error="m").svg_data_uri(scale=6, border=4, light="#fff")
    return address


def qr_text(text: str) -> str:
    """Return a QR code as lines of block characters, for a terminal.

    >>> len(qr_text("http://192.0.2.1:8502/x").splitlines())
    15
    """
    import segno

    out = io.StringIO()
    segno.make(text, error="m").terminal(out=out, border=2, compact=True)
    return out.getvalue()
