"""The row under the answer: log the play, say what came of it, tick frames, take back."""

from __future__ import annotations

import streamlit as st

from lensyard.data.log_entry import Result
from lensyard.recommend.ranking import SpotScore
from lensyard.ui import gamelog
from lensyard.ui.controls import Controls
from lensyard.ui.style import plain

_RESULT, _GAIN, _TOUCHDOWN = "ly_result", "ly_gain", "ly_touchdown"
_HOME, _AWAY = "ly_home", "ly_away"


def log_bar(controls: Controls, best: SpotScore | None) -> None:
    """Show the row; without a game it offers to start one."""
    known = gamelog.state()
    with st.container(key="ly_log_bar"):
        if known.going_on:
            _going_on(known, controls, best)
        else:
            with st.popover("Log this game", key="ly_start", width="stretch"):
                _start_form()
    _told(known)


def _going_on(known: gamelog.LogState, controls: Controls, best: SpotScore | None) -> None:
    if best is not None:
        spot = gamelog.spot_text(x_yd=best.x_yd, y_yd=best.y_yd)
        st.button(
            "Went there",
            key="ly_went",
            type="primary",
            on_click=gamelog.log_play,
            args=(spot,),
            help="Log this play from the best spot",
            width="stretch",
        )
    if controls.standing:
        st.button(
            "Stayed",
            key="ly_stayed",
            on_click=gamelog.log_play,
            args=(controls.standing,),
            help="Log this play from where you stand",
            width="stretch",
        )
    rows = gamelog.frame_rows(known)
    had = sum(row["had"] for row in rows)
    with st.popover("Result", key="ly_result_box", width="stretch"):
        _result_form(known)
    title = f"Shots {had}/{len(rows)}" if rows else "Shots"
    with st.popover(title, key="ly_shots_box", width="stretch"):
        _shots(rows)
    st.button("Undo", key="ly_undo", on_click=gamelog.undo, width="stretch")


def _told(known: gamelog.LogState) -> None:
    if known.problem:
        st.error(plain(known.problem))
    elif known.said:
        st.caption(plain(known.said))
    if known.reminder:
        st.warning(plain(known.reminder.strip("!\n ")))


def _start_form() -> None:
    st.text_input("Home team", key=_HOME, max_chars=60, placeholder="Home")
    st.text_input("Visiting team", key=_AWAY, max_chars=60, placeholder="Visitors")
    st.button("Start the game", key="ly_start_game", type="primary", on_click=_start)
    st.caption("Kit, ground and assignment are those of this page.")


def _start() -> None:
    gamelog.start(st.session_state.get(_HOME, ""), st.session_state.get(_AWAY, ""))


def _result_form(known: gamelog.LogState) -> None:
    if known.answer is None or not known.answer.log.plays:
        st.caption("Log a play first; then say here what came of it.")
        return
    st.segmented_control(
        "What came of the last play",
        [result.value for result in Result],
        format_func=lambda value: value.replace("-", " ").capitalize(),
        key=_RESULT,
        wrap=True,
        width="stretch",
    )
    st.number_input("Yards gained", min_value=-99, max_value=99, step=1, key=_GAIN, value=None)
    st.checkbox("Touchdown", key=_TOUCHDOWN)
    st.button("Save and go on", key="ly_save_result", type="primary", on_click=_save_result)


def _save_result() -> None:
    state = st.session_state
    gain = state.get(_GAIN) or 0
    gamelog.note_result(state.get(_RESULT), int(gain), touchdown=bool(state.get(_TOUCHDOWN)))
    for key, empty in ((_RESULT, None), (_GAIN, None), (_TOUCHDOWN, False)):
        state[key] = empty


def _shots(rows: list[dict[str, object]]) -> None:
    if not rows:
        st.caption(
            "This assignment has no shot list. Choose one with a list under Field, and start the "
            "game then."
        )
    for row in rows:
        had = bool(row["had"])
        # A box of its own for each state: a closed popover sends what its boxes once held, and an
        # old tick must not come back after it was taken away.
        st.checkbox(
            plain(str(row["title"])),
            value=had,
            key=f"ly_shot_{row['key']}_{'on' if had else 'off'}",
            on_change=gamelog.tick,
            args=(str(row["key"]),),
            kwargs={"off": had},
            help=plain(str(row["when"])),
        )
    st.button("End the game", key="ly_end", on_click=gamelog.end)
