"""A mapping file: how one user's spreadsheet reads as plays, and the adapter that it makes.

TOML, checked as a whole. `lensyard data map` writes one; people change it by hand.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping as Table
from functools import partial
from typing import Annotated, Final, Literal

from pydantic import Field

from lensyard.plays.importing.adapter import Adapter, RawColumns, clock_seconds, literal
from lensyard.plays.schema import PlayKind
from lensyard.settings.fields import SettingsTable, setting
from lensyard.settings.reading import Issues, Reading, SettingsKind, read_toml

FIELDS: Final[dict[str, str]] = {
    "game": "the game: an id, the opponent, or the date", "season": "the season, as a year",
    "date": "the date of the game, year first", "week": "the week",
    "play_number": "the order of the plays", "quarter": "the quarter",
    "clock": "time left in the quarter, as 12:34", "down": "the down",
    "distance": "yards to the line to gain", "yard_line": "where the ball is snapped",
    "hash_mark": "the hash mark", "side_of_ball": "who has the ball: offense, defense or kick",
    "offense": "the club with the ball", "opponent": "the other club", "kind": "the kind of play",
    "result": "what became of the play", "gain": "yards gained or lost",
    "direction": "where the play went: left, middle, right", "our_score": "our points",
    "their_score": "their points", "kick_distance": "length of the kick",
    "return_yards": "yards of the return", "air_yards": "air yards",
}  # fmt: skip
"""What a column of a spreadsheet can hold, in the order of the questions of `lensyard data map`."""
NEEDED: Final = ("down", "distance", "yard_line", "kind", "gain")
RESULTS: Final = (
    "complete", "incomplete", "sack", "scramble", "interception", "kneel", "spike", "touchdown",
    "return_touchdown", "first_down", "fumble_lost", "safety", "penalty", "no_play", "made",
    "missed", "blocked", "touchback", "fair_catch", "returned", "downed", "out_of_bounds",
    "recovered", "nothing",
)  # fmt: skip
KINDS: Final = (*(kind.value for kind in PlayKind), "pass", "skip")
_FLAGGED: Final = (
    "no_play", "two_point", "extra_point", "kickoff", "punt", "field_goal", "kneel", "spike",
    "sack", "pass", "run", "scramble",
)  # fmt: skip
"""Words of flags that are a kind of play by themselves."""
_THIRDS: Final = ("left", "middle", "right", "")
Text = Annotated[str, Field(max_length=300)]
Texts = dict[Text, Text]


class Values(SettingsTable):
    """What the cells of a column mean, whatever their case."""

    kind: Texts = setting({}, "Cell to kind of play.", max_length=500)
    result: dict[Text, Text | list[Text]] = setting({}, "Cell to results.", max_length=500)
    hash_mark: Texts = setting({}, "Cell to hash mark.", max_length=50)
    side_of_ball: Texts = setting({}, "Cell to who has the ball.", max_length=50)
    direction: Texts = setting({}, "Cell to where the play went.", max_length=100)


class YardLine(SettingsTable):
    """How yard lines are written.

    `signed`: minus is the side of the club that `sign_of` names, plus the other; `to_goal`: yards
    to the opponent's goal line; `sided`: words and a number, such as "own 25", "opp 40", "RIV 25".
    """

    style: Literal["signed", "to_goal", "sided"] = "signed"
    sign_of: Literal["offense", "us"] = "offense"


class Defaults(SettingsTable):
    """What the file does not say."""

    us: str = setting("US", "The club that charts.", min_length=1, max_length=60)
    them: str = setting("THEM", "The other club.", min_length=1, max_length=60)
    home: Literal["us", "them"] = "us"
    season: int | None = setting(
        None, "The year.", expected="a year from {low:g} to {high:g}", ge=1990, le=2100
    )
    week: int = setting(1, "The week.", expected="a week from {low:g} to {high:g}", ge=1, le=22)
    game: str | None = setting(None, "The game.", max_length=120)
    score: Literal["before", "after"] = "before"


class Mapping(SettingsTable):
    """A mapping file."""

    source: str = setting(
        ...,
        "Name to store the plays under.",
        expected="up to 40 lower-case letters, digits and hyphens",
        pattern=r"^[a-z0-9][a-z0-9-]{0,39}$",
    )
    title: str = setting(..., "For people.", min_length=1, max_length=120)
    level: Literal["pro", "college", "high-school", "other"] = "high-school"
    license: Text = "private; not to be passed on"
    attribution: Text = "Plays charted by the user."
    skip_lines: int = setting(
        0,
        "Lines before the header.",
        expected="a number of lines from {low:g} to {high:g}",
        ge=0,
        le=1000,
    )
    columns: Texts = setting(..., "Field to column.", expected="FIELD = COLUMN", max_length=60)
    flags: Texts = setting({}, "Column that says yes or no, to what a yes means.", max_length=60)
    values: Values = setting(Values(), "What cells mean.")
    yard_line: YardLine = setting(YardLine(), "How yard lines are written.")
    defaults: Defaults = setting(Defaults(), "What the file does not say.")

    @property
    def fingerprint(self) -> str:
        """Return 16 digits that change whenever the mapping does."""
        text = json.dumps(self.model_dump(mode="json"), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:16]


def read_mapping(text: str) -> Reading[Mapping]:
    """Return the mapping of a TOML text, or everything that is wrong with it."""
    return read_toml(text, Mapping, _checked)


MAPPINGS: Final = SettingsKind("mapping", read_mapping, "", "lensyard data map FILE", 1 << 20)
load_mapping = MAPPINGS.load
parse_mapping = MAPPINGS.parse


def _checked(mapping: Mapping, issues: Issues) -> Mapping:
    """Add what a mapping says that is none of the closed sets to the issues."""
    for field in mapping.columns:
        if field not in FIELDS:
            issues.add(("columns", field), f"there is no such field; known: {', '.join(FIELDS)}")
    flagged = tuple(dict.fromkeys((*KINDS, *RESULTS)))
    for column, word in mapping.flags.items():
        if word not in flagged:
            issues.add(("flags", column), f"{word!r} is none of {', '.join(flagged)}")
    for field in NEEDED:
        if field not in mapping.columns and not (field == "kind" and mapping.flags):
            issues.add(("columns", field), f"is missing ({FIELDS[field]})")
    for cell, word in mapping.values.kind.items():
        kind, _, side = word.partition(",")
        if kind.strip() not in KINDS or side.strip() not in ("", "us", "them"):
            issues.add(
                ("values", "kind", cell),
                f"{word!r} is none of {', '.join(KINDS)}, each also with ', us' or ', them'",
            )
    closed = (
        ("result", mapping.values.result, RESULTS),
        ("hash_mark", mapping.values.hash_mark, _THIRDS),
        ("direction", mapping.values.direction, _THIRDS),
        ("side_of_ball", mapping.values.side_of_ball, ("offense", "defense", "kick")),
    )
    for table, cells, known in closed:
        for cell, words in cells.items():
            for word in [words] if isinstance(words, str) else words:
                if word not in known:
                    issues.add(("values", table, cell), f"{word!r} is none of {', '.join(known)}")
    return mapping


_GOAL: Final = "'g', 'goal', '&g', 'gl'"


def adapter_of(mapping: Mapping, *, stem: str) -> Adapter:
    """Return the adapter of a mapping.

    `stem`: Name of the file without its ending: the game, where neither column nor mapping says it.
    """
    staged_as = {"distance": "distance_yd", "yard_line": "yardline_100", "gain": "gain_yd"}
    names: dict[str, tuple[str, ...]] = dict.fromkeys(FIELDS, ())
    names |= {field: (column,) for field, column in mapping.columns.items()}
    names |= {staged: names[field] for field, staged in staged_as.items()}
    for field in ("season", "quarter", "game_id", "same_key"):
        names.setdefault(field, ())
    names |= {f"flag{at}": (column,) for at, column in enumerate(mapping.flags)}
    return Adapter(
        name=mapping.source,
        title=mapping.title,
        level=mapping.level,
        license=mapping.license,
        attribution=mapping.attribution,
        names=names,
        needs=tuple((staged_as.get(field, field), FIELDS[field]) for field in _needed(mapping)),
        signature_columns=(),
        map_columns=partial(_map_spreadsheet, mapping=mapping, stem=stem),
    )


def _needed(mapping: Mapping) -> list[str]:
    """Return the fields that must be in the file: those that the mapping names, and the season."""
    says_season = mapping.defaults.season is not None or "date" in mapping.columns
    return [*mapping.columns] + ([] if says_season or "season" in mapping.columns else ["season"])


def _choose(cell: str, table: Table[str, str], otherwise: str) -> str:
    """Return a CASE that reads a cell by a table, whatever the case of its letters."""
    if not table:
        return otherwise
    whens = " ".join(
        f"WHEN {literal(key.strip().lower())} THEN {literal(word)}" for key, word in table.items()
    )
    return f"CASE lower({cell}) {whens} ELSE {otherwise} END"


def _digits(c: RawColumns, field: str) -> str:
    """Return an expression for the whole number in a cell such as "3rd" or "+12"."""
    found = f"regexp_extract({c.text(field)}, '[-−]?[0-9]+')"
    return f"try_cast(replace({found}, '−', '-') AS INTEGER)"


def _kind(c: RawColumns, mapping: Mapping) -> tuple[str, str]:
    """Return the expressions for the kind of play, and for who has the ball by it."""
    kinds = {cell: word.split(",")[0].strip() for cell, word in mapping.values.kind.items()}
    owners = {
        cell: word.split(",")[1].strip()
        for cell, word in mapping.values.kind.items()
        if "," in word
    }
    cell = c.text("kind")
    base = _choose(cell, kinds, f"lower({cell})")
    has = partial(_has, c, mapping)
    if mapping.flags:
        whens = [
            f"WHEN {c.flag(f'flag{at}')} THEN {literal(word)}"
            for at, word in enumerate(mapping.flags.values())
            if word in _FLAGGED
        ]
        passed = " OR ".join(has(word) for word in ("complete", "incomplete", "interception"))
        base = f"coalesce({base}, CASE {' '.join(whens)} WHEN {passed} THEN 'pass' END)"
    kind = f"""CASE
        WHEN {has("no_play")} THEN 'no_play'
        WHEN ({base}) = 'pass' THEN CASE
            WHEN {has("sack")} THEN 'sack' WHEN {has("interception")} THEN 'interception'
            WHEN {has("scramble")} THEN 'scramble' WHEN {has("spike")} THEN 'spike'
            WHEN {has("incomplete")} THEN 'incomplete'
            WHEN {has("complete")} OR {has("touchdown")} THEN 'complete'
            ELSE {cell} END
        WHEN ({base}) = 'run' AND {has("scramble")} THEN 'scramble'
        WHEN ({base}) = 'run' AND {has("kneel")} THEN 'kneel'
        ELSE {base} END"""
    return kind, _choose(cell, owners, "NULL")


def _has(c: RawColumns, mapping: Mapping, word: str) -> str:
    """Return the condition that a row's result says a word."""
    cells = [
        key.strip().lower()
        for key, words in mapping.values.result.items()
        if word in ([words] if isinstance(words, str) else words)
    ]
    meant = enumerate(mapping.flags.values())
    found = [c.flag(f"flag{at}") for at, flagged in meant if flagged == word]
    if cells and c.has("result"):
        listed = ", ".join(literal(cell) for cell in cells)
        found.append(f"coalesce(lower({c.text('result')}) IN ({listed}), false)")
    return f"({' OR '.join(found)})" if found else "false"


def _says(c: RawColumns, mapping: Mapping, word: str) -> bool:
    """Return whether any result of the mapping says a word."""
    return _has(c, mapping, word) != "false"


def _of_league(c: RawColumns, offense: str, us: str, them: str) -> str:
    """Return the condition that a row names two clubs of which neither is the one that charts."""
    if not (c.has("offense") and c.has("opponent")):
        return "false"
    return f"coalesce(({offense}) NOT IN ({us}, {them}), false)"


def _sides(c: RawColumns, mapping: Mapping, owner: str) -> tuple[str, str]:
    """Return the expressions for offense and defense."""
    us = literal(mapping.defaults.us)
    them = f"coalesce({c.text('opponent')}, {literal(mapping.defaults.them)})"
    of_ball = _choose(c.text("side_of_ball"), mapping.values.side_of_ball, "NULL")
    ours = f"""CASE WHEN {owner} = 'us' THEN true WHEN {owner} = 'them' THEN false
        WHEN ({of_ball}) = 'defense' THEN false WHEN ({of_ball}) IS NOT NULL THEN true END"""
    named = c.text("offense")
    offense = f"coalesce({named}, CASE WHEN ({ours}) THEN {us} WHEN NOT ({ours}) THEN {them} END)"
    if not c.has("offense") and not c.has("side_of_ball"):
        offense = f"CASE WHEN {owner} = 'them' THEN {them} ELSE {us} END"
    other = f"({offense}) = {us} OR {_of_league(c, offense, us, them)}"
    return offense, f"CASE WHEN {other} THEN {them} ELSE {us} END"


def _yardline_100(c: RawColumns, mapping: Mapping, offense: str) -> str:
    """Return the expression for yards to the opponent's goal line."""
    us = literal(mapping.defaults.us)
    number = _digits(c, "yardline_100")
    style = mapping.yard_line.style
    if style == "to_goal":
        return number
    if style == "signed":
        signed = number
        if mapping.yard_line.sign_of == "us":
            signed = f"(CASE WHEN ({offense}) = {us} THEN {number} ELSE -{number} END)"
        return f"CASE WHEN {signed} < 0 THEN 100 + {signed} ELSE {signed} END"
    words = f"lower({c.text('yardline_100')})"
    side = f"regexp_extract({words}, '^(.*?)[ -]*[0-9]+$', 1)"
    own = f"(trim({side}) IN ('own', 'o', 'minus') OR trim({side}) = lower({offense}))"
    return f"CASE WHEN {own} THEN 100 - abs({number}) ELSE abs({number}) END"


def _game(
    c: RawColumns, mapping: Mapping, stem: str, *, league: str, clubs: tuple[str, str]
) -> str:
    """Return the expression for the game: column, date and clubs, mapping, or the file.

    `league`: Condition that a row names both clubs, `clubs`, which are then the game's.
    """
    if c.has("game"):
        return c.text("game")
    parts = [c.text("date")] if c.has("date") else []
    if c.has("opponent"):
        both = f"concat({clubs[0]}, '-', {clubs[1]})"
        parts.append(f"CASE WHEN {league} THEN {both} ELSE {c.text('opponent')} END")
    fixed = literal((mapping.defaults.game or stem)[:120] or "game")
    return f"coalesce(nullif(concat_ws(' ', {', '.join(parts)}), ''), {fixed})" if parts else fixed


def _season(c: RawColumns, mapping: Mapping) -> str:
    """Return the expression for the season: column, date (January counts back), or mapping."""
    default = "NULL" if mapping.defaults.season is None else str(mapping.defaults.season)
    dated = "NULL"
    if c.has("date"):
        date = c.text("date")
        year = f"try_cast(regexp_extract({date}, '((?:19|20)[0-9][0-9])', 1) AS INTEGER)"
        month = f"try_cast(regexp_extract({date}, '^[0-9]{{4}}-([0-9]{{1,2}})-', 1) AS INTEGER)"
        dated = f"({year} - if(coalesce({month}, 9) <= 2, 1, 0))"
    return f"coalesce({_digits(c, 'season')}, {default}, {dated})"


def _scores(c: RawColumns, mapping: Mapping, offense: str) -> dict[str, str]:
    """Return the expressions for the score."""
    ours, theirs = _digits(c, "our_score"), _digits(c, "their_score")
    if mapping.defaults.score == "after":
        home = mapping.defaults.home == "us"
        return {"home_after": ours if home else theirs, "away_after": theirs if home else ours}
    us = literal(mapping.defaults.us)
    return {
        "score_diff": f"CASE WHEN ({offense}) = {us} THEN {ours} - {theirs} "
        f"ELSE {theirs} - {ours} END"
    }


def _kick_result(c: RawColumns, mapping: Mapping) -> str:
    words = (
        "made", "missed", "blocked", "touchback", "fair_catch", "returned", "downed",
        "out_of_bounds", "recovered",
    )  # fmt: skip
    whens = " ".join(f"WHEN {_has(c, mapping, word)} THEN {literal(word)}" for word in words)
    return f"CASE {whens} ELSE '' END"


def _map_spreadsheet(c: RawColumns, *, mapping: Mapping, stem: str) -> dict[str, str]:
    """Return field -> expression over a spreadsheet."""
    kind, owner = _kind(c, mapping)
    offense, defense = _sides(c, mapping, owner)
    line = _yardline_100(c, mapping, offense)
    us = literal(mapping.defaults.us)
    them = f"coalesce({c.text('opponent')}, {literal(mapping.defaults.them)})"
    home = mapping.defaults.home == "us"
    clubs = (us, them) if home else (them, us)
    league = _of_league(c, offense, us, them)
    if league != "false":  # nobody says who is at home
        clubs = (
            f"CASE WHEN {league} THEN least({offense}, {defense}) ELSE {clubs[0]} END",
            f"CASE WHEN {league} THEN greatest({offense}, {defense}) ELSE {clubs[1]} END",
        )
    distance = (
        f"if(lower({c.text('distance_yd')}) IN ({_GOAL}), {line}, {_digits(c, 'distance_yd')})"
    )
    has, says = partial(_has, c, mapping), partial(_says, c, mapping)
    empty = f"({kind}) IS NULL AND {_digits(c, 'down')} IS NULL"
    cells = (mapping.values.hash_mark, mapping.values.direction)
    return {
        "game_id": _game(c, mapping, stem, league=league, clubs=clubs),
        "season": _season(c, mapping),
        "season_type": "'REG'",
        "week": f"coalesce({_digits(c, 'week')}, {mapping.defaults.week})",
        "order_key": c.number("play_number"),
        "home_club": clubs[0],
        "away_club": clubs[1],
        "offense": offense,
        "defense": defense,
        "quarter": _digits(c, "quarter"),
        "clock_s": clock_seconds(c.text("clock")),
        "down": _digits(c, "down"),
        "distance_yd": distance,
        "yardline_100": line,
        **_scores(c, mapping, offense),
        "kind": kind,
        "gain_yd": _digits(c, "gain_yd"),
        "air_yd": _digits(c, "air_yards"),
        "side": _choose(c.text("direction"), cells[1], "NULL"),
        "out_of_bounds": has("out_of_bounds") if says("out_of_bounds") else "NULL",
        "touchdown": f"{has('touchdown')} AND NOT {has('return_touchdown')}",
        "return_touchdown": has("return_touchdown"),
        "safety": has("safety"),
        "turnover": f"CASE WHEN {has('interception')} OR {has('fumble_lost')} THEN true "
        f"ELSE {'false' if says('fumble_lost') else 'NULL'} END",
        "first_down": f"CASE WHEN {has('first_down')} THEN true END",
        "penalty": f"{has('penalty')} OR {has('no_play')}"
        if says("penalty") or says("no_play")
        else "NULL",
        "kick_distance_yd": _digits(c, "kick_distance"),
        "return_yd": _digits(c, "return_yards"),
        "kick_result": _kick_result(c, mapping),
        "hash_mark": f"nullif({_choose(c.text('hash_mark'), cells[0], 'NULL')}, '')",
        "skip": f"CASE WHEN {empty} THEN 'no play: neither kind nor down' "
        f"WHEN ({kind}) = 'skip' THEN 'no play by the mapping' END",
    }
