"""The row under the answer of "Next play": log the play, its result, shots ticked, take back.

A session keeps what the last change answered, and opens the log only to change it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import streamlit as st

from lensyard.dashboard import guard, session
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.shell import plain
from lensyard.domain.places import standing_text
from lensyard.domain.situation import parse_clock
from lensyard.errors import LensyardError
from lensyard.features.game_log import compute as logs
from lensyard.features.game_log.compute import LogAnswer, install_demo
from lensyard.features.game_log.entries import (
    NewGameOptions,
    PlayEntry,
    parse_direction,
    parse_spot,
)
from lensyard.features.game_log.report import answer_report, reminder_section
from lensyard.game.entry import Result
from lensyard.game.logbook import Logbook, log_stamp, open_log
from lensyard.render.report import Section
from lensyard.render.words import sentence
from lensyard.spots.ranking import SpotScore

WAIT_S = 3.0
_STATE = "ly_log"
_RESULT, _GAIN, _TOUCHDOWN = "ly_result", "ly_gain", "ly_touchdown"
_HOME, _AWAY = "ly_home", "ly_away"


@dataclass(frozen=True, slots=True)
class LogState:
    """What a session knows of the log.

    ``folder``: where the log lies; None is the owner's own. ``answer``: what the last change
    answered; None without a game. ``done``, ``issue``: what was done, or why it was not, as
    sentences. ``reminder``: what is still missing at a break.
    """

    folder: Path | None
    answer: LogAnswer | None = None
    done: str = ""
    issue: str = ""
    reminder: Section | None = None

    @property
    def game_id(self) -> str | None:
        """The game that is logged; None without one."""
        return None if self.answer is None else self.answer.game.game_id

    @property
    def ticked(self) -> tuple[str, ...]:
        """The frames that are ticked."""
        return () if self.answer is None else self.answer.ticked

    @property
    def going_on(self) -> bool:
        """Whether a game is being logged."""
        return self.answer is not None and self.answer.game.ended_at is None


def state() -> LogState:
    """Return what the session knows; the first time, the log is looked into."""
    found: LogState | None = st.session_state.get(_STATE)
    return _set(_first_look(guard.data_folder())) if found is None else found


def _set(known: LogState) -> LogState:
    st.session_state[_STATE] = known
    return known


def _first_look(folder: Path | None) -> LogState:
    """Return the game going on, if there is a log at all."""
    if log_stamp(folder) is None:
        return LogState(folder)
    try:
        with open_log(folder, writing=False) as book:
            answer = logs.list_game(book)
    except LensyardError as error:
        return LogState(folder, issue=sentence(str(error)))
    return LogState(folder, answer if answer.game.ended_at is None else None)


def ticked_for(controls: Controls) -> tuple[str, ...]:
    """Return the ticked frames that the assignment knows."""
    known = {frame.key for frame in controls.assignment().must_have}
    return tuple(key for key in state().ticked if key in known)


def _change(use_case: Callable[[Logbook], LogAnswer]) -> LogState:
    """Change the log, and keep what it answers or why it did not."""
    before = state()
    try:
        with open_log(before.folder, wait_s=WAIT_S) as book:
            answer = use_case(book)
    except LensyardError as error:
        return _set(LogState(before.folder, before.answer, issue=sentence(str(error))))
    report = answer_report(answer)
    reminder = None if answer.reminder is None else reminder_section(answer.reminder.report)
    done = " ".join((sentence(report.headline), *report.cautions))
    return _set(LogState(before.folder, answer, done, reminder=reminder))


def _start() -> None:
    """Start a game with the kit, venue and assignment chosen; a callback."""
    controls = session.current().controls
    home, away = (st.session_state.get(key, "").strip() for key in (_HOME, _AWAY))
    new = NewGameOptions(
        home=home or "Home",
        away=away or "Visitors",
        home_attacks=controls.shown("attacking"),
    )
    _change(
        lambda book: logs.start_game(
            book, new, venue=controls, assignment=controls, lenses=controls
        )
    )
    session.set_choices({"quarter": 1})


def _log_play(spot: str) -> None:
    """Log the play that the page shows, from a spot; a callback."""
    entry = _entry_of(session.current().controls, spot=spot)
    game_id = state().game_id
    if not _change(lambda book: logs.add_play(book, entry, game_id=game_id)).issue:
        session.set_choices({"standing": spot, "changed_hands": False})


def _entry_of(controls: Controls, *, spot: str) -> PlayEntry:
    """Return a play for the log; what nobody has touched is not said."""
    toward = None if controls.venue().symmetric else controls.shown("attacking")
    return PlayEntry(
        yardline_100=controls.yardline_100,
        down=controls.down,
        distance_yd=controls.distance_yd,
        hash_mark=controls.hash_mark,
        score_diff=controls.score_diff or None,
        clock_s=None if controls.clock == Controls().clock else parse_clock(controls.clock),
        quarter=controls.quarter,
        direction=parse_direction(toward) if toward else None,
        changed_hands=controls.changed_hands or None,
        spot=parse_spot(spot) if spot else None,
    )


def _save_result() -> None:
    """Say what came of the last play, and move to the snap that follows; a callback."""
    known, values = state(), st.session_state
    chosen, gain_yd = values.get(_RESULT), int(values.get(_GAIN) or 0)
    touchdown = bool(values.get(_TOUCHDOWN))
    for key, empty in ((_RESULT, None), (_GAIN, None), (_TOUCHDOWN, False)):
        values[key] = empty
    if known.answer is None or not known.answer.plays or chosen is None:
        return
    result = Result(chosen)
    number = known.answer.plays[-1].number
    gained = result not in (Result.INCOMPLETE, Result.INTERCEPTION, Result.NO_PLAY)
    entry = PlayEntry(
        result=result, gain_yd=gain_yd if gained else None, touchdown=touchdown or None
    )
    known = _change(lambda book: logs.edit_play(book, number, entry, game_id=known.game_id))
    follows = session.current().controls.after_gain(gain_yd if gained else 0)
    ends_series = touchdown or result in (Result.INTERCEPTION, Result.KICK, Result.NO_PLAY)
    if follows is not None and not known.issue and not ends_series:
        session.replace_controls(lambda _: follows)


def _undo() -> None:
    game_id = state().game_id
    _change(lambda book: logs.undo_last(book, game_id=game_id))


def _end() -> None:
    game_id = state().game_id
    known = _change(lambda book: logs.end_game(book, game_id=game_id))
    if not known.issue:
        _set(replace(known, answer=None))


def _tick(key: str, *, off: bool) -> None:
    game_id = state().game_id
    _change(lambda book: logs.tick_frames(book, (key,), off=off, game_id=game_id))


def try_demo() -> None:
    """Put the invented game into the log; a callback."""
    _change(lambda book: install_demo(book).answer)


def log_bar(controls: Controls, best: SpotScore | None) -> None:
    """Show the row; without a game it offers to start one."""
    known = state()
    with st.container(key="ly_log_bar"):
        if known.answer is not None and known.going_on:
            _going_on(known.answer, controls, best)
        else:
            with st.popover("Log this game", key="ly_start", width="stretch"):
                st.text_input("Home team", key=_HOME, max_chars=60, placeholder="Home")
                st.text_input("Visiting team", key=_AWAY, max_chars=60, placeholder="Visitors")
                st.button("Start the game", key="ly_start_game", type="primary", on_click=_start)
                st.caption("Kit, venue and assignment are those of this page.")
    if known.issue:
        st.error(plain(known.issue))
    elif known.done:
        st.caption(plain(known.done))
    if known.reminder is not None:
        st.warning(plain("\n\n".join((known.reminder.title, *known.reminder.lines))))


def _going_on(answer: LogAnswer, controls: Controls, best: SpotScore | None) -> None:
    if best is not None:
        spot = standing_text(x_yd=best.x_yd, y_yd=best.y_yd, venue=controls.venue())
        st.button(
            "Went there",
            key="ly_went",
            type="primary",
            on_click=_log_play,
            args=(spot,),
            help="Log this play from the best spot",
            width="stretch",
        )
    if controls.standing:
        st.button(
            "Stayed",
            key="ly_stayed",
            on_click=_log_play,
            args=(controls.standing,),
            help="Log this play from where you stand",
            width="stretch",
        )
    with st.popover("Result", key="ly_result_box", width="stretch"):
        _result_form(answer)
    had = sum(frame.key in answer.ticked for frame in answer.shot_list)
    title = f"Shots {had}/{len(answer.shot_list)}" if answer.shot_list else "Shots"
    with st.popover(title, key="ly_shots_box", width="stretch"):
        _shots(answer)
    st.button("Undo", key="ly_undo", on_click=_undo, width="stretch")


def _result_form(answer: LogAnswer) -> None:
    if not answer.plays:
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


def _shots(answer: LogAnswer) -> None:
    if not answer.shot_list:
        st.caption(
            "This assignment has no shot list. Choose one with a list under Field, and start the "
            "game then."
        )
    for frame in answer.shot_list:
        had = frame.key in answer.ticked
        # A box of its own for each state: a closed popover sends what its boxes once held, and an
        # old tick must not come back after it was taken away.
        st.checkbox(
            plain(frame.title),
            value=had,
            key=f"ly_shot_{frame.key}_{'on' if had else 'off'}",
            on_change=_tick,
            args=(frame.key,),
            kwargs={"off": had},
            help=plain(frame.when),
        )
    st.button("End the game", key="ly_end", on_click=_end)
