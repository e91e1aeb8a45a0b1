"""On which line of a TOML text each key stands, so that an error can point at it.

The standard library's reader gives values without places. `key_lines` walks a text that the reader
has already accepted, so it need not judge the syntax, only follow it.
"""

from __future__ import annotations

import re

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

    Parameters
    ----------
    text
        A text that `tomllib.loads` accepts; what it does not accept gives a partial answer.

    Examples
    --------
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
