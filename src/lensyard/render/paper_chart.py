"""Charts of a report as a file, drawn with matplotlib: one drawing a `ChartKind`.

Each series of bars has a hatching beside its gray and each line a dash, so nothing hangs on color.
The same report gives the same bytes. matplotlib is imported when called.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import InvalidInputError
from lensyard.render.charts import CATEGORICAL, ChartMarks, Mark, chart_marks, line_styles
from lensyard.render.paper import settings
from lensyard.render.report import Chart, ChartKind, Format, Report
from lensyard.render.text import render_text
from lensyard.render.theme import PRINT, SUNLIGHT, Theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure


_METADATA: dict[str, dict[str, Any]] = {
    ".svg": {"Date": None},
    ".pdf": {"CreationDate": None},
    ".png": {"Software": None},
}
WIDTH_IN = 9.0
_BAR_IN, _GAP_IN, _PLOT_IN, _AROUND_IN = 0.17, 0.17, 3.2, 1.0
_FILLS = (
    ("#6B6A62", ""),
    ("#DDD9CF", ""),
    ("#A9A69C", "///"),
    ("#FFFFFF", "xxx"),
    ("#3C3B36", ""),
    ("#DDD9CF", "..."),
    ("#A9A69C", "---"),
    ("#6B6A62", "\\\\\\"),
)


def save_charts(report: Report, path: Path, *, theme: Theme = SUNLIGHT) -> None:
    """Write all charts of a report below each other to one file: .png, .svg or .pdf.

    Raises `InvalidInputError` if the suffix is another one, the file cannot be written, or there is
    no chart.
    """
    require_plot_file(path)
    suffix = path.suffix.lower()
    with settings({"svg.hashsalt": "lensyard", "pdf.fonttype": 42}):
        figure = charts_figure(report, theme=theme)
        try:
            figure.savefig(path, format=suffix[1:], dpi=150, metadata=_METADATA[suffix])
        except OSError as error:
            raise InvalidInputError(
                f"cannot write {path} ({error.strerror or error}); give another file"
            ) from error


def require_plot_file(path: Path) -> None:
    """Raise `InvalidInputError` unless a file's name ends in a format that can be drawn."""
    if path.suffix.lower() not in _METADATA:
        raise InvalidInputError(f"expected a file ending in .png, .svg or .pdf; got {path.name!r}")


def charts_figure(report: Report, *, theme: Theme = SUNLIGHT) -> Figure:
    """Return the charts of a report as a matplotlib figure, the headline above them.

    Raises `InvalidInputError` if the report has no chart.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    if not report.charts:
        raise InvalidInputError("there is no chart to draw; this answer has none")
    drawn = [(chart, chart_marks(chart, report.table(chart.table))) for chart in report.charts]
    heights = [_height_in(chart, marks) for chart, marks in drawn]
    size_in = (WIDTH_IN, sum(heights) + 0.4)
    figure = Figure(figsize=size_in, facecolor=theme.page, layout="constrained")
    FigureCanvasAgg(figure)  # no window and no global state knows the figure
    axes = figure.subplots(len(drawn), 1, squeeze=False, gridspec_kw={"height_ratios": heights})
    for (chart, marks), each in zip(drawn, axes[:, 0], strict=True):
        _draw(each, chart, marks, theme)
    figure.suptitle(report.headline, color=theme.ink, fontsize=10, wrap=True)
    return figure


def _height_in(chart: Chart, marks: ChartMarks) -> float:
    if chart.kind not in CATEGORICAL:
        return _PLOT_IN + _AROUND_IN
    beside = len(marks.series) if chart.kind in (ChartKind.BARS, ChartKind.INTERVALS) else 1
    return len(marks.categories) * (max(beside, 1) * _BAR_IN + _GAP_IN) + _AROUND_IN


def _draw(axes: Any, chart: Chart, marks: ChartMarks, theme: Theme) -> None:
    axes.set_facecolor(theme.page)
    axes.tick_params(colors=theme.ink, labelsize=8)
    for name, spine in axes.spines.items():
        spine.set_edgecolor(theme.ink_soft)
        spine.set_visible(name in ("left", "bottom"))
    for i, series in enumerate(marks.series):
        some = [mark for mark in marks.marks if mark.series == series]
        if chart.kind in CATEGORICAL:
            _categories(axes, chart, marks, some, i, theme)
        else:
            _over_number(axes, chart, some, line_styles(theme, len(marks.series))[i], theme)
    if chart.kind in CATEGORICAL:
        axes.set_yticks(range(len(marks.categories)), marks.categories)
        axes.invert_yaxis()
        axes.margins(x=0.2 if chart.kind is ChartKind.INTERVALS else 0.08)
        if chart.kind is not ChartKind.INTERVALS:
            axes.set_xlim(left=min(0.0, axes.get_xlim()[0] if _below_zero(marks) else 0.0))
        axes.set_xlabel(marks.value_label, color=theme.ink, fontsize=8)
        _number_axis(axes.xaxis, marks.value_format)
    else:
        axes.set_xlabel(marks.x_label, color=theme.ink, fontsize=8)
        axes.set_ylabel(marks.value_label, color=theme.ink, fontsize=8)
        _number_axis(axes.xaxis, marks.x_format)
        _number_axis(axes.yaxis, marks.value_format)
    if chart.diagonal:
        axes.axline((0.0, 0.0), slope=1.0, color=theme.ink_soft, lw=0.8, ls="--")
    for value, label in chart.rules:
        axes.axvline(value, color=theme.ink_soft, lw=0.8, ls="--")
        axes.annotate(
            label, (value, 1.0), xycoords=("data", "axes fraction"), xytext=(3, -2),
            textcoords="offset points", va="top", fontsize=7, color=theme.ink_soft,
        )  # fmt: skip
    axes.set_title(chart.title, color=theme.ink, fontsize=9, loc="left")
    if marks.series != ("",):
        axes.legend(fontsize=7, frameon=False, labelcolor=theme.ink)


def _below_zero(marks: ChartMarks) -> bool:
    return any(min(mark.low, mark.value) < 0 for mark in marks.marks)


def _number_axis(axis: Any, form: Format) -> None:
    from matplotlib.ticker import PercentFormatter

    if form in (Format.PERCENT, Format.PERCENT_1):
        axis.set_major_formatter(PercentFormatter(1.0, decimals=0))


def _categories(
    axes: Any, chart: Chart, marks: ChartMarks, some: list[Mark], i: int, theme: Theme
) -> None:
    """One series of bars, bands or intervals."""
    beside = chart.kind in (ChartKind.BARS, ChartKind.INTERVALS)
    tall = 0.8 / len(marks.series) if beside else 0.6
    shift = -0.4 + (i + 0.5) * tall if beside else 0.0
    at = [marks.categories.index(mark.category) + shift for mark in some]
    label = some[0].series or None
    fill, hatch = _FILLS[i] if len(marks.series) > 1 else (theme.accent, "")
    if chart.kind is ChartKind.INTERVALS:
        color, _ = line_styles(theme, len(marks.series))[i]
        _error_bars(axes, some, at, color, label)
    else:
        ends = chart.kind is not ChartKind.BARS
        axes.barh(
            at,
            [mark.high - mark.low if ends else mark.value for mark in some],
            left=[mark.low if ends else 0.0 for mark in some],
            height=tall, color=fill, hatch=hatch, edgecolor=theme.ink, lw=0.6, label=label,
        )  # fmt: skip
        if chart.whole:
            whole = [mark.whole for mark in some]
            axes.barh(at, whole, height=tall, fill=False, edgecolor=theme.ink_soft, lw=0.6)
    if beside:
        for y, mark in zip(at, some, strict=True):
            axes.annotate(
                mark.written, (max(mark.whole, mark.high), y), xytext=(4, 0),
                textcoords="offset points", va="center", fontsize=7, color=theme.ink,
            )  # fmt: skip


def _error_bars(
    axes: Any, some: list[Mark], at: list[float], color: str, label: str | None
) -> None:
    axes.errorbar(
        [mark.value for mark in some],
        at,
        xerr=[[m.value - m.low for m in some], [m.high - m.value for m in some]],
        fmt="o", ms=5, lw=2, capsize=3, color=color, label=label,
    )  # fmt: skip


def _over_number(
    axes: Any, chart: Chart, some: list[Mark], style: tuple[str, tuple[int, ...]], theme: Theme
) -> None:
    """One series of a line or of dots over a number."""
    color, dash = style
    x, y = [mark.x for mark in some], [mark.value for mark in some]
    label = some[0].series or None
    if chart.kind is ChartKind.LINE:
        pattern: Any = "-" if 0 in dash else (0, tuple(d / 2 for d in dash))
        axes.plot(x, y, color=color, ls=pattern, lw=1.6, label=label)
        if any(mark.low < mark.high for mark in some):
            axes.fill_between(
                x, [m.low for m in some], [m.high for m in some], color=color, alpha=0.18, lw=0
            )
        return
    below, above = [m.value - m.low for m in some], [m.high - m.value for m in some]
    axes.errorbar(
        x, y, yerr=[below, above], fmt="o", ms=4, lw=1, color=color, ecolor=theme.ink_soft,
        label=label,
    )  # fmt: skip


LETTER_IN: Final = (8.5, 11.0)
_LINE_IN: Final = 0.17
_MARGIN_IN: Final = 0.7
_CHARACTERS: Final = 96
_LINES: Final = int((LETTER_IN[1] - 2 * _MARGIN_IN) / _LINE_IN)


def report_pdf(report: Report) -> bytes:
    """Return a report as a PDF of letter pages; the same report gives the same bytes."""
    import matplotlib as mpl
    from matplotlib.backends.backend_pdf import PdfPages

    stream = io.BytesIO()
    settings: dict[Any, Any] = {"pdf.fonttype": 42}
    metadata = {"CreationDate": None, "Title": report.headline}
    with mpl.rc_context(settings), PdfPages(stream, metadata=metadata) as pdf:
        for figure in _pages(report):
            pdf.savefig(figure)
    return stream.getvalue()


def _pages(report: Report) -> list[Figure]:
    from matplotlib.figure import Figure as NewFigure

    pages: list[Figure] = []
    if report.charts:
        charts = charts_figure(report, theme=PRINT)
        charts.set_size_inches(*LETTER_IN)
        pages.append(charts)
    lines = render_text(report, width=_CHARACTERS, brief=True).splitlines()
    for start in range(0, len(lines), _LINES):
        page = NewFigure(figsize=LETTER_IN, facecolor=PRINT.page)
        for i, line in enumerate(lines[start : start + _LINES]):
            y = 1.0 - (_MARGIN_IN + i * _LINE_IN) / LETTER_IN[1]
            page.text(
                _MARGIN_IN / LETTER_IN[0], y, line, family="monospace", fontsize=8, color=PRINT.ink
            )
        pages.append(page)
    for number, page in enumerate(pages, start=1):
        page.text(
            0.92, 0.02, f"{number} of {len(pages)}", fontsize=7, ha="right", color=PRINT.ink_soft
        )
    return pages
