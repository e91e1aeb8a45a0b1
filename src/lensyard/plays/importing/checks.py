"""What makes a file or a row unusable, and what is repaired, each in plain words.

Files are judged as a whole before and after their rows are read. Conditions on rows are SQL over
`lensyard.plays.importing.adapter.STAGED_COLUMNS`, the same for every source. Files in lensyard's
own format are only checked against the schema, in one pass whatever the size.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from lensyard.errors import DataError
from lensyard.plays.importing.adapter import (
    EXTRA_COLUMNS,
    STAGED_COLUMNS,
    VALUE_LENGTH,
    Adapter,
    RawColumns,
    identifier,
    listed,
    literal,
)
from lensyard.plays.importing.catalog import Tally
from lensyard.plays.schema import (
    COLUMN_NAMES,
    COLUMNS,
    DEPTHS,
    GAIN_KINDS,
    GAPS,
    KICK_RESULTS,
    PASS_KINDS,
    SCRIMMAGE_KINDS,
    SEASON_TYPES,
    SIDES,
    TRY_KINDS,
    Column,
    PlayKind,
)
from lensyard.records import Record

if TYPE_CHECKING:
    import duckdb

_USABLE: Final = {
    "down": ("down BETWEEN 1 AND 4", "expected 1 to 4"),
    "distance_yd": ("distance_yd BETWEEN 1 AND 99", "expected 1 to 99 yards"),
    "yardline_100": ("yardline_100 BETWEEN 0 AND 100", "expected a spot on the field"),
    "kind": ("kind IS NOT NULL", "expected kinds of play"),
    "season": ("season IS NOT NULL", "expected years"),
    "quarter": ("quarter BETWEEN 1 AND 20", "expected 1 to 4 and overtime"),
}
_STAGED_AS: Final = {
    "have": "offense", "have_not": "defense", "home": "home_club", "away": "away_club",
}  # fmt: skip
"""Fields of the college sources that are staged under another name."""
MOST_PASSED_OVER: Final = 0.5
"""Of a file's rows; real files have 3 to 15 % of rows that are no play (pro, college)."""


def require_fields(
    adapter: Adapter, columns: RawColumns, *, name: str, season_given: bool = False
) -> None:
    """Raise `DataError` unless a file has every column that its source cannot do without."""
    missing = [
        f"{what} ({' or '.join(adapter.names.get(field, (field,)))})"
        for field, what in adapter.needs
        if not columns.has(field) and not (field == "season" and season_given)
    ]
    if missing:
        raise DataError(
            f"{name} was read as {adapter.title}, but lacks {', '.join(missing[:8])}"
            f"{' and more' if len(missing) > 8 else ''}. It has {_some(list(columns.types))}. Give "
            "the file that the source publishes, or write a mapping: `lensyard data map FILE`."
        )


def _some(names: list[str]) -> str:
    more = f" and {len(names) - 12} more" if len(names) > 12 else ""
    return f"{', '.join(name[:40] for name in names[:12])}{more}"


def require_content(
    connection: duckdb.DuckDBPyConnection, adapter: Adapter, columns: RawColumns, *, name: str
) -> tuple[int, tuple[Tally, ...]]:
    """Return how many rows `staged` has, and what is passed over by reason.

    Raises `DataError` if the file has no rows, a column that is empty all through, or hardly any
    play.
    """
    tests = [
        (field, what, *_USABLE.get(staged, (f"{staged} IS NOT NULL", "expected values")))
        for field, what in adapter.needs
        if columns.has(field) and (staged := _STAGED_AS.get(field, field)) in STAGED_COLUMNS
    ]
    counted = ", ".join(f"count(*) FILTER (WHERE {test})" for _, _, test, _ in tests)
    row = connection.execute(f"SELECT count(*), {counted} FROM staged").fetchone() or (0,)
    rows, usable = int(row[0]), [int(value) for value in row[1:]]
    if rows == 0:
        raise DataError(f"{name} holds no rows; expected one row a play")
    empty = [
        f"{columns.origin(field)} {_what_it_holds(connection, columns, field)} in all {rows:,} "
        f"rows ({what}; {expected})"
        for (field, what, _, expected), count in zip(tests, usable, strict=True)
        if count == 0
    ]
    if empty:
        raise DataError(
            f"{name} is not usable, and nothing was imported: {'; '.join(empty)}. Fetch the file "
            "again or take another source."
        )
    skipped = connection.execute(
        "SELECT skip, count(*), min(line) FROM staged WHERE skip IS NOT NULL GROUP BY skip "
        "ORDER BY 2 DESC, 1"
    ).fetchall()
    tallies = tuple(Tally(str(words), int(n), int(line)) for words, n, line in skipped)
    over = sum(tally.rows for tally in tallies)
    if over > MOST_PASSED_OVER * rows:
        raise DataError(
            f"{name} is not usable, and nothing was imported: {over:,} of its {rows:,} rows are "
            f"no play ({describe(tallies)}). Check that the kind of play is filled."
        )
    return rows, tallies


def _what_it_holds(connection: duckdb.DuckDBPyConnection, columns: RawColumns, field: str) -> str:
    """Return in words what an unusable column holds."""
    name = identifier(columns.origin(field) or field)
    row = connection.execute(
        f"SELECT min(CAST({name} AS VARCHAR)), max(CAST({name} AS VARCHAR)) FROM raw"
    ).fetchone()
    low, high = row or (None, None)
    if low is None or high == "":
        return "is empty"
    if low == high:
        return f"is {str(low)[:40]!r}"
    return f"holds values such as {str(low)[:40]!r} and {str(high)[:40]!r}"


def require_few_rejects(
    *, accepted: int, rejected: tuple[Tally, ...], limit: float, name: str
) -> None:
    """Raise `DataError` if no row is left, or more than a share `limit` was rejected.

    `limit`: Largest share of rejected rows among all that are plays, 0 to 1.
    """
    rejects = sum(tally.rows for tally in rejected)
    if accepted == 0:
        why = f": {describe(rejected)}" if rejected else ""
        raise DataError(f"{name} holds no usable play, and nothing was imported{why}")
    share = rejects / (rejects + accepted)
    if share > limit:
        raise DataError(
            f"{name} is refused, and nothing was imported: {rejects:,} of {rejects + accepted:,} "
            f"plays ({share:.1%}) are unusable, more than the limit of {limit:.1%}: "
            f"{describe(rejected)}. `lensyard data check FILE` lists them; --limit-rejects raises "
            "the limit."
        )


_ABSENT: Final = (
    ("air_yd IS NOT NULL", "kind IN ('complete', 'incomplete', 'interception')",
     "no air yards: how deep passes go stays the model's"),
    ("kind = 'scramble'", "true",
     "no scrambles: how many runs are scrambles stays the model's"),
    ("kind = 'interception'", "true",
     "no interceptions: how often a pass is intercepted stays the model's"),
    ("kind IN ('punt', 'field_goal')", "true",
     "no punts and no field goals: fourth downs, how drives end and kicks stay the model's"),
    ("kind = 'kickoff'", "true", "no kickoffs: where they lead stays the model's"),
    ("kick_result IS NOT NULL", "kind IN ('punt', 'kickoff')",
     "no results of punts and kickoffs: where they lead stays the model's"),
    ("kick_result IS NOT NULL", "kind = 'field_goal'",
     "no results of field goals: how often they are good, and how drives end, stay the model's"),
    ("kick_result IS NOT NULL", "kind IN ('extra_point', 'two_point')",
     "no results of tries: how often they are good stays the model's"),
    ("out_of_bounds IS NOT NULL", "kind IN ('run', 'complete', 'scramble')",
     "not who ran out of bounds: how often that happens stays the model's"),
    ("turnover IS NOT NULL", "kind IN ('run', 'complete')",
     "no lost fumbles: how often the ball is lost stays the model's"),
    ("penalty IS NOT NULL", "true", "no penalties"),
    ("side <> ''", "kind IN ('run', 'complete', 'incomplete')",
     "no left, middle or right: where plays end across the field is the measured tables'"),
)  # fmt: skip
"""What plays may lack: known where, among which plays, and what follows for answers."""


def absent(connection: duckdb.DuckDBPyConnection, filled: tuple[Tally, ...]) -> tuple[str, ...]:
    """Return in words what the table `plays` does not have, and what follows for answers.

    `filled`: What was repaired; a clock or a score that was made up throughout is absent, too.
    """
    counted = ", ".join(
        f"count(*) FILTER (WHERE ({among}) AND {known}), count(*) FILTER (WHERE {among})"
        for known, among, _ in _ABSENT
    )
    row = connection.execute(f"SELECT count(*), {counted} FROM plays").fetchone() or (0,)
    plays, counts = int(row[0]), row[1:]
    found = [
        words
        for (_, _, words), known, among in zip(_ABSENT, counts[::2], counts[1::2], strict=True)
        if among and not known
    ]
    for begins, words in (
        ("no clock", "no clock: the quarter's plays are spread over it"),
        ("no quarter", "no quarter: the game's plays are spread over four"),
        ("no score", "no score: it is counted from the plays"),
    ):
        if any(t.words.startswith(begins) and t.rows >= 0.9 * plays for t in filled):
            found.append(words)
    return tuple(found)


def describe(tallies: tuple[Tally, ...], *, most: int = 3) -> str:
    """Return the largest tallies in words."""
    parts = [f"{t.rows:,} × {t.words} (first: line {t.first_line})" for t in tallies[:most]]
    more = f", and {len(tallies) - most} more reasons" if len(tallies) > most else ""
    return ", ".join(parts) + more


_KINDS: Final = listed(kind.value for kind in PlayKind)
_SCRIMMAGE: Final = f"kind IN ({listed(SCRIMMAGE_KINDS)})"
_GAINS: Final = f"kind IN ({listed(GAIN_KINDS)})"
_PASSES: Final = f"kind IN ({listed(PASS_KINDS)})"
_TRIES: Final = f"kind IN ({listed(TRY_KINDS)})"
_ON_DOWN: Final = f"(({_SCRIMMAGE} AND kind <> 'field_goal') OR down BETWEEN 1 AND 4)"


class Repair(Record):
    """A column that takes another value where a condition holds."""

    column: str
    when: str
    becomes: str
    words: str


class RejectRule(Record):
    """A reason to reject a row; `column` is the field that the report shows."""

    column: str
    when: str
    words: str


_PRO_KICKOFF_LINE: Final = "if(season >= 2011, 65, 70)"
"""From the 35 since 2011, from the 30 before: NFL Official Playing Rules 2021, rule 6. [yd]"""
_PRO_TRY_LINE: Final = "if(kind = 'extra_point' AND season >= 2015, 15, 2)"
_KICKOFF_LINES: Final = {"college": "65", "high-school": "60", "other": "65"}


def repairs(level: str) -> tuple[Repair, ...]:
    """Return the repairs for a level of play; its rules say where kickoffs and tries are from."""
    kickoff_line = _PRO_KICKOFF_LINE if level == "pro" else _KICKOFF_LINES[level]
    try_line = _PRO_TRY_LINE if level == "pro" else "3"
    labels = (
        ("side", SIDES, "an unknown direction: left out"),
        ("depth", DEPTHS, "an unknown depth: left out"),
        ("gap", GAPS, "an unknown gap: left out"),
    )
    return (
        Repair("yardline_100", "kind = 'kickoff' AND yardline_100 IS NULL", kickoff_line,
               "a kickoff without a spot: taken at the season's kickoff line"),
        Repair("yardline_100", f"{_TRIES} AND coalesce(yardline_100, 0) NOT BETWEEN 1 AND 99",
               try_line, "a try without a spot: taken where tries are snapped"),
        Repair("yardline_100", "yardline_100 IN (0, 100)", "if(yardline_100 = 0, 1, 99)",
               "the ball on a goal line: taken at the 1-yard line before it"),
        Repair("distance_yd", f"{_ON_DOWN} AND coalesce(distance_yd, 0) = 0 AND yardline_100 "
               "BETWEEN 1 AND 10", "yardline_100",
               "goal to go without a distance: taken to the goal line"),
        Repair("distance_yd", f"{_ON_DOWN} AND distance_yd > yardline_100 AND yardline_100 >= 1",
               "yardline_100", "a line to gain beyond the goal line: taken at the goal line"),
        Repair("gain_yd", f"{_GAINS} AND gain_yd > yardline_100 AND gain_yd < 1000",
               "yardline_100", "more yards gained than the field has: cut at the goal line"),
        Repair("gain_yd", f"{_GAINS} AND gain_yd < yardline_100 - 100 AND gain_yd > -1000",
               "yardline_100 - 100", "more yards lost than the field has: cut at the goal line"),
        Repair("air_yd", f"{_PASSES} AND (air_yd > yardline_100 + 10 OR air_yd < -30)",
               "NULL", "air yards off the field: left out"),
        Repair("after_catch_yd", "kind = 'complete' AND after_catch_yd NOT BETWEEN -99 AND 99",
               "NULL", "yards after the catch off the field: left out"),
        Repair("kick_distance_yd", "kick_distance_yd NOT BETWEEN -10 AND 99",
               "NULL", "a kick longer than the field: length left out"),
        Repair("return_yd", "return_yd NOT BETWEEN -60 AND 110",
               "NULL", "a return longer than the field: length left out"),
        Repair("score_diff", "score_diff NOT BETWEEN -80 AND 80",
               "greatest(-80, least(80, score_diff))",
               "a lead of more than 80 points: taken as 80"),
        Repair("clock_s", "clock_s > 900", "900", "more than 15 minutes left: taken as 15"),
        Repair("quarter", "quarter > 8", "8", "a ninth period or later: taken as the eighth"),
        Repair("week", "week IS NULL", "1", "no week: taken as 1"),
        Repair("week", "week > 22", "22", "a week after the 22nd: taken as 22"),
        Repair("kick_result", f"coalesce(kick_result, '') NOT IN ({listed(KICK_RESULTS)})", "NULL",
               "an unknown result of a kick: left out"),
        *(
            Repair(column, f"coalesce({column}, '') NOT IN ({listed(known)})", "''", words)
            for column, known, words in labels
        ),
    )  # fmt: skip


REJECT_RULES: Final[tuple[RejectRule, ...]] = (
    RejectRule("game_id", "game_id IS NULL", "no game"),
    RejectRule("season", "coalesce(season, 0) NOT BETWEEN 1990 AND 2100", "no season that can be"),
    RejectRule("season_type", f"coalesce(season_type, '') NOT IN ({listed(SEASON_TYPES)})",
               "a season type that is neither regular nor post season"),
    RejectRule("week", "week < 1", "a week below 1"),
    RejectRule("kind", f"coalesce(kind, '') NOT IN ({_KINDS})", "no kind of play that is known"),
    RejectRule("offense", "offense IS NULL", "no club with the ball"),
    RejectRule("defense", "defense IS NULL OR defense = offense", "no other club on defense"),
    RejectRule("home_club", "home_club IS NULL OR away_club IS NULL", "no home or visiting club"),
    RejectRule("offense", "offense NOT IN (home_club, away_club)",
               "a club with the ball that is not one of the two that play"),
    RejectRule("quarter", "quarter < 1", "a quarter below 1"),
    RejectRule("clock_s", "clock_s < 0", "less than no time left"),
    RejectRule("down", f"{_SCRIMMAGE} AND kind <> 'field_goal' AND coalesce(down, 0) NOT BETWEEN 1 "
               "AND 4", "no down from 1 to 4"),
    RejectRule("yardline_100", "coalesce(yardline_100, 0) NOT BETWEEN 1 AND 99",
               "no line of scrimmage on the field"),
    RejectRule("distance_yd", f"{_ON_DOWN} AND coalesce(distance_yd, 0) NOT BETWEEN 1 AND 99",
               "no distance to the line to gain"),
    RejectRule("gain_yd", f"{_GAINS} AND coalesce(gain_yd, 1000) NOT BETWEEN -99 AND 99",
               "no yards gained"),
)  # fmt: skip
"""In this order: the first that holds is the one reported."""
COPY_WORDS: Final = "the same play a second time"
LONG_GAME_WORDS: Final = "a game of more than 401 plays or 81 possessions; is the game id right?"
SPLIT_WORDS: Final = "a line that cannot be split into columns"
CANONICAL: Final = Adapter(
    name="canonical",
    title="plays in lensyard's own format",
    level="pro",
    license="as its source says",
    attribution="Play-by-play: a file in lensyard's own format; see where it came from.",
    names={},
    needs=tuple((name, "a column of the canonical schema") for name in COLUMN_NAMES),
    signature_columns=(
        ("yardline_100", "play_index", "drive_index", "drive_end", "end_yardline_100"),
    ),
    map_columns=lambda _: {},  # `stage` reads the columns as they are,
)


def stage_canonical(connection: duckdb.DuckDBPyConnection, columns: RawColumns) -> None:
    """Create the view `plays` and the table `rejects` from `raw`."""
    cast = ", ".join(_cast(spec, columns) for spec in COLUMNS)
    extra = ", ".join(
        f"{identifier(name)}" if columns.has(name) else f"NULL::{kind} AS {name}"
        for name, kind in EXTRA_COLUMNS.items()
    )
    connection.execute(f"CREATE VIEW typed AS SELECT line, {cast}, {extra} FROM raw")
    conditions = {spec.name: spec.sql_broken for spec in COLUMNS}
    any_wrong = " OR ".join(conditions.values())
    fields = " ".join(f"WHEN {wrong} THEN {literal(name)}" for name, wrong in conditions.items())
    shown = " ".join(
        f"WHEN {literal(name)} THEN left(coalesce(CAST({name} AS VARCHAR), '(empty)'), "
        f"{VALUE_LENGTH})"
        for name in conditions
    )
    reasons = " ".join(
        f"WHEN {literal(spec.name)} THEN {literal(spec.expected)}" for spec in COLUMNS
    )
    connection.execute(
        "CREATE TABLE rejects AS SELECT line, game_id, CAST(season AS INTEGER) AS season, "
        f"field AS column_name, CASE field {shown} END AS value, "
        f"CASE field {reasons} END AS reason "
        f"FROM (SELECT *, CASE {fields} END AS field FROM typed WHERE {any_wrong})"
    )
    _reject_copies(connection, any_wrong)
    connection.execute(
        f"CREATE VIEW plays AS SELECT * EXCLUDE (line) FROM typed WHERE NOT ({any_wrong}) "
        "AND line NOT IN (SELECT line FROM copies)"
    )


def _cast(spec: Column, columns: RawColumns) -> str:
    """Return a column in its type; text files have nothing where a text is empty."""
    name = identifier(columns.origin(spec.name) or spec.name)
    cast = f"TRY_CAST({name} AS {spec.sql_type})"
    if "" not in spec.values:
        return f"{cast} AS {spec.name}"
    # A text file cannot tell what is not known from what there is not.
    is_text = set(columns.types.values()) == {"VARCHAR"}
    unsaid = "''"
    if spec.nullable and not is_text:
        unsaid = f"if(kind IN ({listed(spec.kinds)}), NULL, '')"
    return f"coalesce({cast}, {unsaid}) AS {spec.name}"


def _reject_copies(connection: duckdb.DuckDBPyConnection, any_wrong: str) -> None:
    """Create the table `copies` of lines that repeat a play, and reject them.

    A game whose plays are numbered 0, 1, 2 … holds none; only the others are looked at closely.
    """
    n = "count(*)"
    index = "CAST(play_index AS BIGINT)"
    connection.execute(
        f"CREATE TABLE uneven AS SELECT game_id FROM typed WHERE NOT ({any_wrong}) "
        f"GROUP BY game_id HAVING {n} <> max(play_index) + 1 "
        f"OR 2 * sum({index}) <> {n} * ({n} - 1) "
        f"OR 6 * sum({index} * {index}) <> ({n} - 1) * {n} * (2 * {n} - 1)"
    )
    connection.execute(
        "CREATE TABLE copies AS SELECT line, game_id, season, play_index FROM typed "
        f"WHERE NOT ({any_wrong}) AND game_id IN (SELECT game_id FROM uneven) "
        "QUALIFY row_number() OVER (PARTITION BY game_id, play_index ORDER BY line) > 1"
    )
    connection.execute(
        "INSERT INTO rejects SELECT line, game_id, season, 'play_index', play_index, "
        f"{literal(COPY_WORDS)} FROM copies"
    )
