"""Which stretches of the perimeter pay off by field zone: counted from plays, beside the model.

*Observed* is where real plays ended, along the field as the data say; across it nobody wrote it
down, so the lateral prior says how likely each lane is given the labels that the data have.
*Predicted* is what the model expects of the same situations. Both go through one geometry, so they
differ by what the model says of kinds and gains, and by chance.
Both are counts of plays, weighted by outcome, on the model's cells. Nothing is drawn at random:
each end stands for all lanes that it may have been in.
"""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Any

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.domain.assignment import USABLE_WEIGHTS, Assignment, OutcomeWeights
from lensyard.domain.field import OPPONENT_GOAL_LINE_X_YD, Direction
from lensyard.domain.kit import DEMO_KIT, Kit
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import UNKNOWN_HASH, SituationBatch, Zone, zone_indices
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import DataError, InvalidInputError
from lensyard.model.cells import CARRY, POINT, JointOutcome
from lensyard.model.context import Context
from lensyard.model.outcome_grid import (
    CARRIED_IN_X,
    COMPLETE,
    DEEP_X,
    N_DEEP,
    N_X,
    N_Y,
    RUN,
    SCRAMBLE,
)
from lensyard.model.paths import PathMasses, path_masses
from lensyard.records import ArrayRecord, Record
from lensyard.spots.scorer import Scorer
from lensyard.spots.stretches import STRETCH_YD, Stretch, share_of, stretches_of
from lensyard.stats import wilson
from lensyard.sun.cautions import DEFERRAL, run_out_caution

if TYPE_CHECKING:
    from lensyard.model.lateral import LateralPrior
    from lensyard.plays.store import Store
    from lensyard.plays.zone_counts import EndCounts, PlayFilter, SituationCounts


# What stands for the buckets of a gain or of air yards where a label must be guessed.
_BUCKET_YD = np.array([-2.0, 2.0, 7.0, 14.0, 28.0, 50.0])
_BLOCK = 2000
_LINEAR = ("gain", "touchdown", "air", "deep")


class ZonePaths(ArrayRecord):
    """Weighted plays as paths for w sets of weights; every row belongs to a zone, (r,)."""

    by_weights: list[PathMasses]
    zone: IntArray

    def by_zone(self, of_rows: FloatArray) -> FloatArray:
        """Return sums by zone, from shape (..., r, n) to (..., zones, n)."""
        member = self.zone == np.arange(len(Zone))[:, np.newaxis]
        return np.asarray(member.astype(np.float64) @ of_rows)

    def plays(self) -> FloatArray:
        """Return weighted plays by zone, shape (w, zones)."""
        ends = np.stack([paths.ends.sum(axis=1, dtype=np.float64) for paths in self.by_weights])
        return self.by_zone(ends[..., np.newaxis])[..., 0]

    def expected(self, scorer: Scorer) -> FloatArray:
        """Return what stations have of them by lenses at hand, shape (h, w, zones, n)."""
        found = [scorer.expected_value_by_lens_set(paths) for paths in self.by_weights]
        return self.by_zone(np.stack(found, axis=1))


def observed_paths(
    ends: EndCounts, prior: LateralPrior, *, weights: tuple[OutcomeWeights, ...]
) -> ZonePaths:
    """Return weighted plays, a row for each zone and yard line that paths started at."""
    places, number = _places_of(ends, prior)
    x = np.where(ends.outcome == 0, CARRIED_IN_X, OPPONENT_GOAL_LINE_X_YD - ends.to_goal_yd)
    x = np.clip(x, 0, N_X - 1).astype(np.int64)
    # Where its path started: the gain of a carry, or the yards after a catch, before its end.
    moving = np.isin(ends.kind, (RUN, COMPLETE, SCRAMBLE))
    back = np.where(moving, np.maximum(ends.spread_yd, 0.0), 0.0)
    start = np.where(back > 0, np.minimum(x, OPPONENT_GOAL_LINE_X_YD) - back, x)
    start = np.clip(np.rint(start), 0, N_X - 1).astype(np.int64)
    how = np.where(start == x, POINT, CARRY)
    line = np.clip(OPPONENT_GOAL_LINE_X_YD - start, 1, 99).astype(np.int64)
    keys, row = np.unique(ends.zone * 100 + np.where(start == x, 50, line), return_inverse=True)
    deep, found = ends.in_end_zone == 1, []
    for chosen in weights:
        value = ends.plays * _outcome_value(chosen)[ends.outcome]
        placed = value[:, None] * places[number]
        by_start = np.zeros((keys.size, 3, N_X, N_Y))
        np.add.at(by_start, (row[~deep], how[~deep], x[~deep]), placed[~deep])
        within = np.zeros((keys.size, N_Y))
        np.add.at(within, row[deep], placed[deep])
        by_start[:, POINT, DEEP_X] += within[:, np.newaxis] / N_DEEP
        found.append(PathMasses.of(by_start.astype(np.float32), keys % 100))
    return ZonePaths(found, keys // 100)


def _outcome_value(weights: OutcomeWeights) -> FloatArray:
    from lensyard.plays.zone_counts import OUTCOMES

    return np.array([getattr(weights, name) for name in OUTCOMES])


def _places_of(ends: EndCounts, prior: LateralPrior) -> tuple[FloatArray, IntArray]:
    """Return the different sideways spreads, (c, 18), and the number of each end's, (n,)."""
    from lensyard.model.lateral_sampling import LabeledPlays, places_given
    from lensyard.model.lateral_tables import bucket_of

    bucket = bucket_of(kind=ends.kind, yards=np.rint(ends.yards_yd).astype(np.int64))
    keys = np.stack(
        [ends.kind, ends.side, ends.depth, ends.gap, ends.out_of_bounds, bucket, ends.spread_yd * 2]
    )
    distinct, number = np.unique(keys, axis=1, return_inverse=True)
    kind, side, depth, gap, out, bucket = (row.astype(np.int64) for row in distinct[:6])
    spread = distinct[6] / 2
    carried = np.isin(kind, (0, 4))
    gain = np.where(carried, spread, _BUCKET_YD[bucket])
    labeled = LabeledPlays(
        kind=kind,
        side=side,
        depth=depth,
        gap=gap,
        gain_yd=gain,
        air_yd=np.where(kind == 1, gain - spread, _BUCKET_YD[bucket]),
        out_of_bounds=out == 1,
        hash_code=np.full(kind.shape[0], UNKNOWN_HASH, dtype=np.int64),
    )
    return places_given(labeled, prior), number.reshape(-1)


def predicted_paths(
    context: Context,
    situations: SituationCounts,
    prior: LateralPrior,
    *,
    weights: tuple[OutcomeWeights, ...],
) -> ZonePaths:
    """Return what the model expects of situations, weighted plays, a row for each yard line.

    The cells are linear in the model's answer for one line of scrimmage, so the answers are added
    up first and placed once a yard line.
    """
    yardline = np.rint(situations.yardline_100).astype(np.int64)
    n = len(situations)
    batch = SituationBatch(
        down=situations.down,
        distance_yd=np.clip(np.rint(situations.distance_yd).astype(np.int64), 1, yardline),
        yardline_100=yardline,
        score_diff=np.rint(situations.score_diff).astype(np.int64),
        quarter=np.clip(np.rint(situations.quarter).astype(np.int64), 1, 5),
        half_s=situations.half_s,
        hash_code=np.full(n, UNKNOWN_HASH, dtype=np.int64),
    )
    lines = np.unique(yardline)
    totals: dict[str, FloatArray] = {}
    order = np.argsort(yardline, kind="stable")
    for start in range(0, n, _BLOCK):
        rows = order[start : start + _BLOCK]
        arrays = context.model.forecast(batch.take(rows)).joint
        firsts = np.flatnonzero(np.diff(yardline[rows], prepend=-1))
        at = np.searchsorted(lines, yardline[rows][firsts])
        for name in _LINEAR:
            values = getattr(arrays, name)
            plays = situations.plays[rows].reshape(-1, *[1] * (values.ndim - 1))
            total = totals.setdefault(name, np.zeros((lines.size, *values.shape[1:])))
            total[at] += np.add.reduceat(values * plays.astype(np.float32), firsts, axis=0)
    line_batch = SituationBatch.neutral(
        down=np.ones_like(lines), distance_yd=np.ones_like(lines), yardline_100=lines
    )
    gain, touchdown, air, deep = (totals[name].astype(np.float32) for name in _LINEAR)
    placed = path_masses(
        JointOutcome(
            gain=gain,
            touchdown=touchdown,
            p_caught=context.model.forecast(line_batch).p_caught_in_end_zone.astype(np.float32),
            air=air,
            deep=deep,
            yardline_100=lines,
            hash_code=line_batch.hash_code,
        ),
        prior,
        weights=weights,
    )
    return ZonePaths(placed, zone_indices(lines))


LANES_NOTE = (
    "The data say how far a play went, not where across the field it ended: the lanes come from "
    "the lateral prior, given side, depth or gap, gain and out of bounds, from all hash marks as "
    "often as snaps lie there. Observed and predicted share that."
)
INTERVAL_NOTE = (
    "Intervals take every play as one yes or no; that is wider than what whole games drawn again "
    "give, and says nothing of another level of play."
)
TOUCHDOWNS = OutcomeWeights(
    touchdown=1.0, gain20=0.0, incompletion=0.0, interception=0.0, sack=0.0, other=0.0
)


class ZonesRequest(Record):
    """What is asked; the direction of attack matters where the venue's sides differ.

    None for down, distance (from and to, both included [yd]), seasons or zones is all of them, for
    the source each season's own.
    """

    kit: Kit = DEMO_KIT
    venue: Venue = field(default_factory=standard_venue)
    assignment: Assignment = field(default_factory=Assignment)
    direction: Direction = Direction.TOWARD_B
    down: int | None = None
    distance_yd: tuple[int, int] | None = None
    seasons: tuple[int, ...] | None = None
    source: str | None = None
    zones: tuple[Zone, ...] | None = None
    stretch_yd: float = STRETCH_YD


class StretchShare(Record):
    """What one stretch has brought in one zone.

    - ``p_usable``, ``p_usable_low``, ``p_usable_high``: observed share of plays and its 95 %
      interval (Wilson) from the number of plays.
    - ``p_usable_predicted``: the model's, for the same situations.
    - ``usable_plays``: observed, expected over the lanes.
    - ``value``, ``value_predicted``: expected value of a play to the assignment.
    - ``p_usable_touchdown``: observed share of the touchdowns; None where there was none.
    - ``as_good``: whether it is the best of its zone or its interval reaches the best one's share.
    """

    stretch: Stretch = field(metadata={"json": "*"})
    p_usable: float
    p_usable_low: float
    p_usable_high: float
    p_usable_predicted: float
    usable_plays: float
    value: float
    value_predicted: float
    p_usable_touchdown: float | None
    as_good: bool


class ZoneShares(Record):
    """One zone: how many plays, and all stretches in their order around the field.

    ``largest_gap`` is the largest difference between observed and predicted share of a stretch,
    positive; ``mean_gap`` is observed less predicted, mean over the stretches.
    """

    zone: Zone
    plays: int
    touchdowns: int
    largest_gap: float
    mean_gap: float
    stretches: tuple[StretchShare, ...]

    def ranked(self) -> tuple[StretchShare, ...]:
        """Return the stretches from the most to the least usable."""
        return tuple(sorted(self.stretches, key=lambda s: -round(s.p_usable, 6)))


class ZonesAnswer(Record):
    """The answer: zones, what was counted, and who says so."""

    request: ZonesRequest = field(metadata={"json": None})
    kit: str
    venue: str
    assignment: str
    down: int | None
    distance_yd: tuple[int, int] | None
    seasons: tuple[int, ...]
    fitted_seasons: tuple[int, ...]
    plays: int
    distinct_ends: int
    zones: tuple[ZoneShares, ...]
    notes: tuple[str, ...]
    model: dict[str, object]
    attributions: list[dict[str, Any]]
    cautions: tuple[str, ...]


def play_filter(request: ZonesRequest) -> PlayFilter:
    """Return which plays a request is about."""
    from lensyard.plays.zone_counts import PlayFilter

    low, high = request.distance_yd or (0, 99)
    return PlayFilter(request.down, low, high, request.seasons, request.source)


def count_zones(context: Context, request: ZonesRequest, store: Store) -> ZonesAnswer:
    """Return which stretches pay off in which zone.

    Raises `DataError` if no stored play is one of those asked for.
    """
    from lensyard.plays.store import attributions_document
    from lensyard.plays.zone_counts import count_ends, count_situations, seasons_of

    store.imported.require(source=request.source, seasons=request.seasons)
    chosen = play_filter(request)
    ends = count_ends(store, chosen)
    if len(ends) == 0:
        raise DataError(
            "no stored play is one of those; leave out --down, --distance or --seasons, or see "
            "`lensyard data list` for what there is"
        )
    prior = context.prior(request.venue.rules)
    weights = (USABLE_WEIGHTS, request.assignment.weights, TOUCHDOWNS)
    observed = observed_paths(ends, prior, weights=weights)
    situations = count_situations(store, chosen)
    predicted = predicted_paths(context, situations, prior, weights=weights[:2])
    scorer = Scorer(
        perimeter_of(request.venue, step_yd=1.0),
        request.kit,
        request.direction,
        request.assignment.faces,
    )
    tables = _tables(scorer, observed, predicted, request)
    fitted = set(context.model.manifest.seasons)
    seasons = seasons_of(store, chosen)
    return ZonesAnswer(
        request=request,
        kit=request.kit.text,
        venue=request.venue.name,
        assignment=request.assignment.name,
        down=request.down,
        distance_yd=request.distance_yd,
        seasons=seasons,
        fitted_seasons=tuple(s for s in seasons if s in fitted),
        plays=sum(z.plays for z in tables),
        distinct_ends=len(ends),
        zones=tables,
        notes=(LANES_NOTE, INTERVAL_NOTE, *_fitted_note(seasons, fitted)),
        model=context.model_facts(),
        attributions=attributions_document(seasons, source=request.source),
        cautions=(run_out_caution(setback_yd=request.venue.side_setback_yd).sentence, DEFERRAL),
    )


def _fitted_note(seasons: tuple[int, ...], fitted: set[int]) -> tuple[str, ...]:
    inside = [s for s in seasons if s in fitted]
    if not inside:
        return ()
    return (
        f"The model was fitted on {len(inside)} of these {len(seasons)} seasons; only seasons that "
        "nobody fitted test it (`--seasons`).",
    )


def _tables(
    scorer: Scorer, observed: ZonePaths, predicted: ZonePaths, request: ZonesRequest
) -> tuple[ZoneShares, ...]:
    """Return the zones that hold plays."""
    stretches = stretches_of(scorer, length_yd=request.stretch_yd)
    counts = observed.plays()
    plays = counts[0]
    wanted = [
        i
        for i, zone in enumerate(Zone)
        if plays[i] > 0.5 and (request.zones is None or zone in request.zones)
    ]
    found = []
    if wanted:
        by_hand = np.concatenate([of.expected(scorer) for of in (observed, predicted)], axis=1)
    for i in wanted:
        here = by_hand[:, :, i] / plays[i]
        hand = here[:, 3].argmax(axis=0)  # the lenses that the model would bring
        by_station_index = here[hand, :, np.arange(hand.size)].T
        touchdowns = round(float(counts[2, i]))
        found.append(
            _zone_shares(
                list(Zone)[i], round(float(plays[i])), touchdowns, stretches, by_station_index
            )
        )
    if not found:
        raise InvalidInputError(
            "none of these plays started in that zone; choose another or leave --zone out"
        )
    return tuple(found)


def _zone_shares(
    zone: Zone,
    plays: int,
    touchdowns: int,
    stretches: tuple[Stretch, ...],
    by_station_index: FloatArray,
) -> ZoneShares:
    """Return one zone.

    ``by_station_index`` is (5, n): observed usable, value and touchdowns, predicted usable and
    value.
    """
    shares = np.array([share_of(s, by_station_index) for s in stretches])
    best = float(shares[:, 0].max())
    rows = []
    for stretch, (p, value, touchdown, p_model, value_model) in zip(stretches, shares, strict=True):
        low, high = wilson(min(p, 1.0), plays)
        rows.append(
            StretchShare(
                stretch=stretch,
                p_usable=min(float(p), 1.0),
                p_usable_low=low,
                p_usable_high=high,
                p_usable_predicted=min(float(p_model), 1.0),
                usable_plays=float(p * plays),
                value=float(value),
                value_predicted=float(value_model),
                p_usable_touchdown=(
                    min(float(touchdown) * plays / touchdowns, 1.0) if touchdowns else None
                ),
                as_good=bool(high >= best),
            )
        )
    gaps = [row.p_usable - row.p_usable_predicted for row in rows]
    return ZoneShares(
        zone,
        plays,
        touchdowns,
        largest_gap=max(abs(gap) for gap in gaps),
        mean_gap=float(np.mean(gaps)),
        stretches=tuple(rows),
    )
