"""What is said of kicks: the report of one, and what leads an answer on fourth down."""

from __future__ import annotations

from typing import Any

from lensyard.domain.situation import PlayKind
from lensyard.features.next_play.compute import PlayChoice
from lensyard.features.next_play.kicks import KickAnswer, KickSpot
from lensyard.render.report import Column, Fact, Format, Report, Table
from lensyard.render.text import document, plain
from lensyard.render.words import (
    ANSWER_WORDS,
    at_place,
    attribution_of,
    joined,
    percent,
    sentence,
    walk_words,
)
from lensyard.sun.cautions import DEFERRAL, run_out_caution

LIKELY = 0.6
"""From here on a choice is likely; below it the two likelier ones are named."""
NAMED = 0.1
"""A choice on fourth down that is less likely is left out of the sentences."""

PRACTICE = "common practice, from memory; no plays are counted for it"
KEEP_CLEAR = (
    "Keep clear of the posts and the net, and of whoever catches the ball behind the goal: no "
    "place within 3 yd of an upright or between them is named."
)
FAKES = "Not every kick is kicked: fakes and blocks come back at the sideline, fast."
_CHOICES = {"p_field_goal": "field goal", "p_punt": "punt", "p_go": "going for it"}
_FRAMES = {
    "p_field_goal": f"the kicker's face and a block at the line ({PRACTICE})",
    "p_punt": "the return, coming back at the kicking team, else the punter",
}
_USABLE = {PlayKind.PUNT: "of punts usable, return or punter"}
"""Behind the chance in the headline; of other kicks it counts returns."""


def led_by_fourth_down(headline: str, kicks: PlayChoice | None) -> str:
    """Return a headline that begins with what is likely on fourth down; elsewhere as it is.

    >>> led_by_fourth_down("Stay.", PlayChoice(0.2, 0.02, 0.78))
    'Field goal likely (78%): stay.'
    >>> led_by_fourth_down("Stay.", PlayChoice(0.45, 0.5, 0.05))
    'Punt (50%) or going for it (45%): stay.'
    """
    if kicks is None:
        return headline
    (first, p), (second, q) = _ranked(kicks)[:2]
    if p >= LIKELY:
        lead = f"{_CHOICES[first]} likely ({percent(p)})"
    else:
        lead = f"{_CHOICES[first]} ({percent(p)}) or {_CHOICES[second]} ({percent(q)})"
    return sentence(f"{lead}: {headline[:1].lower()}{headline[1:]}")


def fourth_down_frames(kicks: PlayChoice | None) -> str:
    """Return what each likely choice gives a frame of, without a full stop; elsewhere nothing."""
    if kicks is None:
        return ""
    return "; ".join(
        f"{_CHOICES[name]} ({percent(p)}): {_FRAMES[name]}"
        for name, p in _ranked(kicks)
        if p >= NAMED and name != "p_go"
    )


def of_going(reason: str, kicks: PlayChoice | None) -> str:
    """Return why a spot is good, said of going for it on fourth down."""
    return reason if kicks is None else f"if they go for it ({percent(kicks.p_go)}): {reason}"


def fourth_down_cautions(kicks: PlayChoice | None) -> tuple[str, ...]:
    """Return the cautions that the likely kicks bring."""
    if kicks is None:
        return ()
    cautions = (FAKES,) if max(kicks.p_punt, kicks.p_field_goal) >= NAMED else ()
    return (*cautions, KEEP_CLEAR) if kicks.p_field_goal >= NAMED else cautions


def brief_caution(kicks: PlayChoice | None) -> str:
    """Return the one line of caution of a short answer, with what a likely kick adds."""
    caution = ANSWER_WORDS.caution
    if kicks is None or max(kicks.p_punt, kicks.p_field_goal) < NAMED:
        return caution
    goal = kicks.p_field_goal >= NAMED
    clear = "keep clear of the posts, the net and the catcher; " if goal else ""
    return f"{clear}fakes and blocks come back at the sideline; {caution}"


def _ranked(found: PlayChoice) -> list[tuple[str, float]]:
    chances = {name: float(getattr(found, name)) for name in _CHOICES}
    return sorted(chances.items(), key=lambda item: -item[1])


def kick_report(answer: KickAnswer) -> Report:
    """Describe where to stand for a kick."""
    request, best = answer.request, answer.best
    kick, facts = request.kick, answer.facts
    others = [
        spot.label if answer.practice else f"{spot.label} ({percent(spot.p_usable)})"
        for spot in answer.spots[1:3]
    ]
    texts = (
        f"frames: {PRACTICE}" if answer.practice else "",
        _counts(answer),
        f"next best: {joined(others)}" if others else "",
    )
    usable = f"{percent(best.p_usable)} {_USABLE.get(kick.play, 'of returns usable')}"
    what = "for the kicker's face and a block at the line" if answer.practice else usable
    return Report(
        headline=sentence(f"{kick.text()}: stand {at_place(best.label)}: {what}"),
        sentences=tuple(sentence(text) for text in texts if text),
        facts=tuple(
            fact
            for fact in (
                Fact("returned", "Returned", facts.p_returned, Format.PERCENT),
                Fact("touchback", "Touchback", facts.p_touchback, Format.PERCENT),
                Fact("made", "Made", facts.p_made, Format.PERCENT),
                Fact("blocked", "Blocked", facts.p_blocked, Format.PERCENT_1),
                Fact("walk", "Walk", _walk(best) or None),
                Fact("kit", "Kit", request.kit.text),
            )
            if fact.value is not None
        ),
        tables=(_table(answer),),
        notes=_notes(answer),
        cautions=kick_cautions(answer),
        sources=(attribution_of(answer.model),),
    )


def _counts(answer: KickAnswer) -> str:
    facts, play = answer.facts, answer.request.kick.play
    if facts.p_returned is not None:
        deep = percent(facts.p_touchback or 0.0)
        far = percent(facts.p_return_touchdown or 0.0)
        return (
            f"of such kicks {percent(facts.p_returned)} were returned, {far} all the way; {deep} "
            "were touchbacks"
        )
    if facts.p_made is not None:
        return f"such a kick is good {percent(facts.p_made)} of the time"
    return "nearly every free kick is returned" if play is PlayKind.FREE_KICK else ""


def _notes(answer: KickAnswer) -> tuple[str, ...]:
    request, facts = answer.request, answer.facts
    line = 100 - request.kick.yardline_100
    notes = []
    if facts.counted_from not in (None, line):
        notes.append(
            f"Counted on professional kickoffs from the {facts.counted_from} and moved to the "
            f"{line}; how many come back there is not known."
        )
    if request.kick.play is PlayKind.KICKOFF:
        notes.append("An onside kick stays within some 15 yd of the line of the kick.")
    if request.kick.play is PlayKind.TRY:
        rules = request.venue.rules
        notes.append(
            "A try for two points is a snap from scrimmage: ask for it as a goal-line play, "
            f"--down 4 --distance {rules.try_yard_line} --ball opp{rules.try_yard_line}."
        )
    return tuple(notes)


def kick_cautions(answer: KickAnswer) -> tuple[str, ...]:
    """Return what can hurt or mislead about a kick; the last says who decides."""
    venue, best = answer.request.venue, answer.best
    behind_end = best.x_yd < 0 or best.x_yd > 120
    setback_yd = venue.end_setback_yd if behind_end else venue.side_setback_yd
    own = (FAKES,) if answer.request.kick.play is not PlayKind.KICKOFF else ()
    clear = (KEEP_CLEAR,) if answer.practice else ()
    return (*own, *clear, run_out_caution(setback_yd=setback_yd).sentence, DEFERRAL)


def _walk(spot: KickSpot) -> str:
    return walk_words(walk_yd=spot.walk_yd, walk_s=None)


def _table(answer: KickAnswer) -> Table:
    walk = answer.standing_index is not None
    return Table(
        key="spots",
        title="Places, best first",
        columns=(
            Column("rank", "", Format.COUNT),
            Column("where", "Where"),
            Column("usable", "Usable", Format.PERCENT),
            *((Column("walk", "Walk"),) if walk else ()),
        ),
        rows=tuple(
            (rank, spot.label, spot.p_usable, *((_walk(spot),) if walk else ()))
            for rank, spot in enumerate(answer.spots, 1)
        ),
    )


def kick_document(answer: KickAnswer) -> dict[str, Any]:
    """Return the answer as one JSON document (``lensyard next --play ... --json``)."""
    request = answer.request
    kick = request.kick
    return document(
        {
            "situation": {
                "play": kick.play.value,
                "yardline_100": kick.yardline_100,
                "text": kick.text(),
            },
            "kit": request.kit.text,
            "venue": request.venue.name,
            "kick": plain(answer.facts),
            "practice": answer.practice,
            "spots": [{"rank": rank, **plain(spot)} for rank, spot in enumerate(answer.spots, 1)],
        },
        model=answer.model,
        cautions=kick_cautions(answer),
    )
