"""From canonical plays to what the fits read, and real games made ready to be played again.

The fits' columns are named here and nowhere else.

Replays say where each play ended and which way it went. Sideways ends and hash marks are not in the
data; they are drawn with a fixed seed. Ends come from the lateral prior, given the direction, depth
and out-of-bounds labels that the data has. The first snap of a drive lies at a hash mark as often
as snaps do in the long run; each later one where the play before left the ball, by the rule: where
it was dead between the hash marks, else at the nearer one, and after an incompletion where it was
snapped.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import AnyArray, BoolArray, FloatArray, IntArray
from lensyard.domain.assignment import OutcomeWeights
from lensyard.domain.field import FIELD_WIDTH_YD, RULES
from lensyard.domain.situation import UNKNOWN_HASH, SituationBatch
from lensyard.errors import DataError
from lensyard.model.cells import draw_end_x_yd, start_x_yd
from lensyard.model.kicks import RETURN_TOUCHDOWN_X
from lensyard.model.lateral import LateralPrior
from lensyard.model.lateral_sampling import LabeledPlays, draw_end_y_yd, draw_hash
from lensyard.model.outcome import SHORTEST_GAIN_YD
from lensyard.model.outcome_grid import (
    CHOICE_OF_KIND,
    DRIVE_ENDS,
    GOAL_X,
    KINDS,
    LONG_GAIN_YD,
    codes,
)
from lensyard.records import ArrayRecord
from lensyard.units import SECONDS_PER_QUARTER

if TYPE_CHECKING:
    import pandas as pd


SNAP_KINDS: Final = (*KINDS, "punt", "field_goal")
COLUMNS = (
    *("game_id", "season", "season_type", "play_index", "drive_index", "offense", "half"),
    *("quarter", "clock_s", "down", "distance_yd", "yardline_100", "score_diff", "kind"),
    *("gain_yd", "air_yd", "out_of_bounds", "touchdown", "return_touchdown", "turnover"),
    *("first_down", "kick_result", "end_yardline_100", "drive_end"),
)
"""The canonical columns that the fits read."""


def select_seasons(plays: pd.DataFrame, seasons: Sequence[int]) -> pd.DataFrame:
    """Return regular-season plays of these seasons, in their order.

    Raises `DataError` if a column is missing or a season has no plays.
    """
    missing = [name for name in COLUMNS if name not in plays.columns]
    if missing:
        raise DataError(f"plays lack the columns {missing}; give them in the canonical schema")
    chosen = plays[plays["season"].isin(list(seasons)) & (plays["season_type"] == "REG")]
    found = set(chosen["season"].unique())
    absent = sorted(set(seasons) - found)
    if absent:
        raise DataError(f"no regular-season plays of {absent}; import them or leave them out")
    return chosen


UNKNOWN_AS: Final = {
    "out_of_bounds": False,
    "turnover": False,
    "penalty": False,
    "kick_result": "",
    "drive_end": "",
}
"""How a play that does not say it is counted where something must be."""


def without_unknown(plays: pd.DataFrame) -> pd.DataFrame:
    """Return plays in which what is not known counts as not having happened."""
    gaps = {
        name: value
        for name, value in UNKNOWN_AS.items()
        if name in plays.columns and plays[name].isna().any()
    }
    if not gaps:
        return plays
    filled = plays.fillna(gaps)
    flags = [name for name, value in gaps.items() if value is False]
    return filled.astype(dict.fromkeys(flags, bool))


def live_plays(plays: pd.DataFrame) -> pd.DataFrame:
    """Return the plays that the model is about: run, pass, sack, scramble on a down.

    Kneels, spikes, kicks, tries and plays that a penalty wiped out are left out.
    """
    return plays[plays["kind"].isin(KINDS) & plays["down"].between(1, 4)]


def drive_snaps(plays: pd.DataFrame) -> pd.DataFrame:
    """Return the snaps that P(how the drive ends) is fitted on, their drives' ends known.

    On fourth down without kicks, which are mixed in by how likely they are
    (`lensyard.model.outcome`).
    """
    snaps = plays[plays["kind"].isin(SNAP_KINDS) & plays["down"].between(1, 4)]
    going = (snaps["down"] < 4) | snaps["kind"].isin(KINDS)
    return snaps[going & snaps["drive_end"].isin(DRIVE_ENDS)]


def pair_snaps(chosen: pd.DataFrame) -> pd.DataFrame:
    """Return snaps with the next snap of the same half beside them.

    Adds ``next_offense``, ``next_down``, ``next_distance_yd`` and ``next_yardline_100`` (missing
    for the last snap of a half) and ``kept`` (same offense). Kneels and spikes are no snaps; a
    possession that ends in kneels ends with the snap before them.
    """
    snaps = chosen[chosen["kind"].isin(SNAP_KINDS) & chosen["down"].between(1, 4)].copy()
    following = snaps.groupby(["game_id", "half"])[
        ["offense", "down", "distance_yd", "yardline_100"]
    ].shift(-1)
    for name in following.columns:
        snaps[f"next_{name}"] = following[name]
    snaps["kept"] = snaps["next_offense"] == snaps["offense"]
    return snaps


def batch_of(plays: pd.DataFrame) -> SituationBatch:
    """Return the situations before the snap; the hash mark is not in the data.

    A missing clock counts as the middle of the quarter, a missing score as even.
    """
    quarter = plays["quarter"].to_numpy(dtype=np.int64).clip(1, 5)
    clock = plays["clock_s"].fillna(SECONDS_PER_QUARTER // 2).to_numpy(dtype=np.float64)
    yardline = plays["yardline_100"].to_numpy(dtype=np.int64)
    return SituationBatch(
        down=plays["down"].to_numpy(dtype=np.int64),
        distance_yd=np.clip(plays["distance_yd"].to_numpy(dtype=np.int64), 1, yardline),
        yardline_100=yardline,
        score_diff=plays["score_diff"].fillna(0).to_numpy(dtype=np.int64),
        quarter=quarter,
        half_s=clock + SECONDS_PER_QUARTER * np.isin(quarter, (1, 3)),
        hash_code=np.full(len(plays), UNKNOWN_HASH, dtype=np.int64),
    )


def gains_of(plays: pd.DataFrame) -> IntArray:
    """Return gains as the model counts them, shape (n,): within the field, -20 at least. [yd]"""
    yardline = plays["yardline_100"].to_numpy(dtype=np.int64)
    gain = np.minimum(plays["gain_yd"].to_numpy(dtype=np.int64), yardline)
    return np.asarray(np.maximum(gain, SHORTEST_GAIN_YD[yardline - 1]), dtype=np.int64)


def kind_index(plays: pd.DataFrame) -> IntArray:
    """Return the position in `KINDS`, -1 for others, shape (n,)."""
    return codes(plays["kind"], KINDS)


def choice_index(snaps: pd.DataFrame) -> IntArray:
    """Return the position in `FOURTH_DOWN_CHOICES` of snaps, shape (n,)."""
    return np.asarray(snaps["kind"].map(CHOICE_OF_KIND), dtype=np.int64)


def recency_weight(plays: pd.DataFrame, half_life_seasons: float) -> FloatArray:
    """Return weights that halve with every so many seasons before the last, shape (n,)."""
    season = plays["season"].to_numpy(dtype=np.float64)
    return np.asarray(0.5 ** ((season.max() - season) / half_life_seasons))


def seasons_back(plays: pd.DataFrame) -> FloatArray:
    """Return seasons before the last one in tens, shape (n,), 0 or negative."""
    season = plays["season"].to_numpy(dtype=np.float64)
    return np.asarray((season - season.max()) / 10.0)


def data_sha256(plays: pd.DataFrame) -> str:
    """Return a hash of the columns that the fits read, in the order of the rows."""
    digest = hashlib.sha256()
    for name in COLUMNS:
        column = plays[name]
        digest.update(name.encode())
        if column.dtype.kind in "biuf":
            digest.update(column.to_numpy(dtype=np.float64, na_value=np.nan).tobytes())
        else:
            digest.update("\n".join(column.astype(str)).encode())
    return digest.hexdigest()


NO_KICK, RETURN, PUNTER, KICKER = range(4)
"""Whose frame a play gives: of a kick its return, else the punter or the kicker."""
KICK_COLUMNS: Final = ("kick_result", "end_yardline_100", "return_touchdown")
"""What a replay with kicks reads besides."""
PUNTER_BACK_YD: Final = 14
"""A punter catches the snap so far behind the line of scrimmage: common practice. [yd]"""
KICKER_BACK_YD: Final = 7
"""A field goal is kicked so far behind the line of scrimmage (`SNAP_TO_POSTS_YD` less 10). [yd]"""

OUTCOMES: Final = tuple(field.name for field in fields(OutcomeWeights))
"""What a play can end as; every play has exactly one."""


class Replay(ArrayRecord):
    """m scrimmage plays of g games, in order, with punts and field goals where they count.

    - ``batch``: the situations before the snaps.
    - ``game``: which game, 0..g-1, shape (m,).
    - ``order``: number of the play within its game, from 0, shape (m,).
    - ``offense_home``: whether the home club has the ball, shape (m,).
    - ``direction``: +1 toward end B, -1 toward end A, shape (m,).
    - ``end_x_yd``, ``end_y_yd``: where the action ended in the play frame (for an incompletion
      where the ball came down), shape (m,). [yd]
    - ``start_x_yd``: where its path along that lane started (`lensyard.model.cells`), shape (m,);
      never beyond the end. [yd]
    - ``outcome``: index into `OUTCOMES`, shape (m,).
    - ``drop_back``: whether the quarterback dropped back, shape (m,).
    - ``kick``: `NO_KICK`, or whose frame a kick gives: of `RETURN`, `PUNTER`, `KICKER`, shape (m,).
    - ``possession_change``, ``quarter_break``, ``free_move``: whether before this play the ball
      changed hands, a quarter ended, or one could go anywhere (first play and halftime), shape
      (m,).
    """

    batch: SituationBatch
    game: IntArray
    order: IntArray
    offense_home: BoolArray
    direction: IntArray
    end_x_yd: FloatArray
    end_y_yd: FloatArray
    start_x_yd: FloatArray
    outcome: IntArray
    drop_back: BoolArray
    kick: IntArray
    possession_change: BoolArray
    quarter_break: BoolArray
    free_move: BoolArray

    def __len__(self) -> int:
        """The number of plays."""
        return int(self.game.shape[0])

    @property
    def games(self) -> int:
        """The number of games."""
        return int(self.game.max()) + 1 if len(self) else 0

    def steps(self) -> Iterator[IntArray]:
        """Yield the rows of the first play of every game, then of the second, and so on."""
        yield from _steps(self.order)

    def take(self, index: IntArray) -> Replay:
        """Return these plays only (for reading; steps need whole games)."""
        parts = {f.name: getattr(self, f.name)[index] for f in fields(self) if f.name != "batch"}
        return Replay(batch=self.batch.take(index), **parts)


def replay_of(plays: pd.DataFrame, *, seed: int = 20190905, kicks: bool = False) -> Replay:
    """Return a replay of canonical plays of whole games, in order of game and ``play_index``.

    The seed is that of the draws and of each game's opening direction; hash marks are those of the
    professional game. ``kicks``: whether punts and field goals are among the plays; then the table
    has their columns too, and the plays without a kick are the same as without.
    """
    rng = np.random.default_rng(seed)
    table = without_unknown(plays)
    kinds = SNAP_KINDS if kicks else KINDS
    table = table[table["kind"].isin(kinds) & table["down"].between(1, 4)]
    table = table[table["yardline_100"].between(1, 99)]
    live = table["kind"].isin(KINDS).to_numpy()
    start = _differs(table["game_id"].to_numpy())
    game = np.cumsum(start).astype(np.int64) - 1
    quarter = table["quarter"].to_numpy(np.int64)
    home = (table["offense"] == table["home_club"]).to_numpy(bool)
    opening = rng.choice(np.array([-1, 1]), size=int(game.max()) + 1 if game.size else 0)
    # Ends are swapped each quarter; the home club's direction carries the game's draw.
    swaps = np.where(np.isin(quarter, (2, 4)), -1, 1)
    direction = opening[game] * swaps * np.where(home, 1, -1)
    change = start | _differs(home) | _differs(table["drive_index"].to_numpy(np.int64))
    quarter_change = _differs(quarter) & ~start
    halftime = quarter_change & _differs(quarter > 2) & (quarter > 2)
    count = np.arange(len(table))
    order = count - np.maximum.accumulate(np.where(start, count, 0))
    batch = batch_of(table)
    snaps, line = table[live], batch.yardline_100[live]
    labeled = LabeledPlays.of(snaps, batch.hash_code[live])
    end_x = draw_end_x_yd(
        rng,
        kind=labeled.kind,
        gain_yd=labeled.gain_yd,
        air_yd=labeled.air_yd,
        yardline_100=line,
        touchdown=snaps["touchdown"].to_numpy(bool),
    )
    first = _differs(game[live])
    fresh = first | _differs(home[live]) | _differs(snaps["drive_index"].to_numpy(np.int64))
    count = np.arange(len(snaps))
    within = count - np.maximum.accumulate(np.where(first, count, 0))
    hash_code, end_y = _sideways(labeled, order=within, fresh=fresh, rng=rng)
    start_x = start_x_yd(
        kind=labeled.kind,
        gain_yd=labeled.gain_yd,
        air_yd=labeled.air_yd,
        yardline_100=line,
        end_x_yd=end_x,
    )
    kick = np.full(len(table), NO_KICK)
    if kicks:
        kick[~live], kick_x, kick_y = _kick_frames(table[~live], rng)
        end_x, start_x, end_y = (
            _filled(live, of_snaps, of_kicks)
            for of_snaps, of_kicks in ((end_x, kick_x), (start_x, kick_x), (end_y, kick_y))
        )
        hash_code = _filled(live, hash_code, batch.hash_code[~live])
    return Replay(
        batch=replace(batch, hash_code=hash_code),
        game=game,
        order=order,
        offense_home=home,
        direction=direction.astype(np.int64),
        end_x_yd=end_x,
        end_y_yd=end_y,
        start_x_yd=start_x,
        outcome=_outcomes(table),
        drop_back=live & (table["kind"] != "run").to_numpy(),
        kick=kick,
        possession_change=change,
        quarter_break=quarter_change,
        free_move=start | halftime,
    )


def _kick_frames(
    kicks: pd.DataFrame, rng: np.random.Generator
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return whose frame each punt or field goal gives, and where (x and y), shape (k,) each. [yd]

    The source has no sideways place for kicks: returns are spread evenly over the field.
    """
    result = kicks["kick_result"].to_numpy(object)
    line_x = GOAL_X - kicks["yardline_100"].to_numpy(np.float64)
    end_x = GOAL_X - kicks["end_yardline_100"].to_numpy(np.float64)
    end_x = np.where(kicks["return_touchdown"].to_numpy(bool), RETURN_TOUCHDOWN_X, end_x)
    punt = (kicks["kind"] == "punt").to_numpy()
    back = punt & ~np.isin(result, ("touchback", "out_of_bounds")) & ~np.isnan(end_x)
    x = np.where(punt, line_x - PUNTER_BACK_YD, line_x - KICKER_BACK_YD)
    x = np.clip(np.where(back, end_x, x), 0.0, GOAL_X - 1.0)
    y = np.where(back, rng.uniform(0.0, FIELD_WIDTH_YD, len(kicks)), FIELD_WIDTH_YD / 2)
    return np.where(back, RETURN, np.where(punt, PUNTER, KICKER)), x, y


def _filled(live: BoolArray, of_snaps: AnyArray, of_kicks: AnyArray) -> AnyArray:
    """Return the values of snaps and kicks in the order of the plays, shape (m,)."""
    found = np.empty(live.shape[0], dtype=of_snaps.dtype)
    found[live], found[~live] = of_snaps, of_kicks
    return found


def _steps(order: IntArray) -> list[IntArray]:
    """Return the rows of the first play of every game, then of the second, and so on."""
    return np.split(np.argsort(order, kind="stable"), np.cumsum(np.bincount(order))[:-1])


def _differs(values: BoolArray | IntArray) -> BoolArray:
    """Return which values differ from the one before; the first does."""
    return np.concatenate([[True], values[1:] != values[:-1]])[: len(values)]


def _sideways(
    plays: LabeledPlays,
    *,
    order: IntArray,
    fresh: BoolArray,
    rng: np.random.Generator,
) -> tuple[IntArray, FloatArray]:
    """Return hash code and y of the action's end for whole games, each of shape (m,).

    Each play is drawn from all three hash marks with the same random numbers; then the chain of
    each drive picks. ``fresh`` marks the first play of a drive.
    """
    prior = LateralPrior.build(rules=RULES["pro"])
    seeds = rng.integers(2**32, size=2)
    start = rng.choice(3, size=len(order), p=prior.hash_shares).astype(np.int64)
    ends, following = [], []
    for mark in range(3):
        from_here = replace(plays, hash_code=np.full(len(order), mark, dtype=np.int64))
        draw = np.random.default_rng(seeds[0])
        y = draw_end_y_yd(draw, from_here, rules=prior.rules)
        following.append(
            draw_hash(
                np.random.default_rng(seeds[1]),
                y_end_yd=y,
                kind=plays.kind,
                hash_code=from_here.hash_code,
                rules=prior.rules,
            )
        )
        ends.append(y)
    y_of, next_of = np.stack(ends), np.stack(following)
    code = np.where(fresh, start, 0)
    for rows in _steps(order):
        later = rows[~fresh[rows]]
        code[later] = next_of[code[later - 1], later - 1]
    return code, y_of[code, np.arange(len(order))]


def _outcomes(table: pd.DataFrame) -> IntArray:
    """Return the outcome code of each play, shape (m,)."""
    kind = table["kind"].to_numpy(object)
    outcome = np.full(len(table), OUTCOMES.index("other"), dtype=np.int64)
    outcome[table["gain_yd"].to_numpy(np.float64) >= LONG_GAIN_YD] = OUTCOMES.index("gain20")
    outcome[kind == "sack"] = OUTCOMES.index("sack")
    outcome[kind == "incomplete"] = OUTCOMES.index("incompletion")
    outcome[kind == "interception"] = OUTCOMES.index("interception")
    outcome[table["touchdown"].to_numpy(bool)] = OUTCOMES.index("touchdown")
    return outcome
