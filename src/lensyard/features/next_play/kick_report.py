"""The answer for a kick as a report, and as the document of ``lensyard next --play``."""

from __future__ import annotations

from typing import Any

from lensyard.domain.assignment import pays
from lensyard.domain.situation import PlayKind
from lensyard.features.next_play.answer import Answer
from lensyard.features.next_play.headline import FAKES, KEEP_CLEAR, PRACTICE, headline
from lensyard.features.next_play.kicks import KickAnswer, KickSpot
from lensyard.render.report import Column, Fact, Format, Report, Table
from lensyard.render.text import document, plain
from lensyard.render.words import (
    ANSWER_WORDS,
    attribution_of,
    joined,
    percent,
    sentence,
    walk_words,
)
from lensyard.sun.cautions import DEFERRAL, run_out_caution

_USABLE = {PlayKind.PUNT: "of punts usable, return or punter"}
"""Behind the chance in the headline; of other kicks it counts returns."""


def kick_report(answer: KickAnswer) -> Report:
    """Describe where to stand for a kick."""
    request, found = answer.request, answer.answer
    kick, facts = request.kick, answer.facts
    here = [spot for spot in answer.spots if spot.label != found.label]
    others = [
        spot.label if answer.practice else f"{spot.label} ({percent(spot.p_usable)})"
        for spot in here[:2]
        if pays(spot.p_usable, request.least_usable)
    ]
    texts = (
        f"frames: {PRACTICE}" if answer.practice else "",
        _counts(answer),
        f"next best: {joined(others)}" if others else "",
    )
    usable = f"{percent(found.p_usable)} {_USABLE.get(kick.play, 'of returns usable')}"
    decision = headline(found, usable=ANSWER_WORDS.kicker if answer.practice else usable)
    return Report(
        headline=sentence(f"{kick.text()}: {decision[:1].lower()}{decision[1:]}"),
        sentences=tuple(sentence(text) for text in texts if text),
        facts=tuple(
            fact
            for fact in (
                Fact("returned", "Returned", facts.p_returned, Format.PERCENT),
                Fact("touchback", "Touchback", facts.p_touchback, Format.PERCENT),
                Fact("made", "Made", facts.p_made, Format.PERCENT),
                Fact("blocked", "Blocked", facts.p_blocked, Format.PERCENT_1),
                Fact(
                    "walk", "Walk", walk_words(walk_yd=found.walk_yd, walk_s=found.walk_s) or None
                ),
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
    venue, found = answer.request.venue, answer.answer
    behind_end = found.x_yd < 0 or found.x_yd > 120
    setback_yd = venue.end_setback_yd if behind_end else venue.side_setback_yd
    own = (FAKES,) if answer.request.kick.play is not PlayKind.KICKOFF else ()
    clear = (KEEP_CLEAR,) if answer.practice else ()
    return (*own, *clear, run_out_caution(setback_yd=setback_yd).sentence, DEFERRAL)


def _walk(place: KickSpot | Answer) -> str:
    return walk_words(walk_yd=place.walk_yd, walk_s=None)


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
            "answer": plain(answer.answer),
            "kick": plain(answer.facts),
            "practice": answer.practice,
            "spots": [{"rank": rank, **plain(spot)} for rank, spot in enumerate(answer.spots, 1)],
        },
        model=answer.model,
        cautions=kick_cautions(answer),
    )
