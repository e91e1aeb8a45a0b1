"""The page "Field zones": which stretches of the perimeter paid off, counted from plays."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import streamlit as st

from lensyard.dashboard import session, widgets, work
from lensyard.dashboard.context import context
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.figures import plain, show_figure, show_table
from lensyard.errors import LensyardError
from lensyard.features.zones.chart import ZoneStrip, zone_strip_svg
from lensyard.features.zones.count import ZonesAnswer, zones
from lensyard.features.zones.report import (
    asked,
    best_rows,
    lead_words,
    picture_words,
    strip_of,
    zone_rows,
)
from lensyard.render.html import lead_of, section_html
from lensyard.render.theme import THEMES, Theme
from lensyard.render.words import sentence

TITLE = "Share of plays usable, by stretch"
WIDE_PX, NARROW_PX = 1000.0, 380.0


def page(controls: Controls) -> None:
    """Show the page."""
    theme = THEMES[controls.theme]
    with st.container(key="ly_plain"):
        if problems := session.problems():
            st.warning(plain("\n\n".join(problems)))
        lead = st.container()
        with st.container(key="ly_filters"):
            widgets.widget(controls, "zone_down")
            widgets.widget(controls, "to_go")
        with st.container(key="ly_settings"):
            widgets.settings(controls)
        try:
            request = controls.zones_request()
            answer = work.run_job(
                f"zones {request!r}",
                lambda progress: _count(progress, request),
                title="the count of plays",
            )
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            return
        if answer is not None:
            with lead:
                st.html(lead_of(*lead_words(answer)))
            _show(answer, theme)


def _count(progress: work.Progress, request: object) -> ZonesAnswer:
    progress("counting plays by stretch of the perimeter")
    return zones(context(), request)  # type: ignore[arg-type]


def _show(answer: ZonesAnswer, theme: Theme) -> None:
    """Show the heat around the field, zone by zone, and the best stretch of each."""
    show_figure(
        partial(_strip, replace(strip_of(answer), title=TITLE, notes=()), theme),
        name="zones",
        said=picture_words(answer),
        table=zone_rows(answer),
    )
    show_table(*best_rows(answer), caption=f"Best stretch of each zone: {asked(answer)}")
    st.html(section_html("How to read this", (*answer.notes, *answer.cautions)))


def _strip(strip: ZoneStrip, theme: Theme, wide: bool) -> str:
    return zone_strip_svg(strip, theme=theme, width_px=WIDE_PX if wide else NARROW_PX)
