"""Professional play-by-play of the nflverse project, 1999 to now, as Parquet or CSV.

On kickoffs and their replays `posteam` is the receiving club and `yardline_100` counts to the
kicking club's goal line; here the kicking club is the offense. Weeks of the post season are
counted on from the regular season, which had 17 weeks to 2020 and has had 18 since.
"""

from __future__ import annotations

from typing import Final

from lensyard.plays.importing.adapter import Adapter, RawColumns, clock_seconds

_NAMES: Final[dict[str, tuple[str, ...]]] = {
    "game_id": ("game_id", "old_game_id"),
    "order_key": ("order_sequence", "play_id"),
    "same_key": ("play_id",),
    "home_club": ("home_team",),
    "away_club": ("away_team",),
    "offense": ("posteam",),
    "defense": ("defteam",),
    "quarter": ("qtr",),
    "clock_s": ("quarter_seconds_remaining",),
    "clock": ("time",),
    "game_s": ("game_seconds_remaining",),
    "distance_yd": ("ydstogo",),
    "score_diff": ("score_differential",),
    "kind": ("play_type",),
    "gain_yd": ("yards_gained",),
    "air_yd": ("air_yards",),
    "after_catch_yd": ("yards_after_catch",),
    "kick_distance_yd": ("kick_distance",),
    "return_yd": ("return_yards",),
    "words": ("desc",),
    **{
        name: (name, f"is_{name}")
        for name in (
            "aborted_play", "complete_pass", "first_down_pass", "first_down_rush", "fumble_lost",
            "incomplete_pass", "interception", "kickoff_attempt", "kickoff_downed",
            "kickoff_fair_catch", "kickoff_out_of_bounds", "out_of_bounds", "own_kickoff_recovery",
            "pass_attempt", "penalty", "play_deleted", "punt_blocked", "punt_downed",
            "punt_fair_catch", "punt_out_of_bounds", "qb_kneel", "qb_scramble", "qb_spike",
            "return_touchdown", "rush_attempt", "sack", "safety", "timeout", "touchback",
            "touchdown", "two_point_attempt",
        )
    },
}  # fmt: skip


def _kind(c: RawColumns) -> str:
    """Return the expression for the kind of play; an unknown play type stays as it is."""
    play_type = c.text("kind")
    return f"""CASE
        WHEN {play_type} = 'no_play' THEN 'no_play'
        WHEN {c.flag("two_point_attempt")} AND {play_type} IS NOT NULL THEN 'two_point'
        WHEN {play_type} = 'qb_kneel' THEN 'kneel'
        WHEN {play_type} = 'qb_spike' THEN 'spike'
        WHEN {play_type} = 'run' AND {c.flag("qb_kneel")} THEN 'kneel'
        WHEN {play_type} = 'run' AND {c.flag("qb_scramble")} THEN 'scramble'
        WHEN {play_type} = 'pass' THEN CASE
            WHEN {c.flag("sack")} THEN 'sack'
            WHEN {c.flag("interception")} THEN 'interception'
            WHEN {c.flag("qb_spike")} THEN 'spike'
            WHEN {c.flag("complete_pass")} THEN 'complete'
            WHEN {c.flag("incomplete_pass")} THEN 'incomplete'
            WHEN {c.flag("qb_scramble")} THEN 'scramble'
            ELSE 'pass without a result' END
        ELSE {play_type} END"""


def _skip(c: RawColumns) -> str:
    """Return the expression for why a row is no play."""
    play_type = c.text("kind")
    tried = f"({c.flag('rush_attempt')} OR {c.flag('pass_attempt')})"
    return f"""CASE
        WHEN {c.text("season_type")} = 'PRE' THEN 'a preseason game'
        WHEN {c.flag("play_deleted")} THEN 'deleted by the scorer'
        WHEN {play_type} = 'no_play' AND {c.flag("timeout")} AND NOT {c.flag("penalty")}
            THEN 'a time-out'
        WHEN {play_type} IS NULL AND NOT {tried}
            THEN 'no play: start or end of a period, a comment'
        END"""


_KICK_FLAGS: Final = {
    "punt": ("words", "touchback", "punt_fair_catch", "punt_downed", "punt_out_of_bounds"),
    "kickoff": ("words", "touchback", "kickoff_fair_catch", "kickoff_downed",
                "kickoff_out_of_bounds"),
}  # fmt: skip
"""Without any of these a file does not say what became of a kick."""


def _kick_result(c: RawColumns) -> str:
    """Return the expression for what became of a kick or a try."""
    words = f"coalesce({c.text('words')}, '')"
    good = f"{c.text('extra_point_result')} = 'good'"
    missed = {
        name: "'missed'" if c.has(name) else "NULL"
        for name in ("field_goal_result", "extra_point_result", "two_point_conv_result")
    }
    returned = {
        kick: "'returned'" if any(c.has(name) for name in flags) else "NULL"
        for kick, flags in _KICK_FLAGS.items()
    }
    lost = f"{c.flag('fumble_lost')} AND contains({words}, 'MUFFS')"
    return f"""CASE {c.text("kind")}
        WHEN 'field_goal'
            THEN coalesce({c.text("field_goal_result")}, {missed["field_goal_result"]})
        WHEN 'extra_point' THEN CASE WHEN {good} THEN 'made'
            WHEN {c.text("extra_point_result")} = 'blocked' THEN 'blocked'
            ELSE {missed["extra_point_result"]} END
        WHEN 'punt' THEN CASE
            WHEN {c.flag("punt_blocked")} THEN 'blocked'
            WHEN {c.flag("touchback")} THEN 'touchback'
            WHEN {lost} THEN 'recovered'
            WHEN {c.flag("punt_fair_catch")} THEN 'fair_catch'
            WHEN {c.flag("punt_out_of_bounds")} THEN 'out_of_bounds'
            WHEN {c.flag("punt_downed")} OR contains({words}, ' downed ') THEN 'downed'
            ELSE {returned["punt"]} END
        WHEN 'kickoff' THEN CASE
            WHEN {c.flag("touchback")} THEN 'touchback'
            WHEN {c.flag("own_kickoff_recovery")} OR {lost} THEN 'recovered'
            WHEN {c.flag("kickoff_out_of_bounds")} THEN 'out_of_bounds'
            WHEN {c.flag("kickoff_fair_catch")} OR contains({words}, ' fair catch ')
                THEN 'fair_catch'
            WHEN {c.flag("kickoff_downed")} OR contains({words}, 'try to advance') THEN 'downed'
            ELSE {returned["kickoff"]} END
        ELSE CASE WHEN {c.flag("two_point_attempt")} THEN
            CASE WHEN {c.text("two_point_conv_result")} = 'success' THEN 'made'
                ELSE {missed["two_point_conv_result"]} END
            ELSE '' END
        END"""


def _first_down(c: RawColumns) -> str:
    """Return the expression for a first down by the play itself; null leaves it to the yards."""
    if c.has("first_down_rush") and c.has("first_down_pass"):
        return f"{c.flag('first_down_rush')} OR {c.flag('first_down_pass')}"
    return f"CASE WHEN NOT {c.flag('first_down')} THEN false END" if c.has("first_down") else "NULL"


def _order(c: RawColumns) -> str:
    """Return the expression for the order of plays; without a column of it the file's own counts.

    Ids of plays are an order only where they are whole numbers beside the sequence.
    """
    return c.number("order_key") if c.has("order_key") else "NULL"


def _quarter(c: RawColumns) -> str:
    """Return the expression for the quarter that game seconds tell; overtime is not among them."""
    left = c.whole("game_s")
    return f"CASE WHEN {left} BETWEEN 0 AND 3600 THEN 4 - least(3, {left} // 900) END"


def _week(c: RawColumns) -> tuple[str, str]:
    """Return the expressions for the season type and the week within it."""
    week, season = c.whole("week"), c.whole("season")
    regular = f"(CASE WHEN {season} >= 2021 THEN 18 ELSE 17 END)"
    by_week = f"CASE WHEN {week} > {regular} THEN 'POST' ELSE 'REG' END"
    kind = f"coalesce({c.text('season_type')}, {by_week})"
    return (
        kind,
        f"CASE WHEN {kind} = 'POST' AND {week} > {regular} THEN {week} - {regular} ELSE {week} END",
    )


def map_columns(c: RawColumns) -> dict[str, str]:
    """Return field -> expression over a file of this source."""
    season_type, week = _week(c)
    kick = (
        f"({c.text('kind')} = 'kickoff' OR "
        f"({c.text('kind')} = 'no_play' AND {c.flag('kickoff_attempt')}))"
    )
    offense = f"CASE WHEN {kick} THEN {c.text('defense')} ELSE {c.text('offense')} END"
    defense = f"CASE WHEN {kick} THEN {c.text('offense')} ELSE {c.text('defense')} END"
    line, score = c.whole("yardline_100"), c.whole("score_diff")
    result = _kick_result(c)
    against = c.flag("return_touchdown")
    if not c.has("return_touchdown"):  # nobody says who scored
        against = (
            f"({c.text('kind')} IN ('punt', 'kickoff', 'field_goal') OR {c.flag('interception')} "
            f"OR {c.flag('fumble_lost')})"
        )
    flagged = f"CASE WHEN {against} THEN {defense} ELSE {offense} END"
    scorer = f"coalesce({c.text('td_team')}, {flagged})"
    ran_back = (
        f"({result}) IN ('returned', 'recovered') OR {c.flag('interception')} "
        f"OR {c.flag('fumble_lost')}"
    )
    return {
        "game_id": c.text("game_id"),
        "season": c.whole("season"),
        "season_type": season_type,
        "week": week,
        "order_key": _order(c),
        "same_key": c.text("same_key"),
        "home_club": c.text("home_club"),
        "away_club": c.text("away_club"),
        "offense": offense,
        "defense": defense,
        "quarter": f"coalesce({c.whole('quarter')}, {_quarter(c)})",
        "clock_s": f"coalesce({c.whole('clock_s')}, {clock_seconds(c.text('clock'))}, "
        f"{c.whole('game_s')} - 900 * (4 - {_quarter(c)}))",
        "down": c.whole("down"),
        "distance_yd": c.whole("distance_yd"),
        "yardline_100": f"CASE WHEN {kick} THEN 100 - {line} ELSE {line} END",
        "score_diff": f"CASE WHEN {kick} THEN -{score} ELSE {score} END",
        "kind": _kind(c),
        "gain_yd": c.whole("gain_yd"),
        "air_yd": c.whole("air_yd"),
        "after_catch_yd": f"CASE WHEN {c.number('air_yd')} IS NOT NULL "
        f"THEN {c.whole('after_catch_yd')} END",
        "side": f"CASE WHEN {c.text('kind')} = 'pass' THEN {c.text('pass_location')} "
        f"ELSE {c.text('run_location')} END",
        "depth": c.text("pass_length"),
        "gap": c.text("run_gap"),
        "out_of_bounds": c.known_flag("out_of_bounds"),
        "touchdown": f"{c.flag('touchdown')} AND {scorer} = ({offense})",
        "return_touchdown": f"{c.flag('touchdown')} AND {scorer} <> ({offense})",
        "safety": c.flag("safety")
        if c.has("safety")
        else f"coalesce(contains({c.text('words')}, 'SAFETY'), false)",
        "turnover": f"CASE WHEN {c.flag('interception')} THEN true "
        f"ELSE {c.known_flag('fumble_lost')} END",
        "first_down": _first_down(c),
        "penalty": c.known_flag("penalty"),
        "kick_distance_yd": c.whole("kick_distance_yd"),
        "return_yd": f"CASE WHEN {ran_back} THEN {c.whole('return_yd')} END",
        "kick_result": result,
        "skip": _skip(c),
    }


ADAPTER: Final = Adapter(
    name="nflverse",
    title="nflverse play-by-play",
    level="pro",
    license="CC-BY 4.0",
    attribution="Play-by-play: the nflverse project (nflverse-data), CC-BY 4.0.",
    address="https://github.com/nflverse/nflverse-data/releases/download/pbp/"
    "play_by_play_{season}.parquet",
    first_season=1999,
    names=_NAMES,
    needs=(
        ("game_id", "the game"),
        ("season", "the season"),
        ("offense", "the club with the ball"),
        ("kind", "the kind of play"),
        ("down", "the down"),
        ("distance_yd", "yards to the line to gain"),
        ("yardline_100", "yards to the opponent's goal line"),
        ("gain_yd", "yards gained"),
    ),
    signature_columns=(("posteam", "ydstogo", "yardline_100", "play_type"),),
    map_columns=map_columns,
    version=2,
)
