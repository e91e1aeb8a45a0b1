"""The page "Evidence": what was measured, read from what is kept beside the model."""

from __future__ import annotations

import streamlit as st

from lensyard.dashboard import widgets
from lensyard.dashboard.shell import Shell
from lensyard.features.evidence.advice_report import evidence_report, nothing_kept_report
from lensyard.features.evidence.kept import Evidence, read_evidence
from lensyard.model.context import BASE_MODEL, load_context


def page(shell: Shell) -> None:
    """Show the page; nothing is computed here."""
    evidence = shell.attempt(_kept)
    if evidence is None:
        shell.show(nothing_kept_report())
        return
    last = len(evidence.kits) - 1
    kit = st.segmented_control(
        "Kit",
        list(range(last + 1)),
        format_func=lambda i: evidence.kits[i].split(" (")[0],
        default=last,
        required=True,
        key="ly_evidence_kit",
        width="stretch",
    )
    with st.container(key="ly_settings"):
        widgets.show_themes(shell.controls)
    shell.show(evidence_report(evidence, (last if kit is None else kit,)))


@st.cache_resource(show_spinner=False)
def _kept() -> Evidence:
    return read_evidence(load_context(BASE_MODEL))
