"""A mapping file: how one user's spreadsheet reads as plays. TOML, checked as a whole.

`lensyard data map` writes one; people change it by hand.
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from pathlib import Path
from typing import Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from lensyard.errors import InvalidInputError
from lensyard.plays.kinds import PlayKind

MAX_BYTES: Final = 1 << 20

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
RESULTS: Final = (
    "complete", "incomplete", "sack", "scramble", "interception", "kneel", "spike", "touchdown",
    "return_touchdown", "first_down", "fumble_lost", "safety", "penalty", "no_play", "made",
    "missed", "blocked", "touchback", "fair_catch", "returned", "downed", "out_of_bounds",
    "recovered", "nothing",
)  # fmt: skip
KINDS: Final = (*(kind.value for kind in PlayKind), "pass", "skip")
SIDES_OF_BALL: Final = ("offense", "defense", "kick")

Texts = dict[str, str]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_max_length=300)


class Values(_Strict):
    """What the cells of a column mean, whatever their case."""

    kind: Texts = Field(default_factory=dict, max_length=500)
    result: dict[str, str | list[str]] = Field(default_factory=dict, max_length=500)
    hash_mark: Texts = Field(default_factory=dict, max_length=50)
    side_of_ball: Texts = Field(default_factory=dict, max_length=50)
    direction: Texts = Field(default_factory=dict, max_length=100)


class YardLine(_Strict):
    """How yard lines are written.

    `signed`: minus is the side of the club that `sign_of` names, plus the other; `to_goal`: yards
    to the opponent's goal line; `sided`: words and a number, such as "own 25", "opp 40", "RIV 25".
    """

    style: Literal["signed", "to_goal", "sided"] = "signed"
    sign_of: Literal["offense", "us"] = "offense"


class Defaults(_Strict):
    """What the file does not say."""

    us: str = Field(default="US", min_length=1, max_length=60)
    them: str = Field(default="THEM", min_length=1, max_length=60)
    home: Literal["us", "them"] = "us"
    season: int | None = Field(default=None, ge=1990, le=2100)
    week: int = Field(default=1, ge=1, le=22)
    game: str | None = Field(default=None, max_length=120)
    score: Literal["before", "after"] = "before"


class Mapping(_Strict):
    """A mapping file."""

    source: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")
    title: str = Field(min_length=1, max_length=120)
    level: Literal["pro", "college", "high-school", "other"] = "high-school"
    license: str = "private; not to be passed on"
    attribution: str = "Plays charted by the user."
    skip_lines: int = Field(default=0, ge=0, le=1000)
    columns: Texts = Field(max_length=60)
    values: Values = Field(default_factory=Values)
    yard_line: YardLine = Field(default_factory=YardLine)
    defaults: Defaults = Field(default_factory=Defaults)

    @property
    def fingerprint(self) -> str:
        """Return 16 digits that change whenever the mapping does."""
        text = json.dumps(self.model_dump(mode="json"), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:16]


def load_mapping(path: Path) -> Mapping:
    """Return a mapping from its TOML file.

    Raises
    ------
    InvalidInputError
        If the file is missing, no TOML, or says something that no mapping can; all at once.
    """
    try:
        if path.stat().st_size > MAX_BYTES:
            raise InvalidInputError(
                f"{path.name} is larger than {MAX_BYTES:,} bytes; no mapping is"
            )
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InvalidInputError(
            f"cannot read the mapping {path}: {error}; write one with `lensyard data map FILE`"
        ) from error
    return parse_mapping(text, name=path.name)


def parse_mapping(text: str, *, name: str = "the mapping") -> Mapping:
    """Return a mapping from TOML text. Raises as `load_mapping` does."""
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InvalidInputError(f"{name} is no TOML: {error}") from error
    return mapping_of(document, name=name)


def mapping_of(document: dict[str, Any], *, name: str = "the mapping") -> Mapping:
    """Return a mapping from a document. Raises as `load_mapping` does."""
    try:
        found = Mapping.model_validate(document)
    except ValidationError as error:
        faults = [
            f"{'.'.join(str(part) for part in fault['loc'])}: {fault['msg']}"
            for fault in error.errors()[:8]
        ]
        raise InvalidInputError(f"{name} cannot be used: {'; '.join(faults)}") from error
    faults = _word_faults(found)
    if faults:
        raise InvalidInputError(f"{name} cannot be used: {'; '.join(faults[:8])}")
    return found


def _word_faults(mapping: Mapping) -> list[str]:
    """Return what a mapping says that is none of the closed sets, in words."""
    faults = [
        f"columns.{field}: there is no such field; known: {', '.join(FIELDS)}"
        for field in mapping.columns
        if field not in FIELDS
    ]
    for field in ("down", "distance", "yard_line", "kind", "gain"):
        if field not in mapping.columns:
            faults.append(f"columns.{field} is missing ({FIELDS[field]})")
    for cell, word in mapping.values.kind.items():
        kind, _, side = word.partition(",")
        if kind.strip() not in KINDS or side.strip() not in ("", "us", "them"):
            faults.append(
                f"values.kind.{cell!r}: {word!r} is none of {', '.join(KINDS)}, each also with "
                "', us' or ', them'"
            )
    for cell, words in mapping.values.result.items():
        for word in [words] if isinstance(words, str) else words:
            if word not in RESULTS:
                faults.append(f"values.result.{cell!r}: {word!r} is none of {', '.join(RESULTS)}")
    for table, cells, known in (
        ("hash_mark", mapping.values.hash_mark, ("left", "middle", "right", "")),
        ("direction", mapping.values.direction, ("left", "middle", "right", "")),
        ("side_of_ball", mapping.values.side_of_ball, SIDES_OF_BALL),
    ):
        faults += [
            f"values.{table}.{cell!r}: {word!r} is none of {', '.join(known)}"
            for cell, word in cells.items()
            if word not in known
        ]
    return faults
