"""One report for every face: what a feature found, said once, before anybody draws or prints it.

A feature's ``report.py`` turns its result into a `Report`; the terminal (`lensyard.render.text`),
the pages (`lensyard.dashboard.shell`), CSV and JSON (`lensyard.render.text`) and paper only lay
it out. Cells hold raw values; how they are written is the column's `Format`, so no face rounds or
words anything by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING, Any

from lensyard.errors import InvalidInputError
from lensyard.records import Record

if TYPE_CHECKING:
    from lensyard.render.field.picture import FieldPicture


class Format(StrEnum):
    """How a raw value is written; only `lensyard.render.words.format_value` does it."""

    TEXT = "text"
    COUNT = "count"
    """Whole number with thousands separators: 1,806."""
    DECIMAL = "decimal"
    """One decimal: 44.3."""
    DECIMAL_2 = "decimal-2"
    DECIMAL_3 = "decimal-3"
    DECIMAL_4 = "decimal-4"
    SIGNED = "signed"
    """One decimal with its sign: +3.1."""
    PERCENT = "percent"
    """Whole percent of a share from 0 to 1, as people say it: 58%, <1%."""
    PERCENT_1 = "percent-1"
    YARDS = "yards"
    """Whole yards: 27 yd."""
    SECONDS = "seconds"
    MINUTES = "minutes"
    STOPS = "stops"
    LUX = "lux"
    DEGREES = "degrees"


class Interval(Record):
    """A value with the interval it lies in, both ends in the value's unit."""

    value: float
    low: float
    high: float


Value = str | int | float | bool | Interval | None
"""What a cell or fact holds; None is "not known" or "does not apply" and is left blank."""


class Fact(Record):
    """One figure of the answer: its label and raw value, written in its format."""

    key: str
    label: str
    value: Value
    format: Format = Format.TEXT


class Column(Record):
    """One column of a table; ``label`` says the unit where the format does not."""

    key: str
    label: str
    format: Format = Format.TEXT


class Table(Record):
    """Rows of raw values under columns that say how they are written.

    - ``key``: names it in CSV files, in charts and in tests.
    - ``title``: above it, in sentence case without a full stop; may be empty.
    - ``columns``, ``rows``: every row has as many cells as there are columns.
    - ``note``: one sentence below it; may be empty.
    - ``detail``: whether a short answer leaves it out.

    Raises `InvalidInputError` if a row has another number of cells, or two columns have one key.
    """

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    note: str = ""
    detail: bool = False

    def __post_init__(self) -> None:
        keys = [column.key for column in self.columns]
        if len(set(keys)) != len(keys):
            raise InvalidInputError(f"table {self.key!r} has two columns of one key: {keys}")
        for row in self.rows:
            if len(row) != len(keys):
                raise InvalidInputError(
                    f"table {self.key!r} has {len(keys)} columns; got a row of {len(row)}"
                )

    def column(self, key: str) -> tuple[Value, ...]:
        """Return the cells of one column, top to bottom."""
        at = [column.key for column in self.columns].index(key)
        return tuple(row[at] for row in self.rows)


ColumnOf = tuple[str, str, *tuple[Format | Callable[[Any], Value], ...]]
"""A column of `table_of`."""


def table_of(
    key: str,
    title: str,
    things: Iterable[Any],
    *columns: ColumnOf,
    note: str = "",
    detail: bool = False,
) -> Table:
    """Return a table with a row a thing.

    A column is its key and its label, then its format where that is not text, then what it holds of
    a thing where that is not the attribute, or the entry, of its key.
    """
    made, cells = [], []
    for name, label, *rest in columns:
        made.append(Column(name, label, *(one for one in rest if isinstance(one, Format))))
        cells.append(next((one for one in rest if callable(one)), partial(_named, name)))
    rows = tuple(tuple(cell(thing) for cell in cells) for thing in things)
    return Table(key, title, tuple(made), rows, note, detail)


def _named(name: str, thing: Any) -> Value:
    found: Value = thing[name] if isinstance(thing, Mapping) else getattr(thing, name)
    return found


class ChartKind(StrEnum):
    """The shapes of chart there are; each is drawn once for pages and once for paper."""

    BARS = "bars"
    """Horizontal bars: category ``x``, length ``y``; one bar a ``series`` side by side."""
    STACKED = "stacked"
    """Horizontal bars whose series add up."""
    INTERVALS = "intervals"
    """A dot and its interval a category: ``y`` holds `Interval` values."""
    RANGES = "ranges"
    """Horizontal bands a category from ``low`` to ``high``."""
    LINE = "line"
    """``y`` over a quantitative ``x``, one line a series."""
    POINTS = "points"
    """Dots of ``y`` over a quantitative ``x``; the diagonal is drawn where ``diagonal`` is set."""


class Chart(Record):
    """A chart of one of the report's tables: which columns go where, and what it says in words.

    - ``kind``: the shape.
    - ``table``: key of the table that holds its data, in long form: one row a mark.
    - ``x``, ``y``: column keys; see `ChartKind`.
    - ``ys``: in place of ``y`` and ``series``: a column a series, named by its label, where the
      table that people read has them side by side.
    - ``series``: column key of what tells marks apart; "" where there is one series only.
    - ``whole``: column key of the amount that the bars of a row are part of; drawn as an outline.
    - ``low``, ``high``: column keys of the ends of `ChartKind.RANGES`.
    - ``alt_text``: what the chart says, for whoever does not see it.
    - ``diagonal``: draw y = x, where predicted and observed agree.
    - ``rules``: (value, label) of reference lines at values of the horizontal axis.
    """

    key: str
    title: str
    kind: ChartKind
    table: str
    x: str
    y: str
    alt_text: str
    ys: tuple[str, ...] = ()
    series: str = ""
    whole: str = ""
    low: str = ""
    high: str = ""
    diagonal: bool = False
    rules: tuple[tuple[float, str], ...] = ()


class FieldView(Record):
    """A picture of the field as data; faces draw it with `lensyard.render.field`."""

    key: str
    title: str
    picture: FieldPicture
    alt_text: str


class Section(Record):
    """Sentences under a heading of their own, one a line."""

    title: str
    lines: tuple[str, ...]
    detail: bool = False


class Report(Record):
    """What a feature has to say.

    - ``headline``: the answer, one sentence without its full stop.
    - ``sentences``: what belongs right below it: why, what else is as good.
    - ``facts``, ``tables``, ``charts``, ``fields``: figures. A chart's data are one of the tables,
      so whoever sees no chart reads the table.
    - ``sections``: further sentences under headings.
    - ``notes``: how to read the figures, what was assumed.
    - ``cautions``: what can hurt or mislead; no face leaves them out.
    - ``sources``: data and models behind the figures, whom to credit.
    """

    headline: str
    sentences: tuple[str, ...] = ()
    facts: tuple[Fact, ...] = ()
    tables: tuple[Table, ...] = ()
    charts: tuple[Chart, ...] = ()
    fields: tuple[FieldView, ...] = ()
    sections: tuple[Section, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        keys = [table.key for table in self.tables]
        if len(set(keys)) != len(keys):
            raise InvalidInputError(f"a report has two tables of one key: {keys}")
        for chart in self.charts:
            if chart.table not in keys:
                raise InvalidInputError(
                    f"chart {chart.key!r} draws table {chart.table!r}; the report has {keys}"
                )

    def table(self, key: str) -> Table:
        """Return the table of a key."""
        return next(table for table in self.tables if table.key == key)

    def brief(self) -> Report:
        """Return the report without what is only detail."""
        tables = tuple(table for table in self.tables if not table.detail)
        keys = {table.key for table in tables}
        return replace(
            self,
            tables=tables,
            charts=tuple(chart for chart in self.charts if chart.table in keys),
            sections=tuple(section for section in self.sections if not section.detail),
        )
