"""The page "Field zones": which stretches of the perimeter paid off, counted from plays."""

from __future__ import annotations

import streamlit as st

from lensyard.dashboard import widgets
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.shell import Shell
from lensyard.dashboard.work import Progress
from lensyard.features.zones.compute import ZonesAnswer, ZonesRequest, count_zones
from lensyard.features.zones.report import zones_report
from lensyard.plays.store import shared_store


def page(shell: Shell) -> None:
    """Show the page."""
    with st.container(key="ly_filters"):
        widgets.widget(shell.controls, "zone_down")
        widgets.widget(shell.controls, "to_go")
    with st.container(key="ly_settings"):
        widgets.settings(shell.controls)
    request = request_of(shell.controls)

    def count(progress: Progress) -> ZonesAnswer:
        progress("counting plays by stretch of the perimeter")
        return count_zones(shell.controls.answering(), request, shared_store())

    answer = shell.run(request, count, title="the count of plays")
    if answer is not None:
        shell.show(zones_report(answer))


def request_of(controls: Controls) -> ZonesRequest:
    """Return what is counted: the chosen plays, kit, venue and assignment."""
    venue = controls.venue()
    return ZonesRequest(
        kit=controls.kit(),
        venue=venue,
        assignment=controls.assignment(),
        direction=controls.direction(venue),
        down=controls.zone_down,
        distance_yd=controls.distances_yd(),
    )
