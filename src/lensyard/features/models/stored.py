"""Fitting a model on plays of the store."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from lensyard.features.models.compute import BUNDLED, fit_model, require_model_id, source_facts


def fit_stored_model(
    seasons: Sequence[int],
    *,
    model_id: str,
    folder: Path,
    source: str | None = None,
    prior_path: Path | None = None,
    prior_plays: float | None = None,
    level: str | None = None,
) -> Path:
    """Fit a model on stored regular seasons, save it, and return the path of its arrays.

    ``source`` is an imported one, by default the bundled plays; the rest is as in `fit_model`.
    """
    from lensyard.plays.store import load_plays, shared_store

    require_model_id(model_id)
    return fit_model(
        load_plays(seasons=list(seasons), season_type="REG", source=source or BUNDLED),
        seasons=seasons,
        model_id=model_id,
        folder=folder,
        source=source_facts(source, seasons, shared_store().imported.catalog),
        prior_path=prior_path,
        prior_plays=prior_plays,
        level=level,
    )
