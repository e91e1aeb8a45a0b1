"""The page "Review": what a game or a season brought, and what would have been."""

from __future__ import annotations

from functools import partial

import streamlit as st

from lensyard.errors import LensyardError
from lensyard.fieldlog.document import GameLog
from lensyard.present import review_page as words
from lensyard.present.review import review_plot_of
from lensyard.service.reviews import Review
from lensyard.ui import gamelog, review_state, session, widgets, work
from lensyard.ui.controls import Controls
from lensyard.ui.figures import offer_csv, show_figure, show_table
from lensyard.ui.style import plain
from lensyard.views.evidence_plot import interval_svg
from lensyard.views.page_parts import lead_of, section_html
from lensyard.views.palette import LOOKS, Look
from lensyard.views.review_bars import keep_curve_svg, zone_shares_svg
from lensyard.views.review_plot import ReviewPlot
from lensyard.views.words import sentence

NO_LOG = (
    "Log plays under Next play while you shoot, or with `lensyard log`; after the game this page "
    "says what was in reach, usable and kept, and what the plan would have had."
)


def page(controls: Controls) -> None:
    """Show the page."""
    look = LOOKS[controls.look]
    with st.container(key="ly_plain"):
        if problems := session.problems():
            st.warning(plain("\n\n".join(problems)))
        lead = st.container()
        try:
            request = review_state.request_of(controls)
            games = () if request is None else review_state.games_of(request)
            if request is None or not games:
                with lead:
                    _offer_demo()
                return
            _ask(controls, games)
            review = work.asked(
                f"review {request!r}",
                partial(review_state.review_of, request),
                title="the review",
            )
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            return
        if review is not None:
            with lead:
                st.html(lead_of(*words.lead_words(review)))
            _show(review, games, look)


def _offer_demo() -> None:
    st.html(lead_of("No game is in your log yet", (NO_LOG,)))
    if problem := gamelog.state().problem:
        st.error(plain(problem))
    st.button("Try the demo game", key="ly_review_demo", type="primary", on_click=gamelog.try_demo)
    st.caption("Teams, stadium and plays of it are invented.")
    with st.container(key="ly_settings"), st.popover("Screen", key="ly_screen"):
        widgets.look_widget()


def _ask(controls: Controls, games: tuple[GameLog, ...]) -> None:
    """Show which game or season is reviewed, and with which reach."""
    choices = words.choice_words(games)
    st.session_state[review_state.CHOICE_KEY] = review_state.chosen_key(controls, choices)
    with st.container(key="ly_filters"):
        st.selectbox(
            "Review of",
            list(choices),
            format_func=lambda key: choices[key],
            key=review_state.CHOICE_KEY,
            on_change=review_state.choose,
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
        widgets.look_widget()


def _show(review: Review, games: tuple[GameLog, ...], look: Look) -> None:
    """Show what was had beside plan and habit, zones, spots, keeping, frames and notes."""
    _take_along(review)
    plot = review_plot_of(review)
    show_figure(
        partial(_policies, review, look),
        name="review-policies",
        said=words.policies_said(review),
        table=words.policy_figures(review),
        heading="The same plays, three ways",
    )
    show_figure(
        partial(_zones, plot, look),
        name="review-zones",
        said=words.zones_said(review),
        table=words.rate_figures(review),
        heading="By zone of the field",
    )
    show_table(*words.spots_table(review), caption="Where you stood: the spots with the most plays")
    if plot.distances:
        show_figure(
            partial(_keeping, plot, look),
            name="review-keeping",
            said=words.keeping_said(review),
            table=words.keeping_figures(review),
            heading="How often you keep a usable play, by distance",
        )
    st.html(section_html("Your own reach", words.reach_words(review)))
    if review.own is not None:
        show_table(*words.reach_table(review))
    st.html(section_html("Must-haves", words.must_have_lines(review), listed=True))
    st.html(
        section_html("Frames and capture times", words.frame_lines(review, games), listed=True)
    )
    st.html(section_html("How to read this", words.note_lines(review), listed=True))


def _take_along(review: Review) -> None:
    with st.container(key="ly_take"):
        st.download_button(
            "Review as PDF",
            data=partial(review_state.pdf_bytes, review),
            file_name="lensyard-review.pdf",
            mime="application/pdf",
            key="ly_review_pdf",
            on_click="ignore",
        )
        offer_csv(words.play_figures(review), name="review-plays")


def _policies(review: Review, look: Look, wide: bool) -> str:
    return interval_svg(words.policy_rows(review), look=look, wide=wide)


def _zones(plot: ReviewPlot, look: Look, wide: bool) -> str:
    return zone_shares_svg(plot.zones, look=look, wide=wide)


def _keeping(plot: ReviewPlot, look: Look, wide: bool) -> str:
    return keep_curve_svg(
        plot.distances,
        default_reach_yd=plot.default_reach_yd,
        own_reach_yd=plot.own_reach_yd,
        look=look,
        wide=wide,
    )
