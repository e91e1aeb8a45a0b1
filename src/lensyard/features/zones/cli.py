"""``lensyard zones``: which spots pay off in which part of the field."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.options.cli_options import (
    assignment_from,
    assignment_option,
    attacking_option,
    direction_from,
    echo_json,
    kit_from,
    kit_options,
    venue_from,
    venue_options,
)


@click.command("zones")
@click.option("--down", type=int, help="1 to 4. Default: all.")
@click.option("--distance", help="short (1-3), medium (4-7), long (8 and more), or N-M yards.")
@click.option("--seasons", help="2009-2018 or 2016,2018. Default: all that are stored.")
@click.option(
    "--zone",
    "zone_names",
    multiple=True,
    help="own-1-20, own-21-40, middle, opp-40-21, red-zone or inside-5. Repeat for more. "
    "Default: all.",
)
@kit_options
@venue_options
@assignment_option
@attacking_option
@click.option(
    "--faces",
    type=click.Choice(["offense", "defense"]),
    default="offense",
    show_default=True,
    help="Whose faces the frames must show.",
)
@click.option(
    "--top", type=click.IntRange(1, 40), default=5, show_default=True, help="Stretches a zone."
)
@click.option(
    "--stretch", default=5.0, show_default=True, help="How long a stretch is, 1 to 20 yards."
)
@click.option(
    "--plot", type=click.Path(dir_okay=False, path_type=Path), help="Draw the strip: an SVG file."
)
@click.option(
    "--theme",
    type=click.Choice(["sunlight", "night", "print"]),
    default="sunlight",
    show_default=True,
    help="Of the drawing.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def zones_command(
    down: int | None,
    distance: str | None,
    seasons: str | None,
    zone_names: tuple[str, ...],
    lenses: tuple[str, ...],
    crop_factors: tuple[float, ...],
    bodies: int | None,
    converter: float,
    rules: str,
    team_area: float | None,
    attacking: str | None,
    faces: str,
    top: int,
    stretch: float,
    plot: Path | None,
    theme: str,
    as_json: bool,
) -> None:
    """Which spots pay off by field zone: counted from plays, beside what the model expects.

    \b
    lensyard zones --down 3 --distance long --zone red-zone
    lensyard zones --seasons 2019 --lens 70-200 --lens 300 --plot zones.svg
    """
    from lensyard.domain.zones import zone_named
    from lensyard.features.plays.report import parse_seasons
    from lensyard.features.zones.count import (
        ZonesRequest,
        parse_distance,
        zones,
        zones_document,
    )
    from lensyard.model.context import load_context

    venue = venue_from(rules=rules, team_area=team_area)
    request = ZonesRequest(
        kit=kit_from(lenses=lenses, crop_factors=crop_factors, bodies=bodies, converter=converter),
        venue=venue,
        assignment=assignment_from(faces),
        direction=direction_from(attacking, venue),
        down=down,
        distance_yd=None if distance is None else parse_distance(distance),
        seasons=None if seasons is None else parse_seasons(seasons),
        zones=tuple(zone_named(name) for name in zone_names) or None,
        stretch_yd=stretch,
    )
    answer = zones(load_context(), request)
    from lensyard.features.zones.report import strip_of, zones_text

    if plot is not None:
        from lensyard.features.zones.chart import zone_strip_svg
        from lensyard.render.theme import theme_named

        _write(plot, zone_strip_svg(strip_of(answer), theme=theme_named(theme)))
        click.echo(f"lensyard: drew {plot}", err=True)
    if as_json:
        echo_json(zones_document(answer))
    else:
        click.echo(zones_text(answer, top=top))


def _write(path: Path, svg: str) -> None:
    from lensyard.errors import InvalidInputError

    try:
        path.write_text(svg, encoding="utf-8")
    except OSError as error:
        raise InvalidInputError(
            f"cannot write the drawing {path}: {error.strerror or error}; name a file in a folder "
            "that exists and may be written"
        ) from error
