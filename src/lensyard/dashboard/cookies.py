"""What the browser keeps between visits, in cookies of this dashboard alone.

A request brings them along, so nothing has to be asked for; a small component writes them. They
hold the kit and the like, that somebody has been here, and on a network who somebody is. The server
keeps nothing of it.
"""

from __future__ import annotations

import re
from urllib.parse import parse_qs, quote, unquote, urlencode

import streamlit as st

from lensyard.dashboard.address import Query
from lensyard.dashboard.component import mounted

TOKEN_NAME = "token"
KIT_COOKIE = "lensyard_kit"
SEEN_COOKIE = "lensyard_seen"
TOKEN_COOKIE = "lensyard_token"
GUEST_COOKIE = "lensyard_guest"
COOKIES = (KIT_COOKIE, SEEN_COOKIE, TOKEN_COOKIE, GUEST_COOKIE)
LONGEST = 1500
_WRITE = "ly_cookies"
_KEY = "ly_browser"
_PLAIN = re.compile(r"[A-Za-z0-9_-]{16,86}")


def memory() -> Query:
    """Return the names and values that the browser remembered; nothing where it cannot be read."""
    text = cookie(KIT_COOKIE)
    try:
        return parse_qs(unquote(text), max_num_fields=40) if text else {}
    except ValueError:
        return {}


def was_here() -> bool:
    """Return whether this browser has been here before."""
    return bool(cookie(SEEN_COOKIE))


def cookie(name: str) -> str:
    """Return a cookie as this session knows it: written meanwhile, or brought by the request."""
    written: dict[str, str] = st.session_state.get(_WRITE, {})
    found = written.get(name, st.context.cookies.get(name, ""))
    return found if isinstance(found, str) and len(found) <= LONGEST else ""


def secret(name: str) -> str:
    """Return a cookie that holds a random word, or nothing where it is no such word."""
    found = cookie(name)
    return found if _PLAIN.fullmatch(found) else ""


def remember(query: Query) -> None:
    """Let the browser remember names and values."""
    text = quote(urlencode(query, doseq=True), safe="")
    if len(text) <= LONGEST:
        write(KIT_COOKIE, text)


def note_visit() -> None:
    """Let the browser remember that somebody was here."""
    write(SEEN_COOKIE, "1")


def write(name: str, value: str) -> None:
    """Let the browser keep a cookie; it goes out with the next run."""
    st.session_state[_WRITE] = {**st.session_state.get(_WRITE, {}), name: value}


def show() -> None:
    """Put the component that writes cookies and watches the connection."""
    mount = mounted("browser", hidden=True)
    if mount is not None:
        mount(key=_KEY, data={"cookies": st.session_state.get(_WRITE, {})})
