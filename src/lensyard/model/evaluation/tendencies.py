"""What a club's own tendencies would add to the odds of the kinds of play.

A Dirichlet-multinomial posterior mean: the club's counts of earlier plays are added to the model's
expected ones, so a club's share of a kind moves by ``(count + K) / (expected + K)`` with K plays'
worth of doubt. Not used in answers: on professional plays the gain is next to nothing
(``lensyard evidence tendencies`` measures it), and a photographer's model knows no clubs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.errors import require_positive
from lensyard.model.outcome_grid import KINDS, FloatArray, IntArray
from lensyard.model.plays import batch_of, kind_index, live_plays

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.outcome import OutcomeModel

DOUBT_PLAYS: Final = (25.0, 50.0, 100.0, 200.0, 400.0, 800.0)
"""Strengths tried; the best on the season before is used."""


def tilted(p: FloatArray, counts: FloatArray, expected: FloatArray, *, doubt: float) -> FloatArray:
    """Return the model's kind probabilities, (n, 6), moved toward what a club did before.

    ``counts`` are what the club did before each play and ``expected`` what the model expected of
    it, (n, 6); ``doubt`` plays by kind, > 0, hold the factor at 1.
    """
    require_positive(doubt=doubt)
    moved = p * (counts + doubt) / (expected + doubt)
    return np.asarray(moved / moved.sum(axis=1, keepdims=True))


def running_before(values: FloatArray, club: IntArray, week: IntArray) -> FloatArray:
    """Return sums over the same club's plays of earlier weeks, shape (n, k).

    Only whole weeks that lie before count, so no play of a game enters its own forecast.
    """
    clubs, weeks = int(club.max()) + 1, int(week.max()) + 1
    total = np.zeros((clubs, weeks, values.shape[1]))
    np.add.at(total, (club, week), values)
    before = np.cumsum(total, axis=1) - total
    return np.asarray(before[club, week])


@dataclass(frozen=True, slots=True)
class TendencyGain:
    """Log-losses of the kind of play, by play, shape (n,): without and with clubs."""

    plain: FloatArray
    with_clubs: FloatArray
    game: IntArray

    @property
    def gain(self) -> float:
        """Mean gain a play; negative when clubs hurt. [nats]"""
        return float((self.plain - self.with_clubs).mean())

    @property
    def error(self) -> float:
        """Standard error of the gain, games being independent. [nats]"""
        difference = self.plain - self.with_clubs - self.gain
        by_game = np.bincount(self.game, weights=difference)
        return float(np.sqrt((by_game**2).sum()) / difference.shape[0])


def tendency_gain(
    model: OutcomeModel, plays: pd.DataFrame, *, doubt: float, one_club: bool = False
) -> TendencyGain:
    """Return log-losses on live plays of one season, clubs known from its earlier weeks.

    With ``one_club`` the whole league counts as one club: what is gained then is the drift of the
    season, not any club's tendency.
    """
    live = live_plays(plays)
    p = model.forecast(batch_of(live)).p_kind
    kind = kind_index(live)
    row = np.arange(kind.shape[0])
    club = np.unique(live["offense"].to_numpy(dtype=str), return_inverse=True)[1]
    club = club * 0 if one_club else club
    week = live["week"].to_numpy(dtype=np.int64)
    counts = running_before(np.eye(len(KINDS))[kind], club, week)
    expected = running_before(p, club, week)
    moved = tilted(p, counts, expected, doubt=doubt)
    return TendencyGain(
        plain=-np.log(p[row, kind]),
        with_clubs=-np.log(moved[row, kind]),
        game=np.unique(live["game_id"].to_numpy(dtype=str), return_inverse=True)[1],
    )
