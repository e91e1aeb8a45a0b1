"""The answer in words as two pieces of HTML: what is read at a glance, and what stands behind it.

The pieces carry classes that begin with ``ly-``; colors come as custom properties of the page, so
that one style sheet serves every look. All text is escaped, nothing is loaded from outside.

The answer to "where next" as plain text for a terminal.
"""

from __future__ import annotations

import textwrap
from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass

from lensyard.errors import InvalidInputError, require_range
from lensyard.features.next_play.answer_view import AnswerView, SpotLine
from lensyard.render.field.marks import letter_in, shape
from lensyard.render.svg import FONT_FAMILY, clean, element, number
from lensyard.render.theme import Theme

_MARK_PX = 30.0
_HARD_SPACE = "\u00a0"


@dataclass(frozen=True, slots=True)
class Share:
    """A probability with its range, for a bar."""

    p: float
    p_low: float
    p_high: float

    def __post_init__(self) -> None:
        """Refuse what is no probability."""
        require_range(low=0, high=1, p=self.p, p_low=self.p_low, p_high=self.p_high)


def lead_html(view: AnswerView, best: Share) -> str:
    """Return the answer at a glance: where to stand, how often it is usable, why.

    The sentence on where to stand is the heading, so that a screen reader finds it first.

    Parameters
    ----------
    view
        The answer in words.
    best
        The usable share of the best spot.
    """
    line = view.spots[0]
    words = view.probability.removeprefix(line.usable).strip()
    usable, _, spread = words.partition(" (")
    chance = element(
        "p",
        _text("strong", line.usable, "ly-big")
        + element(
            "span",
            _text("span", usable, None) + _text("span", spread.rstrip(")"), "ly-soft"),
            class_="ly-chance-words",
        ),
        class_="ly-chance",
    )
    facts = (("Lens", line.lens), ("Walk", _walk(view)), ("Run-out", line.run_out))
    chips = "".join(
        element("span", _text("span", name, "ly-soft") + " " + _text("b", value, None))
        for name, value in facts
        if value
    )
    after = " ".join(part for part in (view.equals, view.gain_over_habit) if part)
    parts = (
        _text("p", f"{view.situation} · {view.kit}", "ly-kicker"),
        _text("h1", view.place.removesuffix(".").replace(" yd", _HARD_SPACE + "yd"), None),
        chance,
        _bar(best),
        element("p", chips, class_="ly-chips"),
        _text("p", view.reason, "ly-why"),
        _text("p", f"Plan: {view.plan}", "ly-why") if view.plan else "",
        _text("p", after, "ly-after") if after else "",
    )
    name = "Where to stand for the next play"
    return element("section", "".join(parts), class_="ly-lead", aria_label=name)


def _walk(view: AnswerView) -> str:
    return view.walk.removeprefix("Walk: ").removesuffix(".")


def detail_html(view: AnswerView, shares: Sequence[Share], theme: Theme) -> str:
    """Return what stands behind the answer: the spots, the habits, the play, the cautions.

    Parameters
    ----------
    view
        The answer in words.
    shares
        The usable share of every spot, then of every habit, in the view's order.
    theme
        The colors of the marks.

    Raises
    ------
    InvalidInputError
        If there is not one share for each line.
    """
    lines = (*view.spots, *view.habits)
    if len(shares) != len(lines):
        raise InvalidInputError(
            f"{len(shares)} shares for {len(lines)} spots and habits; give one for each, in order"
        )
    ranked = zip(view.spots, shares[: len(view.spots)], strict=True)
    habits = zip(view.habits, shares[len(view.spots) :], strict=True)
    spots = _panel(
        "Spots, best first",
        element("ol", "".join(_row(line, share, theme) for line, share in ranked))
        + _text("p", view.parts, "ly-note"),
    )
    beside = (
        _panel(
            "What usual habits would get",
            element("ol", "".join(_row(line, share, theme) for line, share in habits)),
        )
        if view.habits
        else ""
    )
    outcome = _panel("What the play may bring", _outcome(view.outcome))
    cautions = element(
        "div",
        "".join(_caution(line) for line in view.cautions),
        class_="ly-cautions",
        role="note",
        aria_label="Cautions",
    )
    source = _text("p", view.attribution, "ly-source") if view.attribution else ""
    body = cautions + spots + element("div", beside + outcome, class_="ly-beside") + source
    return element("div", body, class_="ly-detail")


def _panel(title: str, content: str) -> str:
    return element("section", _text("h2", title, None) + content, class_="ly-panel")


def _outcome(lines: Sequence[str]) -> str:
    return element("ul", "".join(_text("li", line, None) for line in lines), class_="ly-outcome")


def _caution(line: str) -> str:
    return element("p", _text("strong", "Caution", None) + " " + clean(line))


def _row(line: SpotLine, share: Share, theme: Theme) -> str:
    facts = [f"{line.usable_range} within the error"]
    if line.walk:
        facts.append(line.walk)
    facts.append(f"run-out {line.run_out}")
    words = _text("span", line.where, "ly-where") + _text("span", " · ".join(facts), "ly-facts")
    cells = (
        _mark(line, theme)
        + element("span", words, class_="ly-words", title=line.parts)
        + _text("strong", line.usable, "ly-usable")
        + _bar(share)
    )
    return element("li", cells)


def _mark(line: SpotLine, theme: Theme) -> str:
    """The spot's mark in the field picture, as an image: sanitizers let it pass."""
    middle = (16.0, 16.0)
    drawn = shape(line.role, middle, 11.0, theme)
    drawn += letter_in(line.role, middle, 11.0, theme, line.name)
    svg = element(
        "svg",
        drawn,
        xmlns="http://www.w3.org/2000/svg",
        viewBox="0 0 32 32",
        font_family=FONT_FAMILY,
    )
    return element(
        "img",
        src=f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}",
        width=_MARK_PX,
        height=_MARK_PX,
        alt=f"{line.name}, {line.role.value}",
    )


def _bar(share: Share) -> str:
    """A bar from 0 to 100 % with the range on it; the figures stand beside it as text."""
    range_left = f"{number(100 * share.p_low)}%"
    range_width = f"{number(100 * max(share.p_high - share.p_low, 0.0))}%"
    return element(
        "span",
        element("i", "", class_="ly-fill", style=f"width:{number(100 * share.p)}%")
        + element("i", "", class_="ly-range", style=f"left:{range_left};width:{range_width}"),
        class_="ly-bar",
        aria_hidden="true",
    )


def _text(name: str, content: str, class_: str | None) -> str:
    return element(name, clean(content), class_=class_)


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
    return "\n".join(part for row in rows for part in _answer_text_row(row, sizes))


def _cells(line: SpotLine) -> _Row:
    usable = f"{line.usable} ({line.usable_range})"
    return line.name, line.where, usable, line.walk, line.light, line.run_out


def _answer_text_row(row: _Row, sizes: list[int]) -> list[str]:
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
