"""The row under the answer of "Next play": log the play, its result, shots ticked, take back.

A session keeps what the last change answered, and opens the log only to change it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import streamlit as st

from lensyard.dashboard import guard, session
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.shell import plain
from lensyard.domain.places import standing_text, turned_standing
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
from lensyard.features.game_log.report import (
    RESULT_WORDS,
    answer_report,
    bar_text,
    possession_text,
    reminder_section,
)
from lensyard.game.course import ARMED, SAID, LikelyResult, by_likelihood, offered, state_after
from lensyard.game.entry import Result
from lensyard.game.logbook import Logbook, open_log
from lensyard.game.rules import PENALTIES
from lensyard.game.state import (
    GameState,
    Phase,
    PlayResult,
    flag_result,
    kickoff_out,
    next_snap,
    other_team,
    start_of,
)
from lensyard.records import Record
from lensyard.render.report import Section
from lensyard.render.words import sentence
from lensyard.spots.ranking import SpotScore

WAIT_S = 3.0
MOST_LINES = 3  # of what is missing: twenty seconds are not enough for more
_STATE, _HOME, _AWAY, _BESIDE = "ly_log", "ly_home", "ly_away", "ly_beside"
Likely = Callable[[GameState], tuple[LikelyResult, ...]]
BY_HAND = "ly_by_hand"  # the box that opens what is set by hand while a game is logged


class LogState(Record):
    """What a session knows of the log.

    ``folder``: where the log lies; None is the owner's own. ``answer``: what the last change
    answered; None without a game. ``done``, ``issue``: what was done, or why it was not, as
    sentences. ``reminder``: what is still missing at a break. ``armed``: what the next tap on the
    field means, besides where the ball is. ``kickoff``: whether a game without plays begins with
    one.
    """

    folder: Path | None
    answer: LogAnswer | None = None
    done: str = ""
    issue: str = ""
    reminder: Section | None = None
    armed: str = ""
    kickoff: bool = False

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
    if found is not None:
        return found
    folder = guard.data_folder()
    try:
        return _set(LogState(folder, logs.going_on(folder)))
    except LensyardError as error:
        return _set(LogState(folder, issue=sentence(str(error))))


def _set(known: LogState) -> LogState:
    st.session_state[_STATE] = known
    return known


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
        return _set(replace(before, done="", issue=sentence(str(error)), reminder=None, armed=""))
    report = answer_report(answer)
    reminder = None if answer.reminder is None else reminder_section(answer.reminder.report)
    done = " ".join((sentence(report.headline), *report.cautions))
    return _set(LogState(before.folder, answer, done, reminder=reminder, kickoff=before.kickoff))


def _start() -> None:
    """Start a game with the kit, venue and assignment chosen; a callback."""
    controls = session.current().controls
    home, away = (st.session_state.get(key, "").strip() for key in (_HOME, _AWAY))
    new = NewGameOptions(
        home=home or "Home",
        away=away or "Visitors",
        home_attacks=controls.shown("attacking"),
        beside=bool(st.session_state.get(_BESIDE)),
    )
    _change(
        lambda book: logs.start_game(
            book, new, venue=controls, assignment=controls, lenses=controls
        )
    )
    session.set_choices({"quarter": 1})


def now(controls: Controls) -> GameState | None:
    """Return the game before the next play; None without a game, or where nobody can know.

    Before the first play it is the situation that the page shows, until a kickoff is said.
    """
    known = state()
    if known.answer is None or not known.going_on:
        return None
    game, plays = known.answer.game, known.answer.plays
    found = state_after(game, plays)
    if found is not None and not plays and not known.kickoff:
        direction = parse_direction(controls.shown("attacking"))
        team = game.team_going(direction, quarter=1)
        return replace(
            start_of(game, kicking=team.other),
            phase=Phase.SCRIMMAGE,
            offense=team,
            direction=direction,
            yardline_100=controls.yardline_100,
            down=controls.down,
            distance_yd=controls.distance_yd,
        )
    if found is None or not controls.attacking:
        return found
    # Whoever turned the direction on the page has said that the other team has the ball.
    as_logged = next_snap(found).direction == parse_direction(controls.attacking)
    return found if as_logged else other_team(found)


def _follow() -> None:
    """Show the snap that follows."""
    following = now(replace(session.current().controls, attacking=""))
    if following is not None and following.phase is not Phase.OVER:
        _show(following)


def _show(following: GameState) -> None:
    """Show a snap: situation, direction, score, and where one stands as its offense sees it."""
    snap = next_snap(following)
    attacking = "B" if snap.direction == 1 else "A"

    def shown(controls: Controls) -> Controls:
        turns = controls.standing and controls.shown("attacking") != attacking
        return replace(
            controls,
            down=snap.down or 1,
            distance_yd=snap.distance_yd or 10,
            yardline_100=snap.yardline_100,
            hash_mark=None,
            changed_hands=snap.changed_hands,
            attacking=attacking,
            quarter=snap.quarter,
            score_diff=min(max(snap.score_diff, -99), 99),
            standing=turned_standing(controls.standing) if turns else controls.standing,
        )

    session.replace_controls(shown)


def _log(result: PlayResult) -> None:
    """Log the play that the page shows with its result, and show the next."""
    controls = session.current().controls
    entry, game_id = _entry_of(controls, now(controls), result), state().game_id
    if not _change(lambda book: logs.add_play(book, entry, game_id=game_id)).issue:
        _follow()


def _entry_of(controls: Controls, before: GameState | None, result: PlayResult) -> PlayEntry:
    """Return a play for the log: the snap that the page shows, or a kickoff or a try."""
    at_snap = before is None or before.phase is Phase.SCRIMMAGE
    entry = PlayEntry(
        result=result.kind,
        end_yardline_100=result.yardline_100,
        first_down=result.first_down or None,
        touchdown=True if at_snap and result == PlayResult(Result.GAIN, 0) else None,
        spot=parse_spot(controls.standing) if controls.standing else None,
    )
    if at_snap:
        entry = replace(
            entry,
            yardline_100=controls.yardline_100,
            down=controls.down,
            distance_yd=controls.distance_yd,
            hash_mark=controls.hash_mark,
            quarter=controls.quarter,
            direction=parse_direction(controls.attacking) if controls.attacking else None,
            clock_s=None if controls.clock == Controls().clock else parse_clock(controls.clock),
            changed_hands=controls.changed_hands or None,
        )
    if before is None:
        return entry
    ball = entry.yardline_100 or before.yardline_100
    direction = entry.direction or before.direction
    score = controls.score_diff if at_snap else before.score_diff
    return replace(
        entry, yardline_100=ball, offense=before.offense, direction=direction, score_diff=score
    )


def logs_taps(controls: Controls) -> bool:
    """Whether a tap on the field logs a play: a game is going on, and nothing is set by hand."""
    before = now(controls)
    playing = before is not None and before.phase is not Phase.OVER
    return playing and not st.session_state.get(BY_HAND)


def take_tap() -> None:
    """Take a tap on the field: where the ball is now, or where one stands; a callback."""
    tap = st.session_state[session.FIELD_KEY].get("tap")
    before = now(session.current().controls)
    if not isinstance(tap, Mapping) or tap.get("kind") != "ball" or before is None:
        session.take_tap()
        return
    ball = tap.get("yardline_100")
    if not isinstance(ball, int | float) or not 0 <= ball <= 100:
        return
    # The field is drawn as the team sees it that snaps next; of a kickoff these are the receivers.
    whole = 100 - int(ball) if before.phase is Phase.KICKOFF else int(ball)
    armed = state().armed
    usual = Result.KICK if before.phase is Phase.KICKOFF else Result.GAIN
    _log(PlayResult(ARMED.get(armed, usual), whole, first_down=armed == "first"))


def _say(name: str) -> None:
    """Take what a button says: a result, a break, or what the next tap on the field means."""
    known, before = state(), now(session.current().controls)
    gone = Result.INTERCEPTION if known.armed == "turnover" else Result.KICK
    penalty = next((one for one in PENALTIES if one.key == name), None)
    if name in (*ARMED, "score", "back"):
        _set(replace(known, armed="" if name == "back" else name))
    elif name == "quarter":
        _end_quarter()
    elif name in ("touchback", "returned"):
        _log(PlayResult(gone, 0 if name == "touchback" else 100))
    elif before is not None and name == "out":
        _log(kickoff_out(before))
    elif before is not None and penalty is not None:
        _log(flag_result(before, penalty))
    else:
        _log(SAID[name])


def _end_quarter() -> None:
    """Note on the last play that its quarter is over."""
    known = state()
    if known.answer is None or not known.answer.plays:
        return
    number, game_id = known.answer.plays[-1].number, known.game_id
    entry = PlayEntry(ends_quarter=True)
    if not _change(lambda book: logs.edit_play(book, number, entry, game_id=game_id)).issue:
        _follow()


def _turn() -> None:
    """The other team has the ball, and attacks the other end; a callback."""
    before = now(session.current().controls)
    if before is not None:
        _show(other_team(before))


def _as_logged() -> None:
    """Show the snap that follows by the log, whatever was set by hand; a callback."""
    session.replace_controls(lambda controls: replace(controls, attacking=""))
    _follow()


def _follows(controls: Controls, before: GameState) -> bool:
    """Whether the page shows the snap that follows by the log."""
    snap = next_snap(before)
    shown = (controls.down, controls.distance_yd, controls.yardline_100)
    return shown == (snap.down, snap.distance_yd, snap.yardline_100)


def _kickoff() -> None:
    _set(replace(state(), kickoff=True))
    _follow()


def _undo() -> None:
    game_id = state().game_id
    if not _change(lambda book: logs.undo_last(book, game_id=game_id)).issue:
        _follow()


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


def log_bar(controls: Controls, best: SpotScore | None, likely: Likely) -> None:
    """Show the row; without a game it offers to start one.

    ``likely``: returns what may become of the next play.
    """
    known = state()
    with st.container(key="ly_log_bar"):
        if known.answer is not None and known.going_on:
            _going_on(known.answer, controls, best, likely)
        else:
            with st.popover("Log this game", key="ly_start", width="stretch"):
                st.text_input("Home team", key=_HOME, max_chars=60, placeholder="Home")
                st.text_input("Visiting team", key=_AWAY, max_chars=60, placeholder="Visitors")
                if known.answer is not None or known.issue:
                    st.checkbox("Although another game is going on", key=_BESIDE)
                st.button("Start the game", key="ly_start_game", type="primary", on_click=_start)
                st.caption("Kit, venue and assignment are those of this page.")
        _told(known)


def _told(known: LogState) -> None:
    """Show what was done or why it was not, and at a break what is still missing."""
    if known.issue:
        st.error(plain(known.issue))
    elif known.done:
        st.caption(plain(known.done))
    if known.reminder is not None:
        lines = known.reminder.lines
        more = (f"{len(lines) - MOST_LINES} more under Shots",) if len(lines) > MOST_LINES else ()
        st.warning(plain("\n\n".join((known.reminder.title, *lines[:MOST_LINES], *more))))


def _going_on(
    answer: LogAnswer, controls: Controls, best: SpotScore | None, likely: Likely
) -> None:
    known, before = state(), now(controls)
    st.caption(plain(bar_text(answer.game, before)))
    if before is not None:
        turn = possession_text(answer.game, before)
        st.button(turn, key="ly_possession", on_click=_turn, width="stretch")
    titles = {**RESULT_WORDS, **{one.key: one.title for one in PENALTIES}}
    names = offered(before, known.armed)
    if before is not None and before.phase is Phase.SCRIMMAGE and not known.armed:
        names = by_likelihood(names, likely(before))
    for name in names:
        st.button(titles[name], key=f"ly_say_{name}", on_click=_say, args=(name,), width="stretch")
    if answer.plays and before is not None and not _follows(controls, before):
        st.button("As the log says", key="ly_as_logged", on_click=_as_logged, width="stretch")
    if not answer.plays and not known.kickoff:
        st.button("Kickoff", key="ly_kickoff_first", on_click=_kickoff, width="stretch")
    if best is not None:
        spot = standing_text(x_yd=best.x_yd, y_yd=best.y_yd, venue=controls.venue())
        st.button(
            "Went there",
            key="ly_went",
            type="primary",
            on_click=session.set_choices,
            args=({"standing": spot},),
            width="stretch",
        )
    st.button("Undo", key="ly_undo", on_click=_undo, width="stretch")
    missing = [frame.title for frame in answer.shot_list if frame.key not in answer.ticked]
    title = "Shots"
    if answer.shot_list:
        had = len(answer.shot_list) - len(missing)
        title = " · ".join((f"Shots {had}/{len(answer.shot_list)}", *missing[:MOST_LINES]))
    with st.popover(title, key="ly_shots_box", width="stretch"):
        _shots(answer)
    st.checkbox("Set by hand", key=BY_HAND)


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
