"""The marks of a chart, taken from its table once for pages and for paper."""

from __future__ import annotations

from dataclasses import dataclass, replace

from lensyard.errors import InvalidInputError
from lensyard.render.report import Chart, ChartKind, Column, Format, Interval, Table, Value
from lensyard.render.theme import Theme, mixed
from lensyard.render.words import format_value

CATEGORICAL = (ChartKind.BARS, ChartKind.STACKED, ChartKind.INTERVALS, ChartKind.RANGES)
MOST_SERIES = 8


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark.

    Attributes
    ----------
    category
        Of a chart of categories; "" where the horizontal axis of the data is a number.
    x
        The number; 0 in a chart of categories.
    series
        Its name; "" where there is one series only.
    value, low, high
        What is drawn, and its interval; low and high are the value where it has none. In
        `ChartKind.RANGES` and `ChartKind.STACKED` the ends of the bar.
    whole
        The amount that a bar is part of; its value where there is none.
    written
        The value as people read it.
    """

    category: str
    x: float
    series: str
    value: float
    low: float
    high: float
    whole: float
    written: str


@dataclass(frozen=True, slots=True)
class ChartMarks:
    """A chart's marks in the order of its table, and what its axes are called.

    Attributes
    ----------
    marks
        Rows without a value have none.
    categories, series
        Their names in the order of the table.
    x_label, value_label
        Of the axes of ``x`` and ``value``; several columns have no label in common.
    x_format, value_format
        How their numbers are written.
    """

    marks: tuple[Mark, ...]
    categories: tuple[str, ...]
    series: tuple[str, ...]
    x_label: str
    value_label: str
    x_format: Format
    value_format: Format


def chart_marks(chart: Chart, table: Table) -> ChartMarks:
    """Return what a chart draws.

    Raises
    ------
    InvalidInputError
        If the table lacks a column of the chart, a cell is no number where one is drawn, or there
        are more than `MOST_SERIES` series.
    """
    columns = {column.key: column for column in table.columns}
    names = chart.ys or ((chart.y,) if chart.y else (chart.high,))
    wanted = (chart.x, *names, chart.series, chart.whole, chart.low, chart.high)
    for key in wanted:
        if key and key not in columns:
            raise InvalidInputError(f"chart {chart.key!r} draws column {key!r}; got {[*columns]}")
    marks: list[Mark] = []
    ends: dict[str, float] = {}
    for row in table.rows:
        cells = dict(zip(columns, row, strict=True))
        for name in names:
            mark = _mark(chart, columns, cells, name)
            if mark is None:
                continue
            if chart.kind is ChartKind.STACKED:
                start = ends.get(mark.category, 0.0)
                ends[mark.category] = start + mark.value
                mark = replace(mark, low=start, high=start + mark.value)
            marks.append(mark)
    series = tuple(dict.fromkeys(mark.series for mark in marks))
    if len(series) > MOST_SERIES:
        raise InvalidInputError(
            f"a chart tells at most {MOST_SERIES} series apart; {chart.key!r} has {len(series)}"
        )
    first = columns[names[0]]
    return ChartMarks(
        tuple(marks),
        tuple(dict.fromkeys(mark.category for mark in marks)),
        series,
        columns[chart.x].label,
        first.label if chart.y else "",
        columns[chart.x].format,
        first.format,
    )


def _mark(
    chart: Chart, columns: dict[str, Column], cells: dict[str, Value], name: str
) -> Mark | None:
    cell = cells[name]
    if cell is None:
        return None
    at = cells[chart.x]
    categorical = chart.kind in CATEGORICAL
    if chart.ys:
        series = columns[name].label
    else:
        series = format_value(cells[chart.series]) if chart.series else ""
    if isinstance(cell, Interval):
        value, low, high = cell.value, cell.low, cell.high
    else:
        value = low = high = _number(chart, cell)
    if chart.low and chart.high:
        low, high = _number(chart, cells[chart.low]), _number(chart, cells[chart.high])
    return Mark(
        category=format_value(at, columns[chart.x].format) if categorical else "",
        x=0.0 if categorical else _number(chart, at),
        series=series,
        value=value,
        low=low,
        high=high,
        whole=_number(chart, cells[chart.whole]) if chart.whole else value,
        written=format_value(cell, columns[name].format),
    )


def _number(chart: Chart, cell: Value) -> float:
    if isinstance(cell, bool) or not isinstance(cell, int | float):
        raise InvalidInputError(f"chart {chart.key!r} draws numbers; got {cell!r}")
    return float(cell)


def series_colors(theme: Theme, count: int) -> tuple[str, ...]:
    """Return a fill for each series of bars, from the accent to lighter ones; all get an outline.

    >>> from lensyard.render.theme import PRINT
    >>> series_colors(PRINT, 1)
    ('#000000',)
    """
    most = 0.75 if count > 2 else 0.3
    return tuple(
        mixed(theme.accent, theme.page, most * (i / max(count - 1, 1)) ** 1.3) for i in range(count)
    )


def line_styles(theme: Theme, count: int) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Return a color and a dash pattern for each line; the patterns alone tell them apart. [px]"""
    colors = (theme.accent, theme.band_edge, theme.ink_soft, theme.hatch)
    dashes: tuple[tuple[int, ...], ...] = (
        (1, 0), (8, 4), (2, 3), (10, 3, 2, 3), (14, 4), (4, 2), (1, 5), (6, 2, 1, 2, 1, 2),
    )  # fmt: skip
    return tuple((colors[i % len(colors)], dashes[i]) for i in range(count))
