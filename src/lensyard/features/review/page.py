"""The page "Review": what a game or a season brought, and what would have been."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from lensyard.dashboard import guard, session, widgets
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.shell import Shell, offer, offer_csv, plain, show_table
from lensyard.dashboard.work import Progress
from lensyard.features.captions.captions import (
    DEFAULT_TEMPLATE,
    LONGEST_TEMPLATE,
    captions_of,
    check_template,
)
from lensyard.features.captions.desk import frames_table, play_captions
from lensyard.features.captions.report import captions_table, placeholders_section
from lensyard.features.game_log import panel
from lensyard.features.review.compute import Review, chosen_games, review_games
from lensyard.features.review.report import choice_words, review_report
from lensyard.game.document import GameLog
from lensyard.game.entry import game_setup_of
from lensyard.game.logbook import log_stamp, open_log
from lensyard.render.paper_chart import report_pdf

CHOICE_KEY = "ly_review_of"
NO_LOG = (
    "Log plays under Next play while you shoot, or with the command lensyard log; after the game "
    "this page says what was in reach, usable and kept, and what the plan would have had."
)


def page(shell: Shell) -> None:
    """Show the page."""
    controls = shell.controls
    folder = guard.data_folder()
    stamp = log_stamp(folder)
    logs = () if stamp is None else _logs(str(folder), stamp, folder)
    if logs:
        _ask(controls, logs)
    else:
        shell.lead("No game is in your log yet", (NO_LOG,))
        if issue := panel.state().issue:
            st.error(plain(issue))
        st.button(
            "Try the demo game", key="ly_review_demo", type="primary", on_click=panel.try_demo
        )
        st.caption("Teams, stadium and plays of it are invented.")
    with st.container(key="ly_settings"):
        widgets.show_themes(controls)
    if logs:
        _review(shell, logs, (str(folder), stamp))


def _review(shell: Shell, logs: tuple[GameLog, ...], read: object) -> None:
    """Show the review that the controls ask for; ``read`` says which log was read, and when."""
    controls = shell.controls
    title, ids = _chosen(controls, logs)

    def count(progress: Progress) -> Review:
        progress("playing the logged plays again, with the plan of that kit and venue")
        games = [(log, game_setup_of(log.game)) for log in logs if log.game.game_id in ids]
        return review_games(
            controls.context(games[-1][1].venue), games, title=title, own_reach=controls.own_reach
        )

    review = shell.run((read, title, ids, controls.own_reach), count, title="the review")
    if review is None:
        return
    report = review_report(review)
    with st.container(key="ly_take"):
        offer("Review as PDF", "review.pdf", lambda: report_pdf(report), key="ly_review_pdf")
    shell.show(report)
    for log in logs:
        if log.captures and log.game.game_id in ids:
            _captions(shell, log)


def _captions(shell: Shell, log: GameLog) -> None:
    """Show what a game's matched frames say, by a template, to take away as a table."""
    with st.expander(f"Captions: {log.game.title}", key=f"ly_captions_{log.game.game_id}"):
        key = f"ly_template_{log.game.game_id}"
        typed = st.text_area("Template", DEFAULT_TEMPLATE, key=key, max_chars=LONGEST_TEMPLATE)
        captions = shell.attempt(
            lambda: captions_of(log, log.captures, template=check_template(typed))
        )
        if captions is None:
            return
        show_table(captions_table(play_captions(captions)), key=f"{key}_table")
        offer_csv(frames_table(captions), key=log.game.game_id, label="Captions as CSV")
        st.caption("Sidecars are written where the photographs are: lensyard capture --captions.")
        st.caption(plain("; ".join(placeholders_section().lines)))


@st.cache_resource(show_spinner=False, max_entries=8)
def _logs(place: str, stamp: str, _folder: Path | None) -> tuple[GameLog, ...]:
    """Return all games of the log, the oldest first, as they were when it last changed."""
    with open_log(_folder, writing=False) as book:
        return book.logs()


def _chosen(controls: Controls, logs: tuple[GameLog, ...]) -> tuple[str, tuple[str, ...]]:
    games = [log.game for log in logs]
    return chosen_games(games, game_id=controls.game, season=controls.season)


def _ask(controls: Controls, logs: tuple[GameLog, ...]) -> None:
    """Show which game or season is reviewed, and with which reach."""
    choices = choice_words([log.game for log in logs])
    if controls.game:
        key = f"game {controls.game}"
    elif controls.season is not None:
        key = f"season {controls.season}"
    else:
        key = f"game {_chosen(controls, logs)[1][0]}"
    # What an address asks for and the log does not have is no choice; any other one mends it.
    st.session_state[CHOICE_KEY] = key if key in choices else None
    with st.container(key="ly_filters"):
        st.selectbox(
            "Review of",
            list(choices),
            index=None,
            required=key in choices,
            placeholder="Choose a game or a season",
            format_func=lambda key: choices[key],
            key=CHOICE_KEY,
            on_change=_choose,
            filter_mode=None,
        )
        widgets.widget(
            controls,
            "own_reach",
            words=lambda own: "your own reach too" if own else "the usual reach",
        )


def _choose() -> None:
    """Take over what is to be reviewed; the callback of the choice."""
    chosen: str | None = st.session_state[CHOICE_KEY]
    if chosen is None:
        return
    kind, _, which = chosen.partition(" ")
    by_season = kind == "season"
    session.set_choices(
        {"game": "" if by_season else which, "season": int(which) if by_season else None}
    )
