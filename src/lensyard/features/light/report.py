"""The light over a game as a report, and as the JSON document of ``lensyard light``."""

from __future__ import annotations

from math import isinf
from typing import Any

from lensyard.features.light.compute import LensReport, LightAnswer
from lensyard.render.light import (
    edges_table,
    iso_table,
    kickoff_text,
    light_charts,
    light_facts,
    light_headline,
    light_notes,
    light_warnings,
    sun_table,
)
from lensyard.render.report import Format, Report, Section, Table, table_of
from lensyard.render.text import document, plain
from lensyard.render.words import sentence
from lensyard.sun.exposure import dial_shutter_s, shutter_text
from lensyard.sun.game_light import QuarterLight


def light_report(answer: LightAnswer) -> Report:
    """Describe the light over a game: can the kit do it, the sun, the edges, the lenses."""
    light = answer.light
    venue, kit = light.request.venue, light.request.kit
    tables = (sun_table(light), edges_table(light), iso_table(light), _lens_table(answer))
    track, charts = light_charts(light)
    return Report(
        headline=light_headline(light),
        sentences=(
            f"{venue.name}, {kickoff_text(light.kickoff.at)}; {kit.text}.",
            *(sentence(warning) for warning in light_warnings(light)),
        ),
        facts=light_facts(light),
        tables=(*(table for table in tables if table.rows), *track),
        charts=charts,
        sections=tuple(
            Section(lens.lens, lines) for lens in answer.lenses if (lines := _lens_lines(lens))
        ),
        notes=tuple(sentence(note) for note in light_notes(light)),
        cautions=tuple(caution.sentence for caution in answer.cautions),
    )


def _lens_table(answer: LightAnswer) -> Table:
    shutter = shutter_text(answer.light.request.shutter_s)
    return table_of(
        "lenses",
        "Each lens at a distance, wide open",
        answer.lenses,
        ("lens", "Lens"),
        ("distance_yd", "Distance", Format.YARDS),
        ("freeze_crossing", "Freezes crossing", lambda lens: _dial(lens.freeze_crossing_s)),
        ("freeze_approaching", "approaching", lambda lens: _dial(lens.freeze_approaching_s)),
        ("smear_px", "Smear [px]", Format.COUNT),
        ("depth_front_yd", "Sharp before [yd]", Format.DECIMAL),
        ("depth_behind_yd", "behind [yd]", Format.DECIMAL),
        ("share", "Player fills", Format.PERCENT, lambda lens: lens.player_share_of_frame),
        ("height_px", "Player [px]", Format.COUNT, lambda lens: lens.player_height_px),
        note=f"Freezing and smear (at {shutter}) are for a sprinter's head and trunk, the camera "
        "not panned along; a player fills a share of the frame's height.",
    )


def _dial(shutter_s: float) -> str:
    return shutter_text(dial_shutter_s(shutter_s, shorter=True))


def _lens_lines(lens: LensReport) -> tuple[str, ...]:
    """What the table of lenses has no room for."""
    lines = [] if lens.covers_distance else ["The distance is outside what it covers."]
    if isinf(lens.depth_behind_yd):
        lines.append("Sharp to infinity behind the player.")
    if lens.converter is not None:
        cost = lens.converter
        lines.append(
            f"The {cost.magnification:g}x converter costs {cost.stops:.1f} stops: ISO times "
            f"{cost.iso_factor:.1f}."
        )
    return tuple(lines)


def light_document(answer: LightAnswer) -> dict[str, Any]:
    """Return the answer as plain values: angles in degrees, times as ISO 8601 with their offset."""
    light = answer.light
    request = light.request
    return document(
        {
            "venue": request.venue.name,
            "kickoff": light.kickoff.at,
            "time_zone": request.venue.time_zone,
            "kit": request.kit.text,
            "sky": request.sky,
            "max_iso": request.max_iso,
            "shutter_s": request.shutter_s,
            "sun": light.sun,
            "quarters": [_quarter(quarter) for quarter in light.quarters],
            "floodlights": light.floodlights,
            "lenses": answer.lenses,
            "warnings": light_warnings(light),
            "notes": light_notes(light),
            # No estimate of plays stands behind the light.
            "model": None,
        },
        cautions=[caution.sentence for caution in answer.cautions],
    )


def _quarter(quarter: QuarterLight) -> dict[str, Any]:
    return {
        "name": quarter.span.name,
        "start": quarter.span.start,
        "end": quarter.span.end,
        "first": quarter.first,
        "last": quarter.last,
        **plain(quarter.scene),
        "exposure": quarter.exposure,
    }
