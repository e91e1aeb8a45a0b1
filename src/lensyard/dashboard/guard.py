"""Whose log a session writes, and what a browser remembers between visits.

Who is let in at all is decided before, by `lensyard.dashboard.gate`. The owner writes the owner's
log; every guest's browser has a folder of its own, so that nobody sees another's game.

What the browser keeps between visits lies in cookies of this dashboard alone: a request brings them
along, a small component writes them, the server keeps nothing of it.
"""

from __future__ import annotations

import hmac
import os
import secrets
from collections.abc import Callable
from enum import StrEnum
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode, urlsplit

import click
import streamlit as st

from lensyard.config import user_data_dir
from lensyard.dashboard.controls import KIT_COOKIE, Query
from lensyard.dashboard.gate import (
    GUEST_VARIABLE,
    OWNER_VARIABLE,
    REFUSAL,
    guest_cookie,
    guest_folder_name,
    plain_word,
    token_cookie,
)
from lensyard.dashboard.serve import GUESTS_NAME

UNGUARDED = (
    "lensyard: this server was not started by `lensyard dashboard`: there is no token, so every "
    "program and every account of this computer is let in; nothing but this computer is."
)


class Role(StrEnum):
    """Who somebody is."""

    OWNER = "owner"
    GUEST = "guest"


def role() -> Role | None:
    """Return who this session belongs to; None where it may see nothing."""
    words = {
        Role.OWNER: os.environ.get(OWNER_VARIABLE, ""),
        Role.GUEST: os.environ.get(GUEST_VARIABLE, ""),
    }
    if not any(words.values()):
        # Started by hand: whoever is not at this computer has no business here.
        _say_unguarded()
        return None if isinstance(st.context.ip_address, str) else Role.OWNER
    given = secret(token_cookie(_port()))
    for name, word in words.items():
        if word and hmac.compare_digest(given.encode(), word.encode()):
            return name
    return None


@cache
def _say_unguarded() -> None:
    click.echo(UNGUARDED, err=True)


def _port() -> str:
    """The port that the browser asked; a cookie is for one port."""
    return urlsplit(f"//{st.context.headers.get('host', '')}").netloc.rpartition(":")[2]


def admitted() -> bool:
    """Return whether this session may see the dashboard; where not, say so and nothing else."""
    if role() is not None:
        return True
    st.error(REFUSAL)
    return False


def data_folder() -> Path | None:
    """Return the folder of this session's log; None is the owner's own."""
    if role() is not Role.GUEST:
        return None
    word = secret(guest_cookie(_port())) or st.session_state.setdefault(
        _GUEST, secrets.token_urlsafe(24)
    )
    folder = user_data_dir() / GUESTS_NAME / guest_folder_name(word)
    folder.mkdir(parents=True, exist_ok=True)
    return folder


SEEN_COOKIE = "lensyard_seen"
COOKIES = (KIT_COOKIE, SEEN_COOKIE)
LONGEST = 1500
_WRITE = "ly_cookies"
_KEY = "ly_browser"
_GUEST = "ly_guest"


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
    return plain_word(cookie(name))


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
    """Put the component that writes cookies, once there are any to write."""
    cookies: dict[str, str] = st.session_state.get(_WRITE, {})
    if cookies:
        mounted("browser", hidden=True)(key=_KEY, data=list(cookies.items()))


@cache
def mounted(name: str, *, hidden: bool = False) -> Callable[..., Any]:
    """Return the component of a name, made once.

    ``static/<name>.js`` is its script and ``static/<name>.css``, where there is one, its style. A
    hidden one takes no room on the page.
    """
    folder = files("lensyard.dashboard") / "static"
    style = folder / f"{name}.css"
    component: Callable[..., Any] = st.components.v2.component(
        f"lensyard_{name}",
        html=f'<div class="{name}" part="{name}"{" hidden" if hidden else ""}></div>',
        css=style.read_text(encoding="utf-8") if style.is_file() else None,
        js=(folder / f"{name}.js").read_text(encoding="utf-8"),
    )
    return component
