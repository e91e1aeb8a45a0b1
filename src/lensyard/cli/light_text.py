"""The light over a game as text for a terminal."""

from __future__ import annotations

import math
from datetime import datetime

from lensyard.domain.venue import Edge
from lensyard.light.angle import LightKind
from lensyard.light.exposure import ShutterFinding, shutter_text
from lensyard.light.seen import seen_kind
from lensyard.light.sides import SideLight
from lensyard.light.sun import DayKind, SunEvents
from lensyard.service.light_lenses import LensReport
from lensyard.service.light_report import LightReport, QuarterLight
from lensyard.service.light_scene import floodlight_text


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
