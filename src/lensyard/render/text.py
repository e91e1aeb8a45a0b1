"""A report on a terminal: the headline first, then figures as plain tables."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from lensyard.errors import require_range

GAP = "  "


LEAST_WIDTH = 40


# A column that is wrapped gets at least this much, whatever the others take. [characters]
LEAST_COLUMN = 16


def text_table(
    header: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    wrap: int,
    left: Sequence[int] = (),
    width: int = 80,
) -> str:
    """Return a table as lines of plain text.

    Parameters
    ----------
    header, rows
        Cells; every row has as many as the header.
    wrap
        The column that is wrapped so that the table fits.
    left
        Columns that are set flush left besides the wrapped one; the others are numbers.
    width
        No line is longer unless a word is. [characters]

    Examples
    --------
    >>> print(text_table(["when", "usable"], [["red zone", "88%"]], wrap=0))
    when      usable
    red zone     88%
    """
    require_range(low=LEAST_WIDTH, high=400, width=width)
    cells = [tuple(header), *(tuple(row) for row in rows)]
    sizes = [max(len(row[i]) for row in cells) for i in range(len(header))]
    room = width - sum(size for i, size in enumerate(sizes) if i != wrap)
    room -= len(GAP) * (len(sizes) - 1)
    sizes[wrap] = min(sizes[wrap], max(room, LEAST_COLUMN))
    flush_left = {wrap, *left}
    lines = []
    for row in cells:
        parts = textwrap.wrap(row[wrap], sizes[wrap], break_long_words=False) or [""]
        for k, part in enumerate(parts):
            line = [
                (part if i == wrap else cell if k == 0 else "").ljust(sizes[i])
                if i in flush_left
                else (cell if k == 0 else "").rjust(sizes[i])
                for i, cell in enumerate(row)
            ]
            lines.append(GAP.join(line).rstrip())
    return "\n".join(lines)


def paragraph(text: str, *, width: int = 80, hang: int = 0) -> str:
    """Return a text wrapped to a width; further lines begin ``hang`` characters in."""
    return textwrap.fill(text, width, subsequent_indent=" " * hang, break_long_words=False)
