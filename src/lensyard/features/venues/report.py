"""What a venue file comes to, in words: for checking a file and for showing a venue."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np

from lensyard.domain.floodlights import footcandles_from_lux
from lensyard.domain.perimeter import Perimeter, perimeter_of
from lensyard.domain.venue import ClosedStretch, Edge, Venue, place_text, zone_named
from lensyard.features.venues.file import Problem, venue_document
from lensyard.sun.cautions import DEFERRAL, run_out_caution
from lensyard.units import FEET_PER_YARD

VENUE_SCHEMA_VERSION = 1

# Zones follow borders, and in summer run an hour ahead; farther off than this, the longitude's
# sign or the zone is likely wrong.
_ZONE_TOLERANCE_H = 3.5


@dataclass(frozen=True, slots=True)
class VenueReport:
    """A venue, its perimeter, and what to know about it.

    Attributes
    ----------
    open_yd, perimeter_yd
        Length of the perimeter that is open to photographers, and all of it. [yd]
    lines
        Facts, one a line.
    remarks
        What may be a slip, or surprise.
    cautions
        The usual ones, ending with who decides.
    """

    venue: Venue
    open_yd: float
    perimeter_yd: float
    lines: tuple[str, ...]
    remarks: tuple[str, ...]
    cautions: tuple[str, ...]


def venue_report(venue: Venue) -> VenueReport:
    """Return a venue with facts, remarks and cautions in words."""
    perimeter = perimeter_of(venue)
    open_yd = float(perimeter.open.mean()) * perimeter.length_yd
    return VenueReport(
        venue=venue,
        open_yd=open_yd,
        perimeter_yd=perimeter.length_yd,
        lines=(*_facts(venue), *_closed_lines(venue), *_light_lines(venue), *_notes(venue)),
        remarks=tuple(_remarks(venue, perimeter, open_yd)),
        cautions=venue_cautions_text(venue),
    )


def venue_cautions_text(venue: Venue) -> tuple[str, ...]:
    """Return the run-out cautions for the sidelines and the ends, and who decides."""
    setbacks = dict.fromkeys((venue.side_setback_yd, venue.end_setback_yd))
    return (*(run_out_caution(setback_yd=s).sentence for s in setbacks), DEFERRAL)


def stretch_text(stretch: ClosedStretch, venue: Venue) -> str:
    """Return a closed stretch as one line: what, where, and what it means for a photographer."""
    if stretch.edge.is_sideline:
        where = f"{place_text(stretch.from_yd, venue)} to {place_text(stretch.to_yd, venue)}"
    else:
        corner = venue.edge_name(Edge.SIDELINE_A)
        where = f"{stretch.from_yd:g} to {stretch.to_yd:g} yd from the {corner}"
    view = "blocks the view" if stretch.blocks_view else "one sees across it"
    way = "one may pass behind it" if stretch.walk_behind else "no way behind it"
    return f"{stretch.name}: {venue.edge_name(stretch.edge)}, {where}; {view}, {way}"


def _facts(venue: Venue) -> list[str]:
    side_ft, end_ft = (s * FEET_PER_YARD for s in (venue.side_setback_yd, venue.end_setback_yd))
    uprights = f"{len(venue.posts)} goal-post support{'s' if len(venue.posts) != 1 else ''}"
    return [
        f"{venue.name}: {venue.rules.name} rules, {uprights} at each end"
        f"{', covered' if venue.covered else ''}",
        f"end A is the {venue.end_names[0]}, end B the {venue.end_names[1]}; facing the "
        f"{venue.end_names[1]}, the {venue.sideline_names[0]} is on the right",
        f"photographers stand {venue.side_setback_yd:g} yd ({side_ft:g} ft) outside the sidelines "
        f"and {venue.end_setback_yd:g} yd ({end_ft:g} ft) behind the end lines",
    ]


def _closed_lines(venue: Venue) -> list[str]:
    if not venue.closed:
        return ["closed: nothing"]
    return [f"closed: {stretch_text(stretch, venue)}" for stretch in venue.closed]


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


def _notes(venue: Venue) -> list[str]:
    return [f"house rules: {note}" for note in venue.notes]


def _remarks(venue: Venue, perimeter: Perimeter, open_yd: float) -> list[str]:
    remarks = [f"{open_yd:.0f} of {perimeter.length_yd:.0f} yd of the perimeter are open"]
    spots = perimeter.spots
    if np.isinf(perimeter.walk_yd[np.ix_(spots, spots)]).any():
        remarks.append(
            "closed stretches without a way behind them cut the perimeter in two: some spots "
            "cannot be reached from others during the game"
        )
    if not venue.symmetric:
        remarks.append(
            "the two ends are not alike for photographers; say toward which end the offense plays "
            "(--attacking)"
        )
    if not venue.has_place and not venue.covered:
        remarks.append("without place, time zone and bearing nothing can be said about the sun")
    if venue.longitude_deg is not None and not _zone_fits(venue, venue.longitude_deg):
        remarks.append(
            f"time zone {venue.time_zone} does not fit longitude {venue.longitude_deg:g}; west of "
            "Greenwich, America included, is negative"
        )
    if venue.illuminance_lx == 0:
        remarks.append("no floodlights are given: after dusk nothing is said about exposure")
    return remarks


def _zone_fits(venue: Venue, longitude_deg: float) -> bool:
    zone = zone_named(venue.time_zone)
    # Any date will do: daylight saving is within the tolerance.
    offset = datetime(2026, 1, 15, tzinfo=UTC).astimezone(zone).utcoffset()
    hours = 0.0 if offset is None else offset.total_seconds() / 3600
    apart = (hours - longitude_deg / 15.0 + 12.0) % 24.0 - 12.0
    return abs(apart) <= _ZONE_TOLERANCE_H


def report_document(report: VenueReport) -> dict[str, Any]:
    """Return a report as one JSON document; ``venue`` holds the keys of a venue file."""
    return {
        "schema_version": VENUE_SCHEMA_VERSION,
        "venue": venue_document(report.venue),
        "symmetric": report.venue.symmetric,
        "open_yd": report.open_yd,
        "perimeter_yd": report.perimeter_yd,
        "remarks": list(report.remarks),
        # No estimate of plays stands behind a venue.
        "model": None,
        "cautions": list(report.cautions),
    }


def check_document(
    path: str, problems: tuple[Problem, ...], report: VenueReport | None
) -> dict[str, Any]:
    """Return the judgment on a file as one JSON document."""
    return {
        "schema_version": VENUE_SCHEMA_VERSION,
        "path": path,
        "is_usable": report is not None,
        "problems": [asdict(problem) for problem in problems],
        "remarks": [] if report is None else list(report.remarks),
        "model": None,
        "cautions": [DEFERRAL] if report is None else list(report.cautions),
    }
