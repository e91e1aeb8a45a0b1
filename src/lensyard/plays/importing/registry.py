"""The known sources.

To add one: write a module with an `ADAPTER` beside these, add it to `_MODULES`, and give the tests
an invented file of its shape.
"""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from typing import Final

from lensyard.errors import DataError, UnknownNameError
from lensyard.plays.importing.adapter import Adapter

_MODULES: Final = {
    "nflverse": "lensyard.plays.importing.nflverse",
    "sportsdataverse": "lensyard.plays.importing.sportsdataverse",
    "cfbd": "lensyard.plays.importing.cfbd",
    "canonical": "lensyard.plays.importing.canonical",
}
SOURCE_NAMES: Final = tuple(_MODULES)


def adapter(name: str) -> Adapter:
    """Return an adapter by its name.

    Raises
    ------
    UnknownNameError
        If there is no such source.
    """
    if name not in _MODULES:
        raise UnknownNameError(name="source", value=name, known=SOURCE_NAMES)
    found: Adapter = import_module(_MODULES[name]).ADAPTER
    return found


def recognize(columns: Iterable[str], *, name: str) -> Adapter:
    """Return the adapter of a file by its columns.

    Raises
    ------
    DataError
        If no source has such columns.
    """
    lower = frozenset(column.lower() for column in columns)
    for source in SOURCE_NAMES:
        candidate = adapter(source)
        if candidate.recognizes(lower):
            return candidate
    some = ", ".join(sorted(lower)[:12])
    raise DataError(
        f"{name} is of no source that is known ({', '.join(SOURCE_NAMES)}); its columns are {some}"
        f"{' …' if len(lower) > 12 else ''}. Write a mapping with `lensyard data map FILE`, then "
        "import it with --mapping, or name the source with --source."
    )
