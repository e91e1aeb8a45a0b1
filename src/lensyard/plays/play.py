"""What an adapter takes and hands over: a scheduled game, and its canonical plays."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ScheduledGame:
    """What the schedule says about a game; the season comes from here, never from the id."""

    game_id: str
    season: int
    season_type: str
    week: int


@dataclass(frozen=True, slots=True)
class Play:
    """One row of the canonical schema; `lensyard.plays.schema` defines every field.

    `drive_index` and `drive_end` follow from the plays of a game together
    (`lensyard.plays.possession`); an adapter leaves them at their defaults.
    """

    game_id: str
    season: int
    season_type: str
    week: int
    play_index: int
    home_club: str
    away_club: str
    offense: str
    defense: str
    half: int
    quarter: int
    clock_s: int
    down: int
    distance_yd: int
    yardline_100: int
    score_diff: int
    kind: str
    gain_yd: int = 0
    air_yd: int | None = None
    after_catch_yd: int | None = None
    side: str = ""
    depth: str = ""
    gap: str = ""
    out_of_bounds: bool = False
    touchdown: bool = False
    return_touchdown: bool = False
    turnover: bool = False
    first_down: bool = False
    penalty: bool = False
    kick_distance_yd: int | None = None
    return_yd: int | None = None
    kick_result: str = ""
    end_yardline_100: int | None = None
    safety: bool = False
    drive_index: int = 0
    drive_end: str = ""
