"""The page "Review": what a game or a season brought, and what would have been.

What the page "Review" looks at: the games of the log, the one chosen, and its files.

The widgets of the page "Review", and what it offers where there is no log yet.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

import streamlit as st

from lensyard.config import user_data_dir
from lensyard.dashboard import guard, session, widgets, work
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.figures import plain, show_figure, show_table
from lensyard.errors import LensyardError
from lensyard.features.evidence.charts import interval_svg
from lensyard.features.game_log import panel as gamelog
from lensyard.features.review import report as words
from lensyard.features.review.charts import ReviewPlot, keep_curve_svg, zone_shares_svg
from lensyard.features.review.compute import Review, review_game
from lensyard.features.review.report import choice_words, review_plot_of
from lensyard.game.document import GameLog
from lensyard.game.logbook import open_log
from lensyard.game.store import LOG_NAME
from lensyard.model.context import load_context
from lensyard.render.field.draw import rest_svg
from lensyard.render.field.picture import FieldPicture
from lensyard.render.html import csv_text, lead_of, section_html
from lensyard.render.theme import THEMES, Theme
from lensyard.render.words import sentence

CHOICE_KEY = "ly_review_of"
WAIT_S = 3.0


@dataclass(frozen=True, slots=True)
class ReviewRequest:
    """What is reviewed.

    Attributes
    ----------
    folder, stamp
        Where the log is (None is the owner's own), and when it last changed.
    game_id, season
        Which of them; the id is empty for a season.
    own_reach
        Whether to count again with the own reach.
    """

    folder: Path | None
    stamp: tuple[int, int]
    game_id: str
    season: int | None
    own_reach: bool


def logged_games() -> tuple[GameLog, ...]:
    """Return all games of the log, the oldest first; none where there is no log yet.

    Raises
    ------
    StoreError
        If the log is in use or damaged.
    """
    folder = guard.data_folder()
    stamp = _stamp(folder)
    return () if stamp is None else _games(str(folder), stamp, folder)


def _stamp(folder: Path | None) -> tuple[int, int] | None:
    """When the log last changed, and its size; None where there is none."""
    try:
        found = ((folder or user_data_dir()) / LOG_NAME).stat()
    except FileNotFoundError:
        return None
    return found.st_mtime_ns, found.st_size


@st.cache_resource(show_spinner=False, max_entries=8)
def _games(place: str, stamp: tuple[int, int], _folder: Path | None) -> tuple[GameLog, ...]:
    with open_log(_folder, wait_s=WAIT_S) as book:
        return book.logs()


def request_of(controls: Controls, games: tuple[GameLog, ...]) -> ReviewRequest:
    """Return what is reviewed."""
    folder = guard.data_folder()
    named = controls.game or controls.season is not None
    return ReviewRequest(
        folder,
        _stamp(folder) or (0, 0),
        controls.game if named else latest(games),
        controls.season,
        controls.own_reach,
    )


def latest(games: tuple[GameLog, ...]) -> str:
    """Return the id of the game going on, else of the last one."""
    going_on = [log for log in games if log.game.ended_at is None]
    return (going_on or games)[-1].game.game_id


def review_of(request: ReviewRequest, progress: work.Progress) -> Review:
    """Return the review; the first time for a kit and a venue a plan is solved."""
    progress("playing the logged plays again, with the plan of that kit and ground")
    return review_game(
        load_context(),
        game_id=request.game_id or None,
        season=request.season,
        own_reach=request.own_reach,
        folder=request.folder,
    )


def chosen_key(controls: Controls, games: tuple[GameLog, ...]) -> str:
    """Return which choice the controls stand for; the latest game where they name none."""
    if controls.game:
        return f"game {controls.game}"
    return f"game {latest(games)}" if controls.season is None else f"season {controls.season}"


def choose() -> None:
    """Take over what is to be reviewed; the callback of the choice."""
    chosen: str | None = st.session_state[CHOICE_KEY]
    if chosen is None:
        return
    kind, _, which = chosen.partition(" ")
    by_season = kind == "season"
    session.set_choices(
        {"game": "" if by_season else which, "season": int(which) if by_season else None}
    )


def pdf_bytes(review: Review) -> bytes:
    """Return the review as a printable page."""
    from tempfile import TemporaryDirectory

    from lensyard.features.review.paper import save_review_page
    from lensyard.features.review.report import review_page_of

    with TemporaryDirectory(prefix="lensyard-") as folder:
        path = Path(folder) / "review.pdf"
        save_review_page(review_page_of(review), path)
        return path.read_bytes()


NO_LOG = (
    "Log plays under Next play while you shoot, or with the command lensyard log; after the game "
    "this page says what was in reach, usable and kept, and what the plan would have had."
)


def offer_demo(controls: Controls) -> None:
    """Say that there is no log yet, and offer the invented game."""
    st.html(lead_of("No game is in your log yet", (NO_LOG,)))
    if issue := gamelog.state().issue:
        st.error(plain(issue))
    st.button("Try the demo game", key="ly_review_demo", type="primary", on_click=gamelog.try_demo)
    st.caption("Teams, stadium and plays of it are invented.")
    with st.container(key="ly_settings"), st.popover("Screen", key="ly_screen"):
        widgets.widget(controls, "theme")


def review_widgets(controls: Controls, games: tuple[GameLog, ...]) -> None:
    """Show which game or season is reviewed, and with which reach."""
    choices = choice_words(games)
    key = chosen_key(controls, games)
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
            on_change=choose,
            filter_mode=None,
        )
        st.segmented_control(
            "Count with",
            (False, True),
            format_func=lambda own: "your own reach too" if own else "the usual reach",
            required=True,
            key=session.key_of("own_reach"),
            on_change=session.choose,
            args=("own_reach",),
            width="stretch",
        )
    with st.container(key="ly_settings"), st.popover("Screen", key="ly_screen"):
        widgets.widget(controls, "theme")


def page(controls: Controls) -> None:
    """Show the page."""
    theme = THEMES[controls.theme]
    with st.container(key="ly_plain"):
        if problems := session.current().issues:
            st.warning(plain("\n\n".join(problems)))
        lead = st.container()
        try:
            games = logged_games()
            if not games:
                with lead:
                    offer_demo(controls)
                return
            review_widgets(controls, games)
            request = request_of(controls, games)
            review = work.run_job(
                f"review {request!r}",
                partial(review_of, request),
                title="the review",
            )
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            return
        if review is not None:
            with lead:
                st.html(lead_of(*words.lead_words(review)))
            _show(review, games, theme)


def _show(review: Review, games: tuple[GameLog, ...], theme: Theme) -> None:
    """Show what was had beside plan and habit, zones, spots, keeping, frames and notes."""
    _take_along(review)
    plot = review_plot_of(review)
    show_figure(
        partial(_policies, review, theme),
        name="review-policies",
        said=words.policies_said(review),
        table=words.policy_figures(review),
        heading="The same plays, three ways",
    )
    show_figure(
        partial(_zones, plot, review.figures.keep is not None, theme),
        name="review-zones",
        said=words.zones_said(review),
        table=words.rate_figures((*review.figures.zones, review.figures.overall), by="zone"),
        heading="By zone of the field",
    )
    show_figure(
        partial(_spots, words.spots_picture(review), theme),
        name="review-spots",
        said=words.spots_said(review),
        table=words.rate_figures(review.figures.spots, by="spot"),
        heading="Where you stood: the spots with the most plays",
    )
    show_table(*words.spots_table(review))
    if plot.distances:
        show_figure(
            partial(_keeping, plot, theme),
            name="review-keeping",
            said=words.keeping_said(review),
            table=words.keeping_figures(review),
            heading="How often you keep a usable play, by distance",
        )
    st.html(section_html("Your own reach", words.reach_words(review)))
    if review.own is not None:
        show_table(*words.reach_table(review))
    st.html(section_html("Must-haves", words.must_have_lines(review), listed=True))
    st.html(section_html("Frames and capture times", words.frame_lines(review, games), listed=True))
    st.html(section_html("How to read this", words.note_lines(review), listed=True))


def _take_along(review: Review) -> None:
    with st.container(key="ly_take"):
        st.download_button(
            "Review as PDF",
            data=partial(pdf_bytes, review),
            file_name="lensyard-review.pdf",
            mime="application/pdf",
            key="ly_review_pdf",
            on_click="ignore",
        )
        st.download_button(
            "Plays as CSV",
            data=csv_text(*words.play_figures(review)),
            file_name="lensyard-review-plays.csv",
            mime="text/csv",
            key="ly_csv_review_plays",
            on_click="ignore",
        )


def _policies(review: Review, theme: Theme, wide: bool) -> str:
    return interval_svg(words.policy_rows(review), theme=theme, wide=wide)


def _zones(plot: ReviewPlot, kept: bool, theme: Theme, wide: bool) -> str:
    return zone_shares_svg(plot.zones, kept=kept, theme=theme, wide=wide)


def _spots(picture: FieldPicture, theme: Theme, wide: bool) -> str:
    return rest_svg(picture, theme=theme, wide=wide)


def _keeping(plot: ReviewPlot, theme: Theme, wide: bool) -> str:
    return keep_curve_svg(
        plot.distances,
        default_reach_yd=plot.default_reach_yd,
        own_reach_yd=plot.own_reach_yd,
        theme=theme,
        wide=wide,
    )
