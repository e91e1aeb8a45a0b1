"""The page "Evidence": what was measured, read from what is kept beside the model."""

from __future__ import annotations

from functools import partial

import streamlit as st

from lensyard.dashboard import session, widgets
from lensyard.dashboard.context import context
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.figures import plain, show_figure, show_table
from lensyard.errors import LensyardError
from lensyard.features.evidence import report as words
from lensyard.features.evidence.build import Evidence, read_evidence
from lensyard.features.evidence.charts import (
    CalibrationCurve,
    IntervalRow,
    calibration_svg,
    interval_svg,
)
from lensyard.render.html import lead_of, section_html
from lensyard.render.theme import THEMES, Theme
from lensyard.render.words import sentence

_KIT = "ly_evidence_kit"


def page(controls: Controls) -> None:
    """Show the page."""
    theme = THEMES[controls.theme]
    with st.container(key="ly_plain"):
        if problems := session.current().issues:
            st.warning(plain("\n\n".join(problems)))
        try:
            evidence = _kept()
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            st.html(section_html("What the figures do not say", words.LIMITS, listed=True))
            return
        lead = st.container()
        kits = range(len(evidence.kits))
        kit = st.segmented_control(
            "Kit",
            list(kits),
            format_func=lambda i: evidence.kits[i].split(" (")[0],
            default=len(kits) - 1,
            required=True,
            key=_KIT,
            width="stretch",
        )
        chosen = len(kits) - 1 if kit is None else kit
        with lead:
            st.html(lead_of(*words.lead_words(evidence, chosen)))
        with st.container(key="ly_settings"), st.popover("Screen", key="ly_screen"):
            widgets.widget(controls, "theme")
        _show(evidence, chosen, theme)


@st.cache_resource(show_spinner=False)
def _kept() -> Evidence:
    return read_evidence(context())


def _show(evidence: Evidence, kit: int, theme: Theme) -> None:
    """Show backtest, calibration, baselines, provenance and limits."""
    policies = words.policy_rows(evidence, kit)
    show_figure(
        partial(_intervals, policies, theme, "%"),
        name="backtest",
        said="Share of the season's value brought home, with 95 % intervals over games: "
        + "; ".join(f"{row.name} {row.shown}" for row in policies)
        + ".",
        table=words.policy_table(evidence, kit),
        heading="What each way of working brought home",
    )
    show_table(*words.policy_table(evidence, kit))
    show_table(*words.zone_table(evidence, kit), caption="The plan by zone of the field")
    show_figure(
        partial(_calibration, words.calibration_curves(evidence), theme),
        name="calibration",
        said=words.calibration_said(evidence),
        table=words.calibration_table(evidence),
        heading="Whether the chances are right",
    )
    models = words.baseline_rows(evidence)
    show_figure(
        partial(_intervals, models, theme, "yd"),
        name="baselines",
        said="How far forecasts of the gain are off (CRPS in yards, less is better), with 95 % "
        "intervals: " + "; ".join(f"{row.name} {row.shown}" for row in models) + ".",
        table=words.baseline_table(evidence),
        heading="Beside simpler and larger models",
    )
    show_table(*words.baseline_table(evidence))
    st.html(section_html("Where the plays come from", words.provenance_words(evidence)))
    st.html(section_html("What the figures do not say", words.LIMITS, listed=True))


def _intervals(rows: tuple[IntervalRow, ...], theme: Theme, unit: str, wide: bool) -> str:
    return interval_svg(rows, theme=theme, wide=wide, unit=unit)


def _calibration(curves: tuple[CalibrationCurve, ...], theme: Theme, wide: bool) -> str:
    return calibration_svg(curves, theme=theme, wide=wide)
