"""A report on paper: its charts on the first page, its words and tables on the next."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any, Final

from lensyard.render.paper_chart import charts_figure
from lensyard.render.report import Report
from lensyard.render.text import render_text
from lensyard.render.theme import PRINT

if TYPE_CHECKING:
    from matplotlib.figure import Figure

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
