"""Which spots pay off by field zone, as a page's head and tables."""

from __future__ import annotations

from collections.abc import Sequence

from lensyard.present.zones import asked, zone_title
from lensyard.service.zones import StretchShare, ZonesAnswer, ZoneShares
from lensyard.views.words import at_place, percent, percent_range

Table = tuple[tuple[str, ...], Sequence[tuple[object, ...]]]


def lead_words(answer: ZonesAnswer) -> tuple[str, tuple[str, ...]]:
    """Return the page's answer, and what it was counted from."""
    best = max(answer.zones, key=lambda zone: zone.ranked()[0].p_usable)
    spot = best.ranked()[0]
    title = (
        f"Most pays off {best.zone.value}: {at_place(spot.stretch.label)}, "
        f"{percent(spot.p_usable)} of plays usable"
    )
    counted = f"{answer.plays:,} plays counted ({asked(answer)}); {answer.request.kit.text}."
    return title, (counted,)


def picture_words(answer: ZonesAnswer) -> str:
    """Return what the heat around the field shows, in words."""
    parts = []
    for zone in answer.zones:
        best = zone.ranked()[0]
        parts.append(
            f"{zone_title(zone.zone)}: {at_place(best.stretch.label)}, {percent(best.p_usable)}"
        )
    return f"Most usable, by where the ball is snapped. {'; '.join(parts)}."


def best_rows(answer: ZonesAnswer) -> tuple[tuple[str, ...], Sequence[tuple[str, ...]]]:
    """Return one row a zone: its best stretch, the counts, and what the model expected."""
    header = ("Zone", "Best stretch", "Plays", "Usable", "Within", "Model", "Touchdowns usable")
    rows = []
    for zone in answer.zones:
        best = zone.ranked()[0]
        touchdown = best.p_usable_touchdown
        rows.append(
            (
                zone_title(zone.zone),
                best.stretch.label,
                f"{zone.plays:,}",
                percent(best.p_usable),
                percent_range(p_low=best.p_usable_low, p_high=best.p_usable_high),
                percent(best.p_usable_predicted),
                "none" if touchdown is None else f"{percent(touchdown)} of {zone.touchdowns:,}",
            )
        )
    return header, rows


def zone_rows(answer: ZonesAnswer, only: ZoneShares | None = None) -> Table:
    """Return every stretch of one zone, or of all, in order around the field."""
    header = (
        "zone",
        "stretch",
        "plays",
        "usable_plays",
        "p_usable",
        "p_usable_low",
        "p_usable_high",
        "p_usable_predicted",
        "p_usable_touchdown",
        "value",
    )
    zones = answer.zones if only is None else (only,)
    return header, [_row(zone, share) for zone in zones for share in zone.stretches]


def _row(zone: ZoneShares, share: StretchShare) -> tuple[object, ...]:
    touchdown = share.p_usable_touchdown
    return (
        zone.zone.value,
        share.stretch.label,
        zone.plays,
        round(share.usable_plays, 2),
        round(share.p_usable, 5),
        round(share.p_usable_low, 5),
        round(share.p_usable_high, 5),
        round(share.p_usable_predicted, 5),
        None if touchdown is None else round(touchdown, 5),
        round(share.value, 5),
    )
