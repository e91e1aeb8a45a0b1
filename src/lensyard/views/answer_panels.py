"""The answer in words as two pieces of HTML: what is read at a glance, and what stands behind it.

The pieces carry classes that begin with ``ly-``; colors come as custom properties of the page, so
that one style sheet serves every look. All text is escaped, nothing is loaded from outside.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass

from lensyard.errors import InvalidInputError, require_range
from lensyard.views.answer import AnswerView, SpotLine
from lensyard.views.field_spots import letter_in, shape
from lensyard.views.palette import Look
from lensyard.views.svg import FONT_FAMILY, clean, element, number

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


def detail_html(view: AnswerView, shares: Sequence[Share], look: Look) -> str:
    """Return what stands behind the answer: the spots, the habits, the play, the cautions.

    Parameters
    ----------
    view
        The answer in words.
    shares
        The usable share of every spot, then of every habit, in the view's order.
    look
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
        element("ol", "".join(_row(line, share, look) for line, share in ranked))
        + _text("p", view.parts, "ly-note"),
    )
    beside = (
        _panel(
            "What usual habits would get",
            element("ol", "".join(_row(line, share, look) for line, share in habits)),
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


def _row(line: SpotLine, share: Share, look: Look) -> str:
    facts = [f"{line.usable_range} within the error"]
    if line.walk:
        facts.append(line.walk)
    facts.append(f"run-out {line.run_out}")
    words = _text("span", line.where, "ly-where") + _text("span", " · ".join(facts), "ly-facts")
    cells = (
        _mark(line, look)
        + element("span", words, class_="ly-words", title=line.parts)
        + _text("strong", line.usable, "ly-usable")
        + _bar(share)
    )
    return element("li", cells)


def _mark(line: SpotLine, look: Look) -> str:
    """The spot's mark in the field picture, as an image: sanitizers let it pass."""
    middle = (16.0, 16.0)
    drawn = shape(line.role, middle, 11.0, look)
    drawn += letter_in(line.role, middle, 11.0, look, line.name)
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
