"""In front of everything the dashboard serves: who is let in, before a byte of theirs is read.

Pages, WebSocket, files and health checks alike need a host that is this server's own address, no
other origin, and a token. The token comes in the address once; the answer to it puts it into a
cookie that scripts cannot read, and leaves it out of the address. Nothing can be sent here but
requests to read, and by the owner files for a page that takes them (`UPLOADS`), of a length that is
said beforehand.

The names are those of ASGI 3.0 (scope, receive, send).
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import re
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from html import escape
from http.cookies import CookieError, SimpleCookie
from typing import Any, Final
from urllib.parse import parse_qsl, urlencode

Scope = MutableMapping[str, Any]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

OWNER_VARIABLE: Final = "LENSYARD_DASHBOARD_TOKEN"
GUEST_VARIABLE: Final = "LENSYARD_DASHBOARD_GUEST_TOKEN"
"""The words that the environment hands to a server; see `lensyard.dashboard.serve`."""
TOKEN_NAME: Final = "token"
MOST_SOCKETS: Final = 64
UPLOADS: Final = "/_stcore/upload_file/"
MOST_UPLOAD_MB: Final = 32
"""A chart has a hundred kilobytes, a season of plays as Parquet some ten megabytes. [MiB]"""
_AROUND_UPLOAD: Final = 1 << 16
"""What a form adds around a file, at most. [bytes]"""
COOKIE_S: Final = 2 * 24 * 3600
"""A browser forgets the token after two days; the server forgets it when it stops. [s]"""
REFUSAL: Final = (
    "This dashboard is open only to those who have its whole address. Ask its owner for the "
    "address with its token, and open that."
)
_WORD: Final = re.compile(r"[A-Za-z0-9_-]{16,86}")
_HEADERS: Final = {
    "content-security-policy": "frame-ancestors 'none'",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}


def token_cookie(port: int | str) -> str:
    """Return the cookie with the token of a port; browsers share cookies between ports."""
    return f"lensyard_token_{port}"


def guest_cookie(port: int | str) -> str:
    """Return the cookie that tells one guest's browser from another's."""
    return f"lensyard_guest_{port}"


def plain_word(text: str) -> str:
    """Return a cookie's text if it may be a random word, else nothing."""
    return text if _WORD.fullmatch(text) else ""


class Gate:
    """Lets a request through to an application, or refuses it. See the module."""

    def __init__(self, app: App) -> None:
        self._app = app
        self._open = 0
        self._words = [os.environ.get(name, "") for name in (OWNER_VARIABLE, GUEST_VARIABLE)]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        port = (scope.get("server") or ("", 0))[1]
        headers = _headers(scope)
        cookies = cookies_of(scope)
        issue = foreign(scope, headers)
        if not issue and scope["type"] == "http":
            if scope["method"] not in ("GET", "HEAD"):
                issue = self._upload_issue(scope, headers, cookies.get(token_cookie(port), ""))
            elif (given := self._given(scope)) is not None:
                await _admit(scope, send, given, self._is_guest(given), cookies)
                return
        if not issue and not self._known(cookies.get(token_cookie(port), "")):
            issue = REFUSAL
        if not issue and scope["type"] == "websocket" and self._open >= MOST_SOCKETS:
            issue = "Too many windows are open on this dashboard."
        if issue:
            await _refuse(scope, send, issue)
        elif scope["type"] == "websocket":
            await self._socket(scope, receive, send)
        else:
            await self._app(scope, receive, _guarded(send))

    async def _socket(self, scope: Scope, receive: Receive, send: Send) -> None:
        self._open += 1
        try:
            await self._app(scope, receive, send)
        finally:
            self._open -= 1

    def _given(self, scope: Scope) -> str | None:
        """Return the token of an address where it is one of ours."""
        query: list[tuple[str, str]] = parse_qsl(scope["query_string"].decode("latin-1"))
        for name, value in query:
            if name == TOKEN_NAME and self._known(value):
                return value
        return None

    def _upload_issue(self, scope: Scope, headers: dict[str, list[str]], word: str) -> str:
        """Return why a request may not send; nothing where the owner sends or drops a file."""
        if not (scope["method"] in ("PUT", "DELETE") and scope["path"].startswith(UPLOADS)):
            return "Nothing can be sent to this dashboard."
        if not self._known(word) or self._is_guest(word):
            return REFUSAL
        length = headers.get("content-length", ["0" if scope["method"] == "DELETE" else ""])[0]
        if not length.isdecimal() or int(length) > (MOST_UPLOAD_MB << 20) + _AROUND_UPLOAD:
            return f"A file of more than {MOST_UPLOAD_MB} MiB cannot be sent to this dashboard."
        return ""

    def _known(self, given: str) -> bool:
        matches = [
            hmac.compare_digest(given.encode(), word.encode()) for word in self._words if word
        ]
        return any(matches)

    def _is_guest(self, given: str) -> bool:
        return not hmac.compare_digest(given.encode(), self._words[0].encode())


def foreign(scope: Scope, headers: dict[str, list[str]]) -> str:
    """Return why a request is not from this server's own pages; nothing where it is.

    Its host has to be the address that was connected to: a name that somebody points here (DNS
    rebinding) is none. Its origin, and what a browser says of the page that asks, have to be this
    host.
    """
    hosts = headers.get("host", [])
    if len(hosts) != 1 or hosts[0].lower() not in own_hosts(scope):
        return "This dashboard answers to its own address only."
    origins = headers.get("origin", [])
    if any(origin.lower() != f"http://{hosts[0].lower()}" for origin in origins):
        return "This dashboard answers to its own pages only."
    sites = headers.get("sec-fetch-site", ["none"])
    navigates = headers.get("sec-fetch-mode") == ["navigate"] and headers.get("sec-fetch-dest") == [
        "document"
    ]
    if sites[0] not in ("same-origin", "none") and not navigates:
        return "This dashboard answers to its own pages only."
    return ""


def own_hosts(scope: Scope) -> set[str]:
    """Return the hosts of this server as a browser names them."""
    address, port = scope.get("server") or ("", 0)
    names = [f"[{address}]" if ":" in address else address]
    if address in ("127.0.0.1", "::1"):
        names.append("localhost")
    found = {f"{name}:{port}".lower() for name in names}
    return found | {name.lower() for name in names} if port == 80 else found


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


def cookies_of(scope: Scope) -> dict[str, str]:
    """Return the cookies that a request carries; what cannot be read is left out."""
    found: dict[str, str] = {}
    for part in "; ".join(_headers(scope).get("cookie", [])).split("; "):
        name, _, value = part.partition("=")
        try:
            jar = SimpleCookie()
            jar.load(f"{name.strip()}={value}")
        except CookieError:
            continue
        found.update({key: morsel.value for key, morsel in jar.items()})
    return found


async def _admit(
    scope: Scope, send: Send, word: str, is_guest: bool, cookies: dict[str, str]
) -> None:
    """Put the token into a cookie and go on to the address without it.

    A redirection would not do: a browser that came from elsewhere, such as a message with the
    address, does not send a strict cookie until one of our own pages asks.
    """
    port = scope["server"][1]
    kept = {token_cookie(port): word}
    if is_guest and not plain_word(cookies.get(guest_cookie(port), "")):
        kept[guest_cookie(port)] = secrets.token_urlsafe(24)
    query = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
    left = urlencode([(name, value) for name, value in query if name != TOKEN_NAME])
    onward = "/" + scope.get("path", "/").lstrip("/") + (f"?{left}" if left else "")
    script = f"location.replace({json.dumps(onward).replace('<', chr(92) + 'u003c')})"
    nonce = secrets.token_urlsafe(12)
    page = (
        '<!doctype html><meta charset="utf-8"><title>lensyard</title>'
        f'<script nonce="{nonce}">{script}</script>'
        f'<p><a href="{escape(onward)}">Go on</a>'
    )
    policy = f"default-src 'none'; script-src 'nonce-{nonce}'; frame-ancestors 'none'"
    extra = [
        ("set-cookie", f"{name}={value}; Path=/; Max-Age={COOKIE_S}; HttpOnly; SameSite=Strict")
        for name, value in kept.items()
    ]
    await _answer(send, 200, page, {**_HEADERS, "content-security-policy": policy}, extra)


async def _refuse(scope: Scope, send: Send, issue: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008, "reason": issue[:100]})
        return
    page = (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>lensyard</title>'
        '<meta name="viewport" content="width=device-width">'
        f'<p role="alert" style="font:1.1rem sans-serif;margin:2rem">{escape(issue)}</p></html>'
    )
    # The connection ends with it, so that nothing that was to follow is read.
    await _answer(send, 403, page, _HEADERS, [("connection", "close")])


async def _answer(
    send: Send, status: int, page: str, headers: dict[str, str], extra: list[tuple[str, str]]
) -> None:
    body = page.encode()
    every = [
        *headers.items(),
        *extra,
        ("content-type", "text/html; charset=utf-8"),
        ("content-length", str(len(body))),
        ("cache-control", "no-store"),
    ]
    raw = [(name.encode(), value.encode("latin-1")) for name, value in every]
    await send({"type": "http.response.start", "status": status, "headers": raw})
    await send({"type": "http.response.body", "body": body})


def _guarded(send: Send) -> Send:
    """Return what sends an answer with the guard's headers, open to no other origin."""

    async def sent(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            kept = [
                (name, value)
                for name, value in message.get("headers", [])
                if not name.lower().startswith(b"access-control-")
                and name.decode("latin-1").lower() not in _HEADERS
            ]
            ours = [(name.encode(), value.encode()) for name, value in _HEADERS.items()]
            message = {**message, "headers": [*kept, *ours]}
        await send(message)

    return sent


def guest_folder_name(word: str) -> str:
    """Return the folder of a guest; hashed, so that no part of a request is part of a path."""
    return hashlib.sha256(word.encode()).hexdigest()[:32]
