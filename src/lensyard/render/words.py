"""Numbers and places in words, the same on every face."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite, isnan
from typing import Any

from lensyard.records import Record
from lensyard.render.report import Format, Interval, Table, Value

# How a number is written before its unit: decimals, or a function of its own.
_DECIMALS = {
    Format.DECIMAL: 1,
    Format.DECIMAL_2: 2,
    Format.DECIMAL_3: 3,
    Format.DECIMAL_4: 4,
    Format.STOPS: 1,
}
_UNITS = {
    Format.YARDS: " yd",
    Format.SECONDS: " s",
    Format.MINUTES: " min",
    Format.STOPS: " stops",
    Format.LUX: " lx",
    Format.DEGREES: "°",
}


def format_value(value: Value, form: Format = Format.TEXT) -> str:
    """Return a raw value as people read it; nothing where it is not known.

    An `Interval` is its value, then its ends in parentheses. Text stays text whatever the form.

    >>> format_value(1806, Format.COUNT), format_value(27.4, Format.YARDS)
    ('1,806', '27 yd')
    >>> format_value(Interval(3.14, 2.0, 4.21), Format.DECIMAL)
    '3.1 (2.0 to 4.2)'
    >>> format_value(Interval(0.58, 0.54, 0.62), Format.PERCENT), format_value(None)
    ('58% (54% to 62%)', '')
    >>> format_value(-0.04, Format.SIGNED), format_value(True), format_value(float("inf"))
    ('0.0', 'yes', '∞')
    """
    if isinstance(value, Interval):
        ends = f"{_number(value.low, form)} to {_number(value.high, form)}"
        return f"{_number(value.value, form)}{_UNITS.get(form, '')} ({ends})"
    if value is None or (isinstance(value, float) and isnan(value)):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    return f"{_number(value, form)}{_UNITS.get(form, '')}"


def _number(value: float, form: Format) -> str:
    """Return a number without its unit."""
    if not isfinite(value):
        return "" if isnan(value) else "∞" if value > 0 else "-∞"
    if form is Format.PERCENT:
        return percent(value)
    if form is Format.PERCENT_1:
        return f"{100.0 * value:.1f}%"
    if form is Format.SIGNED:
        text = f"{value:+,.1f}"
        return "0.0" if text in ("+0.0", "-0.0") else text
    if form is Format.TEXT:
        return f"{value:g}"
    text = f"{value:,.{_DECIMALS.get(form, 0)}f}"
    return text.removeprefix("-") if not text.strip("-0.") else text


def table_words(table: Table, x: str, ys: Sequence[str]) -> str:
    """Return what a chart of some columns of a table says, for whoever does not see it.

    >>> from lensyard.render.report import Column
    >>> columns = (Column("zone", "Zone"), Column("p", "Usable", Format.PERCENT))
    >>> table_words(Table("t", "", columns, (("red zone", 0.5), ("own 1-20", None))), "zone", ["p"])
    'Red zone: usable 50%.'
    """
    columns = {column.key: column for column in table.columns}
    rows = []
    for row in table.rows:
        cells = dict(zip(columns, row, strict=True))
        parts = [
            f"{columns[y].label.lower()} {format_value(cells[y], columns[y].format)}"
            for y in ys
            if cells[y] is not None
        ]
        if parts:
            rows.append(f"{format_value(cells[x], columns[x].format)}: {', '.join(parts)}")
    return sentence("; ".join(rows))


def percent(p: float) -> str:
    """Return a probability as people say it.

    >>> percent(0.583), percent(0.004), percent(0.0), percent(0.999)
    ('58%', '<1%', '0%', '>99%')
    """
    if 0.0 < p < 0.005:
        return "<1%"
    if 0.995 <= p < 1.0:
        return ">99%"
    return f"{100.0 * p:.0f}%"


def walk_words(*, walk_yd: float | None, walk_s: float | None) -> str:
    """Return a walk in words; nothing where it is not known.

    >>> walk_words(walk_yd=20.2, walk_s=13.4), walk_words(walk_yd=0.3, walk_s=0.2)
    ('20 yd, 13 s', 'no walk')
    >>> walk_words(walk_yd=float("inf"), walk_s=None)
    'no way there'
    """
    if walk_yd is None:
        return ""
    if walk_yd == float("inf"):
        return "no way there"
    if walk_yd < 1.0:
        return "no walk"
    return f"{walk_yd:.0f} yd" + ("" if walk_s is None else f", {walk_s:.0f} s")


def at_place(label: str) -> str:
    """Return a spot's label with the preposition that it takes.

    >>> at_place("offense's left sideline, opponent's 18")
    "on the offense's left sideline, opponent's 18"
    >>> at_place("home side, road end's 28 (offense's left)")
    "on the home side, road end's 28 (offense's left)"
    >>> at_place("right back corner, 3 yd outside the pylon")
    'at the right back corner, 3 yd outside the pylon'
    >>> at_place("behind the end line, by the goal post")
    'behind the end line, by the goal post'
    """
    if label.startswith("behind "):
        return label
    return f"{'at' if 'corner' in label.split(',', maxsplit=1)[0] else 'on'} the {label}"


def sentence(text: str) -> str:
    """Return a text as a sentence: a capital in front, one full stop at the end.

    >>> sentence("plays come toward you"), sentence("Stay low!"), sentence("  ")
    ('Plays come toward you.', 'Stay low!', '')
    """
    words = text.strip()
    if not words:
        return ""
    words = words[0].upper() + words[1:]
    return words if words[-1] in ".!?" else f"{words}."


def joined(names: Sequence[str]) -> str:
    """Return names as an enumeration.

    >>> joined(["quarter 1"]), joined(["quarter 1", "halftime", "quarter 3"])
    ('quarter 1', 'quarter 1, halftime and quarter 3')
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


NO_SCHOOL_DATA = (
    "No open play-by-play of high schools stands behind it: its levels are those of college games "
    "until you fit your own."
)


def attribution_of(model: Mapping[str, Any], *, brief: bool = False) -> str:
    """Return which model answers and where its numbers come from, from a model's facts.

    ``brief`` does not list what the prior says.
    """
    seasons, levels = model["seasons"], model.get("level_seasons")
    count = f"{model['plays']:,} {model['level']} plays"
    said = [f"Model {model['id']}: {count}, {_span(seasons)}"]
    if levels:
        said[0] += f"; levels of {_span(levels)}"
    if parts := list(model.get("from_prior", ())):
        what = "What the plays do not tell is" if brief or levels else f"Its {joined(parts)} are"
        said.append(f"{what} as in {model['prior']}")
    if model.get("rules") == "high-school" and model["level"] != "high-school":
        said.append(NO_SCHOOL_DATA.removesuffix("."))
    return f"{'. '.join(said)}. {model['attribution']}"


def _span(seasons: Sequence[int]) -> str:
    """Return seasons as a span of years."""
    if not seasons:
        return "no seasons"
    return f"{seasons[0]}-{seasons[-1]}" if len(seasons) > 1 else f"{seasons[0]}"


def held_out_words(held_out: bool) -> str:
    """Return what to say behind a season: whether the model knew its plays.

    >>> held_out_words(True)
    'not seen by the model'
    """
    return "not seen by the model" if held_out else "that the model was fitted on"


class AnswerWords(Record):
    """Sentences of an answer that the offline card's script says too; names in braces are filled.

    ``yards`` and ``seconds`` are of a walk, ``low``, ``middle`` and ``high`` gains in yards, the
    others percents as `percent` writes them.
    """

    best: str = "best spot for this play"
    stay: str = "stay where you are"
    walk: str = "walk {yards} yd, {seconds} s"
    cross: str = "cross behind closed ground, {yards} yd, {seconds} s"
    snap_missed: str = "one snap missed"
    snaps_missed: str = "{snaps} snaps missed"
    keep_moving: str = "keep moving"
    staying: str = "staying: {usable}"
    for_later: str = "for the plays after"
    run_out: str = "runs out near you: {run_out}"
    nothing: str = "nothing pays on this snap, {most} at best"
    snap_for: str = "use the snap for"
    no_spot: str = "no spot has a usable frame of this play"
    instead: str = "take a longer lens, or look for life around the game"
    caution: str = "players leave the field at speed: other eye open, leave early; staff decide."
    gain: str = "gain {low} to {high} yd in 8 plays of 10, middle {middle}"
    chances: str = "pass {passes} · first down {first_down} · touchdown {touchdown}"
    field_goal: str = "field goal"
    punt: str = "punt"
    go: str = "going for it"
    likely: str = "{first} likely ({p})"
    either: str = "{first} ({p}) or {second} ({q})"
    borrowed: str = ", as professionals choose"
    kicker: str = "for the kicker's face and a block at the line"
    clear: str = "keep clear of the posts, the net and the catcher"
    fakes: str = "fakes and blocks come back at the sideline"


ANSWER_WORDS = AnswerWords()

LIKELY = 0.6
"""From here on a choice on fourth down is likely; below it the two likelier ones are named."""
NAMED = 0.1
"""A choice on fourth down that is less likely is left out of the sentences."""


def ranked_choices(*, go: float, punt: float, field_goal: float) -> list[tuple[str, float]]:
    """Return the choices on fourth down by name, the likeliest first, as whole percents order them.

    The names are fields of `AnswerWords`.
    """
    chances = {"field_goal": field_goal, "punt": punt, "go": go}
    return sorted(chances.items(), key=lambda choice: -round(100.0 * choice[1]))


def fourth_down_lead(*, go: float, punt: float, field_goal: float, borrowed: bool = False) -> str:
    """Return what is likely on fourth down, to stand before where to be.

    ``borrowed``: whether it is what professionals do, as nothing of this level is counted.

    >>> fourth_down_lead(go=0.2, punt=0.02, field_goal=0.78)
    'field goal likely (78%)'
    >>> fourth_down_lead(go=0.45, punt=0.5, field_goal=0.05)
    'punt (50%) or going for it (45%)'
    """
    ranked = ranked_choices(go=go, punt=punt, field_goal=field_goal)
    (first, p), (second, q) = ((getattr(ANSWER_WORDS, name), p) for name, p in ranked[:2])
    template = ANSWER_WORDS.likely if round(100.0 * p) >= 100 * LIKELY else ANSWER_WORDS.either
    lead = template.format(first=first, p=percent(p), second=second, q=percent(q))
    return f"{lead}{ANSWER_WORDS.borrowed}" if borrowed else lead
