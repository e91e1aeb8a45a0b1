"""The review as a printable page: the picture above, the numbers in words below."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from lensyard.errors import InvalidInputError
from lensyard.features.review.charts import ReviewPlot, draw_distances, draw_zones
from lensyard.render.theme import PRINT

LETTER_IN: Final = (8.5, 11.0)
_LINE_IN: Final = 0.172
_TOP_OF_TEXT: Final = 0.50
_MOST_LINES: Final = 29
_SETTINGS: Final[dict[Any, Any]] = {"pdf.fonttype": 42, "font.size": 9}


@dataclass(frozen=True, slots=True)
class ReviewPage:
    """What is printed: the picture, and lines of words; lines beyond the page go on another."""

    plot: ReviewPlot
    lines: tuple[str, ...]


def save_review_page(page: ReviewPage, path: Path) -> None:
    """Write the page as PDF; the same page gives the same bytes.

    Raises
    ------
    InvalidInputError
        If the file is no PDF by its name, or cannot be written.
    """
    import matplotlib as mpl
    from matplotlib.backends.backend_pdf import PdfPages

    if path.suffix.lower() != ".pdf":
        raise InvalidInputError(f"the page is a PDF; got {path.name!r}, expected a name in .pdf")
    try:
        with (
            mpl.rc_context(_SETTINGS),
            PdfPages(path, metadata={"CreationDate": None, "Title": page.plot.title}) as pdf,
        ):
            for figure in _pages(page):
                pdf.savefig(figure)
    except OSError as error:
        raise InvalidInputError(
            f"cannot write {path} ({error.strerror or error}); name a file in a folder that can be "
            "written"
        ) from error


def _pages(page: ReviewPage) -> list[Any]:
    from matplotlib.figure import Figure

    theme, plot = PRINT, page.plot
    first = Figure(figsize=LETTER_IN, facecolor=theme.page)
    first.text(0.08, 0.945, plot.title, fontsize=15, fontweight="bold", color=theme.ink)
    first.text(0.08, 0.922, plot.subtitle, fontsize=9, color=theme.ink_soft)
    wide = 0.37 if plot.distances else 0.68
    draw_zones(first.add_axes((0.24, 0.57, wide, 0.31)), plot, theme)
    if plot.distances:
        draw_distances(first.add_axes((0.68, 0.57, 0.25, 0.31)), plot, theme)
    figures = [first]
    _write(first, page.lines[:_MOST_LINES], top=_TOP_OF_TEXT)
    rest, most = page.lines[_MOST_LINES:], 52
    while rest:
        more = Figure(figsize=LETTER_IN, facecolor=theme.page)
        _write(more, rest[:most], top=0.93)
        figures.append(more)
        rest = rest[most:]
    for number, figure in enumerate(figures, start=1):
        figure.text(0.08, 0.03, plot.note, fontsize=7, color=theme.ink_soft)
        figure.text(0.92, 0.03, f"{number} of {len(figures)}", fontsize=7, ha="right",
                    color=theme.ink_soft)  # fmt: skip
    return figures


def _write(figure: Any, lines: tuple[str, ...], *, top: float) -> None:
    step = _LINE_IN / LETTER_IN[1]
    for i, line in enumerate(lines):
        figure.text(0.08, top - i * step, line, family="monospace", fontsize=7.6, color=PRINT.ink)
