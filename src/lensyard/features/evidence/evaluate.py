"""Evaluations: the model beside baselines on a season that none of them has seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import numpy as np

from lensyard.errors import DataError
from lensyard.model.context import SCHEMA_VERSION

if TYPE_CHECKING:
    from lensyard.model.evaluation.evaluate import Evaluation
    from lensyard.model.outcome import OutcomeModel

GAP_SEASONS = 2
"""By default the last fitted season lies so many before the scored one.

The season between was used to choose the form of the model, so a fit without it shows what the
choices are worth.
"""
CAUTIONS = (
    "One season is one draw: its own drift moves every figure by more than the intervals of its "
    "games show.",
)


def default_training(season: int) -> tuple[int, ...]:
    """Return the stored regular seasons up to `GAP_SEASONS` before a season.

    Raises
    ------
    DataError
        If there are none.
    """
    from lensyard.plays.store import load_plays

    stored = load_plays(columns=["season"], season_type="REG")["season"].unique()
    training = tuple(sorted(int(s) for s in stored if s <= season - GAP_SEASONS))
    if not training:
        raise DataError(
            f"no stored season is at least {GAP_SEASONS} before {season}; name seasons with "
            "--train, or import earlier ones"
        )
    return training


def evaluate_season(
    *,
    season: int,
    train_seasons: Sequence[int] | None = None,
    models: Sequence[str] | None = None,
    draws: int = 200,
) -> Evaluation:
    """Fit and score the model and baselines on stored plays.

    Parameters
    ----------
    season
        The season that is scored.
    train_seasons
        What is fitted; by default `default_training`.
    models
        Which models; by default all.
    draws
        How often games are drawn again for the intervals.

    Raises
    ------
    InvalidInputError
        If a training season is not before the scored one, or a model is unknown.
    DataError
        If a season has no plays.
    """
    from lensyard.model.evaluation.evaluate import MODELS, check_request, evaluate
    from lensyard.model.plays import COLUMNS
    from lensyard.plays.store import load_plays

    chosen = default_training(season) if train_seasons is None else tuple(train_seasons)
    wanted = MODELS if models is None else tuple(models)
    check_request(season=season, train_seasons=chosen, models=wanted)
    return evaluate(
        load_plays(columns=list(COLUMNS), seasons=[*chosen, season], season_type="REG"),
        season=season,
        train_seasons=chosen,
        models=wanted,
        artifact_bytes=saved_bytes,
        draws=draws,
    )


def saved_bytes(model: OutcomeModel) -> int:
    """Return the size of a model's two files. [bytes]"""
    from lensyard.model.artifact import save, size_bytes

    with TemporaryDirectory() as folder:
        return size_bytes(save(model, Path(folder)))


def evaluation_document(result: Evaluation) -> dict[str, Any]:
    """Return an evaluation as the document of ``lensyard evidence evaluate --json``."""
    from lensyard.model.evaluation.evaluate import CLIPPING, OWN

    document = {
        "schema_version": SCHEMA_VERSION,
        "season": result.season,
        "train_seasons": list(result.train_seasons),
        "plays": result.plays,
        "games": result.games,
        "clipping": CLIPPING,
        "models": [asdict(scores) for scores in result.models],
        "zones": [asdict(zone) | {"agrees": zone.agrees} for zone in result.zones],
        "checks": [_check(asdict(check)) for check in result.checks],
        "model": {
            "id": OWN,
            "seasons": list(result.train_seasons),
            "plays": result.train_plays,
            "data_sha256": result.data_sha256,
        },
        "cautions": list(CAUTIONS),
    }
    return {key: _plain(value) for key, value in document.items()}


def _check(check: dict[str, Any]) -> dict[str, Any]:
    """Return a calibration check with its curve as a list of groups of plays."""
    curve = check.pop("curve")
    groups = zip(*(curve[name] for name in curve), strict=True)
    return check | {"groups": [dict(zip(curve, group, strict=True)) for group in groups]}


def _plain(value: Any) -> Any:
    """Return a value as JSON has it; a number that is none becomes null."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return float(value) if np.isfinite(value) else None
    return value
