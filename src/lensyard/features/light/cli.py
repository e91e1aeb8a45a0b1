"""``lensyard light``: sun, sides, shade and exposure over a game."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lensyard.domain.kit import Kit
from lensyard.errors import ParseError
from lensyard.options.cli_options import echo_json, kit_from, kit_options

if TYPE_CHECKING:
    from lensyard.features.light.compute import LightReport

PLOT_SUFFIXES = (".png", ".svg", ".pdf")


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
    from lensyard.features.light.compute import LightRequest, light_report
    from lensyard.features.venues.file import load_venue

    if plot is not None and plot.suffix.lower() not in PLOT_SUFFIXES:
        raise click.UsageError(f"--plot must end in {', '.join(PLOT_SUFFIXES)}; got {plot.name!r}")
    kit = kit_from(lenses=lenses, crop_factors=crop_factors, bodies=bodies, converter=converter)
    report = light_report(
        LightRequest(
            venue=load_venue(venue),
            kickoff=parse_time(at_text),
            kit=kit if pixels is None else _with_pixels(kit, pixels),
            max_iso=iso_max,
            shutter_s=parse_shutter(shutter),
            sky=sky,
            distance_yd=distance,
            wbgt_f=wbgt,
        )
    )
    if as_json:
        from lensyard.features.light.report import light_document

        echo_json(light_document(report))
    else:
        from lensyard.features.light.report import light_text

        click.echo(light_text(report))
    if plot is not None:
        _plot(report, plot)


def parse_time(text: str) -> datetime:
    """Return a date and a time of day, with a zone only if the text has one.

    >>> parse_time("2026-10-03T15:30").hour
    15
    """
    expected = "a date and a time such as 2026-10-03T15:30, or with an offset: …15:30-05:00"
    try:
        at = datetime.fromisoformat(text.strip())
    except ValueError:
        raise ParseError(name="--at", text=text, expected=expected) from None
    if "T" not in text.upper() and " " not in text.strip():
        raise ParseError(name="--at", text=text, expected=expected)
    return at


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


def _plot(report: LightReport, path: Path) -> None:
    from lensyard.features.light.chart import LightPlot, PlotSpan, save_light_plot

    if report.events is None:
        raise click.UsageError("a covered venue has no sun to draw; leave --plot out")
    venue = report.request.venue
    save_light_plot(
        LightPlot(
            title=f"{venue.name}, {report.kickoff.at:%Y-%m-%d}",
            rows=report.track,
            edge_names=tuple(venue.edge_name(light.edge) for light in report.track[0].edges),
            quarters=tuple(PlotSpan(q.name, q.start, q.end) for q in report.quarters),
            golden=tuple(PlotSpan("golden", s.start, s.end) for s in report.events.golden_hours),
            sunset=report.events.sunset,
        ),
        path,
    )
    click.echo(f"wrote {path}", err=True)
