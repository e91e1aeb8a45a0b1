"""The light over a game as text for a terminal.

The light over a game as a small table of words, for the printed sheet and the offline card.

The light over a game as one JSON document (the contract of ``lensyard light --json``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from lensyard.domain.venue import Edge, Venue
from lensyard.features.light.compute import LightReport, QuarterLight
from lensyard.features.light.lenses import LensReport, floodlight_text
from lensyard.features.sheet.compute import GameLight
from lensyard.render.words import sentence
from lensyard.sun.direction import LightKind
from lensyard.sun.exposure import KitFinding, ShutterFinding, shutter_text
from lensyard.sun.position import DayKind, SunEvents, TimeSpan
from lensyard.sun.sides import EdgeLight, SideLight, seen_kind


def light_text(report: LightReport) -> str:
    """Return a report as lines: warnings first, then tables, lenses, notes and cautions."""
    venue = report.request.venue
    at = report.kickoff.at
    parts = [
        f"{venue.name}, {at:%A} {at.day} {at:%B %Y}, kickoff {_clock(at)} {at:%Z}",
        *(f"! {warning}" for warning in report.warnings),
    ]
    if report.events is not None:
        parts += ["", _events_text(report.events), "", _sun_table(report), "", _edge_table(report)]
    else:
        parts += ["", "covered: the sun plays no part"]
    parts += ["", _iso_table(report)]
    if venue.illuminance_lx > 0:
        parts.append(f"floodlights: {floodlight_text(venue.illuminance_lx)}")
    parts += ["", *(_lens_text(lens) for lens in report.lenses)]
    parts += ["", *(f"note: {note}" for note in report.notes)]
    parts += ["", *(f"caution: {caution.sentence}" for caution in report.cautions)]
    return "\n".join(parts)


def _clock(at: datetime | None) -> str:
    return "-" if at is None else f"{at:%H:%M}"


def _events_text(events: SunEvents) -> str:
    if events.day is not DayKind.NORMAL:
        return f"{events.day.value} on this date"
    golden = ", ".join(f"{_clock(s.start)} to {_clock(s.end)}" for s in events.golden_hours)
    return (
        f"sunrise {_clock(events.sunrise)}, sunset {_clock(events.sunset)}, end of civil twilight "
        f"{_clock(events.civil_dusk)}; golden light {golden or 'none'}"
    )


def columns(rows: list[list[str]]) -> str:
    """Return rows as left-aligned columns two blanks apart."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=True)]
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)


def _sun_table(report: LightReport) -> str:
    rows = [["", "from", "to", "sun height", "bearing", "field shaded", "EV100", "light"]]
    for quarter in report.quarters:
        first, last = quarter.first, quarter.last
        if first is None or last is None:
            continue
        golden = ", golden" if first.is_golden or last.is_golden else ""
        rows.append(
            [
                quarter.name,
                _clock(quarter.start),
                _clock(quarter.end),
                f"{first.sun_elevation_deg:.0f} to {last.sun_elevation_deg:.0f}°",
                f"{first.sun_azimuth_deg:.0f} to {last.sun_azimuth_deg:.0f}°",
                _shaded_text(first, last),
                "-" if quarter.scene.ev100 is None else f"{quarter.scene.ev100:.1f}",
                quarter.scene.text + golden,
            ]
        )
    return columns(rows)


def _shaded_text(first: SideLight, last: SideLight) -> str:
    def share(side: SideLight) -> str:
        return "sun down" if side.sun_elevation_deg <= 0 else f"{side.field_shaded_share:.0%}"

    return share(first) if share(first) == share(last) else f"{share(first)} to {share(last)}"


def _edge_table(report: LightReport) -> str:
    venue = report.request.venue
    quarters = [q for q in report.quarters if q.first is not None]
    rows = [["light on the action seen from", *(q.name for q in quarters)]]
    rows.extend([venue.edge_name(edge), *(_kinds_text(q, edge) for q in quarters)] for edge in Edge)
    return columns(rows)


def _kinds_text(quarter: QuarterLight, edge: Edge) -> str:
    sides = [side for side in (quarter.first, quarter.last) if side is not None]
    kinds: list[LightKind] = [seen_kind(side.edge(edge)) for side in sides]
    return " to ".join(dict.fromkeys(kind.value for kind in kinds))


def _iso_table(report: LightReport) -> str:
    request = report.request
    exposures = [(q.name, q.exposure) for q in report.quarters if q.name != "halftime"]
    if report.floodlights is not None:
        exposures.append(("floodlights", report.floodlights[1]))
    head = f"ISO for {shutter_text(request.shutter_s)} (you accept {request.max_iso:.0f})"
    rows = [[head, *(name for name, _ in exposures)]]
    for i, lens in enumerate(report.lenses):
        cells = ["-" if kit is None else _iso_text(kit.findings[i]) for _, kit in exposures]
        rows.append([lens.label, *cells])
    return columns(rows)


def _iso_text(finding: ShutterFinding) -> str:
    iso = "beyond 102400" if finding.iso_setting is None else str(finding.iso_setting)
    return iso if finding.is_possible else f"{iso} !"


def _lens_text(lens: LensReport) -> str:
    depth, player = lens.depth, lens.player
    behind = "infinity" if math.isinf(depth.behind_yd) else f"{depth.behind_yd:.1f} yd behind"
    away = "" if lens.covers else " (outside what it covers)"
    density = "" if player.density is None else f', enough to "{player.density.key}"'
    lines = [
        f"{lens.label} at {lens.distance_yd:.0f} yd{away}:",
        f"  freezes a player crossing at {shutter_text(lens.freeze.crossing_s)}, approaching at "
        f"{shutter_text(lens.freeze.approaching_s)}; {shutter_text(lens.freeze.shutter_s)} smears "
        f"a crossing one by {lens.freeze.smear_px:.0f} pixels",
        f"  focus may be off by {depth.front_yd:.1f} yd in front and {behind}",
        f"  a player is {player.share_of_frame:.0%} of the frame's height, "
        f"{player.height_px:.0f} pixels ({player.px_per_m:.0f} a meter{density})",
        *(f"  {crop.sentence}" for crop in lens.crops),
    ]
    if lens.converter is not None:
        cost = lens.converter
        lines.append(
            f"  the {cost.magnification:g}x converter costs {cost.stops:.1f} stops: ISO times "
            f"{cost.iso_factor:.1f}"
        )
    return "\n".join(lines)


_SHORT_KINDS = {LightKind.SUN_IN_LENS: "in lens", LightKind.NO_SUN: "none"}


@dataclass(frozen=True, slots=True)
class LightTable:
    """A table of words; head and rows are empty where there is no light to speak of."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str


def kickoff_text(light: GameLight) -> str:
    """Return day and time of the kickoff; nothing where it is not known."""
    if light.kickoff is None:
        return ""
    at = light.kickoff.at
    return f"{at:%a} {at.day} {at:%b} {at.year}, kickoff {at:%H:%M} {at:%Z}"


def light_table(light: GameLight, venue: Venue) -> LightTable:
    """Return a row a quarter: when, how high the sun stands, and the light from each edge."""
    if light.report is None:
        return LightTable((), (), sentence(light.note))
    rows = []
    for quarter in light.report.quarters:
        if quarter.first is None or quarter.last is None:
            continue
        low, high = quarter.last.sun_elevation_deg, quarter.first.sun_elevation_deg
        heights = f"{high:.0f}→{low:.0f}°".replace("-", "−")
        rows.append(
            (
                quarter.name.replace("quarter ", "Q").replace("halftime", "half"),
                f"{quarter.start:%H:%M}",
                "down" if max(low, high) <= 0 else heights,
                *(_seen(quarter, edge) for edge in Edge),
            )
        )
    parts = ["Seen from the middle of each edge, looking across; none is no direct sun."]
    events = light.report.events
    if events is not None and events.sunset is not None:
        parts.append(f"Sunset {events.sunset:%H:%M}.")
    parts += [sentence(warning) for warning in light.report.warnings]
    head = ("", "from", "sun", *(venue.edge_name(edge) for edge in Edge))
    return LightTable(head, tuple(rows), " ".join(parts))


def _seen(quarter: QuarterLight, edge: Edge) -> str:
    sides = [side for side in (quarter.first, quarter.last) if side is not None]
    kinds = dict.fromkeys(seen_kind(side.edge(edge)) for side in sides)
    return "→".join(_SHORT_KINDS.get(kind, kind.value) for kind in kinds)


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
