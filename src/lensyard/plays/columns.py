"""The columns of the canonical schema, one definition each. `lensyard.plays.schema` explains."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from lensyard.plays.kinds import (
    CARRY_KINDS,
    DEPTHS,
    DRIVE_ENDS,
    GAPS,
    KICK_KINDS,
    KICK_RESULTS,
    LIVE_KINDS,
    PASS_KINDS,
    SCRIMMAGE_KINDS,
    SEASON_TYPES,
    SIDES,
    PlayKind,
)

DataType = Literal["text", "int16", "int32", "bool"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the canonical table.

    Attributes
    ----------
    name, dtype, unit, meaning
        What it is called, how it is stored, its unit ("" for none) and what it says.
    low, high
        Bounds of a number, both included; None for texts and flags.
    values
        The closed set of a text column; () for an open one.
    nullable
        Whether the value may be missing.
    known_before_snap
        False for outcomes: never an input of a model.
    kinds
        The kinds of play for which it is filled; () for all. Elsewhere it is null, "" or false.
    """

    name: str
    dtype: DataType
    meaning: str
    unit: str = ""
    low: int | None = None
    high: int | None = None
    values: tuple[str, ...] = ()
    nullable: bool = False
    known_before_snap: bool = False
    kinds: tuple[str, ...] = ()


COLUMNS: Final[tuple[Column, ...]] = (
    Column("game_id", "text", "The source's id of the game.", known_before_snap=True),
    Column(
        "season",
        "int16",
        "Season by the schedule; games in January belong to the season before.",
        low=1990,
        high=2100,
        known_before_snap=True,
    ),
    Column(
        "season_type",
        "text",
        "Regular or post season.",
        values=SEASON_TYPES,
        known_before_snap=True,
    ),
    Column(
        "week",
        "int16",
        "Week within the season type.",
        low=1,
        high=22,
        known_before_snap=True,
    ),
    Column(
        "play_index",
        "int16",
        "Order of the play within its game, from 0, as the source lists it.",
        low=0,
        high=400,
        known_before_snap=True,
    ),
    Column(
        "drive_index",
        "int16",
        "Order of the possession within its game, from 0. A kickoff belongs to the possession "
        "that it opens, a try to the one that scored.",
        low=0,
        high=80,
        known_before_snap=True,
    ),
    Column("home_club", "text", "Code of the home club in that season.", known_before_snap=True),
    Column("away_club", "text", "Code of the visiting club.", known_before_snap=True),
    Column(
        "offense",
        "text",
        "Code of the club that snaps or kicks; on kickoffs the kicking club.",
        known_before_snap=True,
    ),
    Column("defense", "text", "Code of the other club.", known_before_snap=True),
    Column(
        "half",
        "int16",
        "1, 2; 3 for any overtime.",
        low=1,
        high=3,
        known_before_snap=True,
    ),
    Column("quarter", "int16", "5 and up: overtime.", low=1, high=8, known_before_snap=True),
    Column(
        "clock_s",
        "int16",
        "Time left in the quarter at the snap.",
        unit="s",
        low=0,
        high=900,
        known_before_snap=True,
    ),
    Column(
        "down",
        "int16",
        "1 to 4; 0 on tries and kickoffs.",
        low=0,
        high=4,
        known_before_snap=True,
    ),
    Column(
        "distance_yd",
        "int16",
        "To the line to gain; 0 on tries and kickoffs.",
        unit="yd",
        low=0,
        high=99,
        known_before_snap=True,
    ),
    Column(
        "yardline_100",
        "int16",
        "Line of scrimmage: yards to the opponent's goal line as the offense sees it.",
        unit="yd",
        low=1,
        high=99,
        known_before_snap=True,
    ),
    Column(
        "score_diff",
        "int16",
        "Offense's points less defense's, before the snap.",
        unit="points",
        low=-80,
        high=80,
        known_before_snap=True,
    ),
    Column(
        "kind",
        "text",
        "What kind of play it was, after any replay review.",
        values=tuple(kind.value for kind in PlayKind),
    ),
    Column(
        "gain_yd",
        "int16",
        "Official net yards of a play from scrimmage: negative for sacks, 0 for incompletions "
        "and interceptions. Fumble returns and penalties do not count.",
        unit="yd",
        low=-99,
        high=99,
        kinds=("run", "complete", "sack", "scramble", "kneel"),
    ),
    Column(
        "air_yd",
        "int16",
        "Along the field from the line of scrimmage to where the pass was caught or came down; "
        "null where the source has none.",
        unit="yd",
        low=-99,
        high=110,
        nullable=True,
        kinds=PASS_KINDS,
    ),
    Column(
        "after_catch_yd",
        "int16",
        "Yards gained after the catch, laterals included.",
        unit="yd",
        low=-99,
        high=99,
        nullable=True,
        kinds=("complete",),
    ),
    Column(
        "side",
        "text",
        "Where a pass or carry went, as the scorer saw it from behind the offense.",
        values=SIDES,
        kinds=(*PASS_KINDS, *CARRY_KINDS),
    ),
    Column(
        "depth",
        "text",
        "Scorer's depth of a pass: deep means more than 15 yards in the air.",
        values=DEPTHS,
        kinds=PASS_KINDS,
    ),
    Column("gap", "text", "Gap of a carry.", values=GAPS, kinds=CARRY_KINDS),
    Column(
        "out_of_bounds",
        "bool",
        "The ball carrier ran or was pushed out of bounds. Only carries and catches have it.",
        kinds=("run", "complete", "scramble"),
    ),
    Column(
        "touchdown",
        "bool",
        "The offense (on kicks: the kicking club) scored a touchdown on the play.",
    ),
    Column(
        "return_touchdown",
        "bool",
        "The defense (on kicks: the receiving club) scored a touchdown on the play.",
    ),
    Column(
        "turnover",
        "bool",
        "The offense threw an interception or lost a fumble; a failed fourth down is none.",
        kinds=(*LIVE_KINDS, "kneel"),
    ),
    Column(
        "first_down",
        "bool",
        "The play itself made the line to gain or a touchdown; a penalty's first down is none.",
        kinds=(*LIVE_KINDS, "kneel", "punt", "field_goal"),
    ),
    Column("penalty", "bool", "A penalty was enforced on the play."),
    Column(
        "kick_distance_yd",
        "int16",
        "Length of a punt or kickoff; distance of a field-goal attempt.",
        unit="yd",
        low=-10,
        high=99,
        nullable=True,
        kinds=("punt", "field_goal", "kickoff"),
    ),
    Column(
        "return_yd",
        "int16",
        "Yards that the other club ran the ball back; null where there was no return.",
        unit="yd",
        low=-60,
        high=110,
        nullable=True,
        kinds=(*LIVE_KINDS, "kneel", "punt", "field_goal", "kickoff"),
    ),
    Column(
        "kick_result",
        "text",
        "What became of a kick or a try; two-point tries are made or missed.",
        values=KICK_RESULTS,
        kinds=(*KICK_KINDS, "two_point"),
    ),
    Column(
        "end_yardline_100",
        "int16",
        "Where the ball was dead, in the frame of this play's offense, before any penalty: "
        "0 and 100 are the goal lines and all beyond. Null on tries and where nothing was "
        "played; an incompletion ends at the line of scrimmage.",
        unit="yd",
        low=0,
        high=100,
        nullable=True,
        kinds=(*SCRIMMAGE_KINDS, "kickoff"),
    ),
    Column(
        "drive_end",
        "text",
        "How the possession of this play ended, derived from the plays; empty on tries and "
        "kickoffs.",
        values=DRIVE_ENDS,
        kinds=(*SCRIMMAGE_KINDS, "no_play"),
    ),
)
