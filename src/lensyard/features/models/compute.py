"""Fitting a model with its kicks, and what a saved model says about itself."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import InvalidInputError, ModelError
from lensyard.model.artifact import load, load_kicks, load_manifest, save, size_bytes
from lensyard.plays.importing.catalog import BUNDLED

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.kicks import KickModel
    from lensyard.model.outcome import OutcomeModel

MODEL_ID: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
LEVEL_CAUTION: Final = (
    "Fitted on professional games. High-school and college games run more, throw less and kick "
    "differently: take its odds as a start and fit your own level when you have its plays."
)


def fit_model(
    seasons: Sequence[int],
    *,
    model_id: str,
    folder: Path,
    source: str | None = None,
    prior_path: Path | None = None,
    prior_plays: float | None = None,
    level: str | None = None,
    plays: pd.DataFrame | None = None,
) -> Path:
    """Fit a model on regular seasons with its kicks and save it; return the path of the arrays.

    `model_id`, `folder`: The files are ``<folder>/<id>.npz`` and ``<id>.json``.
    `source`: An imported one; the bundled plays by default.
    `prior_path`, `prior_plays`: A model to shrink toward when plays are few, or None, and how many
        plays it counts for; `SHRINK_PLAYS` by default.
    `level`: Level of play, for the manifest; by default what the source says of itself.
    `plays`: Canonical plays, kicks included; the stored ones of the source by default.

    Raises `InvalidInputError` if the id is no plain file name; `UnknownNameError` if there is no
    such source; `DataError` if there are too few plays, or none of a season.
    """
    from lensyard.model.fitting.fit import fit_outcome
    from lensyard.model.fitting.prior import SHRINK_PLAYS, recentered
    from lensyard.model.plays import select_seasons
    from lensyard.plays.store import load_plays, shared_store

    require_model_id(model_id)
    name = source or BUNDLED
    if plays is None:
        plays = load_plays(seasons=list(seasons), season_type="REG", source=name)
    credited = shared_store().attributions(seasons, source=name)
    prior: OutcomeModel | None = None
    if prior_path is not None:
        prior = recentered(load(prior_path), select_seasons(plays, seasons))
    counted = SHRINK_PLAYS if prior_plays is None else prior_plays
    levels = ("professional" if name == BUNDLED else each.level for each in credited)
    model = fit_outcome(
        plays,
        seasons=seasons,
        model_id=model_id,
        level=level or _joined(levels),
        prior=prior,
        prior_plays=counted,
        data_license=_joined(each.license for each in credited),
        attribution=_joined(each.text for each in credited),
    )
    model.manifest = replace(
        model.manifest,
        source=name,
        prior_plays=0.0 if prior is None else counted,
        note=_note(model.manifest.plays, model.manifest.prior, counted),
    )
    kicks = _fit_kicks(plays, model, prior_path=prior_path, prior_plays=counted)
    return save(model, folder, kicks=kicks)


def _joined(texts: Iterable[str]) -> str:
    return "; ".join(sorted(set(texts)))


def require_model_id(model_id: str) -> None:
    """Raise `InvalidInputError` if an id is no plain file name."""
    if not MODEL_ID.fullmatch(model_id):
        raise InvalidInputError(
            f"the model id {model_id!r} must be letters, digits, dots, dashes and underscores"
        )


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
    from lensyard.model.fitting.kicks import fit_kicks
    from lensyard.model.fitting.prior import blend_kicks

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


def model_info(path: Path) -> dict[str, Any]:
    """Return what a saved model says about itself; a damaged file is refused, not described."""
    manifest = load_manifest(path)
    load(path)
    try:
        load_kicks(path)
        has_kicks = True
    except ModelError:
        has_kicks = False
    return {
        "model": {"id": manifest.model_id, **asdict(manifest)},
        "has_kicks": has_kicks,
        "size_bytes": size_bytes(path),
        "cautions": [LEVEL_CAUTION] if manifest.level in ("professional", "pro") else [],
    }
