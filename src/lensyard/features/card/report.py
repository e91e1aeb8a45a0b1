"""What an offline card says, and the card as one HTML file that answers without a network.

The page's structure is in ``card.html``, its style in ``card.css``, what it does in ``card.js``;
`card_html` joins them with the tables and the words, which the script fills in. A content security
policy in the file itself forbids every connection: only the one script and the one style sheet
whose hashes it names may run. Words that people wrote (venue, kit, shot list) reach the page as
data and are set as text by the script; what stands in the markup is escaped.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import zlib
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from html import escape
from importlib.resources import files
from typing import Any

import numpy as np

from lensyard.domain.assignment import FRAMES, Window
from lensyard.domain.field import Direction
from lensyard.domain.situation import ball_text
from lensyard.domain.venue import Edge
from lensyard.errors import InvalidInputError
from lensyard.features.card.compute import CardContent, card_document
from lensyard.features.card.grid import LESS_THAN_ONE, MORE_THAN_99, USUAL, YARD_LINES
from lensyard.features.game_log.report import RESULT_WORDS
from lensyard.features.game_plan.filing import Filing
from lensyard.features.game_plan.report import leave_words
from lensyard.game.course import OFFERED
from lensyard.game.rules import PENALTIES
from lensyard.planner.plans import PlanRequest
from lensyard.render.field.draw import field_svg
from lensyard.render.field.picture import FieldPicture, station_marks
from lensyard.render.light import edges_table, kickoff_text, light_warnings
from lensyard.render.text import document, plain
from lensyard.render.theme import NIGHT, SUNLIGHT, Theme
from lensyard.render.words import ANSWER_WORDS, attribution_of, percent, sentence
from lensyard.sun.cautions import DEFERRAL, lightning_caution, run_out_caution
from lensyard.sun.game_light import GameLight, KickoffLight
from lensyard.units import SECONDS_PER_QUARTER

CLOCK_S_A_PLAY = 22
"""Clock that passes from one logged play to the next, kicks and tries included: four quarters over
the 164 snaps of a game (43,706 in the 267 games of 2019). [s]"""

GAME_WORDS = {
    "home": "Home",
    "away": "Visitors",
    "has_ball": "{team} ball",
    "kicks": "{team} kick off",
    "tries": "{team} try",
    "score": "{home} : {away}",
    "kickoff": "Kickoff, {ball}",
    "try": "Try, by a kick",
    "over": "The game is over",
    "kick_off": "Kickoff",
    "goal": "goal line",
    "own_goal": "own goal line",
    "set_mode": "Set the ball",
    "log_mode": "Log plays",
    "tap_set": "Tap the field: the ball. Beside it: where you stand.",
    "tap_ball": "Tap where the ball is now, or say what else it was.",
    "tap_kick": "Tap where the return ended, or say what else it was.",
    "leave_in": "Leave for the desk in about {clock} of the clock, some {plays} plays: {when}.",
    "leave_at": "Leave for the desk: {when}.",
    "leave_min": "Leave for the desk in {min} min, at {time}.",
    "leave_now": "Leave for the desk now.",
    "leave_whistle": "Leave for the desk at the whistle.",
    "missing": "Still missing: {frames}",
    "all_had": "Every must-have is had",
}
"""What the card says of the course of a game; names in braces are filled by the script."""


def card_words(
    content: CardContent,
    light: KickoffLight | None = None,
    told: Sequence[tuple[str, str]] = (),
    filing: Sequence[dict[str, Any]] = (),
) -> dict[str, Any]:
    """Return everything that the card says; the script fills the templates in ``words``."""
    return {
        "words": {**asdict(ANSWER_WORDS), **GAME_WORDS},
        "results": {**RESULT_WORDS, **{one.key: one.title for one in PENALTIES}},
        "offered": OFFERED,
        "likely": {key: FRAMES[key].title for key in ("drop-back", "defense-big-play")},
        "percents": percent_texts(),
        "balls": [ball_text(yardline_100) for yardline_100 in range(1, YARD_LINES + 1)],
        "facts": card_facts(content, told),
        "filing": filing,
        "quarter_s": SECONDS_PER_QUARTER,
        "clock_s_a_play": CLOCK_S_A_PLAY,
        "cautions": card_cautions(content.request),
        "light": None if light is None else _light(light),
        "frames": [
            {
                "key": frame.key,
                "kind": frame.kind.value,
                "in_play": Window.IN_PLAY in frame.windows and Window.AFTER not in frame.windows,
                "minutes": frame.minutes,
                "said": frame.title,
                "title": sentence(frame.title)[:-1],
                "about": sentence("; ".join(filter(None, (frame.when, frame.where))))[:-1],
            }
            for frame in content.frames
        ],
    }


def leaving(filing: Sequence[Filing], *, kickoff: datetime | None) -> list[dict[str, Any]]:
    """Return when to leave for each deadline, as the script counts down to it.

    ``left_s`` is to the end of ``quarter``; ``at`` a time of day, by the venue's clock.
    """
    found = []
    for one in filing:
        chosen, at = one.chosen, None
        if chosen.leave_min is not None and kickoff is not None:
            moment = kickoff.replace(tzinfo=None) + timedelta(minutes=chosen.leave_min)
            at = moment.isoformat(timespec="minutes")
        found.append(
            {
                "quarter": one.quarter,
                "left_s": chosen.left_s,
                "at": at,
                "when": leave_words(one, chosen),
            }
        )
    return found


def percent_texts() -> list[str]:
    """Return the text of every percent code of the tables, as it is said everywhere.

    >>> percent_texts()[58], percent_texts()[LESS_THAN_ONE]
    ('58%', '<1%')
    """
    special = {LESS_THAN_ONE: 0.001, MORE_THAN_99: 0.999}
    return [percent(special.get(code, code / 100)) for code in range(MORE_THAN_99 + 1)]


def card_facts(content: CardContent, told: Sequence[tuple[str, str]] = ()) -> list[tuple[str, str]]:
    """Return what the card holds for, each with its name; ``told`` comes first."""
    request = content.request
    venue, assignment, walking = request.venue, request.assignment, request.walking
    facts = [("Venue", f"{venue.name} ({venue.rules.name} rules)")]
    if venue.notes:
        facts.append(("House rules", "; ".join(venue.notes)))
    longest = content.grid.longest_yd
    answers = (
        f"{'; '.join(one.text for one in (USUAL, *content.moments))}; "
        f"distances exact to {longest - 1}, {longest} stands for more"
    )
    if len(content.hash_codes) == 1:
        answers += "; hash marks left out"
    elif 1 not in content.hash_codes:
        answers += "; a ball in the middle counts as not said"
    return [
        *told,
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
    light, note = at_kickoff.light, sentence(at_kickoff.note)
    if light is not None:
        said = (edges_table(light).note or note, *map(sentence, light_warnings(light)))
        note = " ".join(filter(None, said))
    return {
        "when": kickoff_text(at_kickoff.kickoff.at),
        "lines": [] if light is None else _light_lines(light),
        "note": note,
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


LARGEST_BYTES = 1_000_000
FIELD_WIDTH_PX = 390.0

# 85 printable characters without those that mean something in HTML or in quotes: four bytes in
# five of them.
DIGITS = "".join(c for c in map(chr, range(33, 127)) if c not in "\"&'<>\\`")[:85]


def card_html(
    content: CardContent,
    light: KickoffLight | None = None,
    told: Sequence[tuple[str, str]] = (),
    filing: Sequence[dict[str, Any]] = (),
) -> str:
    """Return the card as one HTML file, the same for the same content and light.

    ``told`` are further lines, each with its name: when to leave for the desk, what others cover;
    ``filing`` is what the card counts down to (`leaving`).

    Raises `InvalidInputError` if it would be larger than a megabyte.
    """
    request, tables = content.request, content.packed.payload
    script = _resource("state.js") + _resource("card.js")
    style = _style()
    found = plain({**card_document(content), **card_words(content, light, told, filing)})
    facts = json.dumps(found, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    packed = zlib.compress(facts.encode(), 9)
    html = _resource("card.html") % {
        "policy": (
            f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; "
            "base-uri 'none'; form-action 'none'"
        ),
        "title": escape(f"Card: {request.venue.name}, {request.assignment.name}"),
        "style": style,
        "field": field_template(_picture(content)),
        "digits": escape(DIGITS),
        "facts": in_digits(packed),
        "facts_bytes": len(packed),
        "tables": in_digits(tables),
        "tables_bytes": len(tables),
        "script": script,
    }
    size = len(html.encode())
    if size > LARGEST_BYTES:
        raise InvalidInputError(
            f"the card takes {size:,} bytes; expected at most {LARGEST_BYTES:,}. Use a venue with "
            "fewer closed stretches"
        )
    return html


def _picture(content: CardContent) -> FieldPicture:
    venue = content.request.venue
    return FieldPicture.of(
        venue,
        Direction.TOWARD_B,
        stations=station_marks(content.solved.scorers[0].perimeter, Direction.TOWARD_B),
        title=f"The field of {venue.name}",
        tappable=True,
    )


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode()).digest()
    return f"sha256-{base64.b64encode(digest).decode()}"


def in_digits(data: bytes) -> str:
    """Return bytes as text: five of `DIGITS` for every four bytes, the last ones filled with zeros.

    >>> in_digits(b"\\x00\\x00\\x00\\x01"), len(in_digits(b"12345"))
    ('!!!!#', 10)
    """
    words = np.frombuffer(data + bytes(-len(data) % 4), dtype=">u4").astype(np.int64)
    places = len(DIGITS) ** np.arange(4, -1, -1)
    digits = np.frombuffer(DIGITS.encode(), dtype=np.uint8)
    text: bytes = digits[words[:, np.newaxis] // places % len(DIGITS)].tobytes()
    return text.decode()


def field_template(picture: FieldPicture) -> str:
    """Return the field as SVG whose colors are the page's variables, so that it follows the theme.

    The picture is drawn once with a color of its own for every role, and each is replaced by the
    variable of that role.
    """
    roles = SUNLIGHT.colors()
    marks = {role: f"#7E{i:02X}5B" for i, role in enumerate(roles)}
    bands = (marks["band_1"], marks["band_2"], marks["band_3"])
    plain = {role: mark for role, mark in marks.items() if not role.startswith("band_")}
    plain["band_edge"] = marks["band_edge"]
    theme = Theme(name="card", band=bands, **plain)
    svg = field_svg(picture, theme=theme, width_px=FIELD_WIDTH_PX, legend=False)
    for role, mark in marks.items():
        svg = svg.replace(mark, f"var(--{role.replace('_', '-')})")
    # The policy forbids style attributes; the style sheet sizes the picture.
    return re.sub(r' style="[^"]*"', "", svg)


def _style() -> str:
    light, dark = (
        "".join(f"--{role.replace('_', '-')}:{color};" for role, color in theme.colors().items())
        for theme in (SUNLIGHT, NIGHT)
    )
    return (
        f":root{{color-scheme:light;{light}}}"
        "@media (prefers-color-scheme:dark)"
        f"{{:root:not([data-theme=light]){{color-scheme:dark;{dark}}}}}"
        f":root[data-theme=dark]{{color-scheme:dark;{dark}}}" + _resource("card.css")
    )


def _resource(name: str) -> str:
    return files("lensyard.features.card").joinpath(name).read_text(encoding="utf-8")
