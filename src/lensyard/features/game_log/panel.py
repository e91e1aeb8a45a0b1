"""The game log beside the next play: one tap logs it, one takes it back, ticks are kept.

Opening the log takes a while, so a session keeps what the last change answered and opens the log
only to change it.

The row under the answer: log the play, say what came of it, tick frames, take back.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import streamlit as st

from lensyard.dashboard import guard, session
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.figures import plain
from lensyard.domain.places import standing_text
from lensyard.domain.situation import ball_text
from lensyard.errors import LensyardError
from lensyard.features.game_log import compute as logs
from lensyard.features.game_log.compute import GameSetup, LogAnswer
from lensyard.features.game_log.log_entries import PlayEntry
from lensyard.features.game_log.report import answer_text, reminder_text
from lensyard.game.entry import Result
from lensyard.game.store import LOG_NAME
from lensyard.options.choices import parts_of
from lensyard.render.words import sentence
from lensyard.spots.ranking import SpotScore

_KEPT = "ly_log"
WAIT_S = 3.0


@dataclass(frozen=True, slots=True)
class LogState:
    """What a session knows of the log.

    Attributes
    ----------
    folder
        Where the log lies; None is the owner's own.
    answer
        What the last change answered; None without a game.
    said, problem
        What was done, or why it was not, in words.
    reminder
        What is still missing at a break; may be empty.
    """

    folder: Path | None
    answer: LogAnswer | None = None
    said: str = ""
    problem: str = ""
    reminder: str = ""

    @property
    def game_id(self) -> str:
        """The game that is logged; empty without one."""
        return "" if self.answer is None else self.answer.log.game.game_id

    @property
    def ticked(self) -> tuple[str, ...]:
        """The frames that are ticked."""
        return () if self.answer is None else self.answer.log.ticked

    @property
    def going_on(self) -> bool:
        """Whether a game is being logged."""
        return self.answer is not None and self.answer.log.game.ended_at is None


def state() -> LogState:
    """Return what the session knows; the first time, the log is looked into."""
    found: LogState | None = st.session_state.get(_KEPT)
    if found is None:
        found = _keep(_first_look(guard.data_folder()))
    return found


def _first_look(folder: Path | None) -> LogState:
    """The game going on, if there is a log at all."""
    from lensyard.config import user_data_dir

    if not ((folder or user_data_dir()) / LOG_NAME).exists():
        return LogState(folder)
    try:
        answer = logs.list_game(folder=folder, wait_s=WAIT_S)
    except LensyardError as error:
        return LogState(folder, problem=sentence(str(error)))
    return LogState(folder, answer if answer.log.game.ended_at is None else None)


def ticked_for(controls: Controls) -> tuple[str, ...]:
    """Return the ticked frames that the assignment knows."""
    known = {frame.key for frame in controls.assignment().must_have}
    return tuple(key for key in state().ticked if key in known)


def start(home: str, away: str) -> None:
    """Start a game with the kit, ground and assignment chosen; a callback."""
    controls = session.current().controls
    kit_factors = tuple(float(text) for text in parts_of(controls.crop_factors) if text != "1")
    setup = GameSetup(
        home=home.strip() or "Home",
        away=away.strip() or "Visitors",
        venue=controls.venue_name,
        rules=controls.rules,
        team_area=None if controls.venue_name else controls.team_area,
        assignment=controls.assignment_name,
        faces=controls.assignment().faces.value,
        lenses=tuple(parts_of(controls.lenses)),
        crop_factors=kit_factors,
        bodies=controls.bodies,
        converter=controls.converter,
        home_attacks=controls.shown("attacking"),
    )
    _do(lambda known: logs.start_game(setup, folder=known.folder, wait_s=WAIT_S))
    session.set_choices({"quarter": 1})


def log_play(spot: str) -> None:
    """Log the play that the page shows, from a spot; a callback."""
    controls = session.current().controls
    entry = entry_of(controls, spot=spot)
    known = _do(
        lambda known: logs.add_play(
            entry, game_id=known.game_id, folder=known.folder, wait_s=WAIT_S
        )
    )
    if not known.problem:
        session.set_choices({"standing": spot, "changed_hands": False})


def entry_of(controls: Controls, *, spot: str) -> PlayEntry:
    """Return a play for the log; what nobody has touched is not said."""
    usual = Controls()
    return PlayEntry(
        ball=ball_text(controls.yardline_100),
        down=controls.down,
        distance_yd=controls.distance_yd,
        hash_mark=None if controls.hash_mark is None else controls.hash_mark.value,
        score_diff=controls.score_diff or None,
        clock=None if controls.clock == usual.clock else controls.clock,
        quarter=controls.quarter,
        attacking=None if controls.venue().symmetric else controls.shown("attacking"),
        changed_hands=controls.changed_hands or None,
        spot=spot or None,
    )


def note_result(result: str | None, gain_yd: int, *, touchdown: bool) -> None:
    """Say what came of the last play, and move to the snap that follows; a callback."""
    known = state()
    if known.answer is None or not known.answer.log.plays or result is None:
        return
    number = known.answer.log.plays[-1].number
    gained = result not in ("incomplete", "interception", "no-play")
    entry = PlayEntry(
        result=result,
        gain_yd=gain_yd if gained else None,
        touchdown=touchdown or None,
    )
    known = _do(
        lambda known: logs.edit_play(
            number, entry, game_id=known.game_id, folder=known.folder, wait_s=WAIT_S
        )
    )
    follows = session.current().controls.after_gain(gain_yd if gained else 0)
    ends_series = touchdown or result in ("interception", "kick", "no-play")
    if follows is not None and not known.problem and not ends_series:
        session.replace_controls(lambda _: follows)


def undo() -> None:
    """Take back the last change; a callback."""
    _do(lambda known: logs.undo_last(game_id=known.game_id, folder=known.folder, wait_s=WAIT_S))


def end() -> None:
    """End the game; a callback."""
    known = _do(
        lambda known: logs.end_game(game_id=known.game_id, folder=known.folder, wait_s=WAIT_S)
    )
    if not known.problem:
        _keep(replace(known, answer=None))


def tick(key: str, *, off: bool) -> None:
    """Tick a frame, or take the tick away; the callback of a checkbox."""
    _do(
        lambda known: logs.tick_frames(
            (key,), off=off, game_id=known.game_id, folder=known.folder, wait_s=WAIT_S
        )
    )


def try_demo() -> None:
    """Put the invented game into the log; a callback."""
    from lensyard.features.game_log.demo import install_demo

    _do(lambda known: install_demo(folder=known.folder, wait_s=WAIT_S))


def _do(change: Callable[[LogState], LogAnswer]) -> LogState:
    """Change the log, and keep what it answers or why it did not."""
    before = state()
    try:
        answer = change(before)
    except LensyardError as error:
        return _keep(replace(before, problem=sentence(str(error)), said="", reminder=""))
    told = [answer_text(answer).split("\n", maxsplit=1)[0], *map(sentence, answer.warnings)]
    reminder = "" if answer.reminder is None else reminder_text(answer.reminder)
    return _keep(LogState(before.folder, answer, " ".join(told), "", reminder))


def _keep(known: LogState) -> LogState:
    st.session_state[_KEPT] = known
    return known


def frame_rows(known: LogState) -> list[dict[str, Any]]:
    """Return the shot list of the game: key, title, when, and whether it is ticked."""
    if known.answer is None:
        return []
    have = set(known.ticked)
    return [
        {"key": f.key, "title": f.title, "when": f.when, "had": f.key in have}
        for f in known.answer.shot_list
    ]


_RESULT, _GAIN, _TOUCHDOWN = "ly_result", "ly_gain", "ly_touchdown"
_HOME, _AWAY = "ly_home", "ly_away"


def log_bar(controls: Controls, best: SpotScore | None) -> None:
    """Show the row; without a game it offers to start one."""
    known = state()
    with st.container(key="ly_log_bar"):
        if known.going_on:
            _going_on(known, controls, best)
        else:
            with st.popover("Log this game", key="ly_start", width="stretch"):
                _start_form()
    _told(known)


def _going_on(known: LogState, controls: Controls, best: SpotScore | None) -> None:
    if best is not None:
        spot = standing_text(x_yd=best.x_yd, y_yd=best.y_yd, venue=controls.venue())
        st.button(
            "Went there",
            key="ly_went",
            type="primary",
            on_click=log_play,
            args=(spot,),
            help="Log this play from the best spot",
            width="stretch",
        )
    if controls.standing:
        st.button(
            "Stayed",
            key="ly_stayed",
            on_click=log_play,
            args=(controls.standing,),
            help="Log this play from where you stand",
            width="stretch",
        )
    rows = frame_rows(known)
    had = sum(row["had"] for row in rows)
    with st.popover("Result", key="ly_result_box", width="stretch"):
        _result_form(known)
    title = f"Shots {had}/{len(rows)}" if rows else "Shots"
    with st.popover(title, key="ly_shots_box", width="stretch"):
        _shots(rows)
    st.button("Undo", key="ly_undo", on_click=undo, width="stretch")


def _told(known: LogState) -> None:
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
    start(st.session_state.get(_HOME, ""), st.session_state.get(_AWAY, ""))


def _result_form(known: LogState) -> None:
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
    note_result(state.get(_RESULT), int(gain), touchdown=bool(state.get(_TOUCHDOWN)))
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
            on_change=tick,
            args=(str(row["key"]),),
            kwargs={"off": had},
            help=plain(str(row["when"])),
        )
    st.button("End the game", key="ly_end", on_click=end)
