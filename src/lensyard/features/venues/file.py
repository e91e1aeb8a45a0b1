"""Venue files: reading, judging, and saying a venue back.

A venue is a TOML file whose keys `lensyard.features.venues.schema` lists. It is named by a path,
or by
a plain name: then it is looked for among the user's own venues, and among the invented ones that
come with the package.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lensyard.domain.venue import GOAL_POSTS, Venue
from lensyard.errors import InvalidInputError, UnknownNameError
from lensyard.features.venues.build import NOTE_KEYS, ValidationIssues, build_venue, shape_issue
from lensyard.features.venues.schema import EDGE_TABLES
from lensyard.settings.toml_lines import KeyPath, key_lines, line_of

MAX_BYTES = 262_144
VENUE_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,63}")
_SYNTAX_PLACE = re.compile(r"^(?P<what>.*) \(at (?:line (?P<line>\d+).*|end of document)\)$")


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with a venue file.

    Attributes
    ----------
    line
        Where, from 1.
    key
        Which key, as in ``closed[2].edge``; empty when it is no key's fault.
    message
        What was wrong and what was expected.
    """

    line: int
    key: str
    message: str

    @property
    def text(self) -> str:
        """The problem as one line."""
        return f"line {self.line}: {f'{self.key}: ' if self.key else ''}{self.message}"


@dataclass(frozen=True, slots=True)
class Reading:
    """What reading a text gave: a venue, or problems (in order of line)."""

    venue: Venue | None
    problems: tuple[Problem, ...]


def read_text(text: str) -> Reading:
    """Return the venue of a TOML text, or everything that is wrong with it."""
    try:
        values = tomllib.loads(text)
        lines = key_lines(text)
    except tomllib.TOMLDecodeError as error:
        return Reading(None, (_syntax_problem(str(error), text),))
    except RecursionError:
        return Reading(None, (Problem(1, "", "brackets are nested too deeply for a venue"),))
    from lensyard.features.venues.schema import validate

    file, wrong = validate(values)
    issues = ValidationIssues()
    for problem in wrong:
        issue = shape_issue(problem)
        issues.add(issue.path, issue.message)
    venue = None if file is None else build_venue(file, issues)
    problems = [
        Problem(line_of(lines, issue.path), _key_text(issue.path), issue.message)
        for issue in issues.found.values()
    ]
    return Reading(venue, tuple(sorted(problems, key=lambda p: (p.line, p.key))))


def _syntax_problem(message: str, text: str) -> Problem:
    match = _SYNTAX_PLACE.match(message)
    line = text.count("\n") + 1 if match is None or not match["line"] else int(match["line"])
    what = message if match is None else match["what"]
    return Problem(line, "", f"{what}; expected TOML: one `key = value` a line, text in quotes")


def _key_text(path: KeyPath) -> str:
    text = ""
    for part in path:
        # People count from 1.
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def parse_venue(text: str, *, source: str = "venue") -> Venue:
    """Return the venue of a TOML text.

    Parameters
    ----------
    text
        The file's text.
    source
        Its name in errors.

    Raises
    ------
    InvalidInputError
        If it is no venue. The message has a line for each problem: file, line number, key, what was
        found and what was expected.
    """
    reading = read_text(text)
    if reading.venue is None:
        listed = "".join(f"\n  {source}, {problem.text}" for problem in reading.problems)
        raise InvalidInputError(f"{source} is not a usable venue:{listed}")
    return reading.venue


def saved_venues_dir() -> Path:
    """Return the folder of the user's own venues (it may not exist)."""
    from lensyard.config import user_data_dir

    return user_data_dir() / "venues"


def bundled_venues_dir() -> Path:
    """Return the folder of the invented venues. Raises `DataError` if it is missing."""
    from lensyard.config import data_dir

    return data_dir() / "venues"


def venue_names() -> dict[str, Path]:
    """Return the venues that have a plain name; the user's own come first and win."""
    found: dict[str, Path] = {}
    for folder in (saved_venues_dir(), bundled_venues_dir()):
        for path in sorted(folder.glob("*.toml")):
            if VENUE_NAME.fullmatch(path.stem):
                found.setdefault(path.stem, path)
    return found


def venue_path(name_or_path: str | Path) -> Path:
    """Return the file behind a name or a path; a plain name never leads out of its folders.

    Raises
    ------
    UnknownNameError
        If a plain name is not that of a venue.
    InvalidInputError
        If a path leads to no file.
    """
    text = str(name_or_path)
    if isinstance(name_or_path, str) and VENUE_NAME.fullmatch(text):
        names = venue_names()
        if text in names:
            return names[text]
        raise UnknownNameError(name="venue (or a path ending in .toml)", value=text, known=names)
    path = Path(text).expanduser()
    if not path.is_file():
        raise InvalidInputError(
            f"there is no venue file {text!r}; expected the path of a TOML file, or one of "
            f"{', '.join(venue_names())}. `lensyard venue new` writes one to start from"
        )
    return path


def read_venue_text(path: Path) -> str:
    """Return the text of a venue file.

    Raises
    ------
    InvalidInputError
        If it cannot be read, is larger than 256 KB or not UTF-8.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise InvalidInputError(
            f"cannot read venue file {path} ({error.strerror or error}); expected a readable file"
        ) from error
    if len(raw) > MAX_BYTES:
        raise InvalidInputError(
            f"{path} is larger than {MAX_BYTES // 1024} KB; expected a venue file of a few KB"
        )
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InvalidInputError(
            f"{path}, line {line}: this is not UTF-8 text; expected a TOML file saved as UTF-8"
        ) from error


def load_venue(name_or_path: str | Path) -> Venue:
    """Return a venue by its name or the path of its file.

    Raises
    ------
    InvalidInputError
        If there is none, or its file is not usable (see `parse_venue`).
    """
    path = venue_path(name_or_path)
    return parse_venue(read_venue_text(path), source=str(path))


def venue_document(venue: Venue) -> dict[str, Any]:
    """Return a venue in the keys of its file, with nothing left to defaults.

    Team areas stand among the closed stretches and the floodlights in lux, so a file with these
    values gives the same venue. Goal posts of neither usual form are ``custom``, which no file can
    say; latitude, longitude and time zone are missing where they are not known.
    """
    posts = [name for name, posts in GOAL_POSTS.items() if posts == venue.posts]
    document: dict[str, Any] = {"name": venue.name, "rules": venue.rules.name}
    if venue.has_place:
        document |= {
            "axis_bearing_deg": venue.axis_bearing_deg,
            "latitude_deg": venue.latitude_deg,
            "longitude_deg": venue.longitude_deg,
            "time_zone": venue.time_zone,
        }
    return document | {
        "end_names": list(venue.end_names),
        "sideline_names": list(venue.sideline_names),
        "side_setback_yd": venue.side_setback_yd,
        "end_setback_yd": venue.end_setback_yd,
        "goal_posts": posts[0] if posts else "custom",
        "covered": venue.covered,
        "team_areas": {"from_yard_line": "none"},
        "closed": [
            {
                "edge": stretch.edge.value,
                "from": stretch.from_yd,
                "to": stretch.to_yd,
                "kind": stretch.kind.value,
                "name": stretch.name,
                "front_yd": stretch.front_yd,
                "depth_yd": stretch.depth_yd,
                "blocks_view": stretch.blocks_view,
                "walk_behind": stretch.walk_behind,
            }
            for stretch in venue.closed
        ],
        "floodlights": {"lux": venue.illuminance_lx},
        "stands": {
            edge: {"height_m": height, "distance_yd": distance}
            for edge, height, distance in zip(
                EDGE_TABLES, venue.stand_height_m, venue.stand_distance_yd, strict=True
            )
        },
        "house_rules": _house_rules(venue.notes),
    }


def _house_rules(notes: tuple[str, ...]) -> dict[str, Any]:
    house: dict[str, Any] = {}
    other: list[str] = []
    for note in notes:
        key, _, text = note.partition(": ")
        if key in NOTE_KEYS and text and key not in house and not other:
            house[key] = text
        else:
            other.append(note)
    return house | {"other": other}


def venue_text(document: dict[str, Any]) -> str:
    """Return a document of `venue_document` as TOML that `parse_venue` reads."""
    top, tables = [], []
    for key, value in document.items():
        if isinstance(value, dict) and all(isinstance(v, dict) for v in value.values()):
            for inner, content in value.items():
                tables.append(_toml_table(f"[{key}.{inner}]", content))
        elif isinstance(value, dict):
            tables.append(_toml_table(f"[{key}]", value))
        elif value and isinstance(value, list) and isinstance(value[0], dict):
            tables.extend(_toml_table(f"[[{key}]]", item) for item in value)
        elif value != [] or key != "closed":
            top.append(f"{key} = {toml_value(value)}")
    return "\n".join(["\n".join(top) + "\n", *tables])


def _toml_table(header: str, content: dict[str, Any]) -> str:
    lines = [header, *(f"{key} = {toml_value(value)}" for key, value in content.items())]
    return "\n".join(lines) + "\n"


def toml_value(value: str | float | bool | list[Any]) -> str:
    """Return a value as TOML.

    >>> toml_value(["a \\"b\\"", 1.5, True])
    '["a \\\\"b\\\\"", 1.5, true]'
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"[{', '.join(toml_value(item) for item in value)}]"
    if isinstance(value, str):
        import json

        # JSON's escapes are TOML's too, except that TOML escapes DEL as well.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    return repr(value)
