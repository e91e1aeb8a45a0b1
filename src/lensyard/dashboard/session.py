"""The one typed object that a session keeps, and the widgets' values that mirror it.

A session holds `Controls`, the same for all pages. Each widget has a key of its own; its callback
passes what was chosen to `Controls.chosen`, and the widgets whose values follow from that are set.

A browser lags behind: while the answer to one choice is on its way, the next request still carries
the address and the widgets' values from before. Both would undo the first choice. The address is
written at the end of a run, after all widgets, so a request that carries the address that was last
asked for comes from a browser that has seen them, too (`SessionState.in_step`). Only such a
request may
bring a value back that a choice has just replaced.

What the browser keeps between visits, in cookies of this dashboard alone.

A request brings them along, so nothing has to be asked for; a small component writes them. They
hold the kit and the like, that somebody has been here, and on a network who somebody is. Every
browser has its own; the server keeps nothing of it.

What a tap on the field means: the ball goes there, or oneself.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from typing import Any
from urllib.parse import parse_qs, quote, unquote, urlencode

import streamlit as st

from lensyard.dashboard.address import (
    ALWAYS,
    Query,
    from_address,
    from_memory,
    to_address,
    to_memory,
)
from lensyard.dashboard.controls import CHOICES, REMEMBERED, Controls
from lensyard.domain.field import HashMark
from lensyard.domain.places import named_stations
from lensyard.errors import InvalidInputError, LensyardError, UnknownNameError, require_range

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
    """Put the component on the page that writes cookies and watches the connection."""
    mount = _component()
    if mount is not None:
        mount(key=_KEY, data={"cookies": st.session_state.get(_WRITE, {})})


@cache
def _component() -> Callable[..., Any] | None:
    """The component, made once; None where this Streamlit has none."""
    try:
        make = st.components.v2.component
    except AttributeError:
        return None
    script = (files("lensyard.dashboard") / "static" / "browser.js").read_text(encoding="utf-8")
    mounted: Callable[..., Any] = make(
        "lensyard_browser", html='<div class="browser" hidden></div>', js=script
    )
    return mounted


def after_tap(controls: Controls, tap: Mapping[str, Any]) -> Controls:
    """Return the controls after a tap on the field.

    Parameters
    ----------
    controls
        As they were.
    tap
        What the field component sends: ``{"kind": "ball", "yardline_100": 35, "hash": "left"}``
        on the field, ``{"kind": "stand", "station": 17}`` on the strip around it; the station is
        a position in `named_stations`.

    Raises
    ------
    InvalidInputError
        If it is neither.

    Examples
    --------
    >>> after_tap(Controls(), {"kind": "ball", "yardline_100": 35, "hash": "left"}).yardline_100
    35
    """
    kind = tap.get("kind")
    if kind == "ball":
        yardline_100 = _whole(tap, "yardline_100", low=1, high=99)
        marks = [mark.value for mark in HashMark]
        hash_mark = str(tap.get("hash"))
        if hash_mark not in marks:
            raise UnknownNameError(name="hash", value=hash_mark, known=marks)
        return replace(controls.with_ball(yardline_100), hash_mark=HashMark(hash_mark))
    if kind == "stand":
        venue = controls.venue()
        stations = named_stations(
            side_setback_yd=venue.side_setback_yd, end_setback_yd=venue.end_setback_yd
        )
        station = _whole(tap, "station", low=0, high=len(stations) - 1)
        return replace(controls, standing=stations[station].text)
    raise UnknownNameError(name="kind of tap", value=str(kind), known=("ball", "stand"))


def _whole(tap: Mapping[str, Any], name: str, *, low: int, high: int) -> int:
    value = tap.get(name)
    # What a browser sends as 35 can arrive as 35.0.
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, bool) or not isinstance(value, int):
        raise InvalidInputError(f"{name} of a tap must be a whole number; got {value!r}")
    require_range(low=low, high=high, **{name: value})
    return value


FIELD_KEY = "next_field_tap"
_KEPT = "next_kept"
_PAGE = "page"
_MOVED = "page_moved"
# Shown in what opens on demand: such a widget is made by the browser only when it opens, long
# after its value was set, so its value is set in every run.
_ON_DEMAND = (
    "lenses",
    "crop_factors",
    "converter",
    "bodies",
    "venue_name",
    "rules",
    "team_area",
    "attacking",
    "assignment_name",
    "faces",
    "by_value",
    "score_diff",
    "quarter",
    "clock",
    "theme",
)


@dataclass(slots=True)
class SessionState:
    """What a session keeps between two runs of the page.

    Attributes
    ----------
    controls
        What was chosen.
    query
        The address that the browser shows once it has caught up.
    problems
        What could not be read in the address or in the last tap, one sentence each.
    replaced
        By key, the widgets' values that a choice has replaced since the browser was last in step.
    chosen
        Whether a choice began this run.
    finished
        Whether the last run came to its end; the next choice cuts a run short.
    remembered
        What the browser remembers from earlier visits, or since.
    first_visit
        Whether this browser was never here and came without a wish.
    """

    controls: Controls
    query: Query
    problems: tuple[str, ...] = ()
    replaced: dict[str, list[Any]] = field(default_factory=dict)
    chosen: bool = False
    finished: bool = True
    remembered: Controls = field(default_factory=Controls)
    first_visit: bool = False

    def in_step(self, query: Query) -> bool:
        """Whether a request with this address comes from a browser that has caught up."""
        return query == self.query


def key_of(name: str) -> str:
    """Return the key of the widget of a field of `Controls`."""
    return f"next_{name}"


def widget_values(controls: Controls) -> dict[str, Any]:
    """Return what every widget holds for these controls, by key."""
    return {key_of(name): controls.shown(name) for name in CHOICES}


def note_page(path: str) -> None:
    """Note which page is about to run, and whether it is another one than before."""
    st.session_state[_MOVED] = st.session_state.get(_PAGE, path) != path
    st.session_state[_PAGE] = path


@contextmanager
def one_run() -> Iterator[Controls]:
    """Yield the controls that hold in this run of the page; at its end, write the address.

    An address that changed from outside (a link, the browser's way back) wins. That can only be
    told in a run that no choice began and that does not take up a run cut short. Coming from
    another page, an address without anything in it is no wish for the usual.
    """
    query = _query()
    kept: SessionState | None = st.session_state.get(_KEPT)
    moved = st.session_state.get(_MOVED, False)
    if kept is None:
        kept = _opened(query)
        st.session_state[_KEPT] = kept
        _set_widgets(kept)
    elif moved and not query:
        # Another page takes the state along.
        kept.query, kept.problems = _address_of(kept), ()
    elif not (kept.in_step(query) or kept.chosen or not kept.finished):
        address = from_address(query, usual=kept.remembered)
        kept.controls, kept.query = address.controls, query
        kept.problems = _said_of_address(address.problems)
        _set_widgets(kept)
    if kept.in_step(query):
        kept.replaced.clear()
    if moved:
        kept.query = _address_of(kept)
    kept.chosen, kept.finished = False, False
    on_demand = {key_of(name) for name in _ON_DEMAND}
    for key, value in widget_values(kept.controls).items():
        # A widget that was not on the last page shown has lost its value.
        if key in on_demand or key not in st.session_state:
            st.session_state[key] = value
    yield kept.controls
    if not kept.in_step(query) or TOKEN_NAME in st.query_params:
        st.query_params.from_dict(kept.query)
    kept.finished = True


def _opened(query: Query) -> SessionState:
    """Return the state of a new session: what the browser remembers, then what the address says."""
    remembered = from_memory(memory())
    address = from_address(query, usual=remembered)
    return SessionState(
        address.controls,
        query,
        _said_of_address(address.problems),
        remembered=remembered,
        first_visit=not query and not was_here(),
    )


def _address_of(kept: SessionState) -> Query:
    """The address that this page shows; only the page that asks for a situation always has one."""
    always = () if st.session_state.get(_PAGE) else ALWAYS
    return to_address(kept.controls, always=always, usual=kept.remembered)


def current() -> SessionState:
    """Return what the session keeps; it is there in a run and in callbacks."""
    kept: SessionState = st.session_state[_KEPT]
    return kept


def problems() -> tuple[str, ...]:
    """Return what could not be read in the address or in the last tap, one sentence each."""
    kept: SessionState = st.session_state[_KEPT]
    return kept.problems


def choose(name: str) -> None:
    """Take over what a widget holds; the callback of every widget."""
    key, kept = key_of(name), st.session_state[_KEPT]
    value = st.session_state[key]
    if value is None and name != "hash_mark":
        return
    if value in kept.replaced.get(key, ()) and not kept.in_step(_query()):
        st.session_state[key] = widget_values(kept.controls)[key]
        return
    _put(lambda controls: controls.chosen(name, value))


def move_ball(by_yd: int) -> None:
    """Move the ball; the callback of the buttons beside its slider."""
    _put(lambda controls: controls.moved(by_yd))


def set_choices(choices: Mapping[str, Any]) -> None:
    """Take over several choices at once; the callback of what is ready to take."""

    def chosen(controls: Controls) -> Controls:
        for name, value in choices.items():
            controls = controls.chosen(name, value)
        return controls

    _put(chosen)


def take_tap() -> None:
    """Take over a tap on the field; the callback of the field component."""
    tap = st.session_state[FIELD_KEY].get("tap")
    if isinstance(tap, Mapping):
        _put(lambda controls: after_tap(controls, tap))


def replace_controls(change: Callable[[Controls], Controls]) -> None:
    """Take over a change of several controls; for callbacks."""
    _put(change)


def _query() -> Query:
    names = (name for name in st.query_params if name != TOKEN_NAME)
    return {name: st.query_params.get_all(name) for name in names}


def _said_of_address(found: tuple[str, ...]) -> tuple[str, ...]:
    if not found:
        return ()
    return (*found, "The usual stands in place of what this address asks for.")


def _put(change: Callable[[Controls], Controls]) -> None:
    kept: SessionState = st.session_state[_KEPT]
    kept.chosen = True
    before = kept.controls
    try:
        kept.controls, kept.problems = change(kept.controls), ()
    except LensyardError as error:
        kept.problems = (str(error),)
        return
    if any(getattr(before, name) != getattr(kept.controls, name) for name in REMEMBERED):
        kept.remembered = kept.controls
        remember(to_memory(kept.controls))
    kept.query = _address_of(kept)
    _set_widgets(kept)


def _set_widgets(kept: SessionState) -> None:
    """Set the widgets whose values are not what the controls say."""
    for key, value in widget_values(kept.controls).items():
        before = st.session_state.get(key)
        if before != value:
            kept.replaced.setdefault(key, []).append(before)
            st.session_state[key] = value
