"""The page "Gear": kits side by side, what the next lens adds, and where a long prime is blind."""

from __future__ import annotations

from functools import partial

import streamlit as st

from lensyard.errors import LensyardError
from lensyard.present import gear_page as words
from lensyard.service.gear import GearReport
from lensyard.ui import gear_state, session, widgets, work
from lensyard.ui.controls import Controls
from lensyard.ui.figures import show_figure, show_table
from lensyard.ui.style import plain
from lensyard.views.gear_bars import (
    BandRow,
    GainRow,
    ZoneBarGroup,
    bands_svg,
    gain_rows_svg,
    zone_bars_svg,
)
from lensyard.views.page_parts import lead_of, section_html
from lensyard.views.palette import LOOKS, Look
from lensyard.views.words import sentence


def page(controls: Controls) -> None:
    """Show the page."""
    look = LOOKS[controls.look]
    with st.container(key="ly_plain"):
        if problems := session.problems():
            st.warning(plain("\n\n".join(problems)))
        lead = st.container()
        with st.container(key="ly_settings"):
            widgets.settings(controls)
        _ask(controls)
        try:
            request = gear_state.request_of(controls)
            report = work.asked(
                f"gear {request!r}",
                partial(gear_state.compare, request),
                title="a plan for every kit",
            )
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            return
        if report is not None:
            with lead:
                st.html(lead_of(*words.lead_words(report)))
            _show(report, look)


def _ask(controls: Controls) -> None:
    """Show which kits are compared with one's own, and what can be added with a tap."""
    st.text_area(
        "Compare your kit with these, one a line",
        key=session.key_of("kits"),
        placeholder="empty: what one usually thinks of next\n70-200 + 300 x1.4\n70-200 on 1.5",
        max_chars=600,
        height=112,
        on_change=session.choose,
        args=("kits",),
    )
    with st.container(key="ly_take"):
        for what in (*gear_state.ADDED, gear_state.CONVERTER):
            st.button(
                f"+ {what}",
                key=f"ly_add_{what}",
                on_click=gear_state.add,
                args=(what,),
                help=f"Compare with your kit and {what} more",
            )
        if controls.kits:
            st.button("Clear", key="ly_gear_clear", on_click=gear_state.clear)


def _show(report: GearReport, look: Look) -> None:
    """Show totals, zones, gains, reach, value by zone and notes."""
    show_table(*words.totals_table(report))
    names = words.names_of(report)
    show_figure(
        partial(_zones, words.zone_groups(report), names, look),
        name="gear-zones",
        said=words.zones_said(report),
        table=words.zone_figures(report),
        heading="Usable plays by zone; the outline is all plays",
    )
    if len(report.kits) > 1:
        show_figure(
            partial(_gains, words.gain_rows(report), look),
            name="gear-gains",
            said=words.gains_said(report),
            table=words.gain_figures(report),
            heading="What each adds to your kit, usable plays a game",
        )
    show_figure(
        partial(_bands, words.band_rows(report), look),
        name="gear-reach",
        said=words.bands_said(report),
        table=words.band_figures(report),
        heading="Distances at which each kit works",
    )
    show_table(*words.value_table(report), caption="Value by zone, and its share")
    st.html(section_html("How to read this", words.note_lines(report), listed=True))
    st.html(section_html("Cautions", report.cautions, listed=True))


def _zones(groups: tuple[ZoneBarGroup, ...], names: tuple[str, ...], look: Look, wide: bool) -> str:
    return zone_bars_svg(groups, names, look=look, wide=wide)


def _gains(rows: tuple[GainRow, ...], look: Look, wide: bool) -> str:
    return gain_rows_svg(rows, look=look, wide=wide)


def _bands(rows: tuple[BandRow, ...], look: Look, wide: bool) -> str:
    return bands_svg(rows, look=look, wide=wide)
