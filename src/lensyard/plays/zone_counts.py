"""Plays counted by where they started and ended: what the zone tables are made of.

A question about all plays is answered in SQL: plays become some ten thousand rows of counts,
however many there are. What the counts keep is what the geometry and the sideways spread need;
everything else is added up.

The rows are counted in two steps: first by the columns as they are stored, which costs least, then
by the codes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.domain.situation import Zone
from lensyard.errors import InvalidInputError, require_range
from lensyard.plays.schema import LIVE_KINDS
from lensyard.records import ArrayRecord, Record

if TYPE_CHECKING:
    from lensyard.plays.store import Store


ZONES: Final = tuple(Zone)
LONG_GAIN_YD: Final = 20
OUTCOMES: Final = ("touchdown", "gain20", "incompletion", "interception", "sack", "other")
SIDE_NAMES: Final = ("left", "middle", "right")
DEPTH_NAMES: Final = ("short", "deep")
GAP_NAMES: Final = ("guard", "tackle", "end")
SPREAD_UP_TO_YD: Final = (0, 1, 2, 3, 4, 5, 6, 8, 10, 13, 16, 20, 25, 31)
"""Upper ends of the bins of `EndCounts.spread_yd`, included; what is more is the last bin. [yd]"""
SPREAD_YD: Final = (0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.5, 9.5, 12.0, 15.0, 18.5, 23.0, 28.5, 40.0)
"""What stands for each bin: its middle; past 31 yd the sideways spread hardly grows. [yd]"""


class PlayFilter(Record):
    """Which plays are counted; live plays from scrimmage always.

    `down`: 1 to 4; None for all.
    `distance_from_yd`, `distance_to_yd`: To the line to gain, both included. [yd]
    `seasons`: None for all.
    `source`: Whose plays; by default each season's own.
    """

    down: int | None = None
    distance_from_yd: int = 0
    distance_to_yd: int = 99
    seasons: tuple[int, ...] | None = None
    source: str | None = None

    @property
    def table(self) -> str:
        """The view of the store that has the plays."""
        return "plays" if self.source is None else "all_plays"

    def __post_init__(self) -> None:
        """Refuse what no play is."""
        if self.down is not None:
            require_range(low=1, high=4, down=self.down)
        require_range(
            low=0,
            high=99,
            distance_from_yd=self.distance_from_yd,
            distance_to_yd=self.distance_to_yd,
        )
        if self.distance_from_yd > self.distance_to_yd:
            raise InvalidInputError(
                f"distances run from {self.distance_from_yd} to {self.distance_to_yd} yd, which "
                "is backwards; give the smaller one first"
            )

    def clause(self) -> tuple[str, list[Any]]:
        """Return the WHERE clause and the values of its question marks."""
        listed = ", ".join(f"'{kind}'" for kind in LIVE_KINDS)
        parts = [f"kind IN ({listed})", "down BETWEEN 1 AND 4", "yardline_100 BETWEEN 1 AND 99"]
        values: list[Any] = []
        if self.down is not None:
            parts.append("down = ?")
            values.append(self.down)
        if (self.distance_from_yd, self.distance_to_yd) != (0, 99):
            parts.append("distance_yd BETWEEN ? AND ?")
            values += [self.distance_from_yd, self.distance_to_yd]
        if self.seasons is not None:
            parts.append("list_contains(?::SMALLINT[], season)")
            values.append(list(self.seasons))
        if self.source is not None:
            parts.append("source = ?")
            values.append(self.source)
        return " AND ".join(parts), values


class EndCounts(ArrayRecord):
    """Where plays ended, as counts; arrays of one length.

    `zone`: Of the line of scrimmage, position in `ZONES`.
    `kind`: Position in `LIVE_KINDS`.
    `to_goal_yd`: Yards to the goal line where it ended (for a ball that came down, where it did); 0
        for touchdowns and in the end zone. [yd]
    `in_end_zone`: A pass that was caught for a touchdown, was intercepted or came down at or beyond
        the goal line.
    `outcome`: Position in `OUTCOMES`.
    `side`, `depth`, `gap`: Positions in `SIDE_NAMES`, `DEPTH_NAMES`, `GAP_NAMES`; -1 where the
        source does not say.
    `yards_yd`: Mean gain, or yards in the air for a ball that came down. [yd]
    `spread_yd`: What widens the play sideways: the gain of a carry, the yards after a catch; one of
        `SPREAD_YD`. [yd]
    `out_of_bounds`: As the source says.
    """

    zone: IntArray
    kind: IntArray
    to_goal_yd: IntArray
    in_end_zone: IntArray
    outcome: IntArray
    side: IntArray
    depth: IntArray
    gap: IntArray
    yards_yd: FloatArray
    spread_yd: FloatArray
    out_of_bounds: IntArray
    plays: IntArray

    def __len__(self) -> int:
        """The number of different ends."""
        return int(self.plays.shape[0])


class SituationCounts(ArrayRecord):
    """Situations before the snap, as counts; arrays of one length.

    Plays of one down, zone, range of distance and yard line, score and time are one row with their
    mean. [yd, points, s]
    """

    zone: IntArray
    down: IntArray
    distance_yd: FloatArray
    yardline_100: FloatArray
    score_diff: FloatArray
    quarter: FloatArray
    half_s: FloatArray
    plays: IntArray

    def __len__(self) -> int:
        """The number of different situations."""
        return int(self.plays.shape[0])


def _zone_sql(column: str) -> str:
    """Return SQL for the position in `ZONES` of a yard line, as `zone_of` has it."""
    arms = " ".join(f"WHEN {column} >= {zone.low} THEN {i}" for i, zone in enumerate(ZONES))
    return f"CASE {arms} END"


def _code_sql(column: str, names: Sequence[str]) -> str:
    """Return SQL for the position of a text among names; -1 for any other."""
    arms = " ".join(f"WHEN '{name}' THEN {i}" for i, name in enumerate(names))
    return f"CASE {column} {arms} ELSE -1 END"


def _bin_sql(value: str) -> str:
    """Return SQL for the bin of `SPREAD_UP_TO_YD` that a value falls into."""
    arms = " ".join(f"WHEN {value} <= {up_to} THEN {i}" for i, up_to in enumerate(SPREAD_UP_TO_YD))
    return f"CASE {arms} ELSE {len(SPREAD_UP_TO_YD)} END"


_RUN, _COMPLETE, _INCOMPLETE, _SACK, _SCRAMBLE, _INTERCEPTION = range(len(LIVE_KINDS))
_CAME_DOWN = f"kind IN ({_INCOMPLETE}, {_INTERCEPTION})"
_ENDS_SQL: Final = f"""
WITH stored AS (
    SELECT kind, side, depth, gap, out_of_bounds, touchdown, yardline_100, gain_yd, air_yd,
           count(*) AS n
    FROM {{table}} WHERE {{where}} GROUP BY ALL
), coded AS (
    SELECT {_code_sql("kind", LIVE_KINDS)} AS kind, {_code_sql("side", SIDE_NAMES)} AS side,
           {_code_sql("depth", DEPTH_NAMES)} AS depth, {_code_sql("gap", GAP_NAMES)} AS gap,
           out_of_bounds::INT AS out_of_bounds, touchdown, yardline_100::INT AS yardline_100,
           gain_yd::INT AS gain_yd, air_yd::INT AS air_yd, n
    FROM stored
), ended AS (
    SELECT *, {_zone_sql("yardline_100")} AS zone,
           CASE WHEN {_CAME_DOWN} THEN coalesce(air_yd, 0) ELSE gain_yd END AS yards_yd,
           (coalesce(air_yd, 0) >= yardline_100
            AND ({_CAME_DOWN} OR (touchdown AND kind = {_COMPLETE})))::INT AS in_end_zone,
           CASE WHEN touchdown THEN 0 WHEN kind = {_INCOMPLETE} THEN 2
                WHEN kind = {_INTERCEPTION} THEN 3 WHEN kind = {_SACK} THEN 4
                WHEN gain_yd >= {LONG_GAIN_YD} THEN 1 ELSE 5 END AS outcome,
           CASE WHEN kind IN ({_RUN}, {_SCRAMBLE}) THEN gain_yd
                WHEN kind = {_COMPLETE} THEN gain_yd - coalesce(air_yd, gain_yd // 2)
                ELSE 0 END AS spread
    FROM coded
)
SELECT zone, kind,
       CASE WHEN touchdown OR in_end_zone = 1 THEN 0 ELSE yardline_100 - yards_yd END AS to_goal_yd,
       in_end_zone, outcome, side, depth, gap, {_bin_sql("spread")} AS spread_bin, out_of_bounds,
       sum(yards_yd * n) / sum(n) AS yards_yd, sum(n)::BIGINT AS plays
FROM ended
GROUP BY zone, kind, to_goal_yd, in_end_zone, outcome, side, depth, gap, spread_bin, out_of_bounds
ORDER BY ALL
"""
_SITUATIONS_SQL: Final = f"""
WITH counted AS (
    SELECT (((CASE WHEN distance_yd <= 10 THEN distance_yd
                   ELSE least(11 + (distance_yd - 11) // 4, 14) END * 40
             + CASE WHEN yardline_100 <= 12 THEN yardline_100
                    ELSE 12 + (yardline_100 - 10) // 4 END) * {len(ZONES)}
            + {_zone_sql("yardline_100")}) * 5
           + CASE WHEN score_diff < -8 THEN 0 WHEN score_diff < 0 THEN 1 WHEN score_diff < 1 THEN 2
                  WHEN score_diff < 9 THEN 3 ELSE 4 END) * 4
          + CASE WHEN quarter <= 2 THEN CASE WHEN quarter = 2 AND clock_s < 120 THEN 1 ELSE 0 END
                 WHEN quarter >= 4 AND clock_s <= 300 THEN 3 ELSE 2 END AS cell,
           down, min(yardline_100) AS any_yardline, count(*) AS plays,
           avg(distance_yd) AS distance_yd, avg(yardline_100) AS yardline_100,
           avg(score_diff) AS score_diff, avg(least(quarter, 5)) AS quarter,
           avg(clock_s + CASE WHEN quarter IN (1, 3) THEN 900 ELSE 0 END) AS half_s
    FROM {{table}} WHERE {{where}} GROUP BY cell, down
)
SELECT {_zone_sql("any_yardline")} AS zone, down, distance_yd, yardline_100, score_diff, quarter,
       half_s, plays
FROM counted ORDER BY cell, down
"""


def count_ends(store: Store, plays: PlayFilter) -> EndCounts:
    """Return where the plays of a store ended, as counts.

    Raises `StoreError` if the store is closed or refuses.
    """
    where, values = plays.clause()
    table = store.query(_ENDS_SQL.format(table=plays.table, where=where), values)
    table["spread_yd"] = np.asarray(SPREAD_YD)[table.pop("spread_bin").to_numpy(np.int64)]
    return EndCounts(**{f.name: table[f.name].to_numpy(_dtype(f.type)) for f in fields(EndCounts)})


def count_situations(store: Store, plays: PlayFilter) -> SituationCounts:
    """Return the situations before the snap, as counts; see `count_ends`."""
    where, values = plays.clause()
    table = store.query(_SITUATIONS_SQL.format(table=plays.table, where=where), values)
    return SituationCounts(
        **{f.name: table[f.name].to_numpy(_dtype(f.type)) for f in fields(SituationCounts)}
    )


def seasons_of(store: Store, plays: PlayFilter) -> tuple[int, ...]:
    """Return the seasons that hold such plays."""
    where, values = plays.clause()
    table = store.query(
        f"SELECT DISTINCT season FROM {plays.table} WHERE {where} ORDER BY season", values
    )
    return tuple(int(season) for season in table["season"])


def _dtype(annotation: object) -> type[Any]:
    return np.float64 if annotation in ("FloatArray", FloatArray) else np.int64
