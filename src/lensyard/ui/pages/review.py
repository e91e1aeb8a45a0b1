"""The page "Review": what a game or a season brought, and what would have been."""

from __future__ import annotations

from functools import partial

import streamlit as st

from lensyard.errors import LensyardError
from lensyard.fieldlog.document import GameLog
from lensyard.present import review_page as words
from lensyard.present.review import review_plot_of
from lensyard.service.reviews import Review
from lensyard.ui import review_state, session, work
from lensyard.ui.controls import Controls
from lensyard.ui.figures import show_figure, show_table
from lensyard.ui.review_widgets import offer_demo, review_widgets
from lensyard.ui.style import plain
from lensyard.views.crew_zone import rest_svg
from lensyard.views.evidence_plot import interval_svg
from lensyard.views.page_parts import csv_text, lead_of, section_html
from lensyard.views.palette import LOOKS, Look
from lensyard.views.picture import FieldPicture
from lensyard.views.review_bars import keep_curve_svg, zone_shares_svg
from lensyard.views.review_plot import ReviewPlot
from lensyard.views.words import sentence


def page(controls: Controls) -> None:
    """Show the page."""
    look = LOOKS[controls.look]
    with st.container(key="ly_plain"):
        if problems := session.problems():
            st.warning(plain("\n\n".join(problems)))
        lead = st.container()
        try:
            games = review_state.games()
            if not games:
                with lead:
                    offer_demo()
                return
            review_widgets(controls, games)
            request = review_state.request_of(controls, games)
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
        partial(_zones, plot, review.figures.keep is not None, look),
        name="review-zones",
        said=words.zones_said(review),
        table=words.rate_figures((*review.figures.zones, review.figures.overall), by="zone"),
        heading="By zone of the field",
    )
    show_figure(
        partial(_spots, words.spots_picture(review), look),
        name="review-spots",
        said=words.spots_said(review),
        table=words.rate_figures(review.figures.spots, by="spot"),
        heading="Where you stood: the spots with the most plays",
    )
    show_table(*words.spots_table(review))
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
    st.html(section_html("Frames and capture times", words.frame_lines(review, games), listed=True))
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
        st.download_button(
            "Plays as CSV",
            data=csv_text(*words.play_figures(review)),
            file_name="lensyard-review-plays.csv",
            mime="text/csv",
            key="ly_csv_review_plays",
            on_click="ignore",
        )


def _policies(review: Review, look: Look, wide: bool) -> str:
    return interval_svg(words.policy_rows(review), look=look, wide=wide)


def _zones(plot: ReviewPlot, kept: bool, look: Look, wide: bool) -> str:
    return zone_shares_svg(plot.zones, kept=kept, look=look, wide=wide)


def _spots(picture: FieldPicture, look: Look, wide: bool) -> str:
    return rest_svg(picture, look=look, wide=wide)


def _keeping(plot: ReviewPlot, look: Look, wide: bool) -> str:
    return keep_curve_svg(
        plot.distances,
        default_reach_yd=plot.default_reach_yd,
        own_reach_yd=plot.own_reach_yd,
        look=look,
        wide=wide,
    )
