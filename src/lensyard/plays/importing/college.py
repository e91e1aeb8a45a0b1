"""What college play-by-play has in common, whoever publishes it.

The kind of play stands in a play type such as "Passing Touchdown"; much else only in the words.
Completions often carry no yards: then the spots before and after tell. Where points stand in a row,
they are those after the play.
"""

from __future__ import annotations

from typing import Final

from lensyard.plays.importing.sql import RawColumns, clock_seconds

_SKIPPED: Final = (
    "timeout|time out|end |end of|start of|coin toss|two.minute|2.minute|media|official"
)
_BALL: Final = "'(?i)out.of.bounds'"


def kind(c: RawColumns) -> str:
    """Return the expression for the kind of play from play type, flags and words."""
    t, words = c.lower("kind"), c.lower("words")
    ran = f"({c.flag('rush')} OR regexp_matches({words}, '(^| )(runs?|rush(ed|es)?) '))"
    caught = f"({c.flag('completion')} OR contains({words}, 'pass complete'))"
    return f"""CASE
        WHEN {c.flag("penalty_no_play")} OR regexp_matches({words}, 'no play')
            OR {t} LIKE '%penalty%' THEN 'no_play'
        WHEN {t} LIKE '%two%point%' OR {t} LIKE '%2pt%' THEN 'two_point'
        WHEN {t} LIKE '%extra point%' OR {t} LIKE '% pat%' THEN 'extra_point'
        WHEN {t} LIKE '%kickoff%' THEN 'kickoff'
        WHEN {t} LIKE '%punt%' THEN 'punt'
        WHEN {t} LIKE '%field goal%' THEN 'field_goal'
        WHEN {t} LIKE '%interception%' THEN 'interception'
        WHEN {t} LIKE '%sack%' THEN 'sack'
        WHEN {t} LIKE '%incompletion%' OR {t} LIKE '%incomplete%' THEN
            if(contains({words}, 'spike'), 'spike', 'incomplete')
        WHEN {t} LIKE 'pass%' THEN 'complete'
        WHEN {t} LIKE 'rush%' OR {t} = 'run' THEN CASE
            WHEN regexp_matches({words}, 'kneel|knee') THEN 'kneel'
            WHEN contains({words}, 'scrambl') THEN 'scramble' ELSE 'run' END
        WHEN {c.flag("sack")} OR contains({words}, 'sacked') THEN 'sack'
        WHEN {caught} THEN 'complete'
        WHEN contains({words}, 'pass incomplete') THEN 'incomplete'
        WHEN {ran} THEN 'run'
        ELSE {c.text("kind")} END"""


def skip(c: RawColumns) -> str:
    """Return the expression for why a row is no play."""
    t = c.lower("kind")
    return f"""CASE
        WHEN {t} = '' THEN 'no play: no play type'
        WHEN regexp_matches({t}, '^({_SKIPPED})') THEN 'no play: time-out, start or end of a period'
        END"""


def kick_result(c: RawColumns) -> str:
    """Return the expression for what became of a kick or a try."""
    t, words = c.lower("kind"), c.lower("words")
    return f"""CASE
        WHEN {t} LIKE '%block%' OR contains({words}, 'blocked') THEN 'blocked'
        WHEN {t} LIKE '%field goal%' OR {t} LIKE '%extra point%' OR {t} LIKE '% pat%'
            THEN if({t} LIKE '%good%' OR {t} LIKE '%made%', 'made', 'missed')
        WHEN {t} LIKE '%two%point%' OR {t} LIKE '%2pt%'
            THEN if({c.flag("scoring")}, 'made', 'missed')
        WHEN contains({words}, 'touchback') THEN 'touchback'
        WHEN contains({words}, 'fair catch') THEN 'fair_catch'
        WHEN contains({words}, 'downed') THEN 'downed'
        WHEN regexp_matches({words}, 'return') OR {t} LIKE '%return%' THEN 'returned'
        WHEN regexp_matches({words}, {_BALL}) THEN 'out_of_bounds'
        ELSE '' END"""


def returned(c: RawColumns) -> str:
    """Return the expression for a touchdown by the club that did not have the ball."""
    t = c.lower("kind")
    return (
        f"({t} LIKE '%touchdown%' AND ({t} LIKE '%return%' OR {t} LIKE '%interception%' "
        f"OR {t} LIKE '%opponent%' OR {t} LIKE '%block%' OR {t} LIKE '%sack%'))"
    )


def number_in(c: RawColumns, pattern: str) -> str:
    """Return the expression for a number that a pattern's first group finds in the words."""
    return f"try_cast(regexp_extract({c.lower('words')}, '{pattern}', 1) AS INTEGER)"


def kick_distance(c: RawColumns) -> str:
    """Return the expression for the length of a kick."""
    t = c.lower("kind")
    return f"""CASE
        WHEN {t} LIKE '%kickoff%'
            THEN coalesce({c.whole("yds_kickoff")}, {number_in(c, "kickoff for ([0-9]+)")})
        WHEN {t} LIKE '%punt%'
            THEN coalesce({c.whole("yds_punted")}, {number_in(c, "punt for ([0-9]+)")})
        WHEN {t} LIKE '%field goal%'
            THEN coalesce({c.whole("yds_fg")}, {number_in(c, "([0-9]+) (?:yd|yard)")}) END"""


def return_yards(c: RawColumns) -> str:
    """Return the expression for the yards of a return; on interceptions the booked yards are it."""
    t = c.lower("kind")
    staged = number_in(c, "returns? (?:for |of )?([0-9]+) (?:yd|yard)")
    back = number_in(c, "returns? for a loss of ([0-9]+)")
    return f"""CASE
        WHEN {t} LIKE '%kickoff%' OR {t} LIKE '%punt%' THEN CASE
            WHEN contains({c.lower("words")}, 'touchback') THEN NULL
            ELSE coalesce({staged}, -{back},
                if({t} LIKE '%punt%', {c.whole("yds_punt_return")}, NULL)) END
        WHEN {t} LIKE '%interception%' THEN coalesce({staged}, {c.whole("gain_yd")})
        WHEN {t} LIKE '%fumble return%' THEN {c.whole("gain_yd")} END"""


def gain(c: RawColumns) -> tuple[str, str]:
    """Return the expressions for the gain, and for whether the spots had to tell it."""
    booked, line, after = c.whole("gain_yd"), c.whole("yardline_100"), c.whole("end_line")
    same = f"{c.text('end_have')} = {c.text('have')}" if c.has("end_have") else "false"
    staged = f"coalesce({booked}, 0) <> 0 OR contains({c.lower('words')}, 'no gain')"
    lacks = (
        f"({kind(c)}) IN ('complete', 'run', 'scramble') AND NOT ({staged}) AND {same} "
        f"AND {after} BETWEEN 1 AND 99 AND {line} <> {after} AND NOT {c.flag('penalty')}"
    )
    return f"CASE WHEN {lacks} THEN {line} - {after} ELSE {booked} END", f"({lacks})"


def label(c: RawColumns, key: str) -> str:
    """Return the expression that names a club as home and visitors are named."""
    home, away = c.text("home"), c.text("away")
    home_label = f"coalesce({c.text('home_club')}, {home})"
    away_label = f"coalesce({c.text('away_club')}, {away})"
    given = c.text(key)
    return (
        f"CASE WHEN {given} IN ({home}, {home_label}) THEN {home_label} "
        f"WHEN {given} IN ({away}, {away_label}) THEN {away_label} ELSE {given} END"
    )


def tell_college(c: RawColumns, *, receiver_kicks_off: bool) -> dict[str, str]:
    """Return field -> expression over a file of college plays.

    Parameters
    ----------
    c
        The columns.
    receiver_kicks_off
        Whether `have` is the receiving club on kickoffs.
    """
    home = f"coalesce({c.text('home_club')}, {c.text('home')})"
    away = f"coalesce({c.text('away_club')}, {c.text('away')})"
    have = label(c, "have")
    other = label(c, "have_not") if c.has("have_not") else f"if(({have}) = {home}, {away}, {home})"
    if receiver_kicks_off:
        kickoff = f"{c.lower('kind')} LIKE '%kickoff%'"
        have, other = (
            f"CASE WHEN {kickoff} THEN {other} ELSE {have} END",
            f"CASE WHEN {kickoff} THEN {have} ELSE {other} END",
        )
    line, yards_gained = c.whole("yardline_100"), gain(c)
    words, t = c.lower("words"), c.lower("kind")
    clock = c.text("clock")
    scored = f"({t} LIKE '%touchdown%')"
    return {
        "game_id": f"concat_ws(' ', {c.text('game_id')}, concat({away}, '-', {home}))",
        "season": c.whole("season"),
        "season_type": f"CASE WHEN lower({c.text('season_type')}) IN ('3', 'postseason', 'post') "
        "THEN 'POST' ELSE 'REG' END",
        "week": c.whole("week"),
        "order_key": _order(c),
        "same_key": _same(c),
        "home_club": home,
        "away_club": away,
        "offense": have,
        "defense": other,
        "quarter": c.whole("quarter"),
        "clock_s": f"coalesce({clock_seconds(clock)}, "
        f"{c.whole('clock_minutes')} * 60 + {c.whole('clock_seconds')})",
        "down": c.whole("down"),
        "distance_yd": c.whole("distance_yd"),
        "yardline_100": f"CASE WHEN {t} LIKE '%kickoff%' AND {line} < 50 THEN 100 - {line} "
        f"ELSE {line} END",
        "home_after": c.whole("home_after"),
        "away_after": c.whole("away_after"),
        "kind": kind(c),
        "gain_yd": yards_gained[0],
        "mended": f"CASE WHEN {yards_gained[1]} THEN "
        "'a gain without yards: taken from the spots before and after' END",
        "side": f"nullif(regexp_extract({words}, '(?:short|deep) (left|middle|right)', 1), '')",
        "depth": f"nullif(regexp_extract({words}, '(short|deep) (?:left|middle|right)', 1), '')",
        "out_of_bounds": f"regexp_matches({words}, {_BALL})",
        "touchdown": f"{scored} AND NOT {returned(c)}",
        "return_touchdown": returned(c),
        "safety": f"{t} = 'safety' OR {c.flag('safety')}",
        "turnover": f"{t} LIKE '%interception%' OR {t} LIKE '%opponent%' "
        f"OR {t} LIKE '%fumble return%' OR {c.flag('fumble_lost')}",
        "first_down": f"CASE WHEN regexp_matches({words}, 'for a (1st|first) down') THEN true END",
        "penalty": f"{c.flag('penalty')} OR {t} LIKE '%penalty%'",
        "kick_distance_yd": kick_distance(c),
        "return_yd": return_yards(c),
        "kick_result": kick_result(c),
        "skip": skip(c),
    }


def _order(c: RawColumns) -> str:
    """Return the expression that puts a game's plays in order."""
    if c.has("order_key"):
        return c.number("order_key")
    if c.has("drive_number") and c.has("play_number"):
        return f"{c.number('drive_number')} * 1000 + {c.number('play_number')}"
    return "NULL"


def _same(c: RawColumns) -> str:
    """Return the expression for a play's id; none where ids are numbers that may lose digits."""
    origin = c.origin("same_key")
    whole = origin is not None and c.types[origin] in ("BIGINT", "HUGEINT", "VARCHAR", "UBIGINT")
    return c.text("same_key") if whole else "NULL"
