"""The evidence that is kept: what was measured of the model in use, in a file beside it.

`build_evidence` scores the model on a season that it has not seen, beside baselines, and plays that
season again for three reference kits. It takes minutes; page and command only read what was kept
(`read_evidence`). The file names the model and the data that it was measured with.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.config import models_dir
from lensyard.domain.kit import kit_of
from lensyard.errors import DataError
from lensyard.features.evidence.compute import evaluate_season
from lensyard.files import write_atomically
from lensyard.model.evaluation.evaluate import MODELS
from lensyard.planner.backtest import backtest_document, backtest_season
from lensyard.planner.plans import PlanRequest
from lensyard.plays.bundled import provenance
from lensyard.render.text import SCHEMA_VERSION, document

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.context import Context

EVIDENCE_FORMAT = "lensyard-evidence"
SUFFIX = ".evidence.json"
MOST_BYTES = 5_000_000
REFERENCE_KITS: tuple[tuple[str, ...], ...] = (
    ("70-200",),
    ("70-200", "300"),
    ("70-200", "400"),
)
"""Reach 20, 30 and 40 yd on full frame."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was measured of a model on one season.

    ``evaluation`` and ``backtests`` (one a reference kit) are the documents of ``lensyard evidence
    evaluate`` and ``backtest``; ``fresh`` says whether it was the model in use.
    """

    season: int
    model_id: str
    arrays_sha256: str
    evaluation: dict[str, Any]
    backtests: tuple[dict[str, Any], ...]
    provenance: dict[str, Any]
    fresh: bool
    cautions: tuple[str, ...] = ()

    @property
    def kits(self) -> tuple[str, ...]:
        """The reference kits, as people write them."""
        return tuple(str(found["kit"]) for found in self.backtests)


def evidence_path(model_id: str) -> Path:
    """Return where a model's evidence is kept: beside the model."""
    return models_dir() / f"{model_id}{SUFFIX}"


def season_of(context: Context, season: int | None = None) -> int:
    """Return the season to measure on: by default the one that the model was made for."""
    manifest = context.model.manifest
    return season or manifest.season_for or max(manifest.seasons) + 1


def build_evidence(
    context: Context,
    plays: pd.DataFrame,
    *,
    season: int,
    progress: Callable[[str], None] = lambda _: None,
) -> dict[str, Any]:
    """Measure the model in use, and return the document to keep.

    ``plays`` are the canonical plays of the season and of the model's own. Raises as
    `backtest_season` and `evaluate_season` do.
    """
    manifest = context.model.manifest
    backtests = []
    for lenses in REFERENCE_KITS:
        kit = kit_of(list(lenses))
        progress(f"playing season {season} again with {kit.text}")
        result = backtest_season(context, PlanRequest(kit), season=season)
        backtests.append(backtest_document(result))
    progress(f"scoring the model and {len(MODELS) - 1} baselines on season {season}")
    evaluation = evaluate_season(
        plays, season=season, train_seasons=manifest.seasons, models=MODELS
    )
    facts = asdict(provenance())
    names = ("source", "source_version", "license", "attribution", "seasons", "plays_sha256")
    return {
        "format": EVIDENCE_FORMAT,
        "schema_version": SCHEMA_VERSION,
        "season": season,
        "model": {**context.model_facts(), "arrays_sha256": manifest.arrays_sha256},
        "evaluation": document(evaluation),
        "backtests": backtests,
        "provenance": {name: facts[name] for name in names if name in facts},
        "cautions": [],
    }


def write_evidence(found: dict[str, Any], path: Path) -> None:
    """Write a document whole or not at all; raises `StoreError` if the disk refuses."""
    write_atomically(path, json.dumps(found, indent=1, allow_nan=False) + "\n")


def read_evidence(context: Context, *, path: Path | None = None) -> Evidence:
    """Return the evidence kept for the model in use.

    Raises `DataError` if there is none, or the file is damaged.
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
        found = json.loads(text)
        if found["format"] != EVIDENCE_FORMAT or found["schema_version"] > SCHEMA_VERSION:
            raise ValueError("another format or version")
        return Evidence(
            season=int(found["season"]),
            model_id=str(found["model"]["id"]),
            arrays_sha256=str(found["model"]["arrays_sha256"]),
            evaluation=dict(found["evaluation"]),
            backtests=tuple(found["backtests"]),
            provenance=dict(found["provenance"]),
            fresh=found["model"]["arrays_sha256"] == manifest.arrays_sha256,
        )
    except (ValueError, KeyError, TypeError) as error:
        raise DataError(f"the evidence {where.name} is damaged ({error}); {mend}") from error
