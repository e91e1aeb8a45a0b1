"""Invented comparisons of kits."""

from dataclasses import replace

import lensyard
from lensyard.domain.assignment import Assignment
from lensyard.domain.kit import parse_kit
from lensyard.domain.venue import standard_venue
from lensyard.features.gear.compute import KitFigures, KitZone, compare_kits

LUX_PER_FOOTCANDLE = 10.763910416709722

ZONES = ("own 21-40", "red zone 20-6")
GAMES = 12
MODEL = {
    "id": "invented",
    "level": "invented",
    "seasons": [2018],
    "plays": 1000,
    "attribution": "Plays: invented.",
}


def figures(kit, usable):
    """Return figures of a kit: usable plays a game of ten in each zone."""
    parsed = parse_kit(kit)
    total = sum(usable)
    return KitFigures(
        kit=parsed.text,
        reach_yd=parsed.reach_yd,
        coverage_gaps_yd=parsed.coverage_gaps_yd(),
        gap_plays_per_game=1.5,
        changes_lenses=parsed.bodies < len(parsed.mounted),
        usable_per_game=total,
        p_usable=total / 20.0,
        value_per_game=2 * total,
        value_share=total / 20.0,
        p_usable_touchdown=0.5,
        walk_yd_per_game=1000.0,
        zones=tuple(
            KitZone(zone, 10.0, n, n / 10.0, 2 * n, n / 10.0)
            for zone, n in zip(ZONES, usable, strict=True)
        ),
        usable_by_game=(total - 0.5, total + 0.5) * (GAMES // 2),
        value_by_game=(2 * total,) * GAMES,
    )


def comparison_of(*kits, footcandles=0.0):
    """Return a comparison of kits, under lamps of some strength where that is not 0."""
    venue = replace(standard_venue(), illuminance_lx=footcandles * LUX_PER_FOOTCANDLE)
    return compare_kits(
        [parse_kit(kit) for kit, _ in kits],
        [figures(kit, usable) for kit, usable in kits],
        venue=venue,
        assignment=Assignment(),
        sample=replace(lensyard.plan().evaluation_sample, games=GAMES, plays=240),
        model=MODEL,
    )


def three_kits():
    """Return a comparison in which the last kit brings the most, under weak lamps."""
    return comparison_of(
        ("70-200", (3.0, 5.0)),
        ("400", (6.0, 2.5)),
        ("70-200 + 400, 1 body", (6.5, 7.0)),
        footcandles=20,
    )
