"""Fitting a model and asking it what it is."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import InvalidInputError, ModelError
from lensyard.model.artifact import load, load_manifest, save, size_bytes
from lensyard.service.context import SCHEMA_VERSION

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.kicks import KickModel
    from lensyard.model.outcome import OutcomeModel

BUNDLED: Final = "bundled"
MODEL_ID: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
LEVEL_CAUTION: Final = (
    "Fitted on professional games. High-school and college games run more, throw less and kick "
    "differently: take its odds as a start and fit your own level when you have its plays."
)
BUNDLED_SEASONS = tuple(range(2009, 2019))
BUNDLED_MODEL_ID = "pro-2009-2018-r2"


def fit_model(
    *,
    seasons: Sequence[int],
    model_id: str,
    folder: Path,
    prior_path: Path | None = None,
    prior_plays: float | None = None,
    level: str | None = None,
    source: str | None = None,
) -> Path:
    """Fit a model with its kicks on stored seasons and save it.

    Parameters
    ----------
    seasons
        Regular seasons to fit.
    model_id
        Its name; the files are ``<id>.npz`` and ``<id>.json``.
    folder
        Where to.
    prior_path
        A model to shrink toward when plays are few, or None.
    prior_plays
        How many plays that model counts for; `SHRINK_PLAYS` by default.
    level
        Level of play, for the manifest; by default what the source says of itself.
    source
        A source of the store; the bundled plays by default.

    Returns
    -------
    Path
        Of the arrays.

    Raises
    ------
    InvalidInputError
        If the id is no plain file name.
    DataError
        If there are too few plays, or none of a season.
    """
    from dataclasses import replace

    from lensyard.data.store import load_plays
    from lensyard.model.fit import fit_outcome
    from lensyard.model.plays import select_seasons
    from lensyard.model.recenter import recentered
    from lensyard.model.shrinkage import SHRINK_PLAYS

    if not MODEL_ID.fullmatch(model_id):
        raise InvalidInputError(
            f"the model id {model_id!r} must be letters, digits, dots, dashes and underscores"
        )
    about = _about(source, seasons)
    plays = load_plays(seasons=list(seasons), season_type="REG", source=source or BUNDLED)
    prior: OutcomeModel | None = None
    if prior_path is not None:
        prior = recentered(load(prior_path), select_seasons(plays, seasons))
    counted = SHRINK_PLAYS if prior_plays is None else prior_plays
    model = fit_outcome(
        plays,
        seasons=seasons,
        model_id=model_id,
        level=level or about.level,
        prior=prior,
        prior_plays=counted,
        data_license=about.license,
        attribution=about.attribution,
    )
    model.manifest = replace(
        model.manifest,
        source=source or BUNDLED,
        prior_plays=0.0 if prior is None else counted,
        note=_note(model.manifest.plays, model.manifest.prior, counted),
    )
    kicks = _fit_kicks(plays, model, prior_path=prior_path, prior_plays=counted)
    return save(model, folder, kicks=kicks)


@dataclass(frozen=True, slots=True)
class _About:
    """What a source says of itself."""

    level: str
    license: str
    attribution: str


def _about(source: str | None, seasons: Sequence[int]) -> _About:
    """Return level, license and attribution of a source."""
    if source in (None, BUNDLED):
        from lensyard.data.bundled import provenance

        bundled = provenance()
        return _About("professional", bundled.license, bundled.attribution)
    from lensyard.data.store import shared_store

    entries = [
        entry
        for entry in shared_store().attached.catalog.entries
        if entry.source == source and entry.season in seasons
    ]

    def told(name: str) -> str:
        return "; ".join(sorted({getattr(entry, name) for entry in entries}))

    return _About(told("level"), told("license"), told("attribution"))


def _note(plays: int, prior: str, prior_plays: float) -> str:
    """Return how much a model was shrunk, in a sentence, or nothing."""
    if not prior:
        return ""
    share = prior_plays / (prior_plays + plays)
    return (
        f"Held to {prior}, its levels moved to these plays, which counts for {prior_plays:,.0f} "
        f"plays: it decides {share:.0%} of a table that every play teaches, more of rare "
        "situations."
    )


def _fit_kicks(
    plays: pd.DataFrame, model: OutcomeModel, *, prior_path: Path | None, prior_plays: float
) -> KickModel | None:
    """Return the kicks of the same plays, held to the prior's, or the prior's, or none."""
    from lensyard.model.artifact import load_kicks
    from lensyard.model.kicks import fit_kicks
    from lensyard.model.shrinkage import blend_kicks

    try:
        prior = None if prior_path is None else load_kicks(prior_path)
    except ModelError:
        prior = None
    try:
        fitted = fit_kicks(plays, seasons=model.manifest.seasons)
    except ModelError:
        return prior  # too few kicks of some kind
    if prior is None:
        return fitted
    return blend_kicks(fitted, prior, plays=model.manifest.plays, prior_plays=prior_plays)


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
        "model": {"id": manifest.model_id, **asdict(manifest)},
        "has_kicks": _has_kicks(path),
        "size_bytes": size_bytes(path),
        "cautions": [LEVEL_CAUTION] if manifest.level in ("professional", "pro") else [],
    }


def _has_kicks(path: Path) -> bool:
    from lensyard.model.artifact import load_kicks

    try:
        load_kicks(path)
    except ModelError:
        return False
    return True
