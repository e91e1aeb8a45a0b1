"""The light over a game as one JSON document (the contract of ``lensyard light --json``)."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Any

from lensyard.domain.venue import Venue
from lensyard.light.exposure import KitFinding, ShutterFinding
from lensyard.light.seen import seen_kind
from lensyard.light.sides import EdgeLight, SideLight
from lensyard.light.sun import SunEvents, TimeSpan
from lensyard.service.light_lenses import LensReport
from lensyard.service.light_report import LightReport, QuarterLight

LIGHT_SCHEMA_VERSION = 1


def light_document(report: LightReport) -> dict[str, Any]:
    """Return a report as plain values: angles in degrees, times as ISO 8601 with their offset."""
    request = report.request
    venue = request.venue
    lamps = report.floodlights
    return {
        "schema_version": LIGHT_SCHEMA_VERSION,
        "venue": venue.name,
        "kickoff": report.kickoff.at.isoformat(),
        "time_zone": venue.time_zone,
        "kit": request.kit.text,
        "sky": request.sky,
        "max_iso": request.max_iso,
        "shutter_s": request.shutter_s,
        "sun": None if report.events is None else _events(report.events),
        "quarters": [_quarter(quarter, venue) for quarter in report.quarters],
        "floodlights": None
        if lamps is None
        else {
            "illuminance_lx": venue.illuminance_lx,
            "ev100": lamps[0].ev100,
            "exposure": _kit(lamps[1]),
        },
        "lenses": [_lens(lens) for lens in report.lenses],
        "warnings": list(report.warnings),
        "notes": list(report.notes),
        # No estimate of plays stands behind the light.
        "model": None,
        "cautions": [caution.sentence for caution in report.cautions],
    }


def _iso(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat()


def _events(events: SunEvents) -> dict[str, Any]:
    return {
        "on": events.on.isoformat(),
        "day": events.day.value,
        "civil_dawn": _iso(events.civil_dawn),
        "sunrise": _iso(events.sunrise),
        "solar_noon": _iso(events.solar_noon),
        "noon_elevation_deg": events.noon_elevation_deg,
        "sunset": _iso(events.sunset),
        "civil_dusk": _iso(events.civil_dusk),
        "golden_hours": [_span(span) for span in events.golden_hours],
    }


def _span(span: TimeSpan) -> dict[str, Any]:
    return {"start": span.start.isoformat(), "end": span.end.isoformat()}


def _quarter(quarter: QuarterLight, venue: Venue) -> dict[str, Any]:
    return {
        "name": quarter.name,
        "start": quarter.start.isoformat(),
        "end": quarter.end.isoformat(),
        "first": None if quarter.first is None else _side(quarter.first, venue),
        "last": None if quarter.last is None else _side(quarter.last, venue),
        "light": quarter.scene.text,
        "ev100": quarter.scene.ev100,
        "side_matters": quarter.scene.side_matters,
        "exposure": None if quarter.exposure is None else _kit(quarter.exposure),
    }


def _side(side: SideLight, venue: Venue) -> dict[str, Any]:
    return {
        "at": side.at.isoformat(),
        "sun_elevation_deg": side.sun_elevation_deg,
        "sun_azimuth_deg": side.sun_azimuth_deg,
        "is_golden": side.is_golden,
        "field_shaded_share": side.field_shaded_share,
        "edges": [_edge(edge, venue) for edge in side.edges],
    }


def _edge(edge: EdgeLight, venue: Venue) -> dict[str, Any]:
    return {
        "edge": edge.edge.value,
        "name": venue.edge_name(edge.edge),
        "light": seen_kind(edge).value,
        "angle_deg": edge.angle_deg,
        "spot_in_shade": edge.spot_in_shade,
        "action_in_shade": edge.action_in_shade,
    }


def _kit(finding: KitFinding) -> dict[str, Any]:
    return {
        "is_warning": finding.is_warning,
        "sentence": finding.sentence,
        "lenses": [_finding(each) for each in finding.findings],
    }


def _finding(finding: ShutterFinding) -> dict[str, Any]:
    return {
        "lens": finding.label,
        "f_number": finding.f_number,
        "iso_needed": finding.iso_needed,
        "iso_setting": finding.iso_setting,
        "is_possible": finding.is_possible,
        "stops_short": finding.stops_short,
        "fastest_shutter_s": finding.fastest_shutter_s,
    }


def _lens(lens: LensReport) -> dict[str, Any]:
    depth, player, cost = lens.depth, lens.player, lens.converter
    return {
        "lens": lens.label,
        "focal_length_mm": lens.mounted.focal_length_mm,
        "f_number": lens.mounted.f_number,
        "reach_yd": lens.mounted.reach_yd,
        "distance_yd": lens.distance_yd,
        "covers_distance": lens.covers,
        "freeze_crossing_s": lens.freeze.crossing_s,
        "freeze_approaching_s": lens.freeze.approaching_s,
        "smear_px": lens.freeze.smear_px,
        "depth_front_yd": depth.front_yd,
        # None: sharp to infinity.
        "depth_behind_yd": depth.behind_yd if math.isfinite(depth.behind_yd) else None,
        "player_share_of_frame": player.share_of_frame,
        "player_height_px": player.height_px,
        "px_per_m": player.px_per_m,
        "density": None if player.density is None else player.density.key,
        "crops": [
            {
                "use": crop.use.key,
                "is_enough": crop.is_enough,
                "width_px": crop.crop_width_px,
                "height_px": crop.crop_height_px,
                "ppi": crop.ppi,
            }
            for crop in lens.crops
        ],
        "converter": None
        if cost is None
        else {
            "magnification": cost.magnification,
            "stops": cost.stops,
            "iso_factor": cost.iso_factor,
        },
    }
