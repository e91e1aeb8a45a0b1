"""The one typed object that a session keeps, and the widgets' values that mirror it.

A session holds the `Controls`. Each widget has a key of its own; its callback passes what was
chosen to `Controls.chosen`, and the widgets whose values follow from that are set. When the address
changes from outside (a link, the browser's way back), it wins.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import streamlit as st

from lensyard.errors import LensyardError
from lensyard.ui.address import Query, from_address, to_address
from lensyard.ui.controls import GOAL, USUAL, Controls
from lensyard.ui.taps import after_tap

_CONTROLS = "next_controls"
_ADDRESS = "next_address"
_PROBLEMS = "next_problems"
_CHOSEN = "next_chosen"
_FINISHED = "next_finished"
FIELD_KEY = "next_field_tap"
# Shown in what opens on demand: such a widget is made by the browser only when it opens, long
# after its value was set, so its value is set in every run.
_ON_DEMAND = (
    "lenses",
    "crop_factors",
    "converter",
    "bodies",
    "rules",
    "team_area",
    "faces",
    "score_diff",
    "quarter",
    "clock",
    "look",
)


def key_of(field: str) -> str:
    """Return the key of the widget of a field of `Controls`."""
    return f"next_{field}"


def widget_values(controls: Controls) -> dict[str, Any]:
    """Return what every widget holds for these controls, by key."""
    values = {key_of(field): getattr(controls, field) for field in Controls.__dataclass_fields__}
    values = {key: USUAL if value is None else value for key, value in values.items()}
    if controls.goal_to_go:
        values[key_of("distance_yd")] = GOAL
    return values


@contextmanager
def one_run() -> Iterator[Controls]:
    """Yield the controls that hold in this run of the page, and keep the address in step.

    An address that changed from outside (a link, the browser's way back) wins. But a browser that
    has not heard of the last address yet sends the one before with its next request. So an address
    counts only in a run that no choice began and that takes up no run cut short.
    """
    query: Query = {name: st.query_params.get_all(name) for name in st.query_params}
    chosen = st.session_state.pop(_CHOSEN, False)
    cut_short = not st.session_state.get(_FINISHED, True)
    st.session_state[_FINISHED] = False
    known = _CONTROLS in st.session_state
    if not known or (not chosen and not cut_short and query != st.session_state[_ADDRESS]):
        address = from_address(query)
        st.session_state[_ADDRESS] = query
        st.session_state[_PROBLEMS] = _said_of_address(address.problems)
        _keep(address.controls)
    controls: Controls = st.session_state[_CONTROLS]
    on_demand = {key_of(field) for field in _ON_DEMAND}
    for key, value in widget_values(controls).items():
        # A widget that was not on the last page shown has lost its value.
        if key in on_demand or key not in st.session_state:
            st.session_state[key] = value
    _write_address(controls)
    yield controls
    st.session_state[_FINISHED] = True


def problems() -> tuple[str, ...]:
    """Return what could not be read in the address or in the last tap, one sentence each."""
    found: tuple[str, ...] = st.session_state.get(_PROBLEMS, ())
    return found


def _write_address(controls: Controls) -> None:
    """Put the controls into the address, unless it is still the one that could not be read."""
    query = to_address(controls)
    if not problems() and query != st.session_state[_ADDRESS]:
        st.session_state[_ADDRESS] = query
        st.query_params.from_dict(query)


def choose(field: str) -> None:
    """Take over what a widget holds; the callback of every widget."""
    value = st.session_state[key_of(field)]
    if value is not None:
        _put(lambda controls: controls.chosen(field, value))


def move_ball(by_yd: int) -> None:
    """Move the ball; the callback of the buttons beside its slider."""
    _put(lambda controls: controls.moved(by_yd))


def set_choices(choices: Mapping[str, Any]) -> None:
    """Take over several choices at once; the callback of what is ready to take."""

    def chosen(controls: Controls) -> Controls:
        for field, value in choices.items():
            controls = controls.chosen(field, value)
        return controls

    _put(chosen)


def take_tap() -> None:
    """Take over a tap on the field; the callback of the field component."""
    tap = st.session_state[FIELD_KEY].get("tap")
    if isinstance(tap, Mapping):
        _put(lambda controls: after_tap(controls, tap))


def _said_of_address(found: tuple[str, ...]) -> tuple[str, ...]:
    if not found:
        return ()
    return (*found, "The usual stands in place of what this address asks for.")


def _put(change: Callable[[Controls], Controls]) -> None:
    st.session_state[_CHOSEN] = True
    try:
        _keep(change(st.session_state[_CONTROLS]))
        st.session_state[_PROBLEMS] = ()
    except LensyardError as error:
        st.session_state[_PROBLEMS] = (str(error),)


def _keep(controls: Controls) -> None:
    st.session_state[_CONTROLS] = controls
    for key, value in widget_values(controls).items():
        if st.session_state.get(key) != value:
            st.session_state[key] = value
