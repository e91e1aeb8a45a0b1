"""Everything that lensyard raises on purpose.

The tree::

    LensyardError                 anything a user can do something about
    ├── InvalidInputError         a value, a file or a combination is unusable (exit code 2)
    │   ├── OutOfRangeError       a number lies outside its documented range
    │   ├── UnknownNameError      a name is not one of a closed set
    │   └── ParseError            text could not be read as what it stands for
    ├── DataError                 play-by-play data is missing, damaged or of the wrong shape
    │   └── SchemaError           a table does not hold what the canonical schema says
    ├── ModelError                a model artifact is missing, damaged or of another version
    └── StoreError                the plays' store or the game log cannot be opened or written

The command line and the dashboard catch the base class once, at the edge. Anything else is a
defect and crashes loudly.
"""

from __future__ import annotations

from collections.abc import Iterable


class LensyardError(Exception):
    """Base of the tree. The message says what was wrong, what was expected and what to do."""


class InvalidInputError(LensyardError):
    """Something that the user gave is unusable."""


class OutOfRangeError(InvalidInputError):
    """A number lies outside its documented range.

    - ``name``, ``value``, ``low``, ``high``: the argument, what was given, and the bounds (both
      included).
    """

    def __init__(self, *, name: str, value: float, low: float, high: float) -> None:
        super().__init__(f"{name} must be between {low:g} and {high:g}; got {value!r}")
        self.name, self.value, self.low, self.high = name, value, low, high


class UnknownNameError(InvalidInputError):
    """A name is not one of a closed set.

    - ``name``, ``value``, ``known``: the argument, what was given, and what would have been
      understood.
    """

    def __init__(self, *, name: str, value: str, known: Iterable[str]) -> None:
        from difflib import get_close_matches  # an error may take its time

        self.name, self.value, self.known = name, value, tuple(known)
        near = get_close_matches(str(value), self.known, n=1)
        hint = f" Did you mean {near[0]!r}?" if near else ""
        super().__init__(f"{name} must be one of {', '.join(self.known)}; got {value!r}.{hint}")


class ParseError(InvalidInputError):
    """Text could not be read as what it stands for.

    - ``name``, ``text``, ``expected``: the argument, what was given, and the forms that are
      understood.
    """

    def __init__(self, *, name: str, text: str, expected: str) -> None:
        super().__init__(f"cannot read {name} from {text!r}; expected {expected}")
        self.name, self.text, self.expected = name, text, expected


class DataError(LensyardError):
    """Play-by-play data is missing, damaged or of the wrong shape."""


class SchemaError(DataError):
    """A table does not hold what the canonical schema says."""


class ModelError(LensyardError):
    """A model artifact is missing, damaged or of another version."""


class StoreError(LensyardError):
    """The local store cannot be built, opened or written."""


def require_range(*, low: float, high: float, **values: float) -> None:
    """Raise `OutOfRangeError` unless each keyword value lies in [low, high] (NaN never does)."""
    for name, value in values.items():
        if not low <= value <= high:
            raise OutOfRangeError(name=name, value=value, low=low, high=high)


def require_positive(**values: float) -> None:
    """Raise `InvalidInputError` unless each keyword value is finite and greater than 0."""
    for name, value in values.items():
        if not 0 < value < float("inf"):
            raise InvalidInputError(f"{name} must be a finite number greater than 0; got {value!r}")
