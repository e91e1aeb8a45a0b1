"""What to carry: kits compared by what the plan brings home with each over a season.

Every kit gets its own plan, and the same games are simulated with all of them, so differences are
paired game by game. What each brings over a stored season is kept on disk: a plan a kit takes some
seconds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, field, replace
from string import ascii_uppercase
from typing import Any

import numpy as np

from lensyard.arrays import FloatArray
from lensyard.domain.assignment import Assignment
from lensyard.domain.kit import DEMO_KIT, Kit, parse_kit
from lensyard.domain.situation import Zone, zone_indices
from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError
from lensyard.features.game_plan.compute import lamps_finding, light_sentences
from lensyard.files import cached, hash_of
from lensyard.model.context import Context
from lensyard.model.plays import Replay
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import EvaluationSample, PlayedSeason, Progress, play_season, silent
from lensyard.planner.season_data import SeasonPlays, stored_season
from lensyard.planner.simulate import figures_of
from lensyard.planner.usual_walks import usual_walking
from lensyard.records import Record
from lensyard.running import beside
from lensyard.stats import bootstrap_games, interval_95
from lensyard.sun.cautions import cautions_for
from lensyard.sun.exposure import USUAL_MAX_ISO

MOST_KITS = 8
# What one asks oneself about next when only one kit is named (common practice): a short lens for
# the end zone, the long primes, and a converter on the longest lens.
USUAL_NEXT = ("24-70", "300", "400")
USUAL_CONVERTER = 1.4


class KitZone(Record):
    """What a kit brings in one zone of the field, a game."""

    zone: str
    plays_per_game: float
    usable_per_game: float
    p_usable: float
    value_per_game: float
    value_share: float


class KitFigures(Record):
    """What a kit brings home with its own plan.

    - ``reach_yd``: of the longest lens. [yd]
    - ``coverage_gaps_yd``: distances within reach that no lens covers, as (from, to). [yd]
    - ``gap_plays_per_game``: plays that ended in a coverage gap, seen from where the plan stood.
    - ``changes_lenses``: whether there are fewer bodies than lenses.
    - ``value_per_game``, ``value_share``: in the assignment's weights.
    - ``usable_by_game``, ``value_by_game``: for each game of the season.
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
    usable_by_game: tuple[float, ...] = field(metadata={"json": None})
    value_by_game: tuple[float, ...] = field(metadata={"json": None})


class KitGain(Record):
    """What a kit brings over the first one, a game, with 95 % intervals (the same games drawn)."""

    usable_per_game: float
    usable_low: float
    usable_high: float
    value_per_game: float
    value_low: float
    value_high: float


class ComparedKit(Record):
    """One of the kits: what it brings, what more than the first, what lamps do not allow it.

    ``too_slow``: lenses that cannot freeze action under the venue's lamps; ``none_freezes``: all.
    """

    letter: str = field(metadata={"json": None})
    figures: KitFigures = field(metadata={"json": "*"})
    over_first: KitGain
    light: tuple[str, ...]
    too_slow: tuple[str, ...] = ()
    none_freezes: bool = False


class GearComparison(Record):
    """Kits side by side, in the order asked for.

    ``best`` is the index of the kit that brings the most value; the first among equals.
    """

    venue: str
    assignment: str
    kits: tuple[ComparedKit, ...]
    best: int
    sample: EvaluationSample = field(metadata={"json": "evidence"})
    model: Mapping[str, object]
    cautions: tuple[str, ...]


def kits_from(
    kits: Sequence[str], adds: Sequence[str] = (), *, own: Kit = DEMO_KIT
) -> tuple[Kit, ...]:
    """Return the kits to compare, from texts for `parse_kit`.

    One alone is compared with what one usually thinks of next. ``adds`` are lenses to add to the
    first kit, one at a time, on one more body each. All lose their quality with distance as
    ``own`` does.

    Raises `InvalidInputError` if a text is no kit, or there are more than `MOST_KITS`.
    """
    found = [own.falling_alike(parse_kit(text)) for text in kits]
    if not found:
        raise InvalidInputError('name at least one kit: --kit "70-200 + 400"')
    wanted = [with_lens(found[0], parse_kit(text)) for text in adds]
    if len(found) == 1 and not adds:
        wanted = [with_lens(found[0], parse_kit(text)) for text in USUAL_NEXT]
        wanted.append(with_converter(found[0]))
    seen: dict[object, Kit] = {}
    for kit in (*found, *wanted):
        seen.setdefault(kit.optics, kit)
    if len(seen) > MOST_KITS:
        raise InvalidInputError(f"at most {MOST_KITS} kits are compared at once; got {len(seen)}")
    return tuple(seen.values())


def with_lens(kit: Kit, more: Kit) -> Kit:
    """Return a kit with one more lens (or several) on bodies of their own; not one it has."""
    new = tuple(m for m in more.mounted if m not in kit.mounted)
    return replace(kit, mounted=kit.mounted + new, bodies=kit.bodies + len(new))


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


def compare_kits(
    kits: Sequence[Kit],
    figures_of: Sequence[KitFigures],
    *,
    venue: Venue,
    assignment: Assignment,
    sample: EvaluationSample,
    model: Mapping[str, object],
    max_iso: float = USUAL_MAX_ISO,
) -> GearComparison:
    """Return kits side by side; ``figures_of`` is what each brings over the same season."""
    return GearComparison(
        venue=venue.name,
        assignment=assignment.name,
        kits=tuple(
            ComparedKit(
                letter,
                found,
                gain,
                light_sentences(kit, venue, max_iso=max_iso),
                *_too_slow(kit, venue, max_iso),
            )
            for letter, kit, found, gain in zip(
                ascii_uppercase, kits, figures_of, gains_over_first(figures_of), strict=False
            )
        ),
        best=int(np.round([found.value_share for found in figures_of], 6).argmax()),
        sample=sample,
        model=model,
        cautions=tuple(caution.sentence for caution in cautions_for(venue)),
    )


def _too_slow(kit: Kit, venue: Venue, max_iso: float) -> tuple[tuple[str, ...], bool]:
    """The lenses that cannot freeze action under the lamps, and whether that is all of them."""
    finding = lamps_finding(kit, venue, max_iso=max_iso)
    if finding is None:
        return (), False
    return tuple(one.lens for one in finding.lenses if not one.is_possible), finding.is_warning


def kit_figures(played: PlayedSeason) -> KitFigures:
    """Return what a kit's plan brought home over a season."""
    kit, replay, season_data = played.request.kit, played.replay, played.season_data
    result = figures_of(played.season_data, played.plan, name="plan")
    hit = played.season_data.had(played.plan.station_index)
    value = season_data.value_had(played.plan.station_index)
    return KitFigures(
        kit=kit.text,
        reach_yd=kit.reach_yd,
        coverage_gaps_yd=kit.coverage_gaps_yd(),
        gap_plays_per_game=_gap_plays(played),
        changes_lenses=kit.bodies < len(kit.mounted),
        usable_per_game=result.usable_per_game,
        p_usable=result.p_usable,
        value_per_game=float(value.sum() / replay.games),
        value_share=result.value_share,
        p_usable_touchdown=result.p_usable_touchdown,
        walk_yd_per_game=result.walk_yd_per_game,
        zones=_zones(played),
        usable_by_game=_by_game(replay, hit),
        value_by_game=_by_game(replay, value),
    )


def _by_game(replay: Replay, amount: FloatArray) -> tuple[float, ...]:
    totals = np.bincount(replay.game, weights=amount, minlength=replay.games)
    return tuple(float(total) for total in totals)


def _gap_plays(played: PlayedSeason) -> float:
    """Plays a game that ended in a coverage gap of the kit, seen from where the plan stood."""
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
    hit = season_data.had(played.plan.station_index)
    had = season_data.value_had(played.plan.station_index)
    found = []
    for i, name in enumerate(Zone):
        some = (zone == i) & season_data.counted
        if not some.any():
            continue
        available, value = season_data.all_value[some], float(had[some].sum())
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
    weights = bootstrap_games(len(first.usable_by_game), seed=seed) / len(first.usable_by_game)
    found = []
    for kit in kits:
        usable = np.subtract(kit.usable_by_game, first.usable_by_game)
        value = np.subtract(kit.value_by_game, first.value_by_game)
        found.append(
            KitGain(
                float(usable.mean()),
                *interval_95(weights @ usable),
                float(value.mean()),
                *interval_95(weights @ value),
            )
        )
    return tuple(found)


CACHE_VERSION = 3


def gear_comparison(
    context: Context,
    kits: Sequence[Kit],
    *,
    venue: Venue,
    assignment: Assignment,
    max_iso: float = USUAL_MAX_ISO,
    progress: Progress = silent,
) -> GearComparison:
    """Return the comparison of kits over the stored season that reports use.

    Raises `DataError` if no stored season fits the model.
    """
    plays = stored_season(context)
    requests = [
        PlanRequest(kit, venue, assignment, walks=usual_walking(kit, assignment)) for kit in kits
    ]

    def figures(some: Sequence[PlanRequest]) -> list[dict[str, Any]]:
        return [_season_figures(context, one, plays, progress=progress) for one in some]

    plays.replay()  # at hand before a second process needs it
    with beside(lambda: figures(requests[1::2])) as second:
        by_kit: list[dict[str, Any]] = [{} for _ in kits]
        by_kit[::2] = figures(requests[::2])
        by_kit[1::2] = second()
    found = [_read(one, kit) for one, kit in zip(by_kit, kits, strict=True)]
    return compare_kits(
        kits,
        [figures for figures, _ in found],
        venue=venue,
        assignment=assignment,
        sample=found[0][1],
        model=context.model_facts(),
        max_iso=max_iso,
    )


def _season_figures(
    context: Context, request: PlanRequest, plays: SeasonPlays, *, progress: Progress
) -> dict[str, Any]:
    key = {
        "version": CACHE_VERSION,
        "what": "gear",
        "plan": request.key(context.model.manifest.arrays_sha256),
        "data": context.model.manifest.data_sha256,
        "season": plays.key,
    }

    def compute() -> dict[str, Any]:
        progress(f"a plan for {request.kit.text}")
        played = play_season(context, request, plays)
        return {"kit": asdict(kit_figures(played)), "sample": asdict(played.evaluation_sample)}

    return cached(hash_of(key), compute)


def _read(found: dict[str, Any], of: Kit) -> tuple[KitFigures, EvaluationSample]:
    kit = dict(found["kit"])
    kit["kit"] = of.text
    kit["coverage_gaps_yd"] = tuple((low, high) for low, high in kit["coverage_gaps_yd"])
    kit["zones"] = tuple(KitZone(**zone) for zone in kit["zones"])
    for name in ("usable_by_game", "value_by_game"):
        kit[name] = tuple(kit[name])
    return KitFigures(**kit), EvaluationSample(**found["sample"])
