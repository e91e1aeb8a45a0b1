"""The shot list against the plan: how long each frame takes, and when it pays to go and get it.

Games of the season played again are gone through snap by snap: from where the plan stood, how
likely did the model find it that this snap makes the frame? That gives the expected number of plays
until it can be ticked, and the chance that it comes in a game at all.

Going to get it means to stand elsewhere in one phase of the game than the plan's line for it says
(`lensyard.features.game_plan.phases`). That costs what the line would have had, and brings the
frame more often; their ratio is the number of ordinary usable plays that the frame must be worth
for it to pay. The walk to either is left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np

from lensyard.arrays import BoolArray, Float32Array, FloatArray, IntArray
from lensyard.domain.assignment import Coverage, Faces, FrameKind, MustHave, Window, known_keys
from lensyard.domain.field import Direction
from lensyard.domain.shot_list import breaks_of, missing_at_break, schedule
from lensyard.features.game_plan.frame_events import (
    EVENTS,
    expected_plays,
    face_scorers,
    frame_probabilities,
)
from lensyard.features.game_plan.phases import PHASES, RULES, Phase, best_rule, rule_stations
from lensyard.features.game_plan.result import BreakRow, MustHaveRow
from lensyard.model.context import Context
from lensyard.model.outcome_grid import KINDS
from lensyard.planner.season import PlayedSeason
from lensyard.running import checkpoint
from lensyard.spots.scorer import Scorer

SAMPLE_GAMES = 48
_BLOCK = 250
# Going must bring the frame on at least so many of 1,000 snaps more, and a quarter more often than
# the plan's own spots do; less is within what a table of one line a phase leaves out.
LEAST_GAIN = 0.005
LEAST_GAIN_SHARE = 0.25
# Of the places that bring the frame more often, those count that bring at least this share of the
# largest difference: the cheapest of them is named.
MOST_OF_THE_GAIN = 0.5
SURE_ENOUGH = 0.9
_FIELD_PHASES = tuple(p for p in PHASES if p.key not in ("opening", "two-minute"))
_DROP_BACK_KINDS = ("complete", "incomplete", "interception", "sack", "scramble")


def frame_chances(
    context: Context, season: PlayedSeason, keys: Iterable[str], *, games: int = SAMPLE_GAMES
) -> tuple[IntArray, dict[str, Float32Array]]:
    """Return some games' plays (m,), and P(the next snap makes each frame) from every station.

    Chances are by key, shape (m, n); 0 for plays of the team that the frame is not of. Frames of
    one's own are left out.
    """
    rows = np.flatnonzero(season.replay.game < games)
    wanted = [key for key in keys if key in EVENTS]
    n = len(season.solved.scorers[0].perimeter)
    chances = {key: np.zeros((rows.size, n), dtype=np.float32) for key in wanted}
    if not wanted:
        return rows, chances
    symmetric = season.request.venue.symmetric
    toward_a = season.replay.direction[rows] == int(Direction.TOWARD_A)
    for which, scorer in enumerate(
        season.solved.scorers[:1] if symmetric else season.solved.scorers
    ):
        some = np.arange(rows.size) if symmetric else np.flatnonzero(toward_a == bool(which))
        # Plays from one part of the field leave the rest empty, and masses are large.
        some = some[np.argsort(season.replay.batch.yardline_100[rows[some]], kind="stable")]
        for start in range(0, some.size, _BLOCK):
            checkpoint()
            block = some[start : start + _BLOCK]
            part = _chances_of(context, season, scorer, rows[block], wanted)
            for key, p in part.items():
                chances[key][block] = p
    for key in wanted:
        chances[key][~_of_team(season, rows, EVENTS[key].faces)] = 0.0
    return rows, chances


def _chances_of(
    context: Context, season: PlayedSeason, scorer: Scorer, rows: IntArray, keys: list[str]
) -> dict[str, Float32Array]:
    batch = season.replay.batch.take(rows)
    forecast = context.model.forecast(batch)
    return frame_probabilities(
        keys,
        face_scorers(scorer),
        batch,
        forecast.joint,
        context.prior(season.request.venue.rules),
        p_drop_back=forecast.p_kind[:, [KINDS.index(kind) for kind in _DROP_BACK_KINDS]].sum(
            axis=1
        ),
    )


def _of_team(season: PlayedSeason, rows: IntArray, faces: Faces) -> BoolArray:
    """Which plays can make a frame: the assignment's team has the ball, or defends."""
    assignment = season.request.assignment
    if assignment.coverage is Coverage.BOTH:
        return np.ones(rows.size, dtype=bool)
    counted = season.season_data.counted[rows]
    # A team's offense is seen with the ball, its defense without it. What counts are the plays of
    # the faces that the assignment asks for.
    mine: BoolArray = counted if faces is assignment.faces else ~counted
    return mine


def must_have_rows(
    context: Context, season: PlayedSeason, *, games: int = SAMPLE_GAMES
) -> tuple[MustHaveRow, ...]:
    """Return the shot list with waiting times and what going to get each frame costs.

    Nothing is ticked; see `with_ticks`.
    """
    must_have = season.request.assignment.must_have
    rows, chances = frame_chances(context, season, (f.key for f in must_have), games=games)
    return tuple(_row(season, frame, rows, chances.get(frame.key)) for frame in must_have)


def _row(
    season: PlayedSeason, frame: MustHave, rows: IntArray, p: Float32Array | None
) -> MustHaveRow:
    plain = MustHaveRow(frame.key, frame.title, frame.kind.value, False, frame.when, frame.where)
    if p is None:
        return plain
    stand = np.arange(rows.size), season.plan.station_index[rows]
    from_plan = p[stand].astype(np.float64)
    mean = float(from_plan.mean())
    waits, sure = _waits(season, rows, from_plan, mean)
    return replace(
        plain,
        p_a_play=mean,
        plays_expected=waits if math.isfinite(waits) else None,
        p_in_game=sure,
        go_from_plays_left=_plays_for(mean),
        **_going(season, frame, rows, p),
    )


def _waits(season: PlayedSeason, rows: IntArray, p: FloatArray, mean: float) -> tuple[float, float]:
    """Mean plays from kickoff until the frame can be ticked, and P(it comes in a game)."""
    game = season.replay.game[rows]
    borders = np.flatnonzero(np.diff(game)) + 1
    games = [np.clip(part, 0.0, 1.0) for part in np.split(p, borders)]
    # What comes after the last play of a game is another game like the average one.
    waits = [expected_plays(np.append(part, mean)) for part in games]
    return float(np.mean(waits)), float(np.mean([1.0 - np.prod(1.0 - part) for part in games]))


def _plays_for(p: float) -> int | None:
    """How many plays it takes to be sure enough."""
    if not 0.0 < p < 1.0:
        return 1 if p >= 1.0 else None
    return math.ceil(math.log(1.0 - SURE_ENOUGH) / math.log1p(-p))


def _going(
    season: PlayedSeason, frame: MustHave, rows: IntArray, p: Float32Array
) -> dict[str, Any]:
    """Where going to get a frame costs least for what it brings: fields of `MustHaveRow`."""
    mine = _of_team(season, rows, EVENTS[frame.key].faces)
    found = (_going_in(season, phase, rows, p, mine) for phase in _FIELD_PHASES)
    return min((going for going in found if going), key=lambda g: g["break_even"], default={})


def _going_in(
    season: PlayedSeason, phase: Phase, rows: IntArray, p: Float32Array, mine: BoolArray
) -> dict[str, Any]:
    some = np.flatnonzero(phase.belongs(season.replay)[rows] & mine)
    if some.size == 0:
        return {}
    plays = rows[some]
    stand = best_rule(season, plays).station_index
    p_stay = float(p[some, stand].mean())
    stay = float(season.total(plays, stand).mean())
    gain, cost = _lines(season, plays, p[some], p_stay=p_stay, stay=stay)
    least = max(LEAST_GAIN, LEAST_GAIN_SHARE * p_stay)
    if gain.max() < least:
        return {}
    enough = gain >= max(MOST_OF_THE_GAIN * float(gain.max()), least)
    ratio = np.where(enough, cost / np.maximum(gain, 1e-9), np.inf)
    best = int(np.round(ratio, 4).argmin())
    side, line = divmod(best, len(RULES))
    return {
        "go_phase": phase.title,
        "go_label": _label(season, line, on_sideline_a=side == 0),
        "p_go": p_stay + float(gain[best]),
        "p_stay": p_stay,
        "go_cost": float(cost[best]),
        "break_even": float(ratio[best]),
    }


def _lines(
    season: PlayedSeason, plays: IntArray, p: Float32Array, *, p_stay: float, stay: float
) -> tuple[FloatArray, FloatArray]:
    """What each line on each side brings of a frame and costs, shape (2 x lines,)."""
    away = (season.replay.direction[plays] == int(Direction.TOWARD_A)).astype(np.int64)
    yard = season.replay.batch.yardline_100[plays] - 1
    index = np.arange(plays.size)
    gain, cost = [], []
    for on_a in (True, False):
        table = np.stack([rule_stations(s, on_sideline_a=on_a) for s in season.solved.scorers])
        for i in range(len(RULES)):
            station_index = table[away, i, yard]
            gain.append(float(p[index, station_index].mean()) - p_stay)
            cost.append(max(stay - float(season.total(plays, station_index).mean()), 0.0))
    return np.array(gain), np.array(cost)


def _label(season: PlayedSeason, line: int, *, on_sideline_a: bool) -> str:
    venue = season.request.venue
    side = "either" if venue.symmetric else venue.sideline_names[0 if on_sideline_a else 1]
    return RULES[line].words_on(side)


def with_ticks(
    rows: Iterable[MustHaveRow],
    must_have: tuple[MustHave, ...],
    have: Iterable[str],
    *,
    rules_name: str,
) -> tuple[MustHaveRow, ...]:
    """Return the shot list with what is ticked, and the life frames put into their breaks."""
    ticked = known_keys(must_have, have)
    slots = {s.frame.key: s for s in schedule(must_have, ticked, rules_name=rules_name)}
    found = []
    for row in rows:
        slot = slots.get(row.key)
        found.append(
            replace(
                row,
                have=row.key in ticked,
                slot=None if slot is None or slot.slot is None else slot.slot.name,
                plays_lost=0.0 if slot is None else slot.plays_lost,
            )
        )
    return tuple(found)


def break_rows(
    must_have: tuple[MustHave, ...], have: Iterable[str], *, rules_name: str
) -> tuple[BreakRow, ...]:
    """Return the breaks of a game, with the life frames to get and what else is missing then.

    Life frames of earlier breaks are taken to be had by then; action frames are listed as long as
    they are not ticked.
    """
    ticked = set(known_keys(must_have, have))
    found = []
    for slot in breaks_of(rules_name):
        if slot.window is Window.TIME_OUT:
            planned = [
                s.frame
                for s in schedule(
                    must_have, ticked, quarter=slot.first_quarter, rules_name=rules_name
                )
                if s.slot == slot
            ]
            last: tuple[MustHave, ...] = ()
        else:
            report = missing_at_break(
                must_have, ticked, quarter=slot.first_quarter, rules_name=rules_name
            )
            planned, last = list(report.now), report.last_chance
        action = [f for f in must_have if f.kind is FrameKind.ACTION and f.key not in ticked]
        ticked |= {frame.key for frame in planned}
        found.append(
            BreakRow(
                name=slot.name,
                minutes=slot.minutes,
                quarter=slot.first_quarter,
                now=tuple(f.title for f in planned),
                where=tuple(f.where for f in planned),
                last_chance=tuple(f.title for f in last),
                missing=tuple(f.title for f in action),
            )
        )
    return tuple(found)
