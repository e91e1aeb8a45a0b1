"""The evidence: what was measured of the model in use, kept in a file beside it.

`build_evidence` scores the model on a season that it has not seen, beside baselines, and plays that
season again for three reference kits. It takes minutes; the dashboard only reads what was kept
(`read_evidence`). The file names the model and the data that it was measured with.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lensyard.domain.kit import kit_of
from lensyard.errors import DataError
from lensyard.model.context import SCHEMA_VERSION, Context

EVIDENCE_FORMAT = "lensyard-evidence"
SUFFIX = ".evidence.json"
MOST_BYTES = 5_000_000
REFERENCE_KITS: tuple[tuple[str, ...], ...] = (
    ("70-200",),
    ("70-200", "300"),
    ("70-200", "400"),
)
"""Reach 20, 30 and 40 yd on full frame."""
MODELS = ("lensyard", "marginal", "cells", "histgb", "lightgbm")


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was measured.

    Attributes
    ----------
    season
        The season that was scored and played again.
    model_id, arrays_sha256
        The model it was measured with.
    evaluation
        As `lensyard.features.evidence.evaluate.evaluation_document`.
    backtests
        By reference kit, as `lensyard.planner.backtest.backtest_document`.
    provenance
        Where the plays come from.
    fresh
        Whether it was measured with the model in use.
    """

    season: int
    model_id: str
    arrays_sha256: str
    evaluation: dict[str, Any]
    backtests: tuple[dict[str, Any], ...]
    provenance: dict[str, Any]
    fresh: bool

    @property
    def kits(self) -> tuple[str, ...]:
        """The reference kits, as people write them."""
        return tuple(str(document["kit"]) for document in self.backtests)


def evidence_path(model_id: str, *, folder: Path | None = None) -> Path:
    """Return where a model's evidence is kept: beside the model."""
    from lensyard.config import models_dir

    return (models_dir() if folder is None else folder) / f"{model_id}{SUFFIX}"


def build_evidence(
    context: Context,
    *,
    season: int | None = None,
    kits: Sequence[Sequence[str]] = REFERENCE_KITS,
    models: Sequence[str] = MODELS,
    draws: int = 200,
    progress: Callable[[str], None] = lambda _: None,
) -> dict[str, Any]:
    """Measure the model in use, and return the document to keep.

    Parameters
    ----------
    context
        The model.
    season
        The season to score and to play again; by default the one that the model was made for.
    kits
        Reference kits, as lenses.
    models
        The model and the baselines that are scored.
    draws
        How often games are drawn again for the intervals of the scores.
    progress
        Is told what is being done.

    Raises
    ------
    InvalidInputError
        If the model was fitted on that season.
    DataError
        If its plays are missing.
    """
    from dataclasses import asdict

    from lensyard.features.evidence.evaluate import evaluate_season, evaluation_document
    from lensyard.planner.backtest import backtest_document, backtest_season
    from lensyard.planner.plans import PlanRequest
    from lensyard.plays.bundled import provenance

    manifest = context.model.manifest
    chosen = season or manifest.season_for or max(manifest.seasons) + 1
    backtests = []
    for lenses in kits:
        kit = kit_of(list(lenses))
        progress(f"playing season {chosen} again with {kit.text}")
        result = backtest_season(context, PlanRequest(kit), season=chosen)
        backtests.append(backtest_document(result))
    progress(f"scoring the model and {len(models) - 1} baselines on season {chosen}")
    evaluation = evaluate_season(
        season=chosen, train_seasons=manifest.seasons, models=models, draws=draws
    )
    facts = asdict(provenance())
    kept = ("source", "source_version", "license", "attribution", "seasons", "plays_sha256")
    return {
        "format": EVIDENCE_FORMAT,
        "schema_version": SCHEMA_VERSION,
        "season": chosen,
        "model": {**context.model_facts(), "arrays_sha256": manifest.arrays_sha256},
        "evaluation": evaluation_document(evaluation),
        "backtests": backtests,
        "provenance": {name: facts[name] for name in kept if name in facts},
        "cautions": [],
    }


def write_evidence(document: dict[str, Any], path: Path) -> None:
    """Write a document whole or not at all.

    Raises
    ------
    StoreError
        If the disk refuses.
    """
    from lensyard.files import write_atomically

    path.parent.mkdir(parents=True, exist_ok=True)
    write_atomically(path, json.dumps(document, indent=1, allow_nan=False) + "\n")


def read_evidence(context: Context, *, path: Path | None = None) -> Evidence:
    """Return the evidence kept for the model in use.

    Raises
    ------
    DataError
        If there is none, or the file is damaged.
    """
    manifest = context.model.manifest
    where = evidence_path(manifest.model_id) if path is None else path
    mend = "measure it with `lensyard evidence build`"
    try:
        text = where.read_bytes()[: MOST_BYTES + 1].decode("utf-8")
    except FileNotFoundError:
        raise DataError(
            f"nothing measured is kept for the model {manifest.model_id}; {mend}"
        ) from None
    except (OSError, UnicodeDecodeError) as error:
        raise DataError(f"cannot read the evidence {where.name} ({error}); {mend}") from error
    try:
        document = json.loads(text)
        if document["format"] != EVIDENCE_FORMAT or document["schema_version"] > SCHEMA_VERSION:
            raise ValueError("another format or version")
        return Evidence(
            season=int(document["season"]),
            model_id=str(document["model"]["id"]),
            arrays_sha256=str(document["model"]["arrays_sha256"]),
            evaluation=dict(document["evaluation"]),
            backtests=tuple(document["backtests"]),
            provenance=dict(document["provenance"]),
            fresh=document["model"]["arrays_sha256"] == manifest.arrays_sha256,
        )
    except (ValueError, KeyError, TypeError) as error:
        raise DataError(f"the evidence {where.name} is damaged ({error}); {mend}") from error
