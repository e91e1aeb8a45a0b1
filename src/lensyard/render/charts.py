"""Charts of a report for pages, as Altair charts: one drawing a `ChartKind`, in every theme.

Names of categories stand above their bars, so that a phone needs no margin for them. Nothing hangs
on color: lines have dashes, bars an outline and their place in the legend, and the table holds it
all. Altair is imported when a chart is made.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

from lensyard.errors import InvalidInputError
from lensyard.records import Record
from lensyard.render.report import Chart, ChartKind, Column, Format, Interval, Table, Value
from lensyard.render.theme import Theme, mixed
from lensyard.render.words import format_value

if TYPE_CHECKING:
    import altair as alt

BAR_PX, NAME_PX, GAP_PX = 20.0, 22.0, 10.0
PLOT_PX = 280.0
FONT_PX = 13
FONT = "'Source Sans', system-ui, sans-serif"
NAME_LIMIT_PX = 320
SHORT_NAME = 22
"""Names of at most so many letters stand two a row in a legend."""
_FEW_POINTS = 40

# How Vega writes the numbers of an axis (d3-format).
_AXIS_FORMATS = {Format.PERCENT: ".0%", Format.PERCENT_1: ".0%", Format.SIGNED: "+,~f"}
_AXIS_FORMAT = ",~f"


def altair_chart(chart: Chart, table: Table, theme: Theme) -> alt.LayerChart:
    """Return a chart of a table's rows, as wide as its container.

    - ``chart``, ``table``: what is drawn, and the table that holds its data.

    Raises `InvalidInputError` as `lensyard.render.charts.chart_marks` does.
    """
    import altair as alt

    drawn = chart_marks(chart, table)
    categorical = chart.kind in CATEGORICAL
    layers = _category_layers(chart, drawn, theme) if categorical else _xy_layers(
        chart, drawn, theme
    )  # fmt: skip
    layers += _rule_layers(chart, theme)
    made = alt.layer(
        *layers, data=alt.InlineData(values=[asdict(mark) for mark in drawn.marks])
    ).properties(
        width="container",
        height=_height_px(chart, drawn),
        description=chart.alt_text,
        autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
    )
    styled: alt.LayerChart = _styled(made, theme)
    return styled


def _bars_px(chart: Chart, drawn: ChartMarks) -> float:
    """How tall the marks of one category are. [px]"""
    beside = chart.kind in (ChartKind.BARS, ChartKind.INTERVALS)
    each = BAR_PX * (1.7 if chart.kind is ChartKind.INTERVALS else 1.0)
    return each * (max(len(drawn.series), 1) if beside else 1)


def _height_px(chart: Chart, drawn: ChartMarks) -> float:
    if chart.kind not in CATEGORICAL:
        return PLOT_PX
    return max(len(drawn.categories), 1) * (NAME_PX + _bars_px(chart, drawn) + GAP_PX)


def _value_axis(alt: Any, drawn: ChartMarks, form: Format) -> Any:
    return alt.Axis(
        title=drawn.value_label or None, format=_AXIS_FORMATS.get(form, _AXIS_FORMAT), tickCount=5
    )


def _tooltip(alt: Any, drawn: ChartMarks, *, categorical: bool) -> list[Any]:
    first = (
        alt.Tooltip("category:N", title=drawn.x_label)
        if categorical
        else alt.Tooltip(
            "x:Q", title=drawn.x_label, format=_AXIS_FORMATS.get(drawn.x_format, _AXIS_FORMAT)
        )
    )
    series = [alt.Tooltip("series:N", title="Of")] if drawn.series != ("",) else []
    return [first, *series, alt.Tooltip("written:N", title=drawn.value_label or "Value")]


def _category_layers(chart: Chart, drawn: ChartMarks, theme: Theme) -> list[Any]:
    """Horizontal bars, bands or intervals, with the category's name above and the value beside."""
    import altair as alt

    bars_px = _bars_px(chart, drawn)
    step = NAME_PX + bars_px + GAP_PX
    inner = (NAME_PX + GAP_PX) / step
    several = drawn.series != ("",)
    scale = alt.Scale(paddingInner=inner, paddingOuter=inner / 2)
    y = alt.Y(
        "category:N",
        sort=list(drawn.categories),
        title=None,
        axis=alt.Axis(
            labelAlign="left", labelPadding=0, labelOffset=-(bars_px / 2 + NAME_PX / 2 - 2),
            labelLimit=NAME_LIMIT_PX, labelFontWeight="bold", domain=False, ticks=False, zindex=1,
        ),
        scale=scale,
    )  # fmt: skip
    encoded: dict[str, Any] = {"y": y, "tooltip": _tooltip(alt, drawn, categorical=True)}
    if several and chart.kind in (ChartKind.BARS, ChartKind.INTERVALS):
        encoded["yOffset"] = alt.YOffset("series:N", sort=list(drawn.series))
    fill: Any = alt.value(theme.accent)
    if several:
        fill = alt.Color(
            "series:N",
            sort=list(drawn.series),
            scale=alt.Scale(
                domain=list(drawn.series), range=list(series_colors(theme, len(drawn.series)))
            ),
            legend=alt.Legend(title=None, orient="top", columns=1, labelLimit=NAME_LIMIT_PX),
        )
    base = alt.Chart().encode(**encoded)
    axis = _value_axis(alt, drawn, drawn.value_format)
    if chart.kind is ChartKind.INTERVALS:
        return _interval_layers(alt, base, fill, axis, theme)
    ends = chart.kind in (ChartKind.STACKED, ChartKind.RANGES)
    bars = base.mark_bar(stroke=theme.ink, strokeWidth=0.8)
    if ends:
        bars = bars.encode(x=alt.X("low:Q", axis=axis), x2="high:Q", color=fill)
    else:
        bars = bars.encode(x=alt.X("value:Q", axis=axis), color=fill)
    layers = [bars]
    if chart.whole:
        outline = base.mark_bar(fillOpacity=0.0, stroke=theme.ink_soft, strokeWidth=1)
        layers.insert(0, outline.encode(x=alt.X("whole:Q", axis=axis)))
    if chart.kind is ChartKind.BARS:
        layers.append(
            base.mark_text(align="left", dx=5, color=theme.ink).encode(
                x=alt.X("whole:Q", axis=axis), text="written:N"
            )
        )
        if any(mark.low < mark.high for mark in drawn.marks):
            layers.insert(
                1,
                base.mark_rule(strokeWidth=2, color=theme.ink).encode(x="low:Q", x2="high:Q"),
            )
    return layers


def _interval_layers(alt: Any, base: Any, fill: Any, axis: Any, theme: Theme) -> list[Any]:
    """A thick line from low to high, a dot at the value, the figures below."""
    x = alt.X("low:Q", axis=axis, scale=alt.Scale(zero=False, padding=12))
    written = {"baseline": "top", "dy": 8, "color": theme.ink}
    return [
        base.mark_rule(strokeWidth=5).encode(x=x, x2="high:Q", color=fill),
        base.mark_circle(size=120, stroke=theme.ink, strokeWidth=1, opacity=1).encode(
            x=alt.X("value:Q", axis=axis), color=fill
        ),
        base.mark_text(align="center", **written).encode(
            x=alt.X("value:Q", axis=axis), text="written:N"
        ),
    ]


def _xy_layers(chart: Chart, drawn: ChartMarks, theme: Theme) -> list[Any]:
    """Lines or dots over a number."""
    import altair as alt

    x = alt.X(
        "x:Q",
        scale=alt.Scale(zero=False, nice=True),
        axis=alt.Axis(
            title=drawn.x_label, format=_AXIS_FORMATS.get(drawn.x_format, _AXIS_FORMAT), tickCount=6
        ),
    )
    axis = _value_axis(alt, drawn, drawn.value_format)
    y = alt.Y("value:Q", axis=axis)
    styles = line_styles(theme, max(len(drawn.series), 1))
    names = list(drawn.series)
    color: Any = alt.value(theme.accent)
    dash: Any = alt.value([1, 0])
    shape: Any = alt.value("circle")
    if drawn.series != ("",):
        legend = alt.Legend(
            title=None,
            orient="top",
            columns=1 if max(map(len, names)) > SHORT_NAME else 2,
            labelLimit=NAME_LIMIT_PX,
            symbolOpacity=1.0,
        )
        color = alt.Color(
            "series:N", sort=names, legend=legend,
            scale=alt.Scale(domain=names, range=[style[0] for style in styles]),
        )  # fmt: skip
        dash = alt.StrokeDash(
            "series:N", sort=names, legend=legend,
            scale=alt.Scale(domain=names, range=[list(style[1]) for style in styles]),
        )  # fmt: skip
        shape = alt.Shape("series:N", sort=names, legend=legend)
    base = alt.Chart().encode(x=x, color=color, tooltip=_tooltip(alt, drawn, categorical=False))
    layers: list[Any] = []
    if chart.diagonal:
        values = [v for mark in drawn.marks for v in (mark.x, mark.value)] or [0.0, 1.0]
        ends = [{"x": v, "value": v} for v in (min(values), max(values))]
        layers.append(
            alt.Chart(alt.InlineData(values=ends))
            .mark_line(color=theme.ink_soft, strokeDash=[4, 4])
            .encode(x="x:Q", y="value:Q")
        )
    if any(mark.low < mark.high for mark in drawn.marks):
        between = {"y": alt.Y("low:Q", axis=axis), "y2": "high:Q"}
        if chart.kind is ChartKind.LINE:
            layers.append(base.mark_area(opacity=0.18).encode(**between))
        else:
            layers.append(base.mark_rule(strokeWidth=1.5).encode(**between))
    if chart.kind is ChartKind.LINE:
        layers.append(base.mark_line(strokeWidth=2.5).encode(y=y, strokeDash=dash))
    if chart.kind is ChartKind.POINTS or len(drawn.marks) <= _FEW_POINTS * len(drawn.series):
        dots = base.mark_point(filled=True, size=55, opacity=1)
        layers.append(dots.encode(y=y, shape=shape))
    return layers


def _rule_layers(chart: Chart, theme: Theme) -> list[Any]:
    """Reference lines at values of the horizontal axis, each with its label."""
    import altair as alt

    if not chart.rules:
        return []
    rows = [{"rule": value, "label": label} for value, label in chart.rules]
    base = alt.Chart(alt.InlineData(values=rows)).encode(x="rule:Q")
    lines = base.mark_rule(color=theme.ink_soft, strokeDash=[4, 4]).encode(tooltip="label:N")
    at_foot = chart.kind in CATEGORICAL  # on top stands the first category's name
    labels = base.mark_text(
        align="left", baseline="bottom" if at_foot else "top", dx=4, color=theme.ink_soft
    ).encode(text="label:N", y=alt.value("height" if at_foot else 0))
    return [lines, labels]


def _styled(made: Any, theme: Theme) -> Any:
    return (
        made.configure(background=theme.page, font=FONT, padding=4)
        .configure_view(stroke=None)
        .configure_axis(
            labelColor=theme.ink, titleColor=theme.ink, gridColor=theme.surround,
            domainColor=theme.ink_soft, tickColor=theme.ink_soft, labelFontSize=FONT_PX,
            titleFontSize=FONT_PX, titleFontWeight="normal",
        )
        .configure_legend(
            labelColor=theme.ink, labelFontSize=FONT_PX, symbolStrokeColor=theme.ink
        )
        .configure_text(fontSize=FONT_PX)
    )  # fmt: skip


CATEGORICAL = (ChartKind.BARS, ChartKind.STACKED, ChartKind.INTERVALS, ChartKind.RANGES)
MOST_SERIES = 8


class Mark(Record):
    """One mark.

    - ``category``: of a chart of categories; "" where the horizontal axis of the data is a number.
    - ``x``: the number; 0 in a chart of categories.
    - ``series``: its name; "" where there is one series only.
    - ``value``, ``low``, ``high``: what is drawn, and its interval; low and high are the value
      where it has none. In `ChartKind.RANGES` and `ChartKind.STACKED` the ends of the bar.
    - ``whole``: the amount that a bar is part of; its value where there is none.
    - ``written``: the value as people read it.
    """

    category: str
    x: float
    series: str
    value: float
    low: float
    high: float
    whole: float
    written: str


class ChartMarks(Record):
    """A chart's marks in the order of its table, and what its axes are called.

    - ``marks``: rows without a value have none.
    - ``categories``, ``series``: their names in the order of the table.
    - ``x_label``, ``value_label``: of the axes of ``x`` and ``value``; several columns have no
      label in common.
    - ``x_format``, ``value_format``: how their numbers are written.
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

    Raises `InvalidInputError` if the table lacks a column of the chart, a cell is no number where
    one is drawn, or there are more than `MOST_SERIES` series.
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
