"""The answer in words as a piece of HTML for the dashboard: self-contained, escaped, readable.

Styles are inline and come from the look; the marks beside the spots are those of the field picture.
"""

from __future__ import annotations

from collections.abc import Sequence

from lensyard.views.answer import AnswerView, SpotLine
from lensyard.views.field_spots import letter_in, shape
from lensyard.views.palette import Look
from lensyard.views.svg import FONT_FAMILY, clean, element


def answer_html(view: AnswerView, look: Look) -> str:
    """Return the answer as one ``<section>``, the sentence first.

    The text is the view's, escaped; nothing is loaded from outside.
    """
    lead = _paragraph(view.place, f"margin:0;font-size:1.45rem;font-weight:700;color:{look.ink}")
    chance = element(
        "p",
        element("strong", clean(view.spots[0].usable), style=_big(look))
        + " "
        + clean(view.probability.removeprefix(view.spots[0].usable).strip()),
        style=f"margin:.1rem 0 .3rem;color:{look.ink}",
    )
    why = " ".join(part for part in (view.reason, view.walk) if part)
    after = " ".join(part for part in (view.equals, view.gain_over_habit) if part)
    parts = [
        _paragraph(f"{view.situation} · {view.kit}", f"margin:0 0 .3rem;color:{look.ink_soft}"),
        lead,
        chance,
        _paragraph(why, f"margin:0 0 .3rem;color:{look.ink}"),
        _paragraph(after, f"margin:0 0 .3rem;color:{look.ink_soft}"),
        _paragraph(view.parts, f"margin:0 0 .6rem;font-size:.88rem;color:{look.ink_soft}"),
        _list("Spots, best first", view.spots, look),
        _list("What usual habits would get", view.habits, look),
        "".join(_paragraph(line, f"margin:.15rem 0;color:{look.ink}") for line in view.outcome),
        "".join(_caution(line, look) for line in view.cautions),
        _paragraph(view.attribution, f"margin:.5rem 0 0;font-size:.85rem;color:{look.ink_soft}"),
    ]
    return element(
        "section",
        "".join(parts),
        aria_label="Where to stand for the next play",
        style=(
            f"font-family:{FONT_FAMILY};font-size:1rem;line-height:1.4;"
            f"background:{look.page};color:{look.ink};overflow-wrap:anywhere"
        ),
        data_look=look.name,
    )


def _big(look: Look) -> str:
    return f"font-size:2.1rem;line-height:1.1;color:{look.accent}"


def _paragraph(content: str, style: str) -> str:
    return element("p", clean(content), style=style) if content else ""


def _caution(content: str, look: Look) -> str:
    return element(
        "p",
        element("strong", "Caution:") + " " + clean(content),
        style=f"margin:.5rem 0 0;padding-left:.6rem;border-left:3px solid {look.accent}",
    )


def _list(label: str, lines: Sequence[SpotLine], look: Look) -> str:
    if not lines:
        return ""
    items = "".join(_item(line, look) for line in lines)
    return element(
        "ol", items, aria_label=label, style="list-style:none;margin:0 0 .6rem;padding:0"
    )


def _item(line: SpotLine, look: Look) -> str:
    facts = f"{line.usable_range} within the error"
    if line.walk:
        facts += f" · {line.walk}"
    facts += f" · run-out {line.run_out}"
    words = (
        element("strong", clean(line.usable))
        + " "
        + clean(line.where)
        + element(
            "span", clean(facts), style=f"display:block;font-size:.88rem;color:{look.ink_soft}"
        )
    )
    return element(
        "li",
        _mark(line, look) + element("span", words, title=line.parts),
        style="display:flex;gap:.6rem;align-items:center;min-height:44px",
    )


def _mark(line: SpotLine, look: Look) -> str:
    middle = (16.0, 16.0)
    drawn = shape(line.role, middle, 11.0, look)
    drawn += letter_in(line.role, middle, 11.0, look, line.name)
    said = f"{line.name}, {line.role.value}"
    return element(
        "svg",
        drawn,
        viewBox="0 0 32 32",
        width=32,
        height=32,
        role="img",
        aria_label=said,
        style="flex:none",
    )
