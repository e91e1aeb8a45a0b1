"""What there is to photograph of a kick, from where, and what to keep clear of.

A punt or kickoff that comes back is photographed where its return ends, with the faces of the
receiving team, which comes against the kicking team's direction; a punt that nobody returns leaves
the punter, as a field goal leaves the kicker and the block. Coordinates: `PlayPoint` of the kicking
team. The source has no sideways place for kicks, so returns are spread evenly over the lanes.

Where returns end is counted (`lensyard.model.kicks`); that the punter and the kicker are worth a
frame, and what one keeps clear of, is common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from lensyard.domain.assignment import Faces
from lensyard.domain.field import (
    CENTER_Y_YD,
    FIELD_LENGTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
    FieldRules,
)
from lensyard.errors import ModelError
from lensyard.model.context import Context
from lensyard.model.kicks import KickModel, KickOutlook
from lensyard.model.outcome import Forecast
from lensyard.model.outcome_grid import N_X, N_Y, BoolArray, Float32Array, FloatArray
from lensyard.spots.scorer import Scorer

PUNTER_BACK_YD: Final = 14
"""A punter catches the snap so far behind the line of scrimmage: common practice. [yd]"""
KICKER_BACK_YD: Final = 7
"""A field goal is kicked so far behind the line of scrimmage (`SNAP_TO_POSTS_YD` less 10). [yd]"""
CLEAR_OF_POSTS_YD: Final = 3.0
"""Behind the goal that is kicked at nobody stands nearer than this to an upright or between them:
net, posts, and whoever catches the ball. [yd]"""
LEAST_TRIED: Final = 0.05
"""From this chance of a field goal on nobody is sent where one keeps clear of it."""
_MIDDLE: Final = slice(N_Y // 2 - 1, N_Y // 2 + 1)


@dataclass(frozen=True, slots=True, eq=False)
class KickFrames:
    """Where the frames of a kick are, by whose faces, shape (121, 18) each; they sum to 1.

    ``returners`` come against the kicking team's direction, ``kickers`` look along it.
    """

    returners: Float32Array
    kickers: Float32Array

    @property
    def both(self) -> Float32Array:
        """All frames, whoever's faces they show, shape (121, 18)."""
        return self.returners + self.kickers


def return_ends(outlook: KickOutlook) -> FloatArray:
    """Return where kicks that stay in play end, shape (121,): no touchback, not out of bounds."""
    alive = outlook.end_x - outlook.out_x
    alive[int(OPPONENT_GOAL_LINE_X_YD) + 1 :] = 0.0
    return np.maximum(alive, 0.0)


def moved(ends: FloatArray, by_yd: int) -> FloatArray:
    """Return ends along the field of kicks from a line so many yards farther forward, (121,).

    What would end in the receiving team's end zone ends at its goal line; return touchdowns stay.
    """
    goal = int(OPPONENT_GOAL_LINE_X_YD)
    scored = np.arange(N_X) < OWN_GOAL_LINE_X_YD
    x = np.clip(np.arange(N_X) + by_yd, int(OWN_GOAL_LINE_X_YD), goal)
    places = np.where(scored, np.arange(N_X), x)
    return np.bincount(places, weights=ends, minlength=N_X).astype(np.float64)


def punt_frames(outlook: KickOutlook, *, yardline_100: int) -> KickFrames:
    """Return the frames of a punt: where it ends in play, else the punter."""
    alive = return_ends(outlook)
    return KickFrames(
        returners=_across(alive), kickers=_kicker(yardline_100, PUNTER_BACK_YD, 1.0 - alive.sum())
    )


def kickoff_frames(kicks: KickModel, *, from_yard_line: int) -> KickFrames:
    """Return the frames of a kickoff that stays in play, moved to the yard line of the kick."""
    ends = return_ends(kicks.kickoff())
    ends = moved(ends, from_yard_line - round(float(kicks.kickoff_yard_line[0])))
    return return_frames(ends)


def return_frames(ends: FloatArray) -> KickFrames:
    """Return the frames of returns alone, from where they end along the field, shape (121,)."""
    return KickFrames(_across(ends / ends.sum()), np.zeros((N_X, N_Y), dtype=np.float32))


def free_kick_frames(starts: FloatArray) -> KickFrames:
    """Return the frames of the free kick after a safety.

    ``starts``: P(the receiving team's next snap at its `yardline_100`), shape (99,), which is where
    the return ended.
    """
    ends = np.zeros(N_X)
    first = int(OWN_GOAL_LINE_X_YD) + 1
    ends[first : first + starts.shape[0]] = starts
    return return_frames(ends)


def field_goal_frames(yardline_100: int) -> KickFrames:
    """Return the frame of a field goal or a kicked try: the kicker, by common practice."""
    return KickFrames(
        np.zeros((N_X, N_Y), dtype=np.float32), _kicker(yardline_100, KICKER_BACK_YD, 1.0)
    )


def _across(ends: FloatArray) -> Float32Array:
    """Return ends along the field, (121,), spread evenly over the lanes, (121, 18)."""
    cells = np.zeros((N_X, N_Y), dtype=np.float32)
    cells[:, 1:-1] = ends[:, None] / (N_Y - 2)
    return cells


def _kicker(yardline_100: int, back_yd: int, mass: float) -> Float32Array:
    """Return the mass of the frame of a kicker so far behind the line, (121, 18)."""
    cells = np.zeros((N_X, N_Y), dtype=np.float32)
    x = max(int(OPPONENT_GOAL_LINE_X_YD) - yardline_100 - back_yd, 0)
    cells[x, _MIDDLE] = max(mass, 0.0) / 2
    return cells


def clear_of_the_kick(scorer: Scorer, rules: FieldRules) -> BoolArray:
    """Return which stations are clear of the goal that is kicked at, shape (n,)."""
    x, y = scorer.xy_yd
    behind = x > FIELD_LENGTH_YD
    near = np.abs(y - CENTER_Y_YD) < rules.goal_width_yd / 2 + CLEAR_OF_POSTS_YD
    return np.asarray(~(behind & near))


def points(masses: Sequence[Float32Array]) -> Float32Array:
    """Return m masses of frames at single points as paths that start where they end.

    Shape (m, 2, 121, 18), as `Scorer.expected_value` takes it.
    """
    return np.repeat(np.stack(masses)[:, np.newaxis], 2, axis=1)


def facing(scorer: Scorer, faces: Faces) -> Scorer:
    """Return the scorer with whose faces are wanted, over the whole field."""
    return Scorer(scorer.perimeter, scorer.kit, scorer.direction, faces, scorer.facing_limit_deg)


@dataclass(frozen=True, slots=True, eq=False)
class KickScorer:
    """What each station has of a kick: returners and kickers, from two scorers of one venue."""

    returners: Scorer
    kickers: Scorer

    @staticmethod
    def of(scorer: Scorer) -> KickScorer:
        """Return the scorers of kicks beside one of plays."""
        return KickScorer(facing(scorer, Faces.DEFENSE), facing(scorer, Faces.OFFENSE))

    def usable(self, *frames: KickFrames) -> FloatArray:
        """Return P(a usable frame) of each kick from each station, shape (m, n)."""
        total = self.returners.expected_value(points([f.returners for f in frames]))
        total = total + self.kickers.expected_value(points([f.kickers for f in frames]))
        return np.clip(total.astype(np.float64), 0.0, 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class FourthDown:
    """What kicks add to stations on fourth down.

    - ``p_go``, ``p_punt``, ``p_field_goal``: how likely each is; they sum to 1.
    - ``punt``, ``field_goal``: P(a usable frame) if it comes, shape (n,).
    - ``clear``: which stations are no trouble where a field goal may come, shape (n,).
    """

    p_go: float
    p_punt: float
    p_field_goal: float
    punt: FloatArray
    field_goal: FloatArray
    clear: BoolArray

    def mixed(self, go: FloatArray, *, kick_value: float = 1.0) -> FloatArray:
        """Return what stations have of the snap, shape (n,), from what they have of going for it.

        ``kick_value``: what a usable frame of a kick counts.
        """
        kicked = self.p_punt * self.punt + self.p_field_goal * self.field_goal
        return self.p_go * go + kick_value * kicked


def fourth_down(
    forecast: Forecast, kicks: KickModel, scorer: Scorer, rules: FieldRules
) -> FourthDown:
    """Return what kicks add on fourth down in the first situation of a forecast."""
    go, punt, kick = (float(p) for p in forecast.p_fourth_down_choice[0])
    line = int(forecast.batch.yardline_100[0])
    frames = (
        punt_frames(kicks.punt(yardline_100=line), yardline_100=line),
        field_goal_frames(line),
    )
    punted, tried = KickScorer.of(scorer).usable(*frames)
    clear = clear_of_the_kick(scorer, rules)
    return FourthDown(
        p_go=go,
        p_punt=punt,
        p_field_goal=kick,
        punt=punted,
        field_goal=tried * clear,
        clear=clear | (kick < LEAST_TRIED),
    )


def kicks_of(context: Context, forecast: Forecast, scorer: Scorer) -> FourthDown | None:
    """Return what kicks add in the first situation of a forecast.

    None where it is not fourth down, or the model holds no kicks.
    """
    if forecast.batch.down[0] != 4:
        return None
    try:
        kicks = context.kicks()
    except ModelError:
        return None
    return fourth_down(forecast, kicks, scorer, scorer.perimeter.venue.rules)
