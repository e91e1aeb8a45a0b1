"""A venue in words: what is closed, where the sun is, what the lamps give, what may be a slip."""

from __future__ import annotations

from typing import Any

from lensyard.domain.floodlights import footcandles_from_lux
from lensyard.domain.venue import ClosedStretch, Edge, Venue, place_text
from lensyard.features.venues.compute import VenueSummary
from lensyard.render.document import document
from lensyard.render.report import Report, Section
from lensyard.render.words import sentence
from lensyard.settings.venue_file import venue_document
from lensyard.sun.cautions import DEFERRAL, run_out_caution
from lensyard.units import FEET_PER_YARD


def venue_summary_report(summary: VenueSummary) -> Report:
    """Describe a venue."""
    venue = summary.venue
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
        notes=tuple(sentence(remark) for remark in remarks(summary)),
        cautions=_cautions(venue),
    )


def venue_summary_document(summary: VenueSummary | None) -> dict[str, Any]:
    """Return a venue as one JSON document; ``venue`` holds the keys of a venue file.

    None is a file that is not usable.
    """
    if summary is None:
        return document({"remarks": [], "model": None, "cautions": [DEFERRAL]})
    return document(
        {
            "venue": venue_document(summary.venue),
            "symmetric": summary.venue.symmetric,
            "open_yd": summary.open_yd,
            "perimeter_yd": summary.perimeter_yd,
            "remarks": remarks(summary),
            # No estimate of plays stands behind a venue.
            "model": None,
            "cautions": _cautions(summary.venue),
        }
    )


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


def remarks(summary: VenueSummary) -> list[str]:
    """Return what may be a slip, or surprise."""
    venue = summary.venue
    found = [f"{summary.open_yd:.0f} of {summary.perimeter_yd:.0f} yd of the perimeter are open"]
    if not summary.is_connected:
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
    if not summary.zone_fits:
        found.append(
            f"time zone {venue.time_zone} does not fit longitude {venue.longitude_deg:g}; west of "
            "Greenwich, America included, is negative"
        )
    if venue.illuminance_lx == 0:
        found.append("no floodlights are given: after dusk nothing is said about exposure")
    return found
