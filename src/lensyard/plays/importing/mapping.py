"""A mapping file: how one user's spreadsheet reads as plays. TOML, checked as a whole.

`lensyard data map` writes one; people change it by hand.
"""

from __future__ import annotations

import hashlib
import json
from typing import Annotated, Final, Literal

from pydantic import Field

from lensyard.plays.kinds import PlayKind
from lensyard.settings.fields import SettingsTable, setting
from lensyard.settings.reading import Issues, Reading, SettingsKind, read_toml

FIELDS: Final[dict[str, str]] = {
    "game": "the game: an id, the opponent, or the date",
    "season": "the season, as a year",
    "date": "the date of the game, year first",
    "week": "the week",
    "play_number": "the order of the plays",
    "quarter": "the quarter",
    "clock": "time left in the quarter, as 12:34",
    "down": "the down",
    "distance": "yards to the line to gain",
    "yard_line": "where the ball is snapped",
    "hash_mark": "the hash mark",
    "side_of_ball": "who has the ball: offense, defense or kick",
    "offense": "the club with the ball",
    "opponent": "the other club",
    "kind": "the kind of play",
    "result": "what became of the play",
    "gain": "yards gained or lost",
    "direction": "where the play went: left, middle, right",
    "our_score": "our points",
    "their_score": "their points",
    "kick_distance": "length of the kick",
    "return_yards": "yards of the return",
    "air_yards": "air yards",
}
"""What a column of a spreadsheet can hold, in the order of the questions of `lensyard data map`."""
NEEDED: Final = ("down", "distance", "yard_line", "kind", "gain")
RESULTS: Final = (
    "complete", "incomplete", "sack", "scramble", "interception", "kneel", "spike", "touchdown",
    "return_touchdown", "first_down", "fumble_lost", "safety", "penalty", "no_play", "made",
    "missed", "blocked", "touchback", "fair_catch", "returned", "downed", "out_of_bounds",
    "recovered", "nothing",
)  # fmt: skip
KINDS: Final = (*(kind.value for kind in PlayKind), "pass", "skip")
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
    for field in NEEDED:
        if field not in mapping.columns:
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
