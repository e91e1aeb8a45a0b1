"""The evidence that is kept beside a model: measured by one command, read by pages and commands.

`sensitivity` says whether the plan's lead over the best published advice holds under other
assumptions. `build_evidence` scores the model in use on a season that it has not seen, beside
baselines, and plays that season again for three reference kits: plan, policies, published advice,
and the plan's lead. It takes minutes; whoever shows it only reads the file (`read_evidence`), which
names model and plays by their hashes.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lensyard.config import models_dir
from lensyard.domain.assignment import USABLE_WEIGHTS
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import PACE_YD_S
from lensyard.domain.venue import Venue, end_lines_past
from lensyard.errors import DataError, InvalidInputError
from lensyard.features.evidence.advice import advice_table, published_advice, readings_of, walked
from lensyard.features.evidence.compute import saved_bytes
from lensyard.model.context import Context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import PlayedSeason, backtest_document, backtest_season, play_season
from lensyard.planner.season_data import SeasonPlays, stored_season
from lensyard.planner.simulate import value_ratio
from lensyard.plays.bundled import provenance
from lensyard.records import Record
from lensyard.render.text import SCHEMA_VERSION, document

if TYPE_CHECKING:
    from lensyard.model.context import Context

EVIDENCE_FORMAT: Final = "lensyard-evidence"
SUFFIX: Final = ".evidence.json"
MOST_BYTES: Final = 5_000_000
PARTS: Final = ("backtests", "advice", "sensitivity", "evaluation")
REFERENCE_KITS: Final = (("70-200",), ("70-200", "300"), ("70-200", "400"))
"""Reach 20, 30 and 40 yd on full frame."""
FACING_DEG: Final = (60.0, 75.0, 90.0, 180.0)
CROP_MARGINS: Final = (1.0, 1.25, 1.5)
SETBACKS_YD: Final = (2.0, 3.0, 4.0, 5.0)
PACES_YD_S: Final = {"stroll": 1.1, "usual walk": PACE_YD_S, "brisk walk": 2.0, "jog": 2.5}
"""The same seconds at another pace (`lensyard.domain.perimeter`). [yd/s]"""
END_LINE_OPEN_YD: Final = (26.0, 18.0, 12.0, 6.0, 0.0)
STEP_YD: Final = 4.0
"""Between stations. [yd]"""


class Evidence(Record):
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


class Lead(Record):
    """The plan beside the best published advice under one assumption.

    ``over``: the plan's value over that of the best reading of the best rule: ratio, low, high. The
    advice is chosen anew under every assumption, on the season itself.
    """

    assumption: str
    level: str
    usual: bool
    plan_value_share: float
    advice_value_share: float
    advice: str
    over: tuple[float, float, float]


class Sensitivity(Record):
    """The plan's lead for one kit under every assumption in turn, the others being as usual.

    ``key`` is of the request and the model; stations lie ``step_yd`` apart. [yd]
    """

    key: str
    season: int
    kit: str
    venue: str
    assignment: str
    step_yd: float
    leads: tuple[Lead, ...]
    model: Mapping[str, object]
    cautions: tuple[str, ...] = ()


def coarse(request: PlanRequest) -> PlanRequest:
    """Return a request with stations `STEP_YD` apart: a comparison needs no finer ones."""
    return replace(request, step_yd=STEP_YD)


def sensitivity(
    context: Context,
    request: PlanRequest,
    plays: SeasonPlays,
    *,
    progress: Callable[[str], None],
) -> Sensitivity:
    """Return the plan's lead under every assumption; a plan is solved anew for each.

    Raises `InvalidInputError` if the model was fitted on the season.
    """
    if not plays.held_out:
        raise InvalidInputError(
            f"the model {context.model.model_id} was fitted on season {plays.season}; choose one "
            "that it has not seen"
        )
    varied = list(scenarios(request))
    requests = list(dict.fromkeys(other for _, _, other in varied))
    found = {}
    for i, other in enumerate(requests, start=1):
        progress(f"plan {i} of {len(requests)} for {request.kit.text} on season {plays.season}")
        found[other] = _lead(play_season(context, other, plays))
    return Sensitivity(
        key=request.key(context.model.manifest.arrays_sha256),
        season=plays.season,
        kit=request.kit.text,
        venue=request.venue.name,
        assignment=request.assignment.name,
        step_yd=request.step_yd,
        leads=tuple(
            Lead(assumption, level, other == request, *found[other])
            for assumption, level, other in varied
        ),
        model=context.model_facts(),
    )


def scenarios(request: PlanRequest) -> Iterator[tuple[str, str, PlanRequest]]:
    """Yield every assumption with its level in words and the request under it."""
    kit, venue = request.kit, request.venue
    for limit in FACING_DEG:
        words = "no limit" if limit == 180 else f"{limit:g} degrees"
        yield "Facing", words, replace(request, facing_limit_deg=limit)
    for margin in CROP_MARGINS:
        yield "Crop margin", f"{margin:g}", replace(request, kit=replace(kit, crop_margin=margin))
    for setback in SETBACKS_YD:
        moved = replace(venue, side_setback_yd=setback, end_setback_yd=setback)
        yield "Setback", f"{setback:g} yd", replace(request, venue=moved)
    for name, pace in PACES_YD_S.items():
        yield "Pace", name, _at(request, pace / PACE_YD_S)
    plain = replace(request.assignment, weights=USABLE_WEIGHTS)
    yield "Weights", "the assignment's", request
    yield "Weights", "every usable play alike", replace(request, assignment=plain)
    for open_yd in END_LINE_OPEN_YD:
        words = "all" if open_yd == END_LINE_OPEN_YD[0] else f"{open_yd:g} yd from each pylon"
        yield "End line open", words, replace(request, venue=_open(venue, open_yd))


def _at(request: PlanRequest, times: float) -> PlanRequest:
    if times == 1.0:
        return request
    usual = request.walking
    walks = replace(
        usual,
        drive_limit_yd=usual.drive_limit_yd * times,
        change_limit_yd=usual.change_limit_yd * times,
    )
    return replace(request, walks=walks)


def _open(venue: Venue, open_yd: float) -> Venue:
    closed = () if open_yd == END_LINE_OPEN_YD[0] else end_lines_past(open_yd)
    return replace(venue, closed=(*venue.closed, *closed))


def _lead(played: PlayedSeason) -> tuple[float, float, str, tuple[float, float, float]]:
    """Return the plan's share, the best advice's, its words, and the ratio with its interval."""
    data = played.season_data
    sourced = {advice.id for advice in published_advice() if advice.kind != "practice"}
    by_rule = readings_of(data, reach_yd=played.request.kit.reach_yd)
    readings = [reading for name, some in by_rule.items() if name in sourced for reading in some]
    traces = walked(data, readings)
    shares = [data.value_share(trace.station_index) for trace in traces]
    best = int(np.round(shares, 6).argmax())
    plan = data.value_share(played.plan.station_index)
    over = value_ratio(data, played.plan, traces[best])
    return plan, shares[best], readings[best].words, over
