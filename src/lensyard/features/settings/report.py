"""Venues and assignments in words: what a file comes to, and what in it may be a slip."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from lensyard.domain.assignment import (
    Assignment,
    Coverage,
    LightPreference,
)
from lensyard.domain.perimeter import Perimeter, perimeter_of
from lensyard.domain.shot_list import FRAME_OUTCOMES, schedule
from lensyard.domain.venue import (
    GOAL_POSTS,
    ClosedStretch,
    Edge,
    Venue,
    place_text,
    zone_named,
)
from lensyard.render.report import Report, Section
from lensyard.render.text import document
from lensyard.render.words import sentence
from lensyard.settings.files import NOTE_KEYS, PLACE_KEYS
from lensyard.sun.cautions import DEFERRAL, run_out_caution
from lensyard.units import FEET_PER_YARD, footcandles_from_lux

# Zones follow borders, and in summer run an hour ahead; farther off than this, the longitude's
# sign or the zone is likely wrong.
_ZONE_TOLERANCE_H = 3.5


def _zone_fits(venue: Venue) -> bool:
    """Whether the time zone can be that of the longitude; so where the place is not known."""
    if venue.longitude_deg is None:
        return True
    # Any date will do: daylight saving is within the tolerance.
    offset = datetime(2026, 1, 15, tzinfo=UTC).astimezone(zone_named(venue.time_zone)).utcoffset()
    hours = 0.0 if offset is None else offset.total_seconds() / 3600
    apart = (hours - venue.longitude_deg / 15.0 + 12.0) % 24.0 - 12.0
    return abs(apart) <= _ZONE_TOLERANCE_H


def venue_report(venue: Venue) -> Report:
    """Describe a venue."""
    uprights = f"{len(venue.posts)} goal-post support{'s' if len(venue.posts) != 1 else ''}"
    closed = tuple(_stretch_line(stretch, venue) for stretch in venue.closed)
    sections = (
        Section("Closed", closed or ("nothing",)),
        Section("Light", tuple(_light_lines(venue))),
        Section("House rules", venue.notes),
    )
    side_ft, end_ft = (s * FEET_PER_YARD for s in (venue.side_setback_yd, venue.end_setback_yd))
    return Report(
        headline=f"{venue.name}: {venue.rules.name} rules, {uprights} at each end"
        f"{', covered' if venue.covered else ''}.",
        sentences=(
            f"End A is the {venue.end_names[0]}, end B the {venue.end_names[1]}; facing the "
            f"{venue.end_names[1]}, the {venue.sideline_names[0]} is on the right.",
            f"Photographers stand {venue.side_setback_yd:g} yd ({side_ft:g} ft) outside the "
            f"sidelines and {venue.end_setback_yd:g} yd ({end_ft:g} ft) behind the end lines.",
        ),
        sections=tuple(section for section in sections if section.lines),
        notes=tuple(sentence(remark) for remark in venue_remarks(venue)),
        cautions=_cautions(venue),
    )


def venue_facts(venue: Venue | None, _: Path) -> dict[str, Any]:
    """Return a venue as one JSON document; ``venue`` holds the keys of a venue file.

    None is a file that is not usable.
    """
    # No estimate of plays stands behind a venue.
    if venue is None:
        return document({"remarks": [], "model": None, "cautions": [DEFERRAL]})
    perimeter = perimeter_of(venue)
    return document(
        {
            "venue": venue_document(venue),
            "symmetric": venue.symmetric,
            "open_yd": _open_yd(perimeter),
            "perimeter_yd": perimeter.length_yd,
            "remarks": venue_remarks(venue),
            "model": None,
            "cautions": _cautions(venue),
        }
    )


def _open_yd(perimeter: Perimeter) -> float:
    """Length of the perimeter that is open to photographers. [yd]"""
    return float(perimeter.open.mean()) * perimeter.length_yd


def _cautions(venue: Venue) -> tuple[str, ...]:
    """The run-out cautions for the sidelines and the ends, and who decides."""
    setbacks = dict.fromkeys((venue.side_setback_yd, venue.end_setback_yd))
    return (*(run_out_caution(setback_yd=s).sentence for s in setbacks), DEFERRAL)


def _stretch_line(stretch: ClosedStretch, venue: Venue) -> str:
    """A closed stretch: what, where, and what it means for a photographer."""
    if stretch.edge.is_sideline:
        where = f"{place_text(stretch.from_yd, venue)} to {place_text(stretch.to_yd, venue)}"
    else:
        corner = venue.edge_name(Edge.SIDELINE_A)
        where = f"{stretch.from_yd:g} to {stretch.to_yd:g} yd from the {corner}"
    view = "blocks the view" if stretch.blocks_view else "one sees across it"
    way = "one may pass behind it" if stretch.walk_behind else "no way behind it"
    return f"{stretch.name}: {venue.edge_name(stretch.edge)}, {where}; {view}, {way}"


def _light_lines(venue: Venue) -> list[str]:
    lines = []
    if venue.latitude_deg is not None and venue.longitude_deg is not None:
        lines.append(
            f"place: {_degrees(venue.latitude_deg, 'NS')}, {_degrees(venue.longitude_deg, 'EW')}, "
            f"time zone {venue.time_zone}; from the {venue.end_names[0]} to the "
            f"{venue.end_names[1]} is {venue.axis_bearing_deg:g} degrees from true north"
        )
    lines.extend(
        f"stands: {height:g} m high, {distance:g} yd behind the {venue.edge_name(edge)}"
        for edge, height, distance in zip(
            Edge, venue.stand_height_m, venue.stand_distance_yd, strict=True
        )
        if height > 0
    )
    if venue.illuminance_lx > 0:
        lines.append(
            f"floodlights: {venue.illuminance_lx:.0f} lx "
            f"({footcandles_from_lux(venue.illuminance_lx):.0f} footcandles)"
        )
    return lines


def _degrees(value_deg: float, letters: str) -> str:
    return f"{abs(value_deg):g} {letters[0] if value_deg >= 0 else letters[1]}"


def venue_remarks(venue: Venue) -> list[str]:
    """Return what may be a slip, or surprise."""
    perimeter = perimeter_of(venue)
    open_yd, spots = _open_yd(perimeter), perimeter.spots
    found = [f"{open_yd:.0f} of {perimeter.length_yd:.0f} yd of the perimeter are open"]
    if not np.isfinite(perimeter.walk_yd[np.ix_(spots, spots)]).all():
        found.append(
            "closed stretches without a way behind them cut the perimeter in two: some spots "
            "cannot be reached from others during the game"
        )
    if not venue.symmetric:
        found.append(
            "the two ends are not alike for photographers; say toward which end the offense plays "
            "(--attacking)"
        )
    if not venue.has_place and not venue.covered:
        found.append("without place, time zone and bearing nothing can be said about the sun")
    if not _zone_fits(venue):
        found.append(
            f"time zone {venue.time_zone} does not fit longitude {venue.longitude_deg:g}; west of "
            "Greenwich, America included, is negative"
        )
    if venue.illuminance_lx == 0:
        found.append("no floodlights are given: after dusk nothing is said about exposure")
    return found


_COVERAGE = {
    Coverage.BOTH: "both teams' plays count",
    Coverage.HOME: "the home team's plays count",
    Coverage.AWAY: "the visiting team's plays count",
}
_LIGHT = {
    LightPreference.IGNORE: "light does not change the order of spots",
    LightPreference.AVOID_BACKLIGHT: "backlit spots go down in the order",
    LightPreference.PREFER_BACKLIGHT: "front-lit spots go down in the order",
}
_OUTCOMES = {
    "touchdown": "touchdown",
    "gain20": "gain of 20 yd or more",
    "incompletion": "incompletion",
    "interception": "interception",
    "sack": "sack",
    "other": "any other carry or catch",
}


def assignment_report(assignment: Assignment) -> Report:
    """Describe an assignment."""
    weights = assignment.weights
    order = sorted(_OUTCOMES, key=lambda name: -getattr(weights, name))
    value = ", ".join(f"{_OUTCOMES[name]} {getattr(weights, name):g}" for name in order)
    due = tuple(f"{one.words}: {one.minutes:g} min of work" for one in assignment.deadlines)
    home = tuple(f"{f.title} ({f.key}; {f.when})" for f in assignment.must_have)
    return Report(
        headline=sentence(
            f"{assignment.name}: {assignment.about}" if assignment.about else assignment.name
        ),
        sentences=(
            sentence(
                f"the {assignment.faces.value}'s faces; {_COVERAGE[assignment.coverage]}; "
                f"{_LIGHT[assignment.light]}"
            ),
            f"A usable frame is worth: {value}.",
        ),
        sections=(
            *((Section("To bring home", home),) if home else ()),
            *((Section(f"Due at the desk, {assignment.desk}", due),) if due else ()),
        ),
        notes=tuple(sentence(remark) for remark in assignment_remarks(assignment)),
    )


def assignment_document(assignment: Assignment | None, path: Path) -> dict[str, Any]:
    """Return an assignment as one JSON document; None is a file that is not usable."""
    # No estimate of plays stands behind an assignment.
    rest: dict[str, Any] = {"model": None, "cautions": []}
    if assignment is None:
        return document({"remarks": [], **rest})
    facts = {"path": path, "assignment": assignment, "remarks": assignment_remarks(assignment)}
    return document(facts | rest)


def assignment_remarks(assignment: Assignment) -> list[str]:
    """Return what may be a slip, or surprise."""
    weights, found = assignment.weights, []
    if not assignment.must_have:
        found.append("there is no shot list: nothing can be ticked")
    for key, outcomes in FRAME_OUTCOMES.items():
        listed = any(frame.key == key for frame in assignment.must_have)
        if listed and all(getattr(weights, name) == 0 for name in outcomes):
            found.append(
                f"{key} is on the shot list, but {' and '.join(outcomes)} weigh 0: no spot is "
                "chosen for it"
            )
    if weights.touchdown < weights.other:
        found.append("an ordinary play is worth more than a touchdown; that may be meant")
    crowded = [s.frame.key for s in schedule(assignment.must_have) if s.slot is None]
    if crowded:
        found.append(f"no break has room for {', '.join(crowded)}: they cost plays")
    return found


STRETCH_KEYS = ("name", "front_yd", "depth_yd", "blocks_view", "walk_behind")


def venue_document(venue: Venue) -> dict[str, Any]:
    """Return a venue in the keys of its file, with nothing left to defaults.

    Team areas stand among the closed stretches and the floodlights in lux, so a file with these
    values gives the same venue. Goal posts of neither usual form are ``custom``, which no file can
    say; latitude, longitude and time zone are missing where they are not known.
    """
    from lensyard.settings.schema import EDGE_TABLES

    posts = [name for name, posts in GOAL_POSTS.items() if posts == venue.posts]
    document: dict[str, Any] = {"name": venue.name, "rules": venue.rules.name}
    if venue.has_place:
        document |= {key: getattr(venue, key) for key in PLACE_KEYS}
    return document | {
        "end_names": list(venue.end_names),
        "sideline_names": list(venue.sideline_names),
        "side_setback_yd": venue.side_setback_yd,
        "end_setback_yd": venue.end_setback_yd,
        "goal_posts": posts[0] if posts else "custom",
        "covered": venue.covered,
        "team_areas": {"from_yard_line": "none"},
        "closed": [
            {"edge": one.edge.value, "from": one.from_yd, "to": one.to_yd, "kind": one.kind.value}
            | {key: getattr(one, key) for key in STRETCH_KEYS}
            for one in venue.closed
        ],
        "floodlights": {"lux": venue.illuminance_lx},
        "stands": {
            edge: {"height_m": height, "distance_yd": distance}
            for edge, height, distance in zip(
                EDGE_TABLES, venue.stand_height_m, venue.stand_distance_yd, strict=True
            )
        },
        "house_rules": _house_rules(venue.notes),
    }


def _house_rules(notes: tuple[str, ...]) -> dict[str, Any]:
    house: dict[str, Any] = {}
    other: list[str] = []
    for note in notes:
        key, _, text = note.partition(": ")
        if key in NOTE_KEYS and text and key not in house and not other:
            house[key] = text
        else:
            other.append(note)
    return house | {"other": other}
