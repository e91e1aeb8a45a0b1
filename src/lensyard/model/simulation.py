"""Games drawn from the model: a world whose probabilities are known.

Games are played snap by snap on a clock. They serve two ends. Counted like real games they show
whether the model's plays add up to real drives (`lensyard.model.drives`): then kinds, choices and
gains are those of the situation, score and clock included. And as plays in canonical columns they
are a world with a known answer, which a fit must recover: then they are those that
`lensyard.model.transition` makes its matrices of, by down, distance and yard line alone
(``usual``). What penalties, kicks and turnovers do to the ball is the same in both.

The clubs of this world are equal. Overtime, tries, kneels and spikes are not played; a try counts
its average points.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.situation import SituationBatch
from lensyard.model.axes import axis_codes
from lensyard.model.outcome_grid import GAINS_YD, KINDS, MOVING_KINDS, FloatArray, IntArray
from lensyard.model.snap_clock import (
    HALF_S,
    MADE,
    MISSED,
    ON,
    OVER,
    PLAYED,
    RETURNED,
    SAFETY,
    TOUCHDOWN,
    DrawnPlays,
    SnapClock,
    collected,
)
from lensyard.model.state_grid import FIRST_DOWN_DISTANCES_YD
from lensyard.model.transition import TransitionModel, missed_spot, moved_by_penalty, penalty_zone
from lensyard.units import SECONDS_PER_QUARTER

if TYPE_CHECKING:
    from lensyard.model.tables import HazardTables

MAX_SNAPS: Final = 400
KICKOFF_YARDLINE_100: Final = 65
FREE_KICK_YARDLINE_100: Final = 80
_PUNT, _KICK, _KICKOFF = (PLAYED.index(name) for name in ("punt", "field_goal", "kickoff"))
_PICK, _INCOMPLETE = KINDS.index("interception"), KINDS.index("incomplete")


@dataclass(slots=True)
class _Games:
    """Where every game stands; arrays of shape (games,)."""

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
    done: NDArray[np.bool_]
    rows: list[dict[str, NDArray[np.generic]]] = field(default_factory=list)

    def lead(self, index: IntArray) -> IntArray:
        """Return the offense's lead in these games."""
        own = self.points[index, self.offense[index]]
        other = self.points[index, 1 - self.offense[index]]
        return np.rint(own - other).astype(np.int64)


def draw_games(
    transition: TransitionModel,
    clock: SnapClock,
    *,
    games: int,
    seed: int,
    usual: bool = False,
) -> DrawnPlays:
    """Return games that are drawn from the model.

    Parameters
    ----------
    transition
        The tables that the games follow.
    clock
        How long it takes from snap to snap.
    games
        How many.
    seed
        Of every draw.
    usual
        Whether kinds, choices and gains heed nothing but down, distance and yard line.
    """
    return _Drawing(transition, clock, np.random.default_rng(seed), usual=usual).play(games)


class _Drawing:
    """One drawing of games."""

    def __init__(
        self,
        transition: TransitionModel,
        clock: SnapClock,
        rng: np.random.Generator,
        *,
        usual: bool,
    ) -> None:
        self._transition = transition
        self._usual = usual
        gains = transition.gain_tables() if usual else transition.outcome.gain
        self._gains: dict[str, HazardTables] = gains
        self._clock = clock
        self._rng = rng

    def play(self, games: int) -> DrawnPlays:
        """Play all games to their end."""
        zeros = np.zeros(games, dtype=np.int64)
        at = _Games(
            game=np.arange(games),
            half=zeros + 1,
            offense=self._rng.integers(0, 2, games),
            opened=zeros.copy(),
            drive=zeros - 1,
            down=zeros + 1,
            distance_yd=zeros + 10,
            yardline_100=zeros + 75,
            left_s=np.full(games, HALF_S),
            points=np.zeros((games, 2)),
            done=np.zeros(games, dtype=bool),
        )
        at.opened = at.offense.copy()
        self._open_half(at, at.game)
        for _ in range(MAX_SNAPS):
            index = np.flatnonzero(~at.done)
            if index.shape[0] == 0:
                break
            self._snap(at, index)
        return collected(at.rows)

    def _open_half(self, at: _Games, index: IntArray) -> None:
        """Kick off the half; the offense set is the club that receives."""
        at.left_s[index] = self._rng.choice(self._clock.opening_s, index.shape[0])
        at.offense[index] = 1 - at.offense[index]
        self._kick_off(at, index, table="next_kickoff", line=KICKOFF_YARDLINE_100)

    def _kick_off(self, at: _Games, index: IntArray, *, table: str, line: int) -> None:
        """Kick off: the offense set kicks; afterwards it is the club that has the ball."""
        n = index.shape[0]
        if n == 0:
            return
        t = self._transition
        u = self._rng.random(n)
        kept = u < t.table("next_kickoff_kept")
        scored = ~kept & (u < t.table("next_kickoff_kept") + t.table("next_kickoff_touchdown"))
        at.drive[index] += 1
        at.rows.append(_row(at, index, kickoff=line, ended=np.where(scored, RETURNED, OVER)))
        receiver = 1 - at.offense[index]
        at.points[index[scored], receiver[scored]] += self._clock.touchdown_points
        at.offense[index] = np.where(kept | scored, at.offense[index], receiver)
        start = self._start(t.table(table)[None, :], np.zeros(n, dtype=np.int64))
        self._open_drive(at, index, np.where(kept, 55, start))

    def _open_drive(self, at: _Games, index: IntArray, yardline_100: IntArray) -> None:
        """First and ten, or goal, in these games, unless there was a flag before the snap."""
        shares = self._transition.table("next_opening")
        band = _drawn(self._rng, np.broadcast_to(shares, (index.shape[0], shares.shape[0])))
        at.down[index] = 1
        at.yardline_100[index] = yardline_100
        distance = np.array(FIRST_DOWN_DISTANCES_YD)[band]
        at.distance_yd[index] = np.minimum(distance, yardline_100)

    def _start(self, table: FloatArray, row: IntArray) -> IntArray:
        """Draw `yardline_100` from rows of a table of shares, shape (n,)."""
        return _drawn(self._rng, table[row]) + 1

    def _snap(self, at: _Games, index: IntArray) -> None:
        """Play one snap in each of these games."""
        t = self._transition
        codes = axis_codes(_batch(at, index))
        kind = self._draw_kind(at, index, codes)
        gain = self._draw_gain(codes, kind)
        lost = np.append(t.table("next_fumble_lost"), [0.0, 0.0])[kind]
        fumbled = self._rng.random(index.shape[0]) < lost
        ended = np.full(index.shape[0], ON)
        offense, snapped = at.offense[index].copy(), _row(at, index)
        self._turn_over(at, index, ended, picked=kind == _PICK, fumbled=fumbled)
        self._kicks(at, index, ended, kind)
        moved = (kind < len(KINDS)) & (kind != _PICK) & ~fumbled
        self._move(at, index[moved], gain[moved], ended, moved)
        last = self._run_clock(at, index, snapped, ended, kind, gain)
        snapped |= {
            "kind": kind,
            "gain_yd": gain,
            "ended": ended,
            "turnover": fumbled | (kind == _PICK),
            "last": last,
        }
        at.rows.append(snapped)
        self._after(at, index, offense, ended, last)

    def _draw_kind(self, at: _Games, index: IntArray, codes: dict[str, IntArray]) -> IntArray:
        """Draw the kind of each snap, an index into `PLAYED`."""
        t = self._transition
        if self._usual:
            choice = t.choice_probabilities(codes)
            kinds = t.kind_probabilities(codes)
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
        chosen = _drawn(self._rng, choice)
        kind = _drawn(self._rng, kinds)
        return np.where(chosen == 1, _PUNT, np.where(chosen == 2, _KICK, kind))

    def _draw_gain(self, codes: dict[str, IntArray], kind: IntArray) -> IntArray:
        """Draw gains, 0 for kinds that do not move. [yd]"""
        gain = np.zeros(kind.shape[0], dtype=np.int64)
        for name in MOVING_KINDS:
            some = np.flatnonzero(kind == KINDS.index(name))
            if some.shape[0]:
                pmf = self._gains[name].pmf({axis: code[some] for axis, code in codes.items()})
                gain[some] = GAINS_YD[_drawn(self._rng, pmf)]
        return gain

    def _turn_over(
        self,
        at: _Games,
        index: IntArray,
        ended: IntArray,
        *,
        picked: NDArray[np.bool_],
        fumbled: NDArray[np.bool_],
    ) -> None:
        """Interceptions and lost fumbles: returned for a touchdown, or where they are downed."""
        for name, happened in (("next_interception", picked), ("next_fumble", fumbled)):
            some = np.flatnonzero(happened)
            p_touchdown = self._transition.table(f"{name}_touchdown")
            scored = self._rng.random(some.shape[0]) < p_touchdown
            ended[some] = np.where(scored, RETURNED, OVER)
            start = self._start(self._transition.table(name), at.yardline_100[index[some]] - 1)
            self._open_drive(at, index[some], start)

    def _kicks(self, at: _Games, index: IntArray, ended: IntArray, kind: IntArray) -> None:
        """Punts and field goals."""
        t = self._transition
        some = np.flatnonzero(kind == _PUNT)
        yard = at.yardline_100[index[some]]
        u = self._rng.random(some.shape[0])
        kept = u < t.table("next_punt_kept")
        scored = ~kept & (u < t.table("next_punt_kept") + t.table("next_punt_touchdown"))
        ended[some] = np.where(kept, ON, np.where(scored, RETURNED, OVER))
        start = self._start(t.table("next_punt"), yard - 1)
        self._open_drive(at, index[some], np.where(kept, 100 - start, start))
        some = np.flatnonzero(kind == _KICK)
        yard = at.yardline_100[index[some]]
        made = self._rng.random(some.shape[0]) < t.table("next_field_goal_made")[yard - 1]
        ended[some] = np.where(made, MADE, MISSED)
        self._open_drive(at, index[some], missed_spot(yard))

    def _move(
        self,
        at: _Games,
        index: IntArray,
        gain: IntArray,
        ended: IntArray,
        moved: NDArray[np.bool_],
    ) -> None:
        """Advance the ball, and let penalties move it before the next snap."""
        spot = at.yardline_100[index] - gain
        made = gain >= at.distance_yd[index]
        failed = ~made & (at.down[index] == 4)
        result = np.where(spot == 0, TOUCHDOWN, np.where(spot >= 100, SAFETY, ON))
        result = np.where((result == ON) & failed, OVER, result)
        ended[moved] = result
        over = result == OVER
        self._open_drive(at, index[over], 100 - spot[over])
        on = result == ON
        down = np.where(made, 1, at.down[index] + 1)[on]
        spot, at_ = spot[on], index[on]
        to_go = np.where(down == 1, np.minimum(10, spot), (at.distance_yd[index] - gain)[on])
        kernel = self._transition.table("next_penalty")
        move = _drawn(self._rng, kernel[penalty_zone(spot), down - 1])
        down, to_go, spot = moved_by_penalty(move, down=down, to_go_yd=to_go, spot=spot)
        at.down[at_], at.yardline_100[at_] = down, spot
        at.distance_yd[at_] = np.clip(to_go, 1, spot)

    def _run_clock(
        self,
        at: _Games,
        index: IntArray,
        snapped: dict[str, NDArray[np.generic]],
        ended: IntArray,
        kind: IntArray,
        gain: IntArray,
    ) -> NDArray[np.bool_]:
        """Take the time to the next snap off the clock; return which halves are over."""
        led_to = np.array([1, 3, 3, 3, 2, 3, 2])[ended]
        led_to = np.where((ended == ON) & (kind == _INCOMPLETE), 0, led_to)
        elapsed = self._clock.draw_s(
            self._rng,
            half=at.half[index],
            lead=snapped["score_diff"].astype(np.int64),
            led_to=led_to,
            left_s=at.left_s[index],
            spot=snapped["yardline_100"].astype(np.int64) - gain,
        )
        over = ~np.isfinite(elapsed)
        at.left_s[index] = np.maximum(at.left_s[index] - np.where(over, 0.0, elapsed), 0.0)
        return over

    def _after(
        self,
        at: _Games,
        index: IntArray,
        offense: IntArray,
        ended: IntArray,
        last: NDArray[np.bool_],
    ) -> None:
        """Book scores, change sides, kick off, and open the second half."""
        seven = self._clock.touchdown_points
        own = np.array([0.0, seven, 0.0, 3.0, 0.0, 0.0, 0.0])[ended]
        other = np.array([0.0, 0.0, seven, 0.0, 0.0, 2.0, 0.0])[ended]
        at.points[index, offense] += own
        at.points[index, 1 - offense] += other
        goes_over = np.isin(ended, (RETURNED, OVER, MISSED))
        at.offense[index] = np.where(goes_over, 1 - offense, offense)
        plain = ~last & np.isin(ended, (OVER, MISSED))
        at.drive[index[plain]] += 1
        kicks = ~last & np.isin(ended, (TOUCHDOWN, RETURNED, MADE))
        self._kick_off(at, index[kicks], table="next_kickoff", line=KICKOFF_YARDLINE_100)
        free = index[~last & (ended == SAFETY)]
        self._kick_off(at, free, table="next_free_kick", line=FREE_KICK_YARDLINE_100)
        at.done[index[last & (at.half[index] == 2)]] = True
        halftime = index[last & (at.half[index] == 1)]
        at.half[halftime] = 2
        at.offense[halftime] = 1 - at.opened[halftime]
        if halftime.shape[0]:
            self._open_half(at, halftime)


def _batch(at: _Games, index: IntArray) -> SituationBatch:
    """Return the situations of these games."""
    first_quarter = at.left_s[index] > SECONDS_PER_QUARTER
    return SituationBatch(
        down=at.down[index],
        distance_yd=at.distance_yd[index],
        yardline_100=at.yardline_100[index],
        score_diff=at.lead(index),
        quarter=2 * at.half[index] - first_quarter,
        half_s=at.left_s[index],
        hash_code=np.ones(index.shape[0], dtype=np.int64),
    )


def _drawn(rng: np.random.Generator, pmf: FloatArray) -> IntArray:
    """Return one drawn column a row of a distribution of shape (n, k)."""
    below = np.cumsum(pmf, axis=1)
    u = rng.random(pmf.shape[0]) * below[:, -1]
    return np.asarray((below <= u[:, None]).sum(axis=1), dtype=np.int64)


def _row(
    at: _Games, index: IntArray, *, kickoff: int = 0, ended: IntArray | None = None
) -> dict[str, NDArray[np.generic]]:
    """Return the columns known before a snap, or all of a kickoff."""
    n = index.shape[0]
    known: dict[str, NDArray[np.generic]] = {
        name: getattr(at, name)[index].copy()
        for name in ("game", "half", "offense", "drive", "left_s")
    }
    known["score_diff"] = at.lead(index)
    for name in ("down", "distance_yd", "yardline_100"):
        known[name] = getattr(at, name)[index].copy() if not kickoff else np.zeros(n, np.int64)
    if kickoff and ended is not None:
        known["yardline_100"] = np.full(n, kickoff)
        known |= {"kind": np.full(n, _KICKOFF), "gain_yd": np.zeros(n, np.int64), "ended": ended}
        known |= {"turnover": np.zeros(n, bool), "last": np.zeros(n, bool)}
    return known
