"""Writing a matplotlib figure to a file, the same bytes for the same figure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.errors import InvalidInputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_METADATA: dict[str, dict[str, Any]] = {
    ".svg": {"Date": None},
    ".pdf": {"CreationDate": None},
    ".png": {"Software": None},
}


def require_plot_file(path: Path) -> None:
    """Raise `InvalidInputError` unless a file's name ends in a format that can be drawn."""
    if path.suffix.lower() not in _METADATA:
        raise InvalidInputError(f"expected a file ending in .png, .svg or .pdf; got {path.name!r}")


def save_figure(make: Figure, path: Path) -> None:
    """Write a figure as PNG, SVG or PDF, by the file's suffix; no date is written into it.

    Raises
    ------
    InvalidInputError
        If the suffix is another one or the file cannot be written.
    """
    import matplotlib as mpl

    require_plot_file(path)
    suffix = path.suffix.lower()
    settings: dict[Any, Any] = {"svg.hashsalt": "lensyard", "pdf.fonttype": 42}
    with mpl.rc_context(settings):
        try:
            make.savefig(path, format=suffix[1:], dpi=150, metadata=_METADATA[suffix])
        except OSError as error:
            raise InvalidInputError(
                f"cannot write {path} ({error.strerror or error}); give another file"
            ) from error


def new_figure(*, width_in: float, height_in: float, page: str) -> Figure:
    """Return an empty figure that no window and no global state knows."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure as NewFigure

    figure = NewFigure(figsize=(width_in, height_in), facecolor=page, layout="constrained")
    FigureCanvasAgg(figure)
    return figure
