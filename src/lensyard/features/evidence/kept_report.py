"""The evidence that is kept, in words, tables and charts: what the page shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from lensyard.features.evidence.advice_report import (
    advice_parts,
    advice_sentence,
    bounds_table,
    sensitivity_parts,
    sensitivity_sentence,
    sources_of,
)
from lensyard.features.evidence.kept import Evidence
from lensyard.features.evidence.model_reports import calibration, curve_charts, curves
from lensyard.features.evidence.report import (
    MAIN_SCORES,
    SAFETY,
    SCORES,
    brought_home,
    models_chart,
    models_table,
    over_habit,
    policies_chart,
    policies_table,
    zones_table,
)
from lensyard.render.report import Report, Section

LIMITS_TITLE: Final = "What the figures do not say"
LIMITS: Final = (
    "The plays are professional regular-season plays of 2009 to 2019. College and high-school "
    "fields are drawn right, but how those teams play is not in this model.",
    "Nobody can foresee left or right: only the hash mark moves the odds sideways, and the data do "
    "not say where across the field a play ended. That part comes from published shares.",
    "A play is usable as far as the best frame of its path: in reach (less and less beyond it), "
    "not too close, coming toward the camera and with nothing in between. It does not know focus, "
    "expression, or the official who steps into the frame.",
    "Walking is along the edge at an even pace, as far as the usual time between two plays allows. "
    "Crowded sidelines are slower.",
    "Score and clock shift the odds only as far as they did in the seasons it was fitted on.",
    "One season is one draw: its own drift can move a figure by more than its interval shows.",
)


def evidence_report(evidence: Evidence, kits: Sequence[int]) -> Report:
    """Describe the evidence that is kept of some reference kits, and of the model."""
    evaluation, last = evidence.evaluation, evidence.backtests[kits[-1]]
    policies = [policies_table(evidence.backtests[kit], key=f"policies_{kit}") for kit in kits]
    models = models_table(evaluation, tuple(score for score in SCORES if score[0] in MAIN_SCORES))
    advice = [advice_parts(evidence.advice[kit], f"_{kit}") for kit in kits if evidence.advice]
    leads = [
        sensitivity_parts(evidence.sensitivity[kit], f"_{kit}")
        for kit in kits
        if evidence.sensitivity
    ]
    stale = (
        f"Measured with another build of the model ({evidence.model_id}); measure again with "
        "lensyard evidence build.",
    )
    return Report(
        headline=brought_home(last),
        sentences=(
            *over_habit(last),
            *(f"{advice_sentence(evidence.advice[kit])}." for kit in kits if advice),
            *(f"{sensitivity_sentence(evidence.sensitivity[kit])}." for kit in kits if leads),
            *(() if evidence.fresh else stale),
            *(
                f"The {part} was measured with an earlier build of the model."
                for part in evidence.stale
            ),
        ),
        tables=(
            *policies,
            zones_table(last),
            *([bounds_table([evidence.advice[kit] for kit in kits])] if advice else []),
            *(table for tables, _ in (*advice, *leads) for table in tables),
            calibration(evaluation),
            *curves(evaluation),
            models,
        ),
        charts=(
            *map(policies_chart, policies),
            *(chart for _, chart in (*advice, *leads)),
            *curve_charts(evaluation),
            models_chart(models),
        ),
        sections=(
            Section(LIMITS_TITLE, LIMITS),
            *(
                Section("Where the advice stands", sources_of(found))
                for found in evidence.advice[:1]
            ),
        ),
        cautions=(SAFETY,),
        sources=_sources(evidence),
    )


def nothing_kept_report() -> Report:
    """Say what figures could not say, where none are kept."""
    return Report(
        headline="Nothing measured is at hand",
        sections=(Section(LIMITS_TITLE, LIMITS),),
        cautions=(SAFETY,),
    )


def _sources(evidence: Evidence) -> tuple[str, ...]:
    facts, evaluation = evidence.provenance, evidence.evaluation
    seasons, fitted = facts["seasons"], evaluation["train_seasons"]
    return (
        f"{facts['attribution']} License: {facts['license']}. Seasons {seasons[0]} to "
        f"{seasons[-1]}.",
        f"Model {evidence.model_id}, fitted on {fitted[0]} to {fitted[-1]} "
        f"({evaluation['model']['plays']:,} plays); season {evidence.season} was held out: "
        f"{evaluation['plays']:,} plays of {evaluation['games']} games.",
        f"Fingerprint of the plays: {str(evaluation['model']['data_sha256'])[:16]}.",
    )
