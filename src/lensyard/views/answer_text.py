"""The answer to "where next" as plain text for a terminal."""

from __future__ import annotations

import textwrap

from lensyard.errors import require_range
from lensyard.views.answer import AnswerView, SpotLine

_LEAST_WIDTH = 40
_STACKED_BELOW = 66


def text_answer(view: AnswerView, *, width: int = 80) -> str:
    """Return the answer as plain text, the sentence first.

    Parameters
    ----------
    view
        The answer.
    width
        No line is longer, unless a single word is. 40 to 400. [characters]
    """
    require_range(low=_LEAST_WIDTH, high=400, width=width)
    after = " ".join(part for part in (view.walk, view.equals, view.gain_over_habit) if part)
    plan = f"Plan: {view.plan}" if view.plan else ""
    top = [_wrapped(line, width) for line in (view.headline, after, plan) if line]
    blocks = [
        "\n".join(top),
        _wrapped(f"{view.situation} - {view.kit}", width),
        _tables(view, width),
        "\n".join(_wrapped(line, width) for line in (view.parts, *view.notes)),
        "\n".join(_wrapped(line, width, hang=2) for line in view.outcome),
        "\n".join(_wrapped(f"Caution: {line}", width, hang=2) for line in view.cautions),
    ]
    if view.attribution:
        blocks.append(_wrapped(view.attribution, width))
    return "\n\n".join(blocks) + "\n"


def _wrapped(line: str, width: int, *, hang: int = 0) -> str:
    return textwrap.fill(line, width, subsequent_indent=" " * hang, break_long_words=False)


_Row = tuple[str, str, str, str, str, str]


def _tables(view: AnswerView, width: int) -> str:
    """Return the ranked spots and the habits, their columns in line."""
    spots = [_cells(line) for line in view.spots]
    habits = [_cells(line) for line in view.habits]
    if width < _STACKED_BELOW:
        return "\n".join(_stacked(row, width) for row in (*spots, *habits))
    walk, light = (
        title if any(row[i] for row in (*spots, *habits)) else ""
        for i, title in ((3, "walk"), (4, "light (factor)"))
    )
    rows: list[_Row] = [("", "spot", "usable (range)", walk, light, "run-out"), *spots]
    if habits:
        rows += [("", "", "", "", "", ""), ("", "usual habit", "", "", "", ""), *habits]
    sizes = [max(len(row[i]) for row in rows) for i in range(6)]
    gaps = 2 * (3 + (sizes[3] > 0) + (sizes[4] > 0))
    room = width - (sizes[0] + sum(sizes[2:]) + gaps)
    sizes[1] = min(sizes[1], max(room, 20))
    return "\n".join(part for row in rows for part in _row(row, sizes))


def _cells(line: SpotLine) -> _Row:
    usable = f"{line.usable} ({line.usable_range})"
    return line.name, line.where, usable, line.walk, line.light, line.run_out


def _row(row: _Row, sizes: list[int]) -> list[str]:
    where = textwrap.wrap(row[1], sizes[1], break_long_words=False) or [""]
    cells = (
        row[0].rjust(sizes[0]),
        where[0].ljust(sizes[1]),
        row[2].ljust(sizes[2]),
        *(row[i].ljust(sizes[i]) for i in (3, 4) if sizes[i]),
        row[5].rjust(sizes[5]),
    )
    first = "  ".join(cells).rstrip()
    return [first, *(" " * (sizes[0] + 4) + more for more in where[1:])]


def _stacked(cell: _Row, width: int) -> str:
    name, where, usable, walk, light, run_out = cell
    parts = (
        f"usable {usable}",
        walk and f"walk {walk}",
        light and f"light {light}",
        f"run-out {run_out}",
    )
    second = "; ".join(part for part in parts if part)
    first = textwrap.fill(f"{name}  {where}", width, subsequent_indent="   ")
    return f"{first}\n{textwrap.fill(second, width, initial_indent='   ', subsequent_indent='   ')}"
