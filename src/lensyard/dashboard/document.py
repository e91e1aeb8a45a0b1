"""The document that a browser is given first: what loads the page, and over it the answer.

The answer stands there until the page has come. Nothing of the page is needed for it, so that it is
given while the page is still being imported.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from functools import cache
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.dashboard.gate import Receive, Scope, Send, cookies_of
from lensyard.render.html import facts_html, lead_html, section_html

if TYPE_CHECKING:
    from lensyard.render.report import Report
    from lensyard.render.theme import Theme

CAUTIONS_TITLE: Final = "Cautions"
HEADER: Final = '<header class="ly-header"><span class="ly-mark"></span>lensyard</header>'
MOST_S: Final = 3.0
"""How long a document waits for its answer; without one it is sent as it is. [s]"""
_SHEET: Final = re.compile(r'<link rel="stylesheet"[^>]*>')
_HEAD: Final = [(b"content-type", b"text/html; charset=utf-8"), (b"cache-control", b"no-store")]


def style_html(theme: Theme) -> str:
    """Return the style sheet of the pages, in the colors of a theme."""
    return f"<style>{theme_css(theme)}{_static('page.css')}</style>"


def theme_css(theme: Theme) -> str:
    """Return the colors of a theme as custom properties ``--ly-<role>``.

    >>> from lensyard.render.theme import SUNLIGHT
    >>> "--ly-ink-soft:#43504C" in theme_css(SUNLIGHT)
    True
    """
    colors = theme.colors().items()
    properties = ";".join(f"--ly-{role.replace('_', '-')}:{color}" for role, color in colors)
    scheme = "dark" if theme.name == "night" else "light"
    return f":root{{{properties};color-scheme:{scheme}}}"


def here_html(place: int) -> str:
    """Return the style of the link to the page that is open, by its place among the links."""
    link = f":is(.st-key-ly_nav, .st-key-ly_links) > :nth-child({place}) a"
    line = "box-shadow: inset 0 -3px 0 var(--ly-accent); border-radius: 0;"
    return f"<style>{link} {{ {line} }} {link} :is(p, span) {{ font-weight: 700; }}</style>"


def answer_html(report: Report) -> str:
    """Return the answer of a report: the headline and the sentences right below it."""
    return lead_html(report.headline.removesuffix("."), report.sentences)


def first_html(report: Report, theme: Theme) -> str:
    """Return what stands in the place of a page until it has come."""
    cautions = section_html(CAUTIONS_TITLE, report.cautions, listed=True)
    body = HEADER + answer_html(report) + facts_html(report.facts) + cautions
    return _static("first.html").format(style=style_html(theme), body=body)


@cache
def _static(name: str) -> str:
    return (files("lensyard.dashboard") / "static" / name).read_text(encoding="utf-8")


@cache
def _page() -> tuple[str, str]:
    """What loads the page: up to where the answer stands, and from there.

    The page's own sheets stand after the answer, which has its own and waits for none.
    """
    found = find_spec("streamlit")
    if found is None or not found.submodule_search_locations:
        raise ModuleNotFoundError("streamlit is not installed; install lensyard again")
    path = Path(found.submodule_search_locations[0]) / "static" / "index.html"
    text = path.read_text(encoding="utf-8")
    before, end, after = _SHEET.sub("", text).rpartition("</body>")
    return before, "".join(_SHEET.findall(text)) + end + after


class FirstAnswer:
    """Serves the document of the first page, with the answer to its address; all else an app.

    - ``app``: what serves everything else.
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
        done, _ = await asyncio.wait([making], timeout=MOST_S)
        said = done and making.exception() is None  # else the page says what is wrong
        body = (making.result() if said else "").join(_page()).encode()
        length = (b"content-length", str(len(body)).encode())
        await send({"type": "http.response.start", "status": 200, "headers": [*_HEAD, length]})
        await send({"type": "http.response.body", "body": body})
