"""The page "Gear": kits side by side, what the next lens adds, and where a long prime is blind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import streamlit as st

from lensyard.dashboard import session, widgets
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.shell import Shell
from lensyard.domain.assignment import Assignment
from lensyard.domain.kit import Kit, parse_kit
from lensyard.domain.venue import Venue
from lensyard.features.gear.compute import (
    GearComparison,
    gear_comparison,
    kits_from,
    with_converter,
    with_lens,
)
from lensyard.features.gear.report import gear_report
from lensyard.model.context import Context
from lensyard.options.choices import lines_of
from lensyard.records import Record

# What one asks oneself about next (common practice), beside a converter on the longest lens.
ADDED = ("24-70", "300", "400", "600")
CONVERTER = "x1.4"


class GearRequest(Record):
    """Kits to compare, the own one first; where, and what counts."""

    kits: tuple[Kit, ...]
    venue: Venue
    assignment: Assignment


def page(shell: Shell) -> None:
    """Show the page."""
    with st.container(key="ly_settings"):
        widgets.settings(shell.controls)
    _ask(shell.controls)
    request = request_of(shell.controls)
    comparison = shell.run(
        request,
        partial(_compare, shell.controls.answering(), request),
        title="a plan for every kit",
    )
    if comparison is not None:
        shell.show(gear_report(comparison))


def request_of(controls: Controls) -> GearRequest:
    """Return what is compared; `InvalidInputError` if a line is no kit or there are too many."""
    kits = kits_from([controls.kit().text, *lines_of(controls.kits)], own=controls.kit())
    return GearRequest(kits, controls.venue(), controls.assignment())


def _compare(
    context: Context, request: GearRequest, progress: Callable[[str], None]
) -> GearComparison:
    return gear_comparison(
        context,
        request.kits,
        venue=request.venue,
        assignment=request.assignment,
        progress=progress,
    )


def _ask(controls: Controls) -> None:
    """Show which kits are compared with one's own, and what can be added with a tap."""
    widgets.widget(controls, "kits")
    with st.container(key="ly_take"):
        for what in (*ADDED, CONVERTER):
            st.button(
                f"+ {what}",
                key=f"ly_add_{what}",
                on_click=_add,
                args=(what,),
                help=f"Compare with your kit and {what} more",
            )
        if controls.kits:
            st.button(
                "Clear", key="ly_gear_clear", on_click=session.set_choices, args=({"kits": ""},)
            )


def _add(what: str) -> None:
    """Add a kit to compare: the own one with one more lens, or with a converter; a callback."""
    session.replace_controls(lambda controls: replace(controls, kits=with_added(controls, what)))


def with_added(controls: Controls, what: str) -> str:
    """Return the lines with the own kit and one thing more; a line that is there stays once.

    >>> with_added(Controls(), "300")
    '70-200 + 400 + 300 (3 bodies)'
    """
    own = controls.kit()
    kit = with_converter(own) if what == CONVERTER else with_lens(own, parse_kit(what))
    lines = lines_of(controls.kits)
    return "\n".join(lines if kit.line in lines else [*lines, kit.line])
