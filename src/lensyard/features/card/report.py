"""What an offline card says: its sentences as templates for the script, its facts and cautions."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from lensyard.domain.situation import ball_text
from lensyard.domain.venue import Edge
from lensyard.features.card.compute import CardContent, card_document
from lensyard.features.card.tables import LESS_THAN_ONE, MORE_THAN_99, YARD_LINES
from lensyard.planner.plans import PlanRequest
from lensyard.render.light import edges_table, kickoff_text, light_warnings
from lensyard.render.text import document
from lensyard.render.words import ANSWER_WORDS, attribution_of, percent, sentence
from lensyard.sun.cautions import DEFERRAL, lightning_caution, run_out_caution
from lensyard.sun.game_light import GameLight, KickoffLight


def card_words(content: CardContent, light: KickoffLight | None = None) -> dict[str, Any]:
    """Return everything that the card says; the script fills the templates in ``words``."""
    return {
        "words": asdict(ANSWER_WORDS),
        "percents": percent_texts(),
        "balls": [ball_text(yardline_100) for yardline_100 in range(1, YARD_LINES + 1)],
        "facts": card_facts(content),
        "cautions": card_cautions(content.request),
        "light": None if light is None else _light(light),
        "frames": [
            {
                "key": frame.key,
                "kind": frame.kind.value,
                "title": sentence(frame.title)[:-1],
                "about": sentence("; ".join(filter(None, (frame.when, frame.where))))[:-1],
            }
            for frame in content.frames
        ],
    }


def percent_texts() -> list[str]:
    """Return the text of every percent code of the tables, as it is said everywhere.

    >>> percent_texts()[58], percent_texts()[LESS_THAN_ONE]
    ('58%', '<1%')
    """
    special = {LESS_THAN_ONE: 0.001, MORE_THAN_99: 0.999}
    return [percent(special.get(code, code / 100)) for code in range(MORE_THAN_99 + 1)]


def card_facts(content: CardContent) -> list[tuple[str, str]]:
    """Return what the card holds for, each with its name."""
    request = content.request
    venue, assignment, walking = request.venue, request.assignment, request.walking
    facts = [("Venue", f"{venue.name} ({venue.rules.name} rules)")]
    if venue.notes:
        facts.append(("House rules", "; ".join(venue.notes)))
    longest = content.grid.longest_yd
    answers = (
        "even score, middle of the second quarter; "
        f"distances exact to {longest - 1}, {longest} stands for more"
    )
    if len(content.hash_codes) == 1:
        answers += "; hash marks left out"
    elif 1 not in content.hash_codes:
        answers += "; a ball in the middle counts as not said"
    return [
        *facts,
        ("Kit", request.kit.text),
        ("Assignment", ": ".join(filter(None, (assignment.name, assignment.about)))),
        (
            "Walking",
            f"{walking.drive_limit_yd:g} yd between plays, {walking.change_limit_yd:g} yd when the "
            "ball changes hands",
        ),
        ("Answers for", answers),
        ("Model and data", f"{attribution_of(content.model)} {content.model['license']}"),
        ("Card", content.solved.key[:16]),
    ]


def card_cautions(request: PlanRequest) -> tuple[str, ...]:
    """Return the usual cautions, ending with who decides."""
    venue = request.venue
    setbacks = dict.fromkeys((venue.side_setback_yd, venue.end_setback_yd))
    notes = [run_out_caution(setback_yd=s).sentence for s in setbacks]
    if not venue.covered:
        notes.append(lightning_caution().sentence)
    return (*notes, DEFERRAL)


def _light(at_kickoff: KickoffLight) -> dict[str, Any]:
    """When the game begins, a line a quarter with its heading, and what to know about it."""
    light = at_kickoff.light
    return {
        "when": kickoff_text(at_kickoff.kickoff.at),
        "lines": [] if light is None else _light_lines(light),
        "note": sentence(at_kickoff.note)
        if light is None
        else " ".join([edges_table(light).note, *map(sentence, light_warnings(light))]),
    }


def _light_lines(light: GameLight) -> list[tuple[str, str]]:
    table = edges_table(light)
    names = [column.label for column in table.columns[-len(Edge) :]]
    lines = []
    for row in table.rows:
        kinds = [str(cell) for cell in row[-len(Edge) :]]
        seen = " · ".join(f"{name} {kind}" for name, kind in zip(names, kinds, strict=True))
        if len(set(kinds)) == 1:
            seen = f"{kinds[0]} everywhere"
        lines.append((f"{row[0]}, {row[1]}, sun {row[2]}", seen))
    return lines


def card_written(content: CardContent, *, path: str, size_bytes: int) -> dict[str, Any]:
    """Return what was written, as one JSON document (``lensyard card --json``)."""
    request, figures = content.request, card_document(content)
    kept = ("card_version", "key", "longest_yd", "hashes", "directions")
    return document(
        {
            **{name: figures[name] for name in kept},
            "path": path,
            "size_bytes": size_bytes,
            "kit": request.kit.text,
            "venue": request.venue.name,
            "assignment": request.assignment.name,
            "frames": [frame.key for frame in content.frames],
        },
        model=content.model,
        cautions=card_cautions(request),
    )
