"""The evidence that is kept beside a model: measured by one command, read by pages and commands.

`build_evidence` scores the model in use on a season that it has not seen, beside baselines, and
plays that season again for three reference kits: plan, policies, published advice, and the plan's
lead under other assumptions. It takes minutes; whoever shows it only reads the file
(`read_evidence`), which names model and plays by their hashes.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.config import models_dir
from lensyard.domain.kit import kit_of
from lensyard.errors import DataError
from lensyard.features.evidence.advice import advice_table
from lensyard.features.evidence.compute import saved_bytes
from lensyard.features.evidence.sensitivity import coarse, sensitivity
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import backtest_document, backtest_season
from lensyard.planner.season_data import stored_season
from lensyard.plays.bundled import provenance
from lensyard.render.text import SCHEMA_VERSION, document

if TYPE_CHECKING:
    from lensyard.model.context import Context

EVIDENCE_FORMAT: Final = "lensyard-evidence"
SUFFIX: Final = ".evidence.json"
MOST_BYTES: Final = 5_000_000
PARTS: Final = ("backtests", "advice", "sensitivity", "evaluation")
REFERENCE_KITS: Final = (("70-200",), ("70-200", "300"), ("70-200", "400"))
"""Reach 20, 30 and 40 yd on full frame."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was measured of a model on one season.

    The parts are the documents of the commands of these names, all but ``evaluation`` one a
    reference kit; ``fresh`` says whether it was the model in use, ``stale`` which of advice and
    sensitivity were measured with another build of it.
    """

    season: int
    model_id: str
    arrays_sha256: str
    evaluation: dict[str, Any]
    backtests: tuple[dict[str, Any], ...]
    advice: tuple[dict[str, Any], ...]
    sensitivity: tuple[dict[str, Any], ...]
    provenance: dict[str, Any]
    fresh: bool
    stale: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def kits(self) -> tuple[str, ...]:
        """The reference kits, as people write them."""
        return tuple(str(found["kit"]) for found in self.backtests)


def evidence_path(context: Context) -> Path:
    """Return where a model's evidence is kept: beside the model."""
    folder = models_dir() if context.path is None else context.path.parent
    return folder / f"{context.model.model_id}{SUFFIX}"


def build_evidence(
    context: Context,
    *,
    season: int,
    parts: Sequence[str] = PARTS,
    kept: Mapping[str, Any] | None = None,
    progress: Callable[[str], None],
) -> dict[str, Any]:
    """Measure the model in use, and return the document to keep.

    ``parts``: which of `PARTS`; the others are taken from ``kept``, an earlier document of the same
    plays and season: each names the build of the model that it was measured with. Raises as
    `backtest_season` and `lensyard.model.evaluation.evaluate.evaluate` do.
    """
    facts = asdict(provenance())
    names = ("source", "source_version", "license", "attribution", "seasons", "sha256")
    head = {
        "format": EVIDENCE_FORMAT,
        "schema_version": SCHEMA_VERSION,
        "season": season,
        "model": context.model_facts(),
        "provenance": json.loads(json.dumps({name: facts[name] for name in names})),
    }
    earlier = dict(kept or {})
    same = all(earlier.get(name) == head[name] for name in ("season", "provenance"))
    found: dict[str, Any] = {p: earlier[p] for p in PARTS if same and p in earlier}
    kits = [kit_of(list(lenses)) for lenses in REFERENCE_KITS]
    plays = stored_season(context, season)
    for part in PARTS:
        if part not in parts:
            continue
        progress(f"{part} of season {season}")
        if part == "evaluation":
            found[part] = _evaluation(context, season)
            continue
        found[part] = []
        for kit in kits:
            progress(kit.text)
            request = PlanRequest(kit)
            measured = (
                backtest_document(backtest_season(context, request, season=season))
                if part == "backtests"
                else document(advice_table(context, request, plays))
                if part == "advice"
                else document(sensitivity(context, coarse(request), plays, progress=progress))
            )
            found[part].append(measured)
    return {**head, **found, "cautions": []}


def _evaluation(context: Context, season: int) -> dict[str, Any]:
    from lensyard.model.evaluation.evaluate import MODELS, evaluate
    from lensyard.plays.store import load_plays

    seasons = context.model.manifest.seasons
    return document(
        evaluate(
            load_plays(seasons=[*seasons, season], season_type="REG"),
            season=season,
            train_seasons=seasons,
            models=MODELS,
            artifact_bytes=saved_bytes,
        )
    )


def kept_document(context: Context) -> dict[str, Any] | None:
    """Return the document that is kept for a model, None if there is none that can be read."""
    try:
        found = json.loads(evidence_path(context).read_bytes()[: MOST_BYTES + 1])
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) else None


def kept_part(
    context: Context, part: str, request: PlanRequest, *, season: int
) -> tuple[dict[str, Any] | None, bool]:
    """Return what is kept of a request and season, and whether the model in use was measured.

    None where nothing is kept of this kit, venue, assignment and walking.
    """
    try:
        some = getattr(read_evidence(context), part)
    except DataError:
        return None, False
    for found in some:
        measured = str(found["model"]["arrays_sha256"])
        if (found["key"], found["season"]) == (request.key(measured), season):
            return found, measured == context.model.manifest.arrays_sha256
    return None, False


def read_evidence(context: Context, *, path: Path | None = None) -> Evidence:
    """Return the evidence kept for the model in use.

    Raises `DataError` if there is none, or the file is damaged.
    """
    manifest = context.model.manifest
    where = evidence_path(context) if path is None else path
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
            advice=tuple(found.get("advice", ())),
            sensitivity=tuple(found.get("sensitivity", ())),
            provenance=dict(found["provenance"]),
            fresh=all(
                one["model"]["arrays_sha256"] == manifest.arrays_sha256
                for one in (found, *found["backtests"])
            ),
            stale=tuple(
                part
                for part in ("advice", "sensitivity")
                if any(
                    one["model"]["arrays_sha256"] != manifest.arrays_sha256
                    for one in found.get(part, ())
                )
            ),
        )
    except (ValueError, KeyError, TypeError) as error:
        raise DataError(f"the evidence {where.name} is damaged ({error}); {mend}") from error
