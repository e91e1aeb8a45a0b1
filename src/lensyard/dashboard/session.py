"""What was chosen in a session: one typed object, and the widgets' values that mirror it.

A session holds `Controls`, the same for all pages. Each widget has a key of its own; its callback
passes what was chosen to `Controls.chosen`, and the widgets whose values follow from that are set.

A browser lags behind: while the answer to one choice is on its way, the next request still carries
the address and the widgets' values from before. Both would undo the first choice. The address is
written at the end of a run, after all widgets, so a request that carries the address that was last
asked for comes from a browser that has seen them, too (`SessionState.in_step`). Only such a request
may bring a value back that a choice has just replaced.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

import streamlit as st

from lensyard.dashboard import guard
from lensyard.dashboard.controls import (
    ALWAYS,
    CHOICES,
    KIT_COOKIE,
    REMEMBERED,
    Controls,
    Query,
    from_address,
    from_memory,
    to_address,
    to_memory,
)
from lensyard.dashboard.gate import TOKEN_NAME
from lensyard.domain.field import HashMark
from lensyard.domain.places import named_stations
from lensyard.errors import InvalidInputError, LensyardError, UnknownNameError, require_range


def after_tap(controls: Controls, tap: Mapping[str, Any]) -> Controls:
    """Return the controls after a tap on the field.

    - ``controls``: as they were.
    - ``tap``: what the field component sends: ``{"kind": "ball", "yardline_100": 35, "hash":
      "left"}`` on the field, ``{"kind": "stand", "station": 17}`` on the strip around it; the
      station is a position in `named_stations`.

    Raises `InvalidInputError` if it is neither.

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
_STATE = "next_state"
_PAGE = "page"
_MOVED = "page_moved"


@dataclass(slots=True)
class SessionState:
    """What a session holds between two runs of the page.

    - ``controls``: what was chosen.
    - ``query``: the address that the browser shows once it has caught up.
    - ``issues``: what could not be read in the address or in the last tap, one sentence each.
    - ``replaced``: by key, the widgets' values that a choice has replaced since the browser was
      last in step.
    - ``chosen``: whether a choice began this run.
    - ``finished``: whether the last run came to its end; the next choice cuts a run short.
    - ``remembered``: what the browser remembers from earlier visits, or since.
    - ``first_visit``: whether this browser was never here and came without a wish.
    - ``values``: what every widget holds for the controls, by key.
    """

    controls: Controls
    query: Query
    issues: tuple[str, ...] = ()
    replaced: dict[str, list[Any]] = field(default_factory=dict)
    chosen: bool = False
    finished: bool = True
    remembered: Controls = field(default_factory=Controls)
    first_visit: bool = False
    values: dict[str, Any] = field(default_factory=dict)

    def in_step(self, query: Query) -> bool:
        """Whether a request with this address comes from a browser that has caught up."""
        return query == self.query


def key_of(name: str) -> str:
    """Return the key of the widget of a field of `Controls`."""
    return f"next_{name}"


def note_page(path: str) -> None:
    """Note which page is about to run, and whether it is another one than before."""
    st.session_state[_MOVED] = st.session_state.get(_PAGE, path) != path
    st.session_state[_PAGE] = path


def begin() -> Controls:
    """Return the controls that hold in the run that begins.

    An address that changed from outside (a link, the browser's way back) wins. That can only be
    told in a run that no choice began and that does not take up a run cut short. Coming from
    another page, an address without anything in it is no wish for the usual.
    """
    query = _query()
    state: SessionState | None = st.session_state.get(_STATE)
    moved = st.session_state.get(_MOVED, False)
    if state is None:
        state = _opened(query)
        st.session_state[_STATE] = state
        _set_widgets(state)
    elif moved and not query:
        # Another page takes the state along.
        state.query, state.issues = _address_of(state), ()
    elif not (state.in_step(query) or state.chosen or not state.finished):
        address = from_address(query, usual=state.remembered)
        state.controls, state.query = address.controls, query
        state.issues = _with_consequence(address.issues)
        _set_widgets(state)
    replaced = tuple(state.replaced)
    if state.in_step(query):
        state.replaced.clear()
    if moved:
        state.query = _address_of(state)
    state.chosen, state.finished = False, False
    held = st.session_state.to_dict()
    for key, value in state.values.items():
        # A widget that was not shown in the last run has lost its value; one that was set before a
        # run that another took the place of is not known to the browser.
        if key in replaced or key not in held:
            st.session_state[key] = value
    return state.controls


@contextmanager
def one_run() -> Iterator[Controls]:
    """Yield the controls that hold in this run of the page; at its end, write the address."""
    yield begin()
    state = current()
    if not state.in_step(_query()) or TOKEN_NAME in st.query_params:
        st.query_params.from_dict(state.query)
    st.session_state[_MOVED] = False
    state.finished = True


def _opened(query: Query) -> SessionState:
    """Return the state of a new session: what the browser remembers, then what the address says."""
    remembered = from_memory(guard.cookie(KIT_COOKIE))
    address = from_address(query, usual=remembered)
    return SessionState(
        address.controls,
        query,
        _with_consequence(address.issues),
        remembered=remembered,
        first_visit=not query and not guard.was_here(),
    )


def _address_of(state: SessionState) -> Query:
    """The address that this page shows; only the page that asks for a situation always has one."""
    always = () if st.session_state.get(_PAGE) else ALWAYS
    return to_address(state.controls, always=always, usual=state.remembered)


def current() -> SessionState:
    """Return the session's state; it is there in a run and in callbacks."""
    state: SessionState = st.session_state[_STATE]
    return state


def choose(name: str) -> None:
    """Take over what a widget holds; the callback of every widget."""
    key, state = key_of(name), st.session_state[_STATE]
    value = st.session_state[key]
    if value is None and name != "hash_mark":
        return
    if value in state.replaced.get(key, ()) and not state.in_step(_query()):
        st.session_state[key] = state.values[key]
        return
    replace_controls(lambda controls: controls.chosen(name, value))


def move_ball(by_yd: int) -> None:
    """Move the ball; the callback of the buttons beside its slider."""
    replace_controls(lambda controls: controls.moved(by_yd))


def flip_possession() -> None:
    """Give the other team the ball where it lies; the callback of one button."""
    replace_controls(lambda controls: controls.flipped())


def set_choices(choices: Mapping[str, Any]) -> None:
    """Take over several choices at once; the callback of what is ready to take."""

    def chosen(controls: Controls) -> Controls:
        for name, value in choices.items():
            controls = controls.chosen(name, value)
        return controls

    replace_controls(chosen)


def take_tap(key: str = FIELD_KEY, *, kinds: tuple[str, ...] = ("ball", "stand")) -> None:
    """Take over a tap of these kinds on a field; the callback of the field component."""
    tap = st.session_state[key].get("tap")
    if isinstance(tap, Mapping) and tap.get("kind") in kinds:
        replace_controls(lambda controls: after_tap(controls, tap))


def _query() -> Query:
    names = (name for name in st.query_params if name != TOKEN_NAME)
    return {name: st.query_params.get_all(name) for name in names}


def _with_consequence(found: tuple[str, ...]) -> tuple[str, ...]:
    """What could not be read in an address, and what stands in its place."""
    if not found:
        return ()
    return (*found, "The usual stands in place of what this address asks for.")


def replace_controls(change: Callable[[Controls], Controls]) -> None:
    """Take over a change of the controls; a callback."""
    state: SessionState = st.session_state[_STATE]
    state.chosen = True
    before = state.controls
    try:
        state.controls, state.issues = change(state.controls), ()
    except LensyardError as error:
        state.issues = (str(error),)
        return
    if any(getattr(before, name) != getattr(state.controls, name) for name in REMEMBERED):
        state.remembered = state.controls
        guard.remember(to_memory(state.controls))
    state.query = _address_of(state)
    _set_widgets(state)


def _set_widgets(state: SessionState) -> None:
    """Set the widgets whose values are not what the controls say."""
    held = st.session_state.to_dict()
    state.values = {key_of(name): state.controls.shown(name) for name in CHOICES}
    for key, value in state.values.items():
        before = held.get(key)
        if before != value:
            state.replaced.setdefault(key, []).append(before)
            st.session_state[key] = value
