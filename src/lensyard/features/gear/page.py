"""The page "Gear": kits side by side, what the next lens adds, and where a long prime is blind.

What the page "Gear" compares: one's own kit, and kits named a line each.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import streamlit as st

from lensyard.dashboard import session, widgets, work
from lensyard.dashboard.context import context
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.figures import plain, show_figure, show_table
from lensyard.domain.assignment import Assignment
from lensyard.domain.kit import Kit, parse_kit
from lensyard.domain.venue import Venue
from lensyard.errors import LensyardError
from lensyard.features.gear import report as words
from lensyard.features.gear.charts import (
    BandRow,
    GainRow,
    ZoneBarGroup,
    bands_svg,
    gain_rows_svg,
    zone_bars_svg,
)
from lensyard.features.gear.compare import (
    GearReport,
    gear_report,
    kits_from,
    with_converter,
    with_lens,
)
from lensyard.options.choices import lines_of
from lensyard.render.html import lead_of, section_html
from lensyard.render.theme import THEMES, Theme
from lensyard.render.words import sentence


def page(controls: Controls) -> None:
    """Show the page."""
    theme = THEMES[controls.theme]
    with st.container(key="ly_plain"):
        if problems := session.problems():
            st.warning(plain("\n\n".join(problems)))
        lead = st.container()
        with st.container(key="ly_settings"):
            widgets.settings(controls)
        _ask(controls)
        try:
            request = request_of(controls)
            report = work.run_job(
                f"gear {request!r}",
                partial(compare, request),
                title="a plan for every kit",
            )
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            return
        if report is not None:
            with lead:
                st.html(lead_of(*words.lead_words(report)))
            _show(report, theme)


def _ask(controls: Controls) -> None:
    """Show which kits are compared with one's own, and what can be added with a tap."""
    widgets.widget(controls, "kits")
    with st.container(key="ly_take"):
        for what in (*ADDED, CONVERTER):
            st.button(
                f"+ {what}",
                key=f"ly_add_{what}",
                on_click=add,
                args=(what,),
                help=f"Compare with your kit and {what} more",
            )
        if controls.kits:
            st.button("Clear", key="ly_gear_clear", on_click=clear)


def _show(report: GearReport, theme: Theme) -> None:
    """Show totals, zones, gains, reach, value by zone and notes."""
    show_table(*words.totals_table(report))
    names = words.names_of(report)
    show_figure(
        partial(_zones, words.zone_groups(report), names, theme),
        name="gear-zones",
        said=words.zones_said(report),
        table=words.zone_figures(report),
        heading="Usable plays by zone; the outline is all plays",
    )
    if len(report.kits) > 1:
        show_figure(
            partial(_gains, words.gain_rows(report), theme),
            name="gear-gains",
            said=words.gains_said(report),
            table=words.gain_figures(report),
            heading="What each adds to your kit, usable plays a game",
        )
    show_figure(
        partial(_bands, words.band_rows(report), theme),
        name="gear-reach",
        said=words.bands_said(report),
        table=words.band_figures(report),
        heading="Distances at which each kit works",
    )
    show_table(*words.value_table(report), caption="Value by zone, and its share")
    st.html(section_html("How to read this", words.note_lines(report), listed=True))
    st.html(section_html("Cautions", report.cautions, listed=True))


def _zones(
    groups: tuple[ZoneBarGroup, ...], names: tuple[str, ...], theme: Theme, wide: bool
) -> str:
    return zone_bars_svg(groups, names, theme=theme, wide=wide)


def _gains(rows: tuple[GainRow, ...], theme: Theme, wide: bool) -> str:
    return gain_rows_svg(rows, theme=theme, wide=wide)


def _bands(rows: tuple[BandRow, ...], theme: Theme, wide: bool) -> str:
    return bands_svg(rows, theme=theme, wide=wide)


# What one asks oneself about next (common practice), beside a converter on the longest lens.
ADDED = ("24-70", "300", "400", "600")
CONVERTER = "x1.4"


@dataclass(frozen=True, slots=True)
class GearRequest:
    """Kits to compare, the own one first; where, and what counts."""

    kits: tuple[Kit, ...]
    venue: Venue
    assignment: Assignment


def request_of(controls: Controls) -> GearRequest:
    """Return what is compared.

    Raises
    ------
    InvalidInputError
        If a line is no kit, there are too many, or the kit or the ground cannot be.
    """
    kits = kits_from([controls.kit().text, *lines_of(controls.kits)])
    return GearRequest(kits, controls.venue(), controls.assignment())


def compare(request: GearRequest, progress: work.Progress) -> GearReport:
    """Return the comparison; it takes some seconds a kit the first time."""
    return gear_report(
        context(),
        request.kits,
        venue=request.venue,
        assignment=request.assignment,
        progress=progress,
    )


def add(what: str) -> None:
    """Add a kit to compare: the own one with one more lens, or with a converter; a callback."""
    session.replace_controls(lambda controls: replace(controls, kits=with_added(controls, what)))


def with_added(controls: Controls, what: str) -> str:
    """Return the lines with the own kit and one thing more; a line that is there stays once.

    >>> with_added(Controls(), "300")
    '70-200 + 400 + 300 (3 bodies)'
    """
    own = controls.kit()
    kit = with_converter(own) if what == CONVERTER else with_lens(own, parse_kit(what))
    line = kit.text.split(", reach")[0] + ")"
    lines = lines_of(controls.kits)
    return "\n".join(lines if line in lines else [*lines, line])


def clear() -> None:
    """Compare with what one usually thinks of next; a callback."""
    session.set_choices({"kits": ""})
