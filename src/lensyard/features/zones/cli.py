"""``lensyard zones``: which spots pay off in which part of the field."""

from __future__ import annotations

import click

from lensyard.options.choices import Number, Text, Texts, choice, lines_of, whole
from lensyard.options.click_options import Output, options, output_options
from lensyard.options.groups import (
    SOURCE_HELP,
    AssignmentOptions,
    KitOptions,
    ModelOptions,
    VenueOptions,
)
from lensyard.options.situation import DirectionOptions, PlaysOptions
from lensyard.records import Record


class CountOptions(Record):
    """Which seasons and zones are counted, and how finely."""

    seasons: str = choice(
        "", Text(), "seasons", "", "2009-2018 or 2016,2018. Default: all that are stored."
    )
    source: str = choice("", Text(), "source", "", SOURCE_HELP)
    zone_names: str = choice(
        "",
        Texts(lines_of, "\n", str),
        "zone",
        "",
        "own-1-20, own-21-40, middle, opp-40-21, red-zone or inside-5. Repeat for more. "
        "Default: all.",
    )
    top: int = choice(5, whole(1, 40), "top", "", "Stretches a zone.")
    stretch_yd: float = choice(
        5.0, Number(1, 20), "stretch", "", "How long a stretch is, 1 to 20 yards."
    )


@click.command("zones")
@options(
    PlaysOptions,
    CountOptions,
    KitOptions,
    VenueOptions,
    ModelOptions,
    DirectionOptions,
    AssignmentOptions,
)
@output_options(plot="Draw the shares along each edge to this file: .svg, .png or .pdf.")
def zones_command(
    plays: PlaysOptions,
    count: CountOptions,
    kit: KitOptions,
    venue: VenueOptions,
    model: ModelOptions,
    direction: DirectionOptions,
    assignment: AssignmentOptions,
    output: Output,
) -> None:
    """Which spots pay off by field zone: counted from plays, beside what the model expects.

    \b
    lensyard zones --down 3 --distance long --zone red-zone
    lensyard zones --seasons 2019 --lens 70-200 --lens 300 --plot zones.svg
    """
    from lensyard.domain.situation import zone_named
    from lensyard.features.zones.compute import ZonesRequest, count_zones
    from lensyard.features.zones.report import zones_report
    from lensyard.plays.bundled import parse_seasons
    from lensyard.plays.store import shared_store

    where = venue.venue()
    request = ZonesRequest(
        kit=kit.kit(),
        venue=where,
        assignment=assignment.assignment(),
        direction=direction.direction(where),
        down=plays.zone_down,
        distance_yd=plays.distances_yd(),
        seasons=parse_seasons(count.seasons) if count.seasons else None,
        source=count.source or None,
        zones=tuple(zone_named(name) for name in lines_of(count.zone_names)) or None,
        stretch_yd=count.stretch_yd,
    )
    answer = count_zones(model.context(where), request, shared_store())
    output.show(answer, lambda answer: zones_report(answer, top=count.top))
