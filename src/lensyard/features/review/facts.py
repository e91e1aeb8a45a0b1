"""From a logged game to the facts that a review counts.

What a spot had of a play follows from the same geometry as every answer before the snap, but the
outcome is known: its probability mass lies on the path that the play took. What the log does not
say is filled with the model and the lateral prior, given the rest.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import Float32Array, FloatArray
from lensyard.domain.assignment import USABLE_WEIGHTS
from lensyard.domain.field import Direction
from lensyard.domain.kit import Kit, Lens, Mounted
from lensyard.domain.perimeter import STEP_YD
from lensyard.domain.places import parse_standing, standing_label
from lensyard.domain.situation import Situation, SituationBatch, zone_of
from lensyard.domain.venue import Venue
from lensyard.features.review.figures import PlayFacts
from lensyard.game.document import GameLog
from lensyard.game.entry import Game, GameSetup, LoggedPlay, Result, Team
from lensyard.model.cells import CARRY, CATCH, POINT, JointOutcome, masses_by_start
from lensyard.model.context import Context
from lensyard.model.lateral import LateralPrior
from lensyard.model.outcome_grid import (
    AIR_KINDS,
    CARRIED_IN_X,
    GAIN_KINDS,
    GOAL_X,
    KINDS,
    LONG_GAIN_YD,
    N_X,
    N_Y,
    Y_YD,
)
from lensyard.model.paths import PathMasses, path_masses
from lensyard.model.plays import NO_KICK, OUTCOMES, Replay
from lensyard.planner.plans import PlanRequest, SolvedPlan, plan_for
from lensyard.planner.season_data import (
    SeasonData,
    continuation_of,
    counted_plays,
    expected_plays_of,
    realized_weight,
    rows_by_scorer,
    walking_limits_yd,
)
from lensyard.planner.simulate import lookahead_policy, simulate_policy, simulate_rules
from lensyard.spots.position_rule import habit_for
from lensyard.spots.scorer import PathQuality, Scorer


def kit_reaching(kit: Kit, factor: float) -> Kit:
    """Return the kit with every lens reaching ``factor`` times as far.

    Reach goes with the long end, so that is what is scaled; a wide end stays, except where a prime
    gets shorter (its nearest distance shrinks by the same factor then).
    """
    mounted = []
    for m in kit.mounted:
        long_mm = m.lens.long_mm * factor
        lens = Lens(min(m.lens.wide_mm, long_mm), long_mm, m.lens.f_number, m.lens.minimum_focus_m)
        mounted.append(Mounted(lens, m.body, m.converter))
    return replace(kit, mounted=tuple(mounted))


_LEFT_OUT = (
    Result.KICK,
    Result.KICK_KEPT,
    Result.FIELD_GOAL,
    Result.MISSED,
    Result.NO_PLAY,
)
_LIKE = {Result.GAIN: "run", Result.FUMBLE: "run", Result.SAFETY: "sack"}
"""Results of which nobody said what kind of play it was, and the kind that they are taken for."""


def _kind_index(result: Result) -> int:
    return KINDS.index(_LIKE.get(result, result.value))


def scrimmage_plays(log: GameLog) -> tuple[LoggedPlay, ...]:
    """Return the plays that count: those with a down that were no kick and not called off."""
    return tuple(p for p in log.plays if p.down is not None and p.result not in _LEFT_OUT)


def facts_of(
    context: Context, log: GameLog, setup: GameSetup, *, step_yd: float = STEP_YD
) -> PlayFacts:
    """Return the facts of a game's plays that count.

    ``log``, ``setup``: the game, and what it was played with. ``step_yd``: spacing of the stations.
    [yd]
    """
    request = PlanRequest(setup.kit, setup.venue, setup.assignment, step_yd=step_yd)
    solved = plan_for(context, request)
    plays = scrimmage_plays(log)
    replay = replay_of_log(plays, log.game)
    counted = counted_plays(replay, setup.assignment)
    masses = masses_after(context, plays, replay.batch, setup)
    after, plan, habit = _policies(context, solved, replay, counted, masses)
    rows = np.arange(len(plays))
    facts = PlayFacts(
        game=np.array([log.game.game_id] * len(plays), dtype=np.str_),
        number=np.array([p.number for p in plays], dtype=np.int64),
        zone=np.array([zone_of(p.yardline_100).value for p in plays], dtype=np.str_),
        spot=np.array([p.spot for p in plays], dtype=np.str_),
        place=np.array([_place(p, setup.venue) for p in plays], dtype=np.str_),
        value=realized_weight(replay, setup.assignment.weights),
        shot=np.array([(p.frames or 0) > 0 for p in plays], dtype=bool),
        kept=np.array([(p.keepers or 0) > 0 for p in plays], dtype=bool),
        shot_known=np.array([p.frames is not None for p in plays], dtype=bool),
        kept_known=np.array([p.keepers is not None for p in plays], dtype=bool),
        plan=after[rows, plan].astype(np.float64),
        habit=after[rows, habit].astype(np.float64),
        **_own_spots(context, solved, plays, replay, masses),
    )
    return facts.take(counted)


def _place(play: LoggedPlay, venue: Venue) -> str:
    """Where one stood as the venue calls it; as it was typed where sides and ends have no names."""
    direction = Direction(play.direction)
    if not play.spot or venue.names(direction) is None:
        return play.spot
    return standing_label(play.spot, venue, direction)


def _outcome_name(play: LoggedPlay) -> str:
    if play.touchdown and play.result is not Result.INTERCEPTION:
        return "touchdown"
    names = {
        Result.SACK: "sack",
        Result.INCOMPLETE: "incompletion",
        Result.INTERCEPTION: "interception",
    }
    if play.result in names:
        return names[play.result]
    return "gain20" if (play.gain_yd or 0) >= LONG_GAIN_YD else "other"


def replay_of_log(plays: tuple[LoggedPlay, ...], game: Game) -> Replay:
    """Return logged plays as a replay of one game; places of ends are left to the masses."""
    situations: list[Situation] = [s for p in plays if (s := p.situation()) is not None]
    n = len(plays)
    home = np.array([p.offense is Team.HOME for p in plays], dtype=bool)
    quarter = np.array([p.quarter for p in plays], dtype=np.int64)
    first = np.arange(n) == 0
    changed = np.array([p.changed_hands for p in plays], dtype=bool) | first
    changed |= np.concatenate([[True], home[1:] != home[:-1]])[:n]
    later = np.concatenate([[False], quarter[1:] != quarter[:-1]])[:n]
    half = np.concatenate([[False], (quarter[1:] > 2) & (quarter[:-1] <= 2)])[:n]
    return Replay(
        batch=SituationBatch.of(situations),
        game=np.zeros(n, dtype=np.int64),
        order=np.arange(n),
        offense_home=home,
        direction=np.array([p.direction for p in plays], dtype=np.int64),
        end_x_yd=np.full(n, np.nan),
        end_y_yd=np.full(n, np.nan),
        start_x_yd=np.full(n, np.nan),
        outcome=np.array([OUTCOMES.index(_outcome_name(p)) for p in plays], dtype=np.int64),
        drop_back=np.array([str(p.result) in KINDS and p.result is not Result.RUN for p in plays]),
        kick=np.full(n, NO_KICK),
        possession_change=changed,
        quarter_break=later,
        free_move=first | half,
    )


def masses_after(
    context: Context,
    plays: tuple[LoggedPlay, ...],
    batch: SituationBatch,
    setup: GameSetup,
) -> PathMasses:
    """Return the path of each of m plays, as far as the log knows; each sums to 1."""
    prior = context.prior(setup.venue.rules)
    found = np.zeros((len(plays), 3, N_X, N_Y), dtype=np.float32)
    for row, play in enumerate(plays):
        x = _end_x(play)
        if play.result is not None and x is not None:
            found[row, _start(play, x), x] = _across(play, prior, int(batch.hash_code[row]))
            continue
        arrays = context.model.forecast(batch.take(np.array([row]))).joint
        if play.result is not None:
            arrays = _only_kind(arrays, play.result)
        mass = masses_by_start(arrays, prior, weights=(USABLE_WEIGHTS,))[0, 0]
        found[row] = mass / max(float(mass.sum()), 1e-12)
    return PathMasses.of(found, batch.yardline_100)


def _start(play: LoggedPlay, end_x: int) -> int:
    """How the path of a play that ended at x started (`lensyard.model.cells`)."""
    if play.result is Result.COMPLETE:
        return CATCH
    carried = play.result in (Result.RUN, Result.SCRAMBLE)
    return CARRY if carried and end_x > GOAL_X - play.yardline_100 else POINT


def _end_x(play: LoggedPlay) -> int | None:
    """The cell along the field where a play ended; None where the log does not say."""
    line = GOAL_X - play.yardline_100
    if play.touchdown and play.result is not Result.INTERCEPTION:
        return CARRIED_IN_X
    if play.result in (Result.INCOMPLETE, Result.INTERCEPTION):
        return None if play.air_yd is None else int(np.clip(line + play.air_yd, 0, N_X - 1))
    return None if play.gain_yd is None else int(np.clip(line + play.gain_yd, 0, GOAL_X))


def _across(play: LoggedPlay, prior: LateralPrior, hash_code: int) -> FloatArray:
    """Where across the field a play ended: as logged, else by the lateral prior, shape (18,)."""
    if play.end_y_yd is not None:
        # Between two lanes a play belongs to both, by how near they are.
        inside = slice(0, N_Y) if play.out_of_bounds else slice(1, N_Y - 1)
        places = np.zeros(N_Y)
        places[inside] = [
            np.interp(play.end_y_yd, Y_YD[inside], lane) for lane in np.eye(N_Y)[inside, inside]
        ]
        return places
    yards = play.gain_yd
    if play.result in (Result.INCOMPLETE, Result.INTERCEPTION):
        yards = play.air_yd
    kind = _kind_index(play.result or Result.GAIN)
    pmf = prior.side_pmf(kind=kind, yards=yards or 0, hash_code=hash_code).copy()
    if play.out_of_bounds:
        pmf[1:-1] = 0.0
    elif play.result is not Result.INCOMPLETE:
        pmf[[0, -1]] = 0.0
    total = float(pmf.sum())
    return pmf / total if total > 0 else np.full(N_Y, 1.0 / N_Y)


def _only_kind(arrays: JointOutcome, result: Result) -> JointOutcome:
    """Return the model's answer given the kind of play."""
    kind = _kind_index(result)
    gain = np.array([k == kind for k in GAIN_KINDS], dtype=np.float32)
    air = np.array([k == kind for k in AIR_KINDS], dtype=np.float32)
    return replace(
        arrays,
        gain=arrays.gain * gain[:, np.newaxis],
        touchdown=arrays.touchdown * gain,
        air=arrays.air * air[:, np.newaxis],
        deep=arrays.deep * air,
    )


def _policies(
    context: Context,
    solved: SolvedPlan,
    replay: Replay,
    counted: NDArray[np.bool_],
    masses: PathMasses,
) -> tuple[Float32Array, NDArray[np.int64], NDArray[np.int64]]:
    """Return P(usable) of every position afterwards, (m, n), and where plan and habit stood."""
    after = np.zeros((len(replay), len(solved.scorers[0].perimeter)), dtype=np.float32)
    for scorer, rows in rows_by_scorer(solved.scorers, replay):
        after[rows] = np.clip(scorer.expected_value(masses.take(rows)), 0.0, 1.0)
    walking = solved.request.walking
    season_data = SeasonData(
        replay=replay,
        scorers=solved.scorers,
        quality=after,
        value=np.ones(len(replay)),
        limit_yd=walking_limits_yd(replay, walking),
        counted=counted,
    )
    expected = expected_plays_of(context, solved, replay)
    plan = lookahead_policy(
        season_data,
        reward=expected.value * counted[:, None].astype(np.float32),
        continuation=continuation_of(context, solved, replay, counted),
        price_per_yd=walking.price_per_yd,
    )
    (habit,) = simulate_rules(season_data, (habit_for(solved.request.assignment.faces),))
    return after, simulate_policy(season_data, plan).station_index, habit.station_index


def _own_spots(
    context: Context,
    solved: SolvedPlan,
    plays: tuple[LoggedPlay, ...],
    replay: Replay,
    masses: PathMasses,
) -> dict[str, FloatArray]:
    """Return what the photographer's own spots had, by field of `PlayFacts`; NaN without a spot.

    Whoever stood somewhere could shoot from there, so closed stretches do not count here.
    """
    names = ("predicted", "predicted_reach", "in_reach", "usable", "sighted", "distance_yd")
    found = {name: np.full(len(plays), np.nan) for name in names}
    prior = context.prior(solved.request.venue.rules)
    for scorer, rows in rows_by_scorer(solved.scorers, replay):
        arrays = context.model.forecast(replay.batch.take(rows)).joint
        before = path_masses(arrays, prior, weights=(USABLE_WEIGHTS,))[0]
        for place, row in enumerate(rows.tolist()):
            if plays[row].spot:
                one = before.take([place]), masses.take([row])
                chances = _from_spot(scorer, plays[row].spot, *one)
                for name, chance in chances.items():
                    found[name][row] = chance
    unknown = [play.result is None or _end_x(play) is None for play in plays]
    found["distance_yd"][unknown] = np.nan
    return found


def _from_spot(
    scorer: Scorer, spot: str, before: PathMasses, after: PathMasses
) -> dict[str, float]:
    """Return what one spot had of a play, from its mass before the snap and afterwards."""
    station = parse_standing(spot, scorer.perimeter, scorer.direction)
    station_index = int(np.flatnonzero(scorer.stations == station)[0])
    geometry, kit = scorer.geometry, scorer.kit
    facing, clear = geometry.facing[station_index], geometry.clear[station_index]
    sighted = (facing & clear).astype(np.float64)
    distance = geometry.distance_yd[station_index]
    reach = [kit.quality(distance, m) for m in kit.lens_sets]
    paths = PathQuality.of(np.stack([*reach, *(each * sighted for each in reach), sighted]))
    then, now = (np.minimum(paths.expected(of)[0], 1.0).tolist() for of in (before, after))
    sets = len(reach)
    # With fewer bodies than lenses, those that looked best before the snap were at hand.
    hand = int(np.argmax(then[sets : 2 * sets]))
    return {
        "predicted": then[sets + hand],
        "predicted_reach": then[hand],
        "in_reach": now[hand],
        "usable": now[sets + hand],
        "sighted": now[-1],
        "distance_yd": float(distance @ after.ends[0]),
    }
