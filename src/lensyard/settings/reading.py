"""Reading TOML files that people write: everything that is wrong at once, each at its line.

The standard library's reader gives values without places, so `key_lines` walks a text that it has
already accepted. A `SettingsKind` says where files of a kind lie and how their text becomes a
value. Its shape is a pydantic model (`lensyard.settings.fields`), imported when a file is read.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, NamedTuple, TypeVar

from lensyard.config import data_dir, user_data_dir
from lensyard.errors import InvalidInputError, UnknownNameError
from lensyard.records import Record

if TYPE_CHECKING:
    from lensyard.settings.fields import SettingsTable


KeyPath = tuple[str | int, ...]
"""Keys and positions in arrays from the top of a document down to a value."""

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_QUOTED_KEY = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'')
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'', re.DOTALL
)
_PLAIN_VALUE = re.compile(r"[^,\]}#\n]+")


def key_lines(text: str) -> dict[KeyPath, int]:
    """Return the line (from 1) on which each key, table and array item of a TOML text begins.

    ``text``: a text that `tomllib.loads` accepts; what it does not accept gives a partial answer.

    >>> lines = key_lines('name = "x"\\n[[closed]]\\nedge = "end A"\\n')
    >>> lines["name",], lines["closed", 0], lines["closed", 0, "edge"]
    (1, 2, 3)
    """
    walk = _Walk(text)
    walk.document()
    return walk.lines


def line_of(lines: dict[KeyPath, int], path: KeyPath) -> int:
    """Return the line of a path, or of the nearest thing around it that is written down."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return 1


class _Walk:
    """A pass over one text."""

    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0
        self.lines: dict[KeyPath, int] = {}
        self._counts: dict[KeyPath, int] = {}
        self._counted, self._line = 0, 1

    def document(self) -> None:
        """Follow headers and key-value pairs to the end."""
        table: KeyPath = ()
        while self._skip(_BLANK) < len(self.text):
            start = self.at
            if self._take("[["):
                table = self._array_table(self._keys())
                self._take("]]")
            elif self._take("["):
                table = self._inside(self._keys())
                self._note(table, (), start)
                self._take("]")
            else:
                self._pair(table)
            if self.at == start:
                return

    def _array_table(self, keys: list[str]) -> KeyPath:
        array = (*self._inside(keys[:-1]), *keys[-1:])
        position = self._counts.get(array, 0)
        self._counts[array] = position + 1
        table: KeyPath = (*array, position)
        self._note(array, (position,), self.at)
        return table

    def _inside(self, keys: list[str]) -> KeyPath:
        """The path of keys, with the latest item wherever one of them is an array of tables."""
        path: KeyPath = ()
        for key in keys:
            path = (*path, key)
            if path in self._counts:
                path = (*path, self._counts[path] - 1)
        return path

    def _pair(self, table: KeyPath) -> None:
        start = self.at
        keys = self._keys()
        if not keys:
            return
        self._note(table, tuple(keys), start)
        self._skip(_SPACE)
        self._take("=")
        self._value((*table, *keys))

    def _value(self, path: KeyPath) -> None:
        self._skip(_SPACE)
        if self._take("["):
            self._items(path)
        elif self._take("{"):
            while self._skip(_BLANK) < len(self.text) and not self._take("}"):
                start = self.at
                self._pair(path)
                self._skip(_BLANK)
                self._take(",")
                if self.at == start:
                    return
        elif not self._match(_STRING):
            self._match(_PLAIN_VALUE)

    def _items(self, path: KeyPath) -> None:
        position = 0
        while self._skip(_BLANK) < len(self.text) and not self._take("]"):
            start = self.at
            self._note(path, (position,), start)
            self._value((*path, position))
            self._skip(_BLANK)
            self._take(",")
            position += 1
            if self.at == start:
                return

    def _keys(self) -> list[str]:
        import tomllib

        keys = []
        while True:
            self._skip(_SPACE)
            if quoted := self._match(_QUOTED_KEY):
                keys.append(str(tomllib.loads(f"key = {quoted}")["key"]))
            elif bare := self._match(_BARE_KEY):
                keys.append(bare)
            else:
                return keys
            self._skip(_SPACE)
            if not self._take("."):
                return keys

    def _note(self, table: KeyPath, keys: KeyPath, start: int) -> None:
        """Remember where a path begins, and where the parts of it that are new do."""
        # Places only grow, so counting goes on from the last one.
        self._line += self.text.count("\n", self._counted, start)
        self._counted = start
        for length in range(len(table) + len(keys) + 1):
            self.lines.setdefault((*table, *keys)[:length], self._line)

    def _match(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        if found is None:
            return ""
        self.at = found.end()
        return found.group()

    def _skip(self, pattern: re.Pattern[str]) -> int:
        self._match(pattern)
        return self.at

    def _take(self, mark: str) -> bool:
        if not self.text.startswith(mark, self.at):
            return False
        self.at += len(mark)
        return True


Value = TypeVar("Value")
Table = TypeVar("Table", bound="SettingsTable")
MAX_BYTES = 262_144
PLAIN_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,63}")
SUFFIX = ".toml"
_SYNTAX_PLACE = re.compile(r"^(?P<what>.*) \(at (?:line (?P<line>\d+).*|end of document)\)$")


class ValidationIssue(Record):
    """Something wrong with a file.

    ``line``: where, from 1. ``key``: which key, as in ``closed[2].edge``; empty when it is no key's
    fault. ``message``: what was wrong and what was expected.
    """

    line: int
    key: str
    message: str

    @property
    def text(self) -> str:
        """The issue as one line."""
        return f"line {self.line}: {f'{self.key}: ' if self.key else ''}{self.message}"


@dataclass
class Issues:
    """What was found wrong so far, at most one issue a path; ``lines`` tells where paths stand."""

    lines: dict[KeyPath, int] = field(default_factory=dict)
    found: dict[KeyPath, str] = field(default_factory=dict)

    def add(self, path: KeyPath, message: str) -> None:
        """Note an issue, unless the same path already has one."""
        self.found.setdefault(path, message)

    def at(self, *path: str | int) -> _IssueAt:
        """Return a context that turns an `InvalidInputError` inside it into an issue at a path."""
        return _IssueAt(self, path)

    def listed(self) -> tuple[ValidationIssue, ...]:
        """Return the issues in order of line."""
        issues = [
            ValidationIssue(line_of(self.lines, path), key_text(path), message)
            for path, message in self.found.items()
        ]
        return tuple(sorted(issues, key=lambda issue: (issue.line, issue.key)))


class _IssueAt(Record):
    """See `Issues.at`."""

    issues: Issues
    path: KeyPath

    def __enter__(self) -> None:
        pass

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: object
    ) -> bool:
        if not isinstance(error, InvalidInputError):
            return False
        self.issues.add(self.path, str(error))
        return True


def key_text(path: KeyPath) -> str:
    """Return a path as people write it, positions from 1.

    >>> key_text(("closed", 1, "edge"))
    'closed[2].edge'
    """
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


class Reading(NamedTuple, Generic[Value]):
    """What reading a text gave: a value, or issues in order of line."""

    value: Value | None
    issues: tuple[ValidationIssue, ...]


def read_toml(
    text: str, table: type[Table], build: Callable[[Table, Issues], Value | None]
) -> Reading[Value]:
    """Return the value of a TOML text, or everything that is wrong with it.

    ``table``: the shape of the file. ``build``: makes the value from a file of the right shape;
    adds what is wrong to the issues.
    """
    import tomllib

    try:
        values = tomllib.loads(text)
        issues = Issues(key_lines(text))
    except tomllib.TOMLDecodeError as error:
        return Reading(None, (_syntax_issue(str(error), text),))
    except RecursionError:
        return Reading(None, (ValidationIssue(1, "", "brackets are nested too deeply"),))
    from lensyard.settings.fields import validated

    found = validated(values, table, issues)
    value = None if found is None else build(found, issues)
    return Reading(None if issues.found else value, issues.listed())


def _syntax_issue(message: str, text: str) -> ValidationIssue:
    match = _SYNTAX_PLACE.match(message)
    line = text.count("\n") + 1 if match is None or not match["line"] else int(match["line"])
    what = message if match is None else match["what"]
    return ValidationIssue(
        line, "", f"{what}; expected TOML: one `key = value` a line, text in quotes"
    )


@dataclass(frozen=True, slots=True)
class SettingsKind(Generic[Value]):
    """A kind of file that people write.

    ``read``: returns the value of a text, or what is wrong with it; see `read_toml`. ``folder``:
    where files with a plain name lie, among the user's data and among those that come with the
    package; empty where every file is named by its path. ``writer``: the command that writes one to
    start from. ``max_bytes``: a larger file is no such file.
    """

    noun: str
    read: Callable[[str], Reading[Value]]
    folder: str
    writer: str
    max_bytes: int = MAX_BYTES

    def saved_dir(self) -> Path:
        """Return the folder of the user's own files (it may not exist)."""
        return user_data_dir() / self.folder

    def names(self) -> dict[str, Path]:
        """Return the files that have a plain name; the user's own come first and win."""
        found: dict[str, Path] = {}
        for folder in (self.saved_dir(), data_dir() / self.folder) if self.folder else ():
            for path in sorted(folder.glob(f"*{SUFFIX}")):
                if PLAIN_NAME.fullmatch(path.stem):
                    found.setdefault(path.stem, path)
        return found

    def path(self, name_or_path: str | Path) -> Path:
        """Return the file behind a name or a path; a plain name never leads out of its folders.

        Raises `UnknownNameError` if a plain name is none that is known; `InvalidInputError` if a
        path leads to no file.
        """
        text = str(name_or_path)
        if self.folder and isinstance(name_or_path, str) and PLAIN_NAME.fullmatch(text):
            names = self.names()
            if text not in names:
                raise UnknownNameError(name=self.noun, value=text, known=names)
            return names[text]
        path = Path(text).expanduser()
        if path.is_file():
            return path
        known = ", ".join(self.names())
        raise InvalidInputError(
            f"there is no {self.noun} file {text!r}; expected the path of a TOML file"
            f"{f', or one of {known}' if known else ''}. `{self.writer}` writes one to start from"
        )

    def text(self, path: Path) -> str:
        """Return the text of a file.

        Raises `InvalidInputError` if it cannot be read, is larger than `max_bytes` or not UTF-8.
        """
        try:
            with path.open("rb") as file:
                raw = file.read(self.max_bytes + 1)
        except OSError as error:
            raise InvalidInputError(
                f"cannot read {self.noun} file {path} ({error.strerror or error}); expected a "
                "readable file"
            ) from error
        if len(raw) > self.max_bytes:
            raise InvalidInputError(
                f"{path} is larger than {self.max_bytes // 1024} KB; expected a {self.noun} file "
                "of a few KB"
            )
        try:
            return raw.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = raw.count(b"\n", 0, error.start) + 1
            raise InvalidInputError(
                f"{path}, line {line}: this is not UTF-8 text; expected a TOML file saved as UTF-8"
            ) from error

    def parse(self, text: str, *, source: str = "") -> Value:
        """Return the value of a text; ``source`` is its name in errors.

        Raises `InvalidInputError` if it has issues. The message has a line for each: file, line
        number, key, what was found and what was expected.
        """
        reading = self.read(text)
        if reading.value is None:
            name = source or f"the {self.noun}"
            listed = "".join(f"\n  {name}, {issue.text}" for issue in reading.issues)
            raise InvalidInputError(f"{name} is not a usable {self.noun}:{listed}")
        return reading.value

    def load(self, name_or_path: str | Path) -> Value:
        """Return the value of a file, by its name or path; a file is read again when it changed.

        Raises `InvalidInputError` if there is none, or it is not usable; see `parse`.
        """
        path = self.path(name_or_path)
        state = path.stat()
        value: Value = _loaded(self, path, state.st_mtime_ns, state.st_size)
        return value


@lru_cache(maxsize=64)
def _loaded(kind: SettingsKind[Any], path: Path, _changed_at_ns: int, _size_bytes: int) -> Any:
    return kind.parse(kind.text(path), source=str(path))
