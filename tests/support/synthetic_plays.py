"""Drawn games as plays in canonical columns, for fits that must recover what they were drawn from.

Yards in the air and out of bounds are drawn from the model as well; a catch is made where the play
ended. Invented clubs ``A`` and ``B``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.domain.situation import SituationBatch
from lensyard.model.outcome_grid import KINDS, axis_codes

GAIN_MIN_YD = -20
SECONDS_PER_QUARTER = 900.0
AIR_YD: Final = np.arange(-10, 71)
CARRIED_KINDS: Final = ("run", "complete", "scramble")
THROWN_KINDS: Final = ("incomplete", "interception")
# What a row of a drawn game is, and what it led to.
PLAYED: Final = (*KINDS, "punt", "field_goal", "kickoff")
ENDED: Final = ("on", "touchdown", "return_touchdown", "field_goal", "missed", "safety", "over")

if TYPE_CHECKING:
    import pandas as pd


CLUBS: Final = np.array(["A", "B"], dtype=object)
END_ZONE_CATCH_YD: Final = 3
_DRIVE_END: Final = {
    "touchdown": "touchdown",
    "field_goal": "field_goal",
    "missed": "missed_field_goal",
    "safety": "safety",
    "on": "end_of_half",
}


def canonical_plays(drawn, outcome, *, seasons: Sequence[int], seed: int) -> pd.DataFrame:
    """Return drawn games as canonical plays, the games dealt out evenly over some seasons.

    - ``drawn``: whole games.
    - ``outcome``: the model whose yards in the air and out of bounds are drawn.
    - ``seasons``: at least one.
    - ``seed``: of these draws.
    """
    import pandas as pd

    rng = np.random.default_rng(seed)
    kind = np.array(PLAYED, dtype=object)[drawn.kind]
    season = np.asarray(seasons)[drawn.game * len(seasons) // (int(drawn.game.max()) + 1)]
    early = drawn.left_s > SECONDS_PER_QUARTER
    batch = _batch(drawn)
    touchdown = drawn.ended == ENDED.index("touchdown")
    gain = drawn.gain_yd
    columns = {
        "game_id": np.char.add("drawn-", drawn.game.astype(str)).astype(object),
        "season": season,
        "season_type": np.full(len(drawn), "REG", dtype=object),
        "week": np.ones(len(drawn), dtype=np.int64),
        "play_index": _order_in_game(drawn.game),
        "drive_index": drawn.drive,
        "home_club": np.full(len(drawn), "A", dtype=object),
        "away_club": np.full(len(drawn), "B", dtype=object),
        "offense": CLUBS[drawn.offense],
        "defense": CLUBS[1 - drawn.offense],
        "half": drawn.half,
        "quarter": 2 * drawn.half - early,
        "clock_s": np.rint(drawn.left_s - SECONDS_PER_QUARTER * early).astype(np.int64),
        "down": drawn.down,
        "distance_yd": drawn.distance_yd,
        "yardline_100": drawn.yardline_100,
        "score_diff": drawn.score_diff,
        "kind": kind,
        "gain_yd": gain,
        "air_yd": _air(rng, outcome, batch, drawn, touchdown),
        "out_of_bounds": _out_of_bounds(rng, outcome, batch, drawn),
        "touchdown": touchdown,
        "return_touchdown": drawn.ended == ENDED.index("return_touchdown"),
        "turnover": drawn.turnover,
        "first_down": (drawn.kind < len(KINDS)) & (gain >= drawn.distance_yd) & ~drawn.turnover,
        "kick_result": _kick_result(drawn),
        "end_yardline_100": np.clip(drawn.yardline_100 - gain, 0, 100),
    }
    plays = pd.DataFrame(columns)
    plays["drive_end"] = _drive_ends(plays, drawn)
    return plays


def _batch(drawn) -> SituationBatch:
    """Return the situations; a kickoff counts as first down, which nothing reads."""
    return SituationBatch.neutral(
        down=np.maximum(drawn.down, 1),
        distance_yd=np.clip(drawn.distance_yd, 1, drawn.yardline_100),
        yardline_100=drawn.yardline_100,
    )


def _order_in_game(game):
    """Return 0, 1, 2... within every game, shape (n,)."""
    first = np.searchsorted(game, game)
    return np.asarray(np.arange(game.shape[0]) - first)


def _air(
    rng: np.random.Generator,
    outcome,
    batch: SituationBatch,
    drawn,
    touchdown: np.ndarray,
):
    """Return yards in the air, NaN where nothing was thrown, shape (n,). [yd]"""
    air = np.full(len(drawn), np.nan)
    caught = drawn.kind == KINDS.index("complete")
    air[caught] = (drawn.gain_yd + END_ZONE_CATCH_YD * touchdown)[caught]
    codes = axis_codes(batch)
    for kind in THROWN_KINDS:
        some = np.flatnonzero(drawn.kind == KINDS.index(kind))
        pmf = outcome.air[kind].pmf({axis: code[some] for axis, code in codes.items()})
        below = np.cumsum(pmf, axis=1)
        u = rng.random(some.shape[0]) * below[:, -1]
        air[some] = AIR_YD[(below <= u[:, None]).sum(axis=1)]
    return air


def _out_of_bounds(rng: np.random.Generator, outcome, batch: SituationBatch, drawn) -> np.ndarray:
    """Return whether the carrier went out of bounds, shape (n,)."""
    p = np.zeros(len(drawn))
    context = axis_codes(batch)["context"]
    for index, kind in enumerate(CARRIED_KINDS):
        some = drawn.kind == KINDS.index(kind)
        p[some] = outcome.p_out[index, context[some], drawn.gain_yd[some] - GAIN_MIN_YD]
    return rng.random(len(drawn)) < p * (drawn.gain_yd < drawn.yardline_100)


def _kick_result(drawn) -> np.ndarray:
    """Return results of field goals and kickoffs; a punt is returned."""
    result = np.full(len(drawn), "", dtype=object)
    result[drawn.ended == ENDED.index("field_goal")] = "made"
    result[drawn.ended == ENDED.index("missed")] = "missed"
    result[np.isin(drawn.kind, [PLAYED.index("punt"), PLAYED.index("kickoff")])] = "returned"
    return result


def _drive_ends(plays: pd.DataFrame, drawn) -> pd.Series[str]:
    """Return how the drive of every row ended; empty on kickoffs."""
    snaps = plays[drawn.snaps]
    last = snaps.groupby(["game_id", "drive_index"], sort=False).tail(1)
    ended = np.array(ENDED, dtype=object)[drawn.ended[last.index]]
    gave = np.where(last["kind"] == "punt", "punt", np.where(last["turnover"], "turnover", "downs"))
    words = [_DRIVE_END.get(end, other) for end, other in zip(ended, gave, strict=True)]
    by_drive = last[["game_id", "drive_index"]].assign(drive_end=words)
    found = plays[["game_id", "drive_index"]].merge(by_drive, how="left")["drive_end"]
    return found.fillna("").where(drawn.snaps, "")
