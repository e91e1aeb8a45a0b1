"""The light over a game as a small table of words, for the printed sheet and the offline card."""

from __future__ import annotations

from dataclasses import dataclass

from lensyard.domain.venue import Edge, Venue
from lensyard.light.angle import LightKind
from lensyard.light.seen import seen_kind
from lensyard.service.light_report import QuarterLight
from lensyard.service.sheet_content import GameLight
from lensyard.views.words import sentence

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
