"""What a venue comes to for a photographer: what is open, and what in its file may be a slip."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.venue import Venue, zone_named

# Zones follow borders, and in summer run an hour ahead; farther off than this, the longitude's
# sign or the zone is likely wrong.
_ZONE_TOLERANCE_H = 3.5


@dataclass(frozen=True, slots=True)
class VenueSummary:
    """A venue and its perimeter.

    Attributes
    ----------
    open_yd, perimeter_yd
        Length of the perimeter that is open to photographers, and all of it. [yd]
    is_connected
        Whether every spot can be reached from every other during the game.
    zone_fits
        Whether the time zone can be that of the longitude; True where the place is not known.
    """

    venue: Venue
    open_yd: float
    perimeter_yd: float
    is_connected: bool
    zone_fits: bool


def summarize_venue(venue: Venue) -> VenueSummary:
    """Return what a venue comes to."""
    perimeter = perimeter_of(venue)
    spots = perimeter.spots
    return VenueSummary(
        venue=venue,
        open_yd=float(perimeter.open.mean()) * perimeter.length_yd,
        perimeter_yd=perimeter.length_yd,
        is_connected=bool(np.isfinite(perimeter.walk_yd[np.ix_(spots, spots)]).all()),
        zone_fits=venue.longitude_deg is None or _zone_fits(venue, venue.longitude_deg),
    )


def _zone_fits(venue: Venue, longitude_deg: float) -> bool:
    # Any date will do: daylight saving is within the tolerance.
    offset = datetime(2026, 1, 15, tzinfo=UTC).astimezone(zone_named(venue.time_zone)).utcoffset()
    hours = 0.0 if offset is None else offset.total_seconds() / 3600
    apart = (hours - longitude_deg / 15.0 + 12.0) % 24.0 - 12.0
    return abs(apart) <= _ZONE_TOLERANCE_H
