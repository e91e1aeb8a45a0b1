"""A sheet of paper: sizes, text that is measured before it is set, and a file with the same bytes.

All places are inches from the lower left corner, all sizes of type points. Text is measured with
the typeface that comes with matplotlib, so that it breaks alike on every machine. Nothing on paper
is told by color: there is black, white and gray.

Writing a sheet or a card: whole or not at all.
"""

from __future__ import annotations

import threading
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from io import BytesIO
from typing import TYPE_CHECKING, Any, Literal, cast

from lensyard.errors import InvalidInputError, UnknownNameError
from lensyard.records import Record
from lensyard.running import checkpoint

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from matplotlib.figure import Figure


POINTS_PER_INCH = 72.0
MM_PER_INCH = 25.4
TYPEFACE = "DejaVu Sans"
LEADING = 1.22
MARGIN_IN = 0.5
PNG_DPI = 200
SETTINGS: dict[str, Any] = {
    "pdf.fonttype": 42,
    "pdf.compression": 9,
    "font.family": [TYPEFACE],
    "hatch.linewidth": 0.5,
    "text.usetex": False,
    "text.hinting": "none",
    "path.sketch": None,
    "savefig.facecolor": "white",
}

_DRAWING = threading.RLock()

Weight = Literal["normal", "bold"]


class Paper(Record):
    """A size of paper, upright. [inch]"""

    name: str
    width_in: float
    height_in: float


# ANSI/ASME Y14.1 size A; ISO 216 A4.
PAPERS = {
    "letter": Paper("letter", 8.5, 11.0),
    "a4": Paper("a4", 210.0 / MM_PER_INCH, 297.0 / MM_PER_INCH),
}


def paper_named(name: str) -> Paper:
    """Return a paper by name.

    Raises `UnknownNameError` if there is none of that name.
    """
    try:
        return PAPERS[name]
    except KeyError:
        raise UnknownNameError(name="paper", value=name, known=PAPERS) from None


@lru_cache(maxsize=4096)
def width_pt(content: str, size_pt: float, weight: Weight = "normal") -> float:
    """Return how wide a line of text is. [pt]"""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    checkpoint()  # who wraps text asks this hundreds of times
    properties = FontProperties(family=TYPEFACE, size=size_pt, weight=weight)
    with _DRAWING:
        width, _, _ = text_to_path.get_text_width_height_descent(content, properties, ismath=False)
    return float(width)


def shortened(content: str, *, size_pt: float, room_pt: float, weight: Weight = "normal") -> str:
    """Return a line that fits, with an ellipsis where something is left out."""
    if width_pt(content, size_pt, weight) <= room_pt:
        return content
    while content and width_pt(f"{content}…", size_pt, weight) > room_pt:
        content = content[:-1].rstrip(" ,;:")
    return f"{content}…"


def wrapped(
    content: str, *, size_pt: float, room_pt: float, weight: Weight = "normal"
) -> tuple[str, ...]:
    """Return a text as lines that fit a width; a word that is too long is shortened."""
    lines: list[str] = []
    line = ""
    for word in content.split():
        longer = f"{line} {word}" if line else word
        if width_pt(longer, size_pt, weight) <= room_pt:
            line = longer
            continue
        if line:
            lines.append(line)
        line = shortened(word, size_pt=size_pt, room_pt=room_pt, weight=weight)
    return (*lines, line) if line else tuple(lines)


def line_in(size_pt: float) -> float:
    """Return the height of a line of text. [inch]"""
    return size_pt * LEADING / POINTS_PER_INCH


@dataclass(eq=False)
class Page:
    """One page to draw on.

    - ``texts``: every line of text set so far, for whoever checks that they do not overlap.
    """

    paper: Paper
    figure: Figure = field(init=False)
    texts: list[Any] = field(default_factory=list, init=False)

    def __post_init__(self) -> None:
        """Take an empty page."""
        from matplotlib.figure import Figure

        self.figure = Figure(figsize=(self.paper.width_in, self.paper.height_in))
        self._axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self._axes.set_xlim(0.0, self.paper.width_in)
        self._axes.set_ylim(0.0, self.paper.height_in)
        self._axes.axis("off")

    @property
    def left_in(self) -> float:
        """The left edge of what is printed. [inch]"""
        return MARGIN_IN

    @property
    def right_in(self) -> float:
        """The right edge of what is printed. [inch]"""
        return self.paper.width_in - MARGIN_IN

    def text(
        self,
        x_in: float,
        y_in: float,
        content: str,
        *,
        size_pt: float,
        weight: Weight = "normal",
        color: str = "black",
        ha: Literal["left", "center", "right"] = "left",
        va: Literal["baseline", "center", "center_baseline", "top", "bottom"] = "baseline",
        rotation_deg: float = 0.0,
    ) -> None:
        """Set one line; nothing in it is markup."""
        self.texts.append(
            self._axes.text(
                x_in,
                y_in,
                content,
                fontsize=size_pt,
                fontweight=weight,
                color=color,
                ha=ha,
                va=va,
                rotation=rotation_deg,
                rotation_mode="anchor",
                parse_math=False,
                zorder=6,
            )
        )

    def lines(
        self,
        x_in: float,
        top_in: float,
        content: tuple[str, ...],
        *,
        size_pt: float,
        weight: Weight = "normal",
        color: str = "black",
    ) -> float:
        """Set lines below each other and return where the next one begins. [inch]"""
        for line in content:
            top_in -= line_in(size_pt)
            drop = 0.25 * size_pt * LEADING / POINTS_PER_INCH
            self.text(x_in, top_in + drop, line, size_pt=size_pt, weight=weight, color=color)
        return top_in

    def box(
        self,
        x_in: float,
        y_in: float,
        width_in: float,
        height_in: float,
        *,
        fill: str = "none",
        edge: str = "black",
        line_pt: float = 0.8,
        hatch: str | None = None,
        layer: float = 2.0,
    ) -> None:
        """Draw a rectangle from its lower left corner."""
        from matplotlib.patches import Rectangle

        self._axes.add_patch(
            Rectangle(
                (x_in, y_in),
                width_in,
                height_in,
                facecolor=fill,
                edgecolor=edge,
                linewidth=line_pt,
                hatch=hatch,
                zorder=layer,
            )
        )

    def disk(self, x_in: float, y_in: float, radius_in: float, *, fill: str) -> None:
        """Draw a disk with a black rim."""
        from matplotlib.patches import Circle

        self._axes.add_patch(
            Circle(
                (x_in, y_in), radius_in, facecolor=fill, edgecolor="black", linewidth=0.9, zorder=4
            )
        )  # fmt: skip

    def line(
        self,
        xs_in: tuple[float, ...],
        ys_in: tuple[float, ...],
        *,
        line_pt: float = 0.8,
        color: str = "black",
        layer: float = 3.0,
    ) -> None:
        """Draw a line through places."""
        self._axes.plot(
            xs_in,
            ys_in,
            color=color,
            linewidth=line_pt,
            solid_capstyle="butt",
            zorder=layer,
        )

    def arrow(self, x_in: float, y_in: float, length_in: float) -> None:
        """Draw an arrow upward."""
        from matplotlib.patches import Polygon

        half = 0.45 * length_in
        corners = [(x_in - half, y_in), (x_in + half, y_in), (x_in, y_in + length_in)]
        self._axes.add_patch(Polygon(corners, closed=True, facecolor="black", zorder=4))


def ready_to_draw() -> None:
    """Import what draws pages, which takes a while."""
    import matplotlib.backends.backend_pdf
    import matplotlib.figure  # noqa: F401


def saved_pages(pages: Sequence[Page], form: str, *, title: str) -> bytes:
    """Return pages as one file; the same pages give the same bytes.

    ``form``: ``pdf``, a page each, or ``png``, side by side.

    Raises `UnknownNameError` if the form is another one.
    """
    if form not in ("pdf", "png"):
        raise UnknownNameError(name="form", value=form, known=("pdf", "png"))
    stream = BytesIO()
    if form == "pdf":
        from matplotlib.backends.backend_pdf import PdfPages

        about: dict[str, Any] = {
            "CreationDate": None,
            "Title": title,
            "Creator": "lensyard",
            "Producer": None,
        }
        with PdfPages(stream, metadata=about) as book:
            for page in pages:
                checkpoint()
                book.savefig(page.figure)
            checkpoint()
        return stream.getvalue()
    import numpy as np
    from matplotlib.image import imread, imsave

    pictures = []
    for page in pages:
        one = BytesIO()
        page.figure.savefig(one, format="png", dpi=PNG_DPI)
        pictures.append(imread(BytesIO(one.getvalue()), format="png"))
    named: dict[str, Any] = {"Software": None, "Title": title}
    imsave(stream, np.hstack(pictures), format="png", dpi=PNG_DPI, metadata=named)
    return stream.getvalue()


@contextmanager
def settings(chosen: Mapping[str, Any] = SETTINGS) -> Iterator[None]:
    """Hold matplotlib to settings, those of a sheet unless others are given; one thread at a time.

    Its settings are the whole process's, and a server draws in several threads.
    """
    import matplotlib as mpl

    with _DRAWING, mpl.rc_context(cast(Any, chosen)):
        yield


def require_room(room_in: float, least_in: float, *, what: str) -> None:
    """Raise `InvalidInputError` if there is no room for something on the page."""
    if room_in < least_in:
        raise InvalidInputError(
            f"{what} does not fit on one page: {room_in:.1f} in are left, {least_in:.1f} are "
            "needed. Shorten the shot list or the notes of the venue"
        )
