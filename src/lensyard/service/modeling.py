"""Fitting a model and asking it what it is."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.model.artifact import load, load_manifest, save, size_bytes
from lensyard.service.context import SCHEMA_VERSION

if TYPE_CHECKING:
    from lensyard.model.outcome import OutcomeModel

BUNDLED_SEASONS = tuple(range(2009, 2019))
BUNDLED_MODEL_ID = "pro-2009-2018-r1"


def fit_model(
    *,
    seasons: Sequence[int],
    model_id: str,
    folder: Path,
    prior_path: Path | None = None,
    level: str = "professional",
) -> Path:
    """Fit a model on stored seasons and save it.

    Parameters
    ----------
    seasons
        Regular seasons to fit.
    model_id
        Its name; the files are ``<id>.npz`` and ``<id>.json``.
    folder
        Where to.
    prior_path
        A model to shrink toward when plays are few.
    level
        Level of play, for the manifest.

    Returns
    -------
    Path
        Of the arrays.
    """
    from lensyard.data.bundled import provenance
    from lensyard.data.store import load_plays
    from lensyard.model.fit import fit_outcome

    source = provenance()
    prior: OutcomeModel | None = None if prior_path is None else load(prior_path)
    model = fit_outcome(
        load_plays(seasons=list(seasons), season_type="REG"),
        seasons=seasons,
        model_id=model_id,
        level=level,
        prior=prior,
        data_license=source.license,
        attribution=source.attribution,
    )
    folder.mkdir(parents=True, exist_ok=True)
    return save(model, folder)


def bundled_model_path() -> Path:
    """Return the arrays of the bundled model."""
    from lensyard.data.bundled import models_dir
    from lensyard.model.artifact import default_model_path

    return default_model_path(models_dir())


def model_document(path: Path) -> dict[str, Any]:
    """Return what a model says about itself, for ``lensyard model info --json``."""
    from dataclasses import asdict

    manifest = load_manifest(path)
    load(path)  # a damaged file is refused, not described
    return {
        "schema_version": SCHEMA_VERSION,
        "model": asdict(manifest),
        "size_bytes": size_bytes(path),
        "cautions": [],
    }
