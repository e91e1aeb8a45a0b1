"""What to carry: kits compared by what the plan brings home with each over a season.

Every kit gets its own plan, and the same games are played again with all of them, so differences
are paired game by game.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lensyard.cache import cached
from lensyard.domain.assignment import Assignment
from lensyard.domain.kit import Kit, parse_kit
from lensyard.domain.venue import Venue
from lensyard.domain.zones import Zone, zone_indices
from lensyard.errors import InvalidInputError
from lensyard.features.game_plan.compute import light_sentences
from lensyard.model.context import SCHEMA_VERSION, Context
from lensyard.model.replay import Replay
from lensyard.planner.plans import PlanRequest
from lensyard.planner.problem import usual_walking
from lensyard.planner.season import (
    EvaluationSample,
    PlayedSeason,
    Progress,
    figures,
    play_season,
    report_season,
    silent,
)
from lensyard.planner.solve import Walking
from lensyard.stats import bootstrap_games, interval_95
from lensyard.sun.cautions import DEFERRAL, cautions_for
from lensyard.sun.exposure import USUAL_MAX_ISO

FloatArray = NDArray[np.float64]

GEAR_VERSION = 2
MOST_KITS = 8
# What one asks oneself about next when only one kit is named (common practice): a short lens for
# the end zone, the long primes, and a converter on the longest lens.
USUAL_NEXT = ("24-70", "300", "400")
USUAL_CONVERTER = 1.4


@dataclass(frozen=True, slots=True)
class KitZone:
    """What a kit brings in one zone of the field, a game."""

    zone: str
    plays_per_game: float
    usable_per_game: float
    p_usable: float
    value_per_game: float
    value_share: float


@dataclass(frozen=True, slots=True)
class KitFigures:
    """What a kit brings home with its own plan.

    Attributes
    ----------
    kit
        In words.
    reach_yd
        Of the longest lens. [yd]
    coverage_gaps_yd
        Distances within reach that no lens covers, as (from, to). [yd]
    gap_plays_per_game
        Plays that ended in a hole, seen from where the plan stood.
    changes_lenses
        Whether there are fewer bodies than lenses.
    usable_per_game, p_usable
        Usable plays.
    value_per_game, value_share
        In the assignment's weights.
    p_usable_touchdown
        Of touchdowns.
    walk_yd_per_game
        Walked. [yd]
    zones
        By zone.
    usable_by_game, value_by_game
        For each game of the season.
    """

    kit: str
    reach_yd: float
    coverage_gaps_yd: tuple[tuple[float, float], ...]
    gap_plays_per_game: float
    changes_lenses: bool
    usable_per_game: float
    p_usable: float
    value_per_game: float
    value_share: float
    p_usable_touchdown: float
    walk_yd_per_game: float
    zones: tuple[KitZone, ...]
    usable_by_game: tuple[float, ...]
    value_by_game: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class KitGain:
    """What a kit brings over the first one, a game, with 95 % intervals (the same games drawn)."""

    usable_per_game: float
    usable_low: float
    usable_high: float
    value_per_game: float
    value_low: float
    value_high: float


@dataclass(frozen=True, slots=True)
class GearReport:
    """Kits side by side.

    Attributes
    ----------
    venue, assignment
        For people.
    kits, gains, light
        One each a kit, in the order asked for; the first gain is none, and ``light`` says what the
        venue's lamps do not allow it.
    evaluation_sample, cautions, model
        As in every answer.
    """

    venue: str
    assignment: str
    kits: tuple[KitFigures, ...]
    gains: tuple[KitGain, ...]
    light: tuple[tuple[str, ...], ...]
    evaluation_sample: EvaluationSample
    cautions: tuple[str, ...]
    model: dict[str, object]

    @property
    def best(self) -> int:
        """The kit that brings the most value; the first among equals."""
        return int(np.round([kit.value_share for kit in self.kits], 6).argmax())


def kits_from(kits: Sequence[str], adds: Sequence[str] = ()) -> tuple[Kit, ...]:
    """Return the kits to compare.

    Parameters
    ----------
    kits
        Texts for `parse_kit`. One alone is compared with what one usually thinks of next.
    adds
        Lenses to add to the first kit, one at a time, on one more body each.

    Raises
    ------
    InvalidInputError
        If a text is no kit, or there are more than `MOST_KITS`.
    """
    found = [parse_kit(text) for text in kits]
    if not found:
        raise InvalidInputError('name at least one kit: --kit "70-200 + 400"')
    wanted = [with_lens(found[0], parse_kit(text)) for text in adds]
    if len(found) == 1 and not adds:
        wanted = [with_lens(found[0], parse_kit(text)) for text in USUAL_NEXT]
        wanted.append(with_converter(found[0]))
    seen: dict[object, Kit] = {}
    for kit in (*found, *wanted):
        seen.setdefault((kit.mounted, kit.bodies), kit)
    if len(seen) > MOST_KITS:
        raise InvalidInputError(f"at most {MOST_KITS} kits are compared at once; got {len(seen)}")
    return tuple(seen.values())


def with_lens(kit: Kit, more: Kit) -> Kit:
    """Return a kit with one more lens (or several) on bodies of their own; not one it has."""
    new = tuple(m for m in more.mounted if m not in kit.mounted)
    return Kit(kit.mounted + new, kit.bodies + len(new), kit.name)


def with_converter(kit: Kit) -> Kit:
    """Return a kit with the usual converter on its longest lens, if that has none."""
    longest = max(range(len(kit.mounted)), key=lambda i: kit.mounted[i].reach_yd)
    if kit.mounted[longest].converter != 1.0:
        return kit
    mounted = tuple(
        replace(m, converter=USUAL_CONVERTER) if i == longest else m
        for i, m in enumerate(kit.mounted)
    )
    return replace(kit, mounted=mounted)


def gear_report(
    context: Context,
    kits: Iterable[Kit],
    *,
    venue: Venue,
    assignment: Assignment,
    limits: Walking | None = None,
    max_iso: float = USUAL_MAX_ISO,
    progress: Progress = silent,
) -> GearReport:
    """Return what each kit brings home with a plan of its own.

    Parameters
    ----------
    context
        The model.
    kits
        What to compare, in this order.
    venue, assignment
        Where, and what counts.
    limits
        Walking limits; the price is the usual one of each kit.
    max_iso
        The highest ISO that the photographer accepts.
    progress
        Is told what takes a while.
    """
    season, _ = report_season(context)
    found, light, evaluation_sample = [], [], None
    for kit in kits:
        walks = usual_walking(kit, assignment)
        if limits is not None:
            walks = replace(limits, price_per_yd=walks.price_per_yd)
        request = PlanRequest(kit, venue, assignment, walks=walks)
        row, evaluation_sample = _kept_figures(context, request, season=season, progress=progress)
        found.append(row)
        light.append(light_sentences(kit, venue, max_iso=max_iso))
    if evaluation_sample is None:
        raise InvalidInputError('name at least one kit: --kit "70-200 + 400"')
    return GearReport(
        venue=venue.name,
        assignment=assignment.name,
        kits=tuple(found),
        gains=gains_over_first(found),
        light=tuple(light),
        evaluation_sample=evaluation_sample,
        cautions=tuple(c.sentence for c in cautions_for(venue)),
        model=context.model_facts(),
    )


def _kept_figures(
    context: Context, request: PlanRequest, *, season: int, progress: Progress
) -> tuple[KitFigures, EvaluationSample]:
    key = {
        "version": GEAR_VERSION,
        "what": "gear",
        "plan": request.key(context.model.manifest.arrays_sha256),
        "data": context.model.manifest.data_sha256,
        "season": season,
    }

    def compute() -> dict[str, Any]:
        progress(f"a plan for {request.kit.text}")
        played = play_season(context, request, season=season)
        return {"kit": asdict(kit_figures(played)), "evidence": asdict(played.evaluation_sample)}

    found = cached(hashlib.sha256(json.dumps(key, sort_keys=True).encode()).hexdigest(), compute)
    kit = dict(found["kit"])
    kit["kit"] = request.kit.text
    kit["holes_yd"] = tuple((float(low), float(high)) for low, high in kit["holes_yd"])
    kit["zones"] = tuple(KitZone(**zone) for zone in kit["zones"])
    for name in ("usable_by_game", "value_by_game"):
        kit[name] = tuple(kit[name])
    return KitFigures(**kit), EvaluationSample(**found["evidence"])


def kit_figures(played: PlayedSeason) -> KitFigures:
    """Return what a kit's plan brought home over a season."""
    kit, replay, season_data = played.request.kit, played.replay, played.season_data
    result = figures(played, played.plan, name="plan")
    hit = played.hit(played.plan)
    value = hit * season_data.value
    return KitFigures(
        kit=kit.text,
        reach_yd=kit.reach_yd,
        coverage_gaps_yd=kit.coverage_gaps_yd(),
        gap_plays_per_game=_in_holes(played),
        changes_lenses=kit.bodies < len(kit.mounted),
        usable_per_game=result.usable_per_game,
        p_usable=result.p_usable,
        value_per_game=float(value.sum() / replay.games),
        value_share=result.value_share,
        p_usable_touchdown=result.p_usable_touchdown,
        walk_yd_per_game=result.walk_yd_per_game,
        zones=_zones(played),
        usable_by_game=_by_game(replay, hit.astype(np.float64)),
        value_by_game=_by_game(replay, value),
    )


def _by_game(replay: Replay, amount: FloatArray) -> tuple[float, ...]:
    totals = np.bincount(replay.game, weights=amount, minlength=replay.games)
    return tuple(float(total) for total in totals)


def _in_holes(played: PlayedSeason) -> float:
    """Plays a game that ended in a hole of the kit, seen from where the plan stood."""
    replay, scorer = played.replay, played.solved.scorers[0]
    x, y = scorer.xy_yd
    at = played.plan.station_index
    distance = np.hypot(x[at] - replay.end_x_yd, y[at] - replay.end_y_yd)
    inside = np.zeros(len(replay), dtype=bool)
    for low, high in played.request.kit.coverage_gaps_yd():
        inside |= (distance >= low) & (distance < high)
    return float((inside & played.season_data.counted).sum() / replay.games)


def _zones(played: PlayedSeason) -> tuple[KitZone, ...]:
    replay, season_data = played.replay, played.season_data
    zone = zone_indices(replay.batch.yardline_100)
    hit = played.hit(played.plan)
    found = []
    for i, name in enumerate(Zone):
        some = (zone == i) & season_data.counted
        if not some.any():
            continue
        available = season_data.value[some]
        value = float((hit[some] * available).sum())
        found.append(
            KitZone(
                zone=name.value,
                plays_per_game=float(some.sum() / replay.games),
                usable_per_game=float(hit[some].sum() / replay.games),
                p_usable=float(hit[some].mean()),
                value_per_game=value / replay.games,
                value_share=value / max(float(available.sum()), 1e-9),
            )
        )
    return tuple(found)


def gains_over_first(kits: Sequence[KitFigures], *, seed: int = 7) -> tuple[KitGain, ...]:
    """Return what each kit brings over the first, with intervals from drawing games."""
    first = kits[0]
    games = len(first.usable_by_game)
    draws = bootstrap_games(games, seed=seed) / games
    found = []
    for kit in kits:
        numbers: list[float] = []
        for name in ("usable_by_game", "value_by_game"):
            difference = np.array(getattr(kit, name)) - np.array(getattr(first, name))
            drawn = draws @ difference
            numbers += [
                float(difference.mean()),
                *interval_95(drawn),
            ]
        found.append(KitGain(*numbers))
    return tuple(found)


def gear_document(report: GearReport) -> dict[str, Any]:
    """Return the comparison as one JSON document (the contract of ``lensyard gear --json``)."""
    kits = []
    for kit, gain, light in zip(report.kits, report.gains, report.light, strict=True):
        row = asdict(kit)
        for name in ("usable_by_game", "value_by_game"):
            row.pop(name)
        kits.append({**row, "over_first": asdict(gain), "light": list(light)})
    return {
        "schema_version": SCHEMA_VERSION,
        "venue": report.venue,
        "assignment": report.assignment,
        "kits": kits,
        "best": report.best,
        "evidence": asdict(report.evaluation_sample),
        "model": report.model,
        "cautions": list(report.cautions) or [DEFERRAL],
    }
