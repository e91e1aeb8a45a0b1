"""What one choice is: its values, limits, names and texts, said once for every face.

A group of options is a frozen dataclass whose fields are made by `choice`. The click options
(`lensyard.options.click_options`), the widgets of the pages and their address are made from these
fields; no face has limits, defaults or readers of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, fields
from datetime import datetime
from enum import Enum
from typing import Any

from lensyard.domain.situation import DISTANCES_YD, ball_text, parse_clock
from lensyard.errors import ParseError, UnknownNameError, require_range
from lensyard.records import Record

LEFT_OUT = "usual"
"""Says in an address that what may be left out is left out, though the browser remembers it."""


class Kind(Record):
    """How texts become a value and back.

    ``read`` takes the texts of a repeated flag or address key and raises `InvalidInputError` where
    they cannot be read, or the value is outside the limits; errors call it ``name``. ``write``
    returns the texts from which ``read`` gets the value, none for empty text.
    """

    def read(self, texts: Sequence[str], *, name: str) -> Any:
        """Return the value."""
        raise NotImplementedError

    def write(self, value: Any) -> list[str]:
        """Return the texts of a value."""
        text = str(value.value if isinstance(value, Enum) else value)
        return [text] if text else []


class Number(Kind):
    """A number from ``low`` to ``high``, both included; ``make`` is int or float."""

    low: float
    high: float
    make: type[int] | type[float] = float

    def read(self, texts: Sequence[str], *, name: str) -> float:
        """Return the last text as a number within the limits."""
        try:
            value = self.make(texts[-1])
        except ValueError:
            what = "a whole number" if self.make is int else "a number"
            expected = f"{what} from {self.low:g} to {self.high:g}"
            raise ParseError(name=name, text=texts[-1], expected=expected) from None
        require_range(low=self.low, high=self.high, **{name: value})
        return value

    def write(self, value: float) -> list[str]:
        """Return the number without needless digits."""
        short = f"{value:g}"
        return [short if float(short) == value else repr(value)]


def whole(low: int, high: int) -> Number:
    """Return the kind of whole numbers from ``low`` to ``high``, both included."""
    return Number(low, high, int)


class OneOf(Kind):
    """One of a closed set of names; ``make`` turns a name into the value.

    ``names`` may be a function that returns them, where files decide.
    """

    names: Sequence[str] | Callable[[], Sequence[str]]
    make: Callable[[str], Any] = str

    @property
    def known(self) -> tuple[str, ...]:
        """The names that are understood now."""
        return tuple(self.names() if callable(self.names) else self.names)

    def read(self, texts: Sequence[str], *, name: str) -> Any:
        """Return the value of the last name."""
        known = self.known
        if texts[-1] not in known:
            raise UnknownNameError(name=name, value=texts[-1], known=filter(None, known))
        return self.make(texts[-1])


class Switch(Kind):
    """Yes or no, as one of two words; ``is_flag``: the command line has a bare flag for yes."""

    no: str
    yes: str
    is_flag: bool = False

    def read(self, texts: Sequence[str], *, name: str) -> bool:
        """Return whether the last text says yes."""
        return bool(OneOf((self.no, self.yes)).read(texts, name=name) == self.yes)

    def write(self, value: bool) -> list[str]:
        """Return one of the two words."""
        return [self.yes if value else self.no]


class Text(Kind):
    """Text that stands for something: ``parse`` reads it, ``text_of`` writes it."""

    parse: Callable[[str], Any] = str.strip
    text_of: Callable[[Any], str] = str

    def read(self, texts: Sequence[str], *, name: str) -> Any:
        """Return what the last text stands for."""
        try:
            return self.parse(texts[-1])
        except ParseError as error:
            raise ParseError(name=name, text=error.text, expected=error.expected) from None

    def write(self, value: Any) -> list[str]:
        """Return the text of a value; nothing for nothing."""
        return [text] if (text := self.text_of(value)) else []


class Texts(Kind):
    """Any number of texts, kept as one with ``joint`` between its parts.

    ``split`` takes a text apart, ``judge`` raises `InvalidInputError` for a part that cannot be.
    """

    split: Callable[[str], list[str]]
    joint: str
    judge: Callable[[str], object] = str

    def read(self, texts: Sequence[str], *, name: str) -> str:
        """Return all parts of all texts as one text."""
        parts = [part for text in texts if text != LEFT_OUT for part in self.split(text)]
        for part in parts:
            self.judge(part)
        return self.joint.join(parts)

    def write(self, value: str) -> list[str]:
        """Return the parts."""
        return self.split(value)


class Choice(Record):
    """One choice of a group.

    - ``kind``: its values: limits, names, how they are read and written.
    - ``flag``: on the command line, such as ``--down``.
    - ``label``: beside its widget; empty where pages do not ask.
    - ``help``: on the command line.
    - ``address``: its name in the address of a page; empty where pages do not ask.
    - ``older``: further names that stored addresses use.
    - ``typed``: the kind on the command line, where that understands more than an address may.
    - ``required``: whether a command needs it.
    - ``in_place_of``: fields of the group that may not be typed beside it.
    - ``remembered``: whether a browser remembers it from one visit to the next.
    - ``offered``: the values that its widget offers, where those are not all names of its kind.
    - ``words``: a value in the words of its widget.
    - ``example``: what its empty widget shows.
    """

    kind: Kind
    flag: str
    label: str
    help: str
    address: str
    older: tuple[str, ...] = ()
    typed: Kind | None = None
    required: bool = False
    in_place_of: tuple[str, ...] = ()
    remembered: bool = False
    offered: Sequence[Any] = ()
    words: Callable[[Any], str] = str
    example: str = ""

    @property
    def name(self) -> str:
        """What errors call it: its name in the address, else its flag without dashes."""
        return self.address or self.flag.lstrip("-").replace("-", "_")


def choice(
    default: Any,
    kind: Kind,
    name: str,
    label: str,
    text: str,
    *,
    address: str | None = None,
    **further: Any,
) -> Any:
    """Return a dataclass field that is a choice.

    - ``default``: what holds where nobody said anything; None where it may be left out.
    - ``kind``, ``label``: see `Choice`; without a label only commands ask.
    - ``name``: of its flag, and of its key in the address.
    - ``text``: its help.
    - ``address``: its key in the address, where that is not its name.
    - ``further``: other attributes of `Choice`.
    """
    key = (name.replace("-", "_") if label else "") if address is None else address
    what = Choice(kind, f"--{name}", label, text, key, **further)
    return field(default=default, metadata={"choice": what})


def choices_of(group: type[Any]) -> Mapping[str, Choice]:
    """Return the choices of a group by field name, in the order of its fields."""
    return {f.name: f.metadata["choice"] for f in fields(group) if "choice" in f.metadata}


def default_of(group: type[Any], name: str) -> Any:
    """Return what a field holds where nobody said anything."""
    return next(f.default for f in fields(group) if f.name == name)


def parts_of(text: str) -> list[str]:
    """Return what stands between commas or semicolons, without empty parts.

    >>> parts_of("70-200, 400;")
    ['70-200', '400']
    """
    return [part.strip() for part in text.replace(";", ",").split(",") if part.strip()]


def lines_of(text: str) -> list[str]:
    """Return the lines of a text, without empty ones.

    >>> lines_of("70-200\\n\\n 70-200 + 400 ")
    ['70-200', '70-200 + 400']
    """
    return [line.strip() for line in text.splitlines() if line.strip()]


ALL_PLAYS = "all"


def ball_words(yardline_100: int) -> str:
    """Return a spot of the ball as a slider shows it.

    >>> ball_words(75), ball_words(8)
    ('own 25', "opponent's 8")
    """
    return ball_text(yardline_100).replace("own", "own ").replace("opp", "opponent's ")


def clock_text(text: str) -> str:
    """Return a game clock that `parse_clock` reads, without blanks around it."""
    parse_clock(text)
    return text.strip()


def span_words(name: str) -> str:
    """Return a span of distances as a widget shows it."""
    if name == ALL_PLAYS:
        return "All"
    low, high = DISTANCES_YD[name]
    return f"{low}-{high}" if high < 99 else f"{low}+"


def time_text(text: str) -> str:
    """Return a date and a time of day as the address writes them; nothing for nothing.

    >>> time_text("2026-10-03 15:30"), time_text("2026-10-03T15:30-05:00"), time_text(" ")
    ('2026-10-03T15:30', '2026-10-03T15:30-05:00', '')

    Raises `ParseError` if it is no date with a time.
    """
    given = text.strip()
    if not given:
        return ""
    expected = (
        "a date and a time on the venue's clock such as 2026-10-03T15:30, or with an offset: "
        "…15:30-05:00"
    )
    try:
        at = datetime.fromisoformat(given)
    except ValueError:
        raise ParseError(name="date and time", text=text, expected=expected) from None
    if "T" not in given.upper() and " " not in given:
        raise ParseError(name="date and time", text=text, expected=expected)
    return at.isoformat(timespec="seconds" if at.second else "minutes")


def team_area_words(yard_line: float | None) -> str:
    """Return where team areas begin as a widget shows it."""
    if yard_line is None:
        return "usual"
    return "none" if yard_line == 50 else f"{yard_line:g}s"


def crop_factor(text: str) -> float:
    """Return a crop factor; raises `ParseError` for what is no number."""
    try:
        return float(text)
    except ValueError:
        raise ParseError(
            name="crop factor", text=text, expected="1 for full frame, 1.5 or 1.6, say"
        ) from None
