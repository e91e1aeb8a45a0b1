"""The page "Next play": the answer first, the situation in a few taps, the field below."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import replace
from functools import partial

import numpy as np
import streamlit as st

from lensyard.dashboard import guard, session, widgets
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.shell import Shell, show_body, show_lead
from lensyard.dashboard.widgets import TAP_LOGS, bare_picture, show_field
from lensyard.domain.field import PlayPoint
from lensyard.domain.situation import Kick, PlayKind
from lensyard.features.game_log import panel
from lensyard.features.next_play.compute import NextAnswer
from lensyard.features.next_play.first import answer_to
from lensyard.features.next_play.kick_report import kick_report
from lensyard.features.next_play.kicks import KickRequest, kick_play
from lensyard.features.next_play.report import next_report
from lensyard.game.course import LikelyResult, likely_results
from lensyard.game.state import GameState
from lensyard.model.outcome_grid import GAINS_YD, KINDS
from lensyard.render.field.picture import (
    FieldPicture,
    SpotMark,
    SpotRole,
    reach_rings,
    walk_path,
)
from lensyard.render.html import facts_html
from lensyard.render.report import Report
from lensyard.spots.ranking import SpotScore

WELCOME = (
    "Set down, distance and ball below, and read on top where to stand for the next play. "
    "Tap beside the field where you stand now, and the answer minds how far you can walk. "
    "Choose your lenses under Kit once; this browser remembers them."
)
NO_SIGNAL = (
    "No signal at the field? The offline card answers without one: get it before the game under "
    "Game plan."
)
LOG_HINT = "Tap the field where the ball is now, the strip around it to say where you stand."
_DEMO = "ly_demo_there"


def page(shell: Shell) -> None:
    """Show the page: first what changes with a choice, so that a browser draws it first."""
    show_welcome()
    controls = shell.controls
    ask, show = st.container(key="ly_ask"), st.container(key="ly_show")
    with ask:
        answer, report = _answered(shell)
        if report is not None:
            with st.container(key="ly_lead"):
                show_lead(report)
            with st.container(key="ly_facts"):
                st.html(facts_html(report.facts))
    with show:
        settings = st.container(key="ly_settings")
        with st.container(key="ly_field"):
            _show_field(shell, answer)
    with ask:
        panel.log_bar(controls, None if answer is None else answer.spot, partial(_likely, controls))
        with st.container(key="ly_situation"):
            widgets.widget(controls, "play")
            widgets.situation_widgets(controls)
            widgets.standing_widget(controls)
    with settings:
        widgets.settings(controls, situation=True)
    if report is not None:
        with show, st.container(key="ly_body"):
            _show_rest(shell, report)
            st.caption(NO_SIGNAL)


def _show_rest(shell: Shell, report: Report) -> None:
    """Show tables and cautions; charts with their figures only to who asks: they take longest."""
    drawn = {chart.table for chart in report.charts}
    more = bool(drawn) and st.checkbox("Charts of this play", key="ly_more")
    shown = replace(report, facts=())
    if not more:
        tables = tuple(table for table in report.tables if table.key not in drawn)
        shown = replace(shown, charts=(), tables=tables)
    show_body(shown, theme=shell.theme, key="next")


def _answered(shell: Shell) -> tuple[NextAnswer | None, Report | None]:
    """Return the answer for a snap and its report; of a kick the report alone."""
    controls = shell.controls
    if controls.play is not PlayKind.SCRIMMAGE:
        kick = shell.attempt(lambda: kick_play(controls.answering(), kick_request_of(controls)))
        return None, None if kick is None else kick_report(kick)
    solving = st.spinner("Solving the plan for this kit, once", show_time=True)
    with solving if controls.standing else nullcontext():
        answer = shell.attempt(lambda: answer_to(controls, have=panel.ticked_for(controls)))
    return answer, None if answer is None else next_report(answer)


def kick_request_of(controls: Controls) -> KickRequest:
    """Return what the controls ask about a kick; the ball counts for punts and field goals."""
    venue = controls.venue()
    moved = controls.play in (PlayKind.PUNT, PlayKind.FIELD_GOAL)
    return KickRequest(
        kick=Kick.of(
            controls.play,
            venue.rules,
            yardline_100=controls.yardline_100 if moved else None,
            hash_mark=controls.hash_mark,
        ),
        kit=controls.kit(),
        venue=venue,
        direction=controls.direction(venue),
        standing=controls.standing or None,
        ball_changed_hands=controls.changed_hands,
        walk_time=controls.walk_time(),
        least_usable=controls.least_usable,
        top=controls.top,
    )


def _likely(controls: Controls, before: GameState) -> tuple[LikelyResult, ...]:
    """Return what the next play may become, by the model's forecast."""
    situation = before.situation()
    if situation is None:
        return ()
    forecast = controls.answering().forecast(situation)
    fourth = forecast.p_fourth_down_choice[0] if situation.down == 4 else (1.0, 0.0, 0.0)
    go, punt, kick = (float(p) for p in fourth)
    return likely_results(
        before,
        p_gain={int(g): float(p) for g, p in zip(GAINS_YD, forecast.gain_pmf[0], strict=True)},
        p_incomplete=float(forecast.p_kind[0, KINDS.index("incomplete")]),
        p_turnover=float(forecast.p_turnover[0]),
        p_choice=(go, punt, kick),
    )


def _show_field(shell: Shell, answer: NextAnswer | None) -> None:
    """Show the field to tap on; without an answer it has the ball and what is closed."""
    if answer is not None:
        picture = next_picture(answer, tappable=True)
    else:
        bare = shell.attempt(lambda: bare_picture(shell.controls))
        if bare is None:
            return
        picture = bare
    if panel.logs_taps(shell.controls):
        show_field(picture, shell.theme, on_tap=panel.take_tap, hint=LOG_HINT, takes=TAP_LOGS)
    else:
        show_field(picture, shell.theme)


def show_welcome() -> None:
    """Show three sentences and the demo on a first visit, until they are put away."""
    if session.current().first_visit:
        with st.container(key="ly_welcome"):
            st.html(f'<p class="ly-welcome">{WELCOME}</p>')
            with st.container(key="ly_welcome_row"):
                st.button("Got it", key="ly_got_it", on_click=_put_away, type="primary")
                st.button("Try the demo game", key="ly_demo", on_click=_demo)
    if st.session_state.pop(_DEMO, False):
        st.info("An invented game is in your log now; the page Review shows what it brought.")


def _put_away() -> None:
    session.current().first_visit = False
    guard.note_visit()


def _demo() -> None:
    _put_away()
    panel.try_demo()
    st.session_state[_DEMO] = True


def next_picture(answer: NextAnswer, *, tappable: bool = False) -> FieldPicture:
    """Return the ball, the likely ends of the play, the spots, the habits and the walk."""
    request = answer.request
    situation = request.situation
    standing, path, walk_text = _walk(answer)
    return FieldPicture.of(
        request.venue,
        request.direction,
        situation,
        mass=answer.masses.ends.astype(np.float64),
        spots=_marks(answer),
        rings=reach_rings(request.kit),
        standing=standing,
        path=path,
        walk_text=walk_text,
        title=f"Where to stand: {situation.text()}",
        tappable=tappable,
    )


def _marks(answer: NextAnswer) -> tuple[SpotMark, ...]:
    """The place of the answer, the other spots by number, then the habits."""

    def mark(spot: SpotScore, number: int | None, label: str, role: SpotRole) -> SpotMark:
        station = int(answer.scorer.stations[spot.station_index])
        return SpotMark(spot.x_yd, spot.y_yd, number, label, spot.p_usable, role, station)

    here = answer.spot.station_index
    spots = [spot for spot in answer.ranking.spots if spot.station_index != here]
    ranked = [
        mark(answer.spot, 1, answer.spot.label, SpotRole.BEST),
        *(
            mark(spot, rank, spot.label, SpotRole.EQUAL if spot.as_good else SpotRole.OTHER)
            for rank, spot in enumerate(spots, 2)
        ),
    ]
    habits = [
        mark(habit.spot, None, habit.title, SpotRole.HABIT) for habit in answer.ranking.habits
    ]
    return (*ranked, *habits)


def _walk(answer: NextAnswer) -> tuple[PlayPoint | None, tuple[PlayPoint, ...], str]:
    """Where one stands, the way that the answer says, and how long it is; empty where not known."""
    here, spot, scorer = answer.standing_index, answer.spot, answer.scorer
    if here is None:
        return None, (), ""
    x, y = scorer.xy_yd
    standing = PlayPoint(float(x[here]), float(y[here]))
    if not answer.answer.moves:
        return standing, (), ""
    path = walk_path(
        scorer.perimeter,
        start=int(scorer.stations[here]),
        stop=int(scorer.stations[spot.station_index]),
        direction=answer.request.direction,
    )
    return standing, path, f"{answer.answer.walk_yd:.0f} yd"
