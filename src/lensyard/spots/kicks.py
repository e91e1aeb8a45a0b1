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

from lensyard.arrays import BoolArray, Float32Array, FloatArray, IntArray, NDArray
from lensyard.domain.assignment import Faces, pays
from lensyard.domain.field import (
    CENTER_Y_YD,
    FIELD_LENGTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
    FieldRules,
)
from lensyard.domain.situation import Kick, PlayKind
from lensyard.errors import ModelError
from lensyard.model.context import Context
from lensyard.model.kicks import KickModel, KickOutlook
from lensyard.model.outcome import Forecast
from lensyard.model.outcome_grid import N_X, N_Y
from lensyard.model.paths import PathMasses
from lensyard.model.plays import KICKER_BACK_YD, PUNTER_BACK_YD
from lensyard.spots.scorer import Scorer

CLEAR_OF_POSTS_YD: Final = 3.0
"""Behind the goal that is kicked at nobody stands nearer than this to an upright or between them:
net, posts, and whoever catches the ball. [yd]"""
APART_YD: Final = 6.0
"""Two places for a kick nearer to each other than this are one. [yd]"""
AHEAD_YD: Final = 4.0
"""So far ahead of the line of scrimmage one stands for a kicker's face: common practice. [yd]"""
NOTHING: Final = 1e-6
"""Up to here nothing of a kick is usable."""
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


def usable_frames(scorer: Scorer, frames: Sequence[KickFrames]) -> FloatArray:
    """Return P(a usable frame) of each of m kicks from each station, shape (m, n)."""
    total = np.zeros((len(frames), len(scorer.perimeter)))
    for faces, masses in (
        (Faces.DEFENSE, [f.returners for f in frames]),
        (Faces.OFFENSE, [f.kickers for f in frames]),
    ):
        if any(mass.any() for mass in masses):
            total += scorer.showing(faces).expected_value(PathMasses.of_points(np.stack(masses)))
    return np.clip(total, 0.0, 1.0)


def is_practice(play: PlayKind) -> bool:
    """Return whether common practice says where the frames of a kick are, not counts."""
    return play in (PlayKind.FIELD_GOAL, PlayKind.TRY)


def kick_limit_yd(kick: Kick, drive_yd: float, change_yd: float) -> float:
    """Return how far one gets before a kick: farther after a score than within a drive. [yd]"""
    after_score = kick.play in (PlayKind.KICKOFF, PlayKind.FREE_KICK)
    return max(change_yd, drive_yd) if after_score else drive_yd


def frames_of(context: Context, kick: Kick) -> KickFrames:
    """Return the frames of a kick.

    Raises `ModelError` if the model holds no kicks and they are counted.
    """
    line = kick.yardline_100
    if is_practice(kick.play):
        return field_goal_frames(line)
    if kick.play is PlayKind.FREE_KICK:
        return free_kick_frames(context.transition().table("next_free_kick"))
    kicks = context.kicks()
    if kick.play is PlayKind.PUNT:
        return punt_frames(kicks.punt(yardline_100=line), yardline_100=line)
    return kickoff_frames(kicks, from_yard_line=100 - line)


def p_usable_of(scorer: Scorer, frames: KickFrames, kick: Kick) -> FloatArray:
    """Return P(a usable frame) of a kick from each station, -1 where nobody stands, shape (n,)."""
    allowed = scorer.open
    if is_practice(kick.play):
        allowed = allowed & clear_of_the_kick(scorer, scorer.perimeter.venue.rules)
    return np.where(allowed, usable_frames(scorer, [frames])[0], -1.0)


def places_for(
    scorer: Scorer,
    p_usable: FloatArray,
    kick: Kick,
    *,
    standing: int | None = None,
    limit_yd: float = np.inf,
    top: int = 1,
) -> list[int]:
    """Return the best stations for a kick within the walk, none within `APART_YD` of a better one.

    ``p_usable`` is as `p_usable_of` has it, compared in whole percents: among equals the one
    nearest to where one stands comes first, or nearest to a few yards ahead of the line.
    """
    x = scorer.xy_yd[0]
    away = np.abs(x - kick.line_x_yd - AHEAD_YD)
    if standing is not None:
        away = scorer.walk_yd[standing]
        p_usable = np.where(away <= limit_yd + 1e-6, p_usable, -1.0)
    chosen: list[int] = []
    for station in np.lexsort((np.arange(p_usable.shape[0]), away, -np.round(p_usable, 2))):
        if len(chosen) == top or p_usable[station] <= NOTHING:
            break
        if all(scorer.walk_yd[station, other] >= APART_YD for other in chosen):
            chosen.append(int(station))
    return chosen


def place_for(
    scorer: Scorer, p_usable: FloatArray, found: list[int], *, standing: int, least: float
) -> int:
    """Return where to be for a kick from where one stands: the first place found, if that pays.

    Else where one stands, or the nearest place where one may stand. ``found`` is of `places_for`.
    """
    if found and pays(float(p_usable[found[0]]), least):
        return found[0]
    return int(np.where(p_usable >= 0.0, scorer.walk_yd[standing], np.inf).argmin())


@dataclass(frozen=True, slots=True, eq=False)
class FourthDowns:
    """What kicks add to n stations on the k fourth downs among m situations.

    - ``rows``: which situations they are, shape (k,)
    - ``choice``: how likely going for it, a punt and a field goal are, shape (k, 3); rows sum to 1
    - ``punt``, ``field_goal``: P(a usable frame) if it comes, shape (k, n)
    - ``clear``: which stations keep clear of a field goal, shape (n,)
    """

    rows: IntArray
    choice: FloatArray
    punt: FloatArray
    field_goal: FloatArray
    clear: BoolArray

    def mixed(self, going: NDArray[np.floating], *, kick_value: float = 1.0) -> FloatArray:
        """Return what stations have of m snaps, from what they have of plays from scrimmage.

        ``going``: shape (m, n), unchanged where it is not fourth down. ``kick_value``: what a
        usable frame of a kick counts.
        """
        go, punt, kick = self.choice.T[:, :, np.newaxis]
        found = np.array(going, dtype=np.float64)
        kicked = punt * self.punt + kick * self.field_goal
        found[self.rows] = go * found[self.rows] + kick_value * kicked
        return found

    def keeps_clear(self, m: int) -> BoolArray:
        """Return in which of m situations a field goal may come, so that one keeps clear, (m,)."""
        found = np.zeros(m, dtype=bool)
        found[self.rows] = self.choice[:, 2] >= LEAST_TRIED
        return found

    def may_stand(self, allowed: BoolArray) -> BoolArray:
        """Return which stations one may be at in a single fourth down, of those allowed, (n,)."""
        return allowed & self.clear if self.choice[0, 2] >= LEAST_TRIED else allowed


def kicks_of(context: Context, forecast: Forecast, scorer: Scorer) -> FourthDowns | None:
    """Return what kicks add in the situations of a forecast.

    None where none is a fourth down, or the model holds no kicks.
    """
    rows = np.flatnonzero(forecast.batch.down == 4)
    if rows.size == 0:
        return None
    try:
        kicks = context.kicks()
    except ModelError:
        return None
    lines, line = np.unique(forecast.batch.yardline_100[rows], return_inverse=True)
    frames = [punt_frames(kicks.punt(yardline_100=y), yardline_100=y) for y in lines.tolist()]
    punt = usable_frames(scorer, frames)
    kick = usable_frames(scorer, [field_goal_frames(y) for y in lines.tolist()])
    clear = clear_of_the_kick(scorer, scorer.perimeter.venue.rules)
    return FourthDowns(
        rows=rows,
        choice=forecast.p_fourth_down_choice[rows],
        punt=punt[line],
        field_goal=(kick * clear)[line],
        clear=clear,
    )
