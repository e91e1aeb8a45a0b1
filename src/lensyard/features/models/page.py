"""The models on the page "Plays": fit one on what was imported, and choose the one that answers."""

from __future__ import annotations

from secrets import token_hex

import streamlit as st

from lensyard.dashboard import guard
from lensyard.dashboard.shell import Shell, plain, show_body
from lensyard.dashboard.work import Progress
from lensyard.features.models.compute import choose_model, fit_model, models_list
from lensyard.features.models.report import fit_words, models_report
from lensyard.model.artifact import load_manifest
from lensyard.model.context import RULE_MODELS, used_model
from lensyard.plays.store import shared_store
from lensyard.render.html import section_html
from lensyard.render.words import sentence

_FITTED = "ly_models_fitted"
BY_FIELD = "as the field says"


def page(shell: Shell) -> None:
    """Show the part of the page; guests change nothing."""
    if guard.role() is guard.Role.GUEST:
        return
    with st.container(key="ly_take"):
        _fit(shell)
        found = models_list()
        _choose([row["id"] for row in found["models"] if row["issue"] is None])
    report = models_report(found)
    st.html(section_html(report.headline, report.sentences))
    show_body(report, theme=shell.theme, key="models")


def _fit(shell: Shell) -> None:
    """Offer to fit a model on an imported source, and do it as a job."""
    entries = shared_store().imported.catalog.entries
    changed = {entry.source: entry.changed_at for entry in entries}
    sources = sorted(changed, key=lambda source: changed[source], reverse=True)
    if not sources:
        return
    source = st.selectbox("Fit a model on", sources, key="ly_models_source")
    st.button(
        "Fit it and let it answer",
        key="ly_models_fit",
        on_click=lambda: st.session_state.update({_FITTED: (source, token_hex(8))}),
    )
    if (asked := st.session_state.get(_FITTED)) is None:
        return

    def make(progress: Progress) -> tuple[str, ...]:
        name = model_id_for(asked[0])
        path = fit_model(model_id=name, sources=(asked[0],), progress=progress)
        choose_model(name)
        return fit_words(load_manifest(path))

    lines = shell.run(("fit", *asked), make, title="the model of these plays", by_model=False)
    if lines is not None:
        st.success(plain(" ".join(sentence(line) for line in lines)))


def model_id_for(source: str) -> str:
    """Return the id of a source's model; a bundled model keeps its own.

    >>> model_id_for("charted"), model_id_for("college")
    ('charted', 'college-own')
    """
    return f"{source}-own" if source in RULE_MODELS.values() else source


def _choose(names: list[str]) -> None:
    """Show which model answers, to choose another."""
    used = used_model()
    options = list(dict.fromkeys(["", *names, *([used] if used else [])]))
    st.selectbox(
        "The model that answers",
        options,
        index=options.index(used),
        format_func=lambda name: name or BY_FIELD,
        key=f"ly_models_used_{used}",
        on_change=lambda: _use(used),
    )


def _use(before: str) -> None:
    choose_model(str(st.session_state[f"ly_models_used_{before}"]))
