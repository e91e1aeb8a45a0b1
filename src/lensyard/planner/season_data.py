"""A season made ready for one kit: what plays were worth from where, and what the model expects.

The protocol: every scrimmage play of every game in order; the two teams swap ends each quarter; one
walks at most so far between plays, farther at a change of possession and at a quarter break, and
freely at the half and before the first play. What a station had of a play is the best quality of
its path (`lensyard.model.cells`), point by point (`lensyard.spots.visibility`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import BoolArray, Float32Array, FloatArray, IntArray
from lensyard.domain.assignment import (
    USABLE_WEIGHTS,
    Assignment,
    Coverage,
    Faces,
    OutcomeWeights,
)
from lensyard.domain.field import FIELD_WIDTH_YD, Direction
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import Perimeter
from lensyard.errors import DataError
from lensyard.model.context import Context
from lensyard.model.outcome import Forecast, OutcomeModel
from lensyard.model.outcome_grid import X_YD
from lensyard.model.plays import (
    KICKER,
    NO_KICK,
    OUTCOMES,
    PUNTER,
    RETURN,
    Replay,
)
from lensyard.planner.drop_backs import DropBackFrames, drop_back_frames
from lensyard.planner.plans import SolvedPlan
from lensyard.planner.replays import stored_replay
from lensyard.planner.sides import Side, side_index
from lensyard.planner.solve import Walking
from lensyard.planner.walks import UNLIMITED_YD, Walks, walks_of
from lensyard.plays.bundled import provenance
from lensyard.plays.importing.catalog import BUNDLED, imported_seasons, imports_dir
from lensyard.running import checkpoint
from lensyard.spots.kicks import clear_of_the_kick, kicks_of
from lensyard.spots.path_values import expected_values
from lensyard.spots.scorer import Scorer, shared_scorer
from lensyard.spots.visibility import geometry_of

QUARTER_BREAK_LIMIT_YD = 160.0
_LANES_A_YARD = 3
_EVERY_LANE = np.arange(round(FIELD_WIDTH_YD * _LANES_A_YARD) + 1)

RULE_SEASONS = 3
"""So many seasons, the last before the one played again, are for fitting rules on."""
REPLAY_SEED = 20190905
"""Draws the lanes of the season played again."""
TRAINING_SEED = 1
"""Draws the lanes of the seasons that rules are fitted on."""
Load = Callable[[tuple[int, ...], int], Replay]
"""Loads the replay of some seasons, drawn with a seed."""


@dataclass(frozen=True, slots=True)
class SeasonPlays:
    """A season to play again, and earlier ones to fit rules on; loaded when asked for.

    ``training`` are seasons before it that the model was fitted on; rules are fitted on the last of
    them. ``held_out`` says whether the model has not seen the season. ``files`` are the hashes of
    the imported files that hold these seasons, none for the bundled plays.
    """

    season: int
    held_out: bool
    training: tuple[int, ...]
    load: Load
    files: tuple[str, ...] = ()

    @property
    def key(self) -> list[int | str]:
        """What keys a result of the season: another import of it is another season."""
        return [self.season, *self.files]

    def replay(self) -> Replay:
        """Return the season played again."""
        return self.load((self.season,), REPLAY_SEED)

    def fitted_on(self, seasons: int = RULE_SEASONS) -> tuple[int, ...]:
        """Return the seasons that rules are fitted on: the season itself where there are none."""
        return self.training[-seasons:] or (self.season,)

    def training_replay(self, seasons: int = RULE_SEASONS) -> Replay:
        """Return the seasons that rules are fitted on."""
        return self.load(self.fitted_on(seasons), TRAINING_SEED)


def stored_season(
    context: Context,
    season: int | None = None,
    *,
    source: str | None = None,
    kicks: bool = False,
) -> SeasonPlays:
    """Return a stored regular season to play again.

    By default the first after those that the model was fitted on, else the last that it was not
    fitted on, else the last of those; ``source`` names whose plays, by default each season's own.
    ``kicks``: whether punts and field goals are among the plays.

    Raises `DataError` if there is none.
    """
    manifest = context.model.manifest
    fitted = manifest.seasons
    if season is None:
        season = _season_to_play(fitted, source)
    training = tuple(s for s in fitted if s < season)
    if not training and context.model.manifest.prior:
        # Rules of thumb of a model of few plays are fitted on the plays behind its prior.
        training = tuple(s for s in _stored_seasons() if s < season and s not in fitted)

    files = _files_of((season, *training[-RULE_SEASONS:]), source)

    def load(seasons: tuple[int, ...], seed: int) -> Replay:
        return stored_replay(seasons, seed, source if seasons == (season,) else None, kicks, files)

    seen = season in fitted and source in (None, *(manifest.source or BUNDLED).split("; "))
    return SeasonPlays(season, not seen, training, load, files)


def _stored_seasons(source: str | None = None) -> list[int]:
    imported = imported_seasons(imports_dir())
    imported.require(source=source, seasons=None)
    if source == BUNDLED or (source is None and not imported.catalog.entries):
        return list(provenance().seasons)
    from lensyard.plays.store import shared_store

    table, named = ("plays", []) if source is None else ("all_plays", [source])
    found = shared_store().query(
        f"SELECT DISTINCT season FROM {table} WHERE season_type = 'REG'"
        f"{' AND source = ?' if named else ''} ORDER BY season",
        named,
    )
    return [int(season) for season in found["season"]]


def _files_of(seasons: tuple[int, ...], source: str | None) -> tuple[str, ...]:
    entries = imported_seasons(imports_dir()).catalog.entries
    wanted = [e for e in entries if e.season in seasons and source in (None, e.source)]
    return tuple(part.sha256 for entry in wanted for part in entry.parts)


def _season_to_play(fitted: tuple[int, ...], source: str | None) -> int:
    stored = _stored_seasons(source)
    later = [s for s in stored if s > max(fitted)]
    unseen = [s for s in stored if s not in fitted]
    if not stored:
        raise DataError(
            "none of the stored seasons fits the model; `lensyard data list` shows what there is"
        )
    return later[0] if later else (unseen or stored)[-1]


@dataclass(frozen=True, eq=False)
class SeasonData:
    """A season made ready for one kit: everything a policy or a score needs.

    - ``scorers``: by direction: toward B, toward A.
    - ``quality``: realized best quality of each play's path, in its play frame, float32 (m, n).
    - ``value``, ``counted``: realized weight, and whether a play counts for the assignment, shape
      (m,).
    - ``limit_yd``: walking limit before each play, shape (m,). [yd]
    - ``drop_backs``: the quarterback's face, where the assignment wants it.
    """

    replay: Replay
    scorers: tuple[Scorer, Scorer]
    quality: Float32Array
    value: FloatArray
    limit_yd: FloatArray
    counted: BoolArray
    drop_backs: DropBackFrames | None = None

    @property
    def toward_a(self) -> BoolArray:
        """Whether each play goes toward end A, shape (m,)."""
        away: BoolArray = self.replay.direction == int(Direction.TOWARD_A)
        return away

    @cached_property
    def walks(self) -> Walks:
        """How far people get between the plays."""
        return walks_of(self)

    def had(self, station_index: IntArray) -> FloatArray:
        """Return the quality of the counted plays from a station each, 0 for others, shape (m,)."""
        quality = self.quality[np.arange(len(self.replay)), station_index]
        return quality.astype(np.float64) * self.counted

    def value_had(self, station_index: IntArray) -> FloatArray:
        """Return the value that one has of each counted play from a station each, shape (m,)."""
        value = self.had(station_index) * self.value
        return value if self.drop_backs is None else value + self.drop_backs.had(station_index)

    @cached_property
    def all_value(self) -> FloatArray:
        """The value of each counted play to whoever has all of it, 0 for others, shape (m,)."""
        value = self.counted * self.value
        return value if self.drop_backs is None else value + self.drop_backs.all_of_it()

    def value_share(self, station_index: IntArray) -> float:
        """Return the share of the value of all counted plays that one has from a station each."""
        return float(self.value_had(station_index).sum() / self.all_value.sum())

    def by_game(self, amount: NDArray[np.generic]) -> FloatArray:
        """Return the sums of an amount by game, shape (games,)."""
        totals = np.bincount(self.replay.game, weights=amount, minlength=self.replay.games)
        return totals.astype(np.float64)


def season_data_of(
    replay: Replay, scorers: tuple[Scorer, Scorer], assignment: Assignment, walking: Walking
) -> SeasonData:
    """Return a season made ready for one kit and venue (scorers toward B and toward A)."""
    by_scorer = rows_by_scorer(scorers, replay)
    together = len(by_scorer) == 1  # then nothing is copied
    shape = (0 if together else len(replay), len(scorers[0].perimeter))
    quality = np.empty(shape, dtype=np.float32)
    counted, weight = counted_plays(replay, assignment), assignment.weights.drop_back
    faces = np.zeros((len(replay) if weight else 0, shape[1]), dtype=np.float32)
    for scorer, rows in by_scorer:
        realized = realized_quality(scorer, replay if together else replay.take(rows))
        if together:
            quality = realized
        else:
            quality[rows] = realized
        if weight:
            faces[rows] = drop_back_frames(scorer, replay.take(rows)) * counted[rows, np.newaxis]
    there = replay.drop_back & counted
    return SeasonData(
        replay=replay,
        scorers=scorers,
        quality=quality,
        value=realized_weight(replay, assignment.weights),
        limit_yd=walking_limits_yd(replay, walking),
        counted=counted,
        drop_backs=DropBackFrames(faces, there, weight, replay.order) if weight else None,
    )


def rows_by_scorer(
    scorers: tuple[Scorer, Scorer], replay: Replay
) -> tuple[tuple[Scorer, IntArray], ...]:
    """Return each scorer that is needed with the rows of its plays, none without a row.

    A symmetric venue looks alike in both directions, so one scorer serves all plays.
    """
    if scorers[0].perimeter.venue.symmetric:
        return ((scorers[0], np.arange(len(replay))),)
    toward_a = replay.direction == int(Direction.TOWARD_A)
    found = ((scorers[0], np.flatnonzero(~toward_a)), (scorers[1], np.flatnonzero(toward_a)))
    return tuple((scorer, rows) for scorer, rows in found if rows.size)


def counted_plays(replay: Replay, assignment: Assignment) -> BoolArray:
    """Return which plays count for an assignment, shape (m,)."""
    if assignment.coverage is Coverage.BOTH:
        return np.ones(len(replay), dtype=bool)
    home = assignment.coverage is Coverage.HOME
    counted: BoolArray = replay.offense_home == home
    return counted


def realized_weight(replay: Replay, weights: OutcomeWeights) -> FloatArray:
    """Return what a usable frame of each play is worth, shape (m,)."""
    table = np.array([getattr(weights, name) for name in OUTCOMES])
    value: FloatArray = table[replay.outcome]
    return value


def walking_limits_yd(replay: Replay, walking: Walking) -> FloatArray:
    """Return how far one may walk before each play, shape (m,). [yd]"""
    drive_yd, change_yd = walking.drive_limit_yd, walking.change_limit_yd
    limit = np.where(replay.possession_change, max(change_yd, drive_yd), drive_yd)
    limit = np.where(replay.quarter_break, np.maximum(limit, QUARTER_BREAK_LIMIT_YD), limit)
    return np.where(replay.free_move, UNLIMITED_YD, limit)


def realized_quality(scorer: Scorer, replay: Replay) -> Float32Array:
    """Return the best quality of each play's path from each station, float32 (m, n).

    Of a kick what it gives a frame of: its return with the faces of who returns it, else the punter
    or the kicker.
    """
    if not replay.kick.any():
        return _best_of_paths(scorer, replay)
    quality = np.zeros((len(replay), len(scorer.perimeter)), dtype=np.float32)
    for kinds, faces in (
        ((NO_KICK,), scorer.faces),
        ((RETURN,), Faces.DEFENSE),
        ((PUNTER, KICKER), Faces.OFFENSE),
    ):
        rows = np.flatnonzero(np.isin(replay.kick, kinds))
        if rows.size:
            quality[rows] = _best_of_paths(scorer.showing(faces), replay.take(rows))
    clear = clear_of_the_kick(scorer, scorer.perimeter.venue.rules)
    quality[np.ix_(replay.kick == KICKER, ~clear)] = 0.0
    return quality


def _best_of_paths(scorer: Scorer, replay: Replay) -> Float32Array:
    """Return the best quality of each path from each station, float32 (m, n).

    Every point of a path is looked at, a yard apart, its lane to the nearest foot. With fewer
    bodies than lenses, the lenses at hand are those with the longest reach.
    """
    start, end = (np.rint(x).astype(np.int64) for x in (replay.start_x_yd, replay.end_x_yd))
    lane = np.rint(replay.end_y_yd * _LANES_A_YARD).astype(np.int64)
    lanes, place = np.unique(lane, return_inverse=True)
    if 2 * lanes.size > _EVERY_LANE.size and lanes[0] >= 0 and lanes[-1] < _EVERY_LANE.size:
        lanes, place = _EVERY_LANE, lane  # a season, and so the next one has the same table
    own = (scorer.perimeter, scorer.kit, scorer.direction, scorer.faces, scorer.facing_limit_deg)
    best = _lane_quality(*own, tuple(lanes.tolist())).copy()
    n = best.shape[2]
    by_place = best.reshape(-1, n)
    result = np.zeros((len(replay), n), dtype=np.float32)
    doublings = np.int64(np.log2(end - start + 1))
    # best[x] is the best of 2^k yards from x on; two such windows cover any path.
    for k in range(int(doublings.max(initial=0)) + 1):
        checkpoint()
        width = 1 << k
        for rows in np.array_split(np.flatnonzero(doublings == k), 1 + len(replay) // 4096):
            first = by_place[start[rows] * lanes.size + place[rows]]
            second = by_place[(end[rows] + 1 - width) * lanes.size + place[rows]]
            result[rows] = np.maximum(first, second, out=first)
        for x in range(X_YD.size - width):
            np.maximum(best[x], best[x + width], out=best[x])
    return result


@lru_cache(maxsize=2)
def _lane_quality(
    perimeter: Perimeter,
    kit: Kit,
    direction: Direction,
    faces: Faces,
    facing_limit_deg: float,
    lanes: tuple[int, ...],
) -> Float32Array:
    """Return the quality of a frame a yard apart on some lanes, 0 from closed stations.

    Float32 (121, lanes, n); not to be changed.
    """
    scorer = shared_scorer(perimeter, kit, direction, faces, facing_limit_deg)
    lens_set = max(kit.lens_sets, key=lambda h: max(m.reach_yd for m in h))
    x, y = np.meshgrid(X_YD, np.array(lanes) / _LANES_A_YARD, indexing="ij")
    found = np.zeros((*x.shape, len(perimeter)), dtype=np.float32)
    for part in np.array_split(np.flatnonzero(scorer.open), 8):
        checkpoint()
        geometry = geometry_of(
            perimeter,
            stations=scorer.stations[part],
            cell_x_yd=x.ravel(),
            cell_y_yd=y.ravel(),
            direction=direction,
            faces=faces,
            facing_limit_deg=facing_limit_deg,
        )
        quality = geometry.quality(kit, lens_set).astype(np.float32)
        found[:, :, part] = np.moveaxis(quality.reshape(part.size, *x.shape), 0, 2)
    return found


@dataclass(frozen=True, slots=True)
class ExpectedPlays:
    """Before each snap: expected value and quality of every station, shape (m, n) each.

    On fourth down ``value`` counts kicks by how likely they are; ``usable`` too where kicks are
    among the plays, else it is of going for it.
    """

    value: Float32Array
    usable: Float32Array


def expected_plays_of(context: Context, solved: SolvedPlan, replay: Replay) -> ExpectedPlays:
    """Return what the model expects of every play of a season, in the frame of each play.

    The plays are forecast once for all plans that are asked about them.
    """
    prior, weights = context.prior(solved.request.venue.rules), solved.request.assignment.weights
    by_scorer = rows_by_scorer(solved.scorers, replay)
    together = len(by_scorer) == 1

    def expected(scorer: Scorer) -> Float32Array:
        forecast = _forecast_of(context.model, replay, None if together else scorer.direction)
        values = expected_values(scorer, forecast, prior, weights, USABLE_WEIGHTS)
        kicks = kicks_of(context, forecast, scorer)
        if kicks is not None:
            values[0] = kicks.mixed(values[0], kick_value=weights.other)
            if replay.kick.any():
                values[1] = kicks.mixed(values[1])
        return values

    if together:
        return ExpectedPlays(*expected(by_scorer[0][0]))
    found = np.empty((2, len(replay), len(solved.scorers[0].perimeter)), dtype=np.float32)
    for scorer, rows in by_scorer:
        found[:, rows] = expected(scorer)
    return ExpectedPlays(*found)


@lru_cache(maxsize=2)
def _forecast_of(model: OutcomeModel, replay: Replay, direction: Direction | None) -> Forecast:
    """Return the forecast of the plays of a season, or of those in one direction."""
    if direction is None:
        return model.forecast(replay.batch)
    return model.forecast(replay.batch.take(np.flatnonzero(replay.direction == int(direction))))


def continuation_of(
    context: Context, solved: SolvedPlan, replay: Replay, counted: BoolArray
) -> Float32Array:
    """Return the plan's continuation for every play, shape (m, n)."""
    sides = solved.sides
    state = context.transition().grid.index_of(replay.batch)
    rows: Float32Array = solved.plan.continuation[side_of_plays(sides, replay, counted), state]
    return rows


def side_of_plays(sides: tuple[Side, ...], replay: Replay, counted: BoolArray) -> IntArray:
    """Return which side of a plan each play belongs to, shape (m,)."""
    table = np.array(
        [
            [side_index(sides, direction=d, ours=ours) for ours in (False, True)]
            for d in (Direction.TOWARD_A, Direction.TOWARD_B)
        ]
    )
    side: IntArray = table[(replay.direction > 0).astype(int), counted.astype(int)]
    return side
