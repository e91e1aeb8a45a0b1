"""Games simulated from the model, whose probabilities are known.

Games are played snap by snap on a clock. Counted like real games they show whether the model's
plays add up to real drives (`lensyard.model.drives`): then kinds, choices and gains are those of
the situation, score and clock included. As plays in canonical columns they are data with a known
answer, which a fit must recover: then they depend on down, distance and yard line alone, as in the
matrices of `lensyard.model.transition` (``marginal``). What penalties, kicks and turnovers do to
the ball is the same in both.

The clubs are equal. Overtime, tries, kneels and spikes are not played; a try counts
its average points.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any, Final

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.domain.situation import SituationBatch
from lensyard.model import outcome_grid as grid
from lensyard.model.drives import HALF_S, DriveCounts, SnapClock
from lensyard.model.outcome_grid import FIRST_DOWN_DISTANCES_YD, axis_codes, rows_of
from lensyard.model.transition import (
    TransitionModel,
    missed_spot,
    moved_by_penalty,
    penalty_zone,
)
from lensyard.records import Record
from lensyard.units import SECONDS_PER_QUARTER

PLAYED: Final = (*grid.KINDS, "punt", "field_goal", "kickoff")
"""The kinds of rows of a simulated game."""
ENDED: Final = ("on", "touchdown", "return_touchdown", "field_goal", "missed", "safety", "over")
"""What a snap led to: on (same offense), a score, a miss, or the ball going over."""
ON, TOUCHDOWN, RETURNED, MADE, MISSED, SAFETY, OVER = range(len(ENDED))
MAX_SNAPS: Final = 400
KICKOFF_YARDLINE_100: Final = 65
FREE_KICK_YARDLINE_100: Final = 80
OWN_KICK_YARDLINE_100: Final = 55
"""Where a club starts that recovers its own kickoff."""
_PUNT, _KICK, _KICKOFF = (PLAYED.index(name) for name in ("punt", "field_goal", "kickoff"))
_FOLLOWED_BY: Final = np.array([1, 3, 3, 3, 2, 3, 2])
"""By `ENDED` the index into `snap_clock.FOLLOWED_BY`."""


class SimulatedPlays(Record):
    """Rows of simulated games, in the order of games and plays; every array has shape (n,).

    - ``game``, ``half``, ``offense``, ``drive``: which game (from 0), half (1 or 2), club (0 or 1)
      and possession of the game.
    - ``down``, ``distance_yd``, ``yardline_100``: the situation; down and distance are 0 on
      kickoffs.
    - ``left_s``: time left in the half. [s]
    - ``score_diff``: offense's points less defense's, rounded.
    - ``kind``, ``ended``: index into `PLAYED` and `ENDED`.
    - ``gain_yd``: of moving kinds, else 0. [yd]
    - ``last``: whether the half had no further snap.
    """

    game: IntArray
    half: IntArray
    offense: IntArray
    drive: IntArray
    down: IntArray
    distance_yd: IntArray
    yardline_100: IntArray
    left_s: FloatArray
    score_diff: IntArray
    kind: IntArray
    gain_yd: IntArray
    ended: IntArray
    turnover: BoolArray
    last: BoolArray

    def __len__(self) -> int:
        """The number of rows."""
        return int(self.game.shape[0])

    @property
    def snaps(self) -> BoolArray:
        """Which rows are snaps, not kickoffs, shape (n,)."""
        return np.asarray(self.kind != _KICKOFF)


def simulate_games(
    transition: TransitionModel,
    clock: SnapClock,
    *,
    games: int,
    seed: int,
    marginal: bool = False,
) -> SimulatedPlays:
    """Return games that are simulated from the model.

    - ``marginal``: whether kinds, choices and gains depend on nothing but down, distance and yard
      line.
    """
    simulation = _Simulation(transition, clock, np.random.default_rng(seed), games, marginal)
    return simulation.play()


@dataclass(slots=True)
class _Games:
    """The state of every game; arrays of shape (games,)."""

    game: IntArray
    half: IntArray
    offense: IntArray
    opened: IntArray
    drive: IntArray
    down: IntArray
    distance_yd: IntArray
    yardline_100: IntArray
    left_s: FloatArray
    points: FloatArray
    done: BoolArray
    rows: list[dict[str, Any]] = field(default_factory=list)

    @staticmethod
    def start(games: int, receiver: IntArray) -> _Games:
        """Return games before the kickoff, which ``receiver`` gets."""
        zeros = np.zeros(games, dtype=np.int64)
        return _Games(
            game=np.arange(games),
            half=zeros + 1,
            offense=receiver,
            opened=receiver.copy(),
            drive=zeros - 1,
            down=zeros + 1,
            distance_yd=zeros + 10,
            yardline_100=zeros + 75,
            left_s=np.full(games, HALF_S),
            points=np.zeros((games, 2)),
            done=np.zeros(games, dtype=bool),
        )

    def lead(self, index: IntArray) -> IntArray:
        """Return the offense's lead in these games."""
        own = self.points[index, self.offense[index]]
        other = self.points[index, 1 - self.offense[index]]
        return np.rint(own - other).astype(np.int64)

    def row(self, index: IntArray) -> dict[str, Any]:
        """Return the columns that are known before a snap."""
        names = (
            *("game", "half", "offense", "drive", "left_s"),
            *("down", "distance_yd", "yardline_100"),
        )
        known = {name: getattr(self, name)[index].copy() for name in names}
        return known | {"score_diff": self.lead(index)}

    def batch(self, index: IntArray) -> SituationBatch:
        """Return the situations of these games."""
        first_quarter = self.left_s[index] > SECONDS_PER_QUARTER
        return SituationBatch(
            down=self.down[index],
            distance_yd=self.distance_yd[index],
            yardline_100=self.yardline_100[index],
            score_diff=self.lead(index),
            quarter=2 * self.half[index] - first_quarter,
            half_s=self.left_s[index],
            hash_code=np.ones(index.shape[0], dtype=np.int64),
        )

    def collected(self) -> SimulatedPlays:
        """Return the rows of all games, each game in one piece."""
        names = [f.name for f in fields(SimulatedPlays)]
        columns = {name: np.concatenate([row[name] for row in self.rows]) for name in names}
        order = np.argsort(columns["game"], kind="stable")
        return SimulatedPlays(**{name: column[order] for name, column in columns.items()})


class _Simulation:
    """One simulation of some games."""

    def __init__(
        self,
        transition: TransitionModel,
        clock: SnapClock,
        rng: np.random.Generator,
        games: int,
        marginal: bool,
    ) -> None:
        self._transition = transition
        self._marginal = marginal
        self._gains = transition.gain_tables() if marginal else transition.outcome.gain
        self._clock = clock
        self._rng = rng
        self._at = _Games.start(games, rng.integers(0, 2, games))

    def play(self) -> SimulatedPlays:
        """Play all games to their end."""
        self._open_half(self._at.game)
        for _ in range(MAX_SNAPS):
            index = np.flatnonzero(~self._at.done)
            if index.shape[0] == 0:
                break
            self._snap(index)
        return self._at.collected()

    def _open_half(self, index: IntArray) -> None:
        """Kick off the half; the offense set is the club that receives."""
        self._at.left_s[index] = self._rng.choice(self._clock.opening_s, index.shape[0])
        self._at.offense[index] = 1 - self._at.offense[index]
        self._kick_off(index, table="next_kickoff", line=KICKOFF_YARDLINE_100)

    def _kick_off(self, index: IntArray, *, table: str, line: int) -> None:
        """Kick off: the offense set kicks; afterwards it is the club that has the ball."""
        n, at = index.shape[0], self._at
        if n == 0:
            return
        kept, scored = self._kept_or_scored("next_kickoff", n)
        at.drive[index] += 1
        none, no = np.zeros(n, np.int64), np.zeros(n, bool)
        at.rows.append(
            at.row(index)
            | {"down": none, "distance_yd": none, "yardline_100": np.full(n, line)}
            | {"kind": np.full(n, _KICKOFF), "ended": np.where(scored, RETURNED, OVER)}
            | {"gain_yd": none, "turnover": no, "last": no}
        )
        receiver = 1 - at.offense[index]
        at.points[index[scored], receiver[scored]] += self._clock.touchdown_points
        at.offense[index] = np.where(kept | scored, at.offense[index], receiver)
        start = self._start(self._transition.table(table)[None, :], none)
        self._open_drive(index, np.where(kept, OWN_KICK_YARDLINE_100, start))

    def _kept_or_scored(self, kick: str, n: int) -> tuple[BoolArray, BoolArray]:
        """Draw whether the kicking club keeps the ball, and whether the return scores."""
        p_kept = self._transition.table(f"{kick}_kept")
        u = self._rng.random(n)
        kept = u < p_kept
        return kept, ~kept & (u < p_kept + self._transition.table(f"{kick}_touchdown"))

    def _open_drive(self, index: IntArray, yardline_100: IntArray) -> None:
        """First and ten, or goal, in these games, unless there was a flag before the snap."""
        shares, at = self._transition.table("next_opening"), self._at
        band = self._drawn(np.broadcast_to(shares, (index.shape[0], shares.shape[0])))
        at.down[index] = 1
        at.yardline_100[index] = yardline_100
        distance = np.array(FIRST_DOWN_DISTANCES_YD)[band]
        at.distance_yd[index] = np.minimum(distance, yardline_100)

    def _drawn(self, pmf: FloatArray) -> IntArray:
        """Return one drawn column a row of a distribution of shape (n, k)."""
        below = np.cumsum(pmf, axis=1)
        u = self._rng.random(pmf.shape[0]) * below[:, -1]
        return np.asarray((below <= u[:, None]).sum(axis=1), dtype=np.int64)

    def _start(self, table: FloatArray, row: IntArray) -> IntArray:
        """Draw `yardline_100` from rows of a table of shares, shape (n,)."""
        return self._drawn(table[row]) + 1

    def _snap(self, index: IntArray) -> None:
        """Play one snap in each of these games."""
        at = self._at
        codes = axis_codes(at.batch(index))
        kind = self._draw_kind(index, codes)
        gain = self._draw_gain(codes, kind)
        lost = np.append(self._transition.table("next_fumble_lost"), [0.0, 0.0])[kind]
        fumbled = self._rng.random(index.shape[0]) < lost
        ended = np.full(index.shape[0], ON)
        snapped = at.row(index)
        self._turn_over(index, ended, intercepted=kind == grid.INTERCEPTION, fumbled=fumbled)
        self._kicks(index, ended, kind)
        moved = (kind < len(grid.KINDS)) & (kind != grid.INTERCEPTION) & ~fumbled
        ended[moved] = self._move(index[moved], gain[moved])
        last = self._run_clock(index, snapped, ended, kind, gain)
        turnover = fumbled | (kind == grid.INTERCEPTION)
        result = {"kind": kind, "gain_yd": gain, "ended": ended, "turnover": turnover}
        at.rows.append(snapped | result | {"last": last})
        self._after(index, snapped["offense"], ended, last)

    def _draw_kind(self, index: IntArray, codes: dict[str, IntArray]) -> IntArray:
        """Draw the kind of each snap, an index into `PLAYED`."""
        t, at = self._transition, self._at
        if self._marginal:
            choice, kinds = t.choice_probabilities(codes), t.kind_probabilities(codes)
        else:
            kick = self._clock.p_early_kick(
                half=at.half[index],
                lead=at.lead(index),
                yardline_100=at.yardline_100[index],
                left_s=at.left_s[index],
            )
            early = np.stack([1.0 - kick, np.zeros_like(kick), kick], axis=1)
            fourth = (at.down[index] == 4)[:, None]
            choice = np.where(fourth, t.outcome.fourth.probabilities(codes), early)
            kinds = t.outcome.kind.probabilities(codes)
        chosen = self._drawn(choice)
        kind = self._drawn(kinds)
        return np.where(chosen == 1, _PUNT, np.where(chosen == 2, _KICK, kind))

    def _draw_gain(self, codes: dict[str, IntArray], kind: IntArray) -> IntArray:
        """Draw gains, 0 for kinds that do not move. [yd]"""
        gain = np.zeros(kind.shape[0], dtype=np.int64)
        for name in grid.MOVING_KINDS:
            some = np.flatnonzero(kind == grid.KINDS.index(name))
            if some.shape[0]:
                gain[some] = grid.GAINS_YD[self._drawn(self._gains[name].pmf(rows_of(codes, some)))]
        return gain

    def _turn_over(
        self, index: IntArray, ended: IntArray, *, intercepted: BoolArray, fumbled: BoolArray
    ) -> None:
        """Interceptions and lost fumbles: returned for a touchdown, or where they are downed."""
        for name, happened in (("next_interception", intercepted), ("next_fumble", fumbled)):
            some = np.flatnonzero(happened)
            p_touchdown = self._transition.table(f"{name}_touchdown")
            scored = self._rng.random(some.shape[0]) < p_touchdown
            ended[some] = np.where(scored, RETURNED, OVER)
            line = self._at.yardline_100[index[some]]
            start = self._start(self._transition.table(name), line - 1)
            self._open_drive(index[some], start)

    def _kicks(self, index: IntArray, ended: IntArray, kind: IntArray) -> None:
        """Punts and field goals."""
        some = np.flatnonzero(kind == _PUNT)
        yard = self._at.yardline_100[index[some]]
        kept, scored = self._kept_or_scored("next_punt", some.shape[0])
        ended[some] = np.where(kept, ON, np.where(scored, RETURNED, OVER))
        start = self._start(self._transition.table("next_punt"), yard - 1)
        self._open_drive(index[some], np.where(kept, 100 - start, start))
        some = np.flatnonzero(kind == _KICK)
        yard = self._at.yardline_100[index[some]]
        p_made = self._transition.table("next_field_goal_made")[yard - 1]
        ended[some] = np.where(self._rng.random(some.shape[0]) < p_made, MADE, MISSED)
        self._open_drive(index[some], missed_spot(yard))

    def _move(self, index: IntArray, gain: IntArray) -> IntArray:
        """Advance the ball, and let penalties move it before the next snap; return `ENDED`."""
        at = self._at
        spot = at.yardline_100[index] - gain
        made = gain >= at.distance_yd[index]
        failed = ~made & (at.down[index] == 4)
        result = np.where(spot == 0, TOUCHDOWN, np.where(spot >= 100, SAFETY, ON))
        result = np.where((result == ON) & failed, OVER, result)
        over = result == OVER
        self._open_drive(index[over], 100 - spot[over])
        on = result == ON
        down = np.where(made, 1, at.down[index] + 1)[on]
        to_go = np.where(made, np.minimum(10, spot), at.distance_yd[index] - gain)[on]
        spot, goes_on = spot[on], index[on]
        kernel = self._transition.table("next_penalty")
        move = self._drawn(kernel[penalty_zone(spot), down - 1])
        down, to_go, spot = moved_by_penalty(move, down=down, to_go_yd=to_go, spot=spot)
        at.down[goes_on], at.yardline_100[goes_on] = down, spot
        at.distance_yd[goes_on] = np.clip(to_go, 1, spot)
        return result

    def _run_clock(
        self,
        index: IntArray,
        snapped: dict[str, Any],
        ended: IntArray,
        kind: IntArray,
        gain: IntArray,
    ) -> BoolArray:
        """Take the time to the next snap off the clock; return which halves are over."""
        left_s = self._at.left_s
        incomplete = (ended == ON) & (kind == grid.INCOMPLETE)
        elapsed = self._clock.draw_s(
            self._rng,
            half=self._at.half[index],
            lead=snapped["score_diff"],
            led_to=np.where(incomplete, 0, _FOLLOWED_BY[ended]),
            left_s=left_s[index],
            spot=snapped["yardline_100"] - gain,
        )
        over = ~np.isfinite(elapsed)
        left_s[index] = np.maximum(left_s[index] - np.where(over, 0.0, elapsed), 0.0)
        return over

    def _after(self, index: IntArray, offense: IntArray, ended: IntArray, last: BoolArray) -> None:
        """Book scores, change sides, kick off, and open the second half."""
        at, seven = self._at, self._clock.touchdown_points
        at.points[index, offense] += np.array([0.0, seven, 0.0, 3.0, 0.0, 0.0, 0.0])[ended]
        at.points[index, 1 - offense] += np.array([0.0, 0.0, seven, 0.0, 0.0, 2.0, 0.0])[ended]
        goes_over = np.isin(ended, (RETURNED, OVER, MISSED))
        at.offense[index] = np.where(goes_over, 1 - offense, offense)
        plain = ~last & np.isin(ended, (OVER, MISSED))
        at.drive[index[plain]] += 1
        kicks = ~last & np.isin(ended, (TOUCHDOWN, RETURNED, MADE))
        self._kick_off(index[kicks], table="next_kickoff", line=KICKOFF_YARDLINE_100)
        free = index[~last & (ended == SAFETY)]
        self._kick_off(free, table="next_free_kick", line=FREE_KICK_YARDLINE_100)
        at.done[index[last & (at.half[index] == 2)]] = True
        halftime = index[last & (at.half[index] == 1)]
        at.half[halftime] = 2
        at.offense[halftime] = 1 - at.opened[halftime]
        if halftime.shape[0]:
            self._open_half(halftime)


def count_simulated(simulated: SimulatedPlays, *, touchdown_points: float) -> DriveCounts:
    """Count simulated games the way `count_observed` counts real ones."""
    snaps = simulated.snaps
    game, drive = simulated.game[snaps], simulated.drive[snaps]
    ended = simulated.ended[snaps]
    return DriveCounts.of(
        game,
        drive,
        touchdown_points=touchdown_points,
        touchdowns=ended == TOUCHDOWN,
        field_goals=ended == MADE,
        punts=simulated.kind[snaps] == _PUNT,
        turnovers=simulated.turnover[snaps],
    )
