"""``lensyard light``: sun, sides, shade and exposure over a game."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from lensyard.domain.kit import Kit
from lensyard.errors import ParseError
from lensyard.options.cli_options import echo_json, kit_from, kit_options, time_from


@click.command("light")
@click.option("--venue", required=True, help="A venue's name, or the path of its TOML file.")
@click.option(
    "--at",
    "at_text",
    required=True,
    help="Kickoff: 2026-10-03T15:30 (the venue's clock), or with an offset.",
)
@kit_options
@click.option(
    "--pixels",
    type=click.IntRange(500, 40000),
    help="Pixels along the long side of the sensor. Default: 6000.",
)
@click.option(
    "--iso-max",
    type=click.FloatRange(50, 1_000_000),
    default=6400,
    show_default=True,
    help="The highest ISO that you accept.",
)
@click.option("--shutter", default="1/1000", show_default=True, help="The shutter time wanted.")
@click.option(
    "--sky",
    type=click.Choice(["full-sun", "hazy-sun", "cloudy-bright", "overcast", "open-shade"]),
    default="full-sun",
    show_default=True,
    help="Row of the exposure guide.",
)
@click.option(
    "--distance",
    type=click.FloatRange(2, 150),
    help="To the action, in yards. Default: each lens's reach.",
)
@click.option("--wbgt", type=float, help="Wet-bulb globe temperature, degrees Fahrenheit.")
@click.option(
    "--plot",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw the sun and the sides to this file: .png, .svg or .pdf.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def light_command(
    venue: str,
    at_text: str,
    lenses: tuple[str, ...],
    crop_factors: tuple[float, ...],
    bodies: int | None,
    converter: float,
    pixels: int | None,
    iso_max: float,
    shutter: str,
    sky: str,
    distance: float | None,
    wbgt: float | None,
    plot: Path | None,
    as_json: bool,
) -> None:
    """Where the light is in each quarter, and whether the kit can freeze action in it.

    \b
    lensyard light --venue brindle-prairie --at 2026-10-03T15:30
    lensyard light --venue tamarack-fork --at 2026-10-09T19:00 --lens 70-200/2.8 --iso-max 6400
    """
    from lensyard.features.light.compute import light_answer
    from lensyard.features.light.report import light_document, light_report
    from lensyard.render.figure import require_plot_file
    from lensyard.render.paper_chart import save_charts
    from lensyard.render.text import render_text
    from lensyard.settings.venue_file import load_venue
    from lensyard.sun.game_light import LightRequest

    if plot is not None:
        require_plot_file(plot)
    kit = kit_from(lenses=lenses, crop_factors=crop_factors, bodies=bodies, converter=converter)
    request = LightRequest(
        venue=load_venue(venue),
        kickoff=time_from(at_text),
        kit=kit if pixels is None else _with_pixels(kit, pixels),
        max_iso=iso_max,
        shutter_s=parse_shutter(shutter),
        sky=sky,
    )
    if plot is not None and request.venue.covered:
        raise click.UsageError("a covered venue has no sun to draw; leave --plot out")
    answer = light_answer(request, distance_yd=distance, wbgt_f=wbgt)
    report = light_report(answer)
    if as_json:
        echo_json(light_document(answer))
    else:
        click.echo(render_text(report, brief=True), nl=False)
    if plot is not None:
        save_charts(report, plot)
        click.echo(f"wrote {plot}", err=True)


def parse_shutter(text: str) -> float:
    """Return a shutter time in seconds.

    >>> parse_shutter("1/1000"), parse_shutter("1000"), parse_shutter("0.5")
    (0.001, 0.001, 0.5)
    """
    bare = text.strip().removesuffix("s").strip()
    top, slash, bottom = bare.partition("/")
    try:
        value = float(top) / float(bottom) if slash else float(top)
    except (ValueError, ZeroDivisionError):
        value = -1.0
    # A whole number is what a camera's dial shows: 1000 is a thousandth of a second.
    if not slash and value > 30:
        value = 1 / value
    if not 0 < value <= 30:
        raise ParseError(name="--shutter", text=text, expected="1/1000, 1000 or 0.001")
    return value


def _with_pixels(kit: Kit, width_px: int) -> Kit:
    mounted = tuple(replace(m, body=replace(m.body, width_px=width_px)) for m in kit.mounted)
    return replace(kit, mounted=mounted)
