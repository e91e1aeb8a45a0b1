"""``lensyard light``: sun, sides, shade and exposure over a game."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import click

from lensyard.domain.kit import Kit
from lensyard.errors import ParseError
from lensyard.options import groups
from lensyard.options.choices import Number, OneOf, Text, choice, whole
from lensyard.options.click_options import Output, options, output_options
from lensyard.records import Record

SKIES = ("full-sun", "hazy-sun", "cloudy-bright", "overcast", "open-shade")


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


class LightSettings(Record):
    """Camera, sky and weather on the day."""

    pixels: int | None = choice(
        None,
        whole(500, 40000),
        "pixels",
        "",
        "Pixels along the long side of the sensor. Default: 6000.",
    )
    shutter_s: float = choice(
        1 / 1000,
        Text(parse_shutter, lambda shutter_s: f"1/{1 / shutter_s:.0f}"),
        "shutter",
        "",
        "The shutter time wanted.",
    )
    sky: str = choice("full-sun", OneOf(SKIES), "sky", "", "Row of the exposure guide.")
    distance_yd: float | None = choice(
        None, Number(2, 150), "distance", "", "To the action, in yards. Default: each lens's reach."
    )
    wbgt_f: float | None = choice(
        None, Number(-100, 150), "wbgt", "", "Wet-bulb globe temperature, degrees Fahrenheit."
    )

    def of(self, kit: Kit) -> Kit:
        """Return a kit on bodies with the pixels asked for."""
        if self.pixels is None:
            return kit
        mounted = (replace(m, body=replace(m.body, width_px=self.pixels)) for m in kit.mounted)
        return replace(kit, mounted=tuple(mounted))


@click.command("light")
@options(
    groups.NamedVenueOptions,
    groups.TimeOptions,
    groups.KitOptions,
    groups.IsoOptions,
    LightSettings,
    required=("venue_name", "kickoff"),
)
@output_options(plot="Draw the sun and the sides to this file: .png, .svg or .pdf.")
def light_command(
    named_venue: groups.NamedVenueOptions,
    time: groups.TimeOptions,
    kit: groups.KitOptions,
    iso: groups.IsoOptions,
    light_settings: LightSettings,
    output: Output,
) -> None:
    """Where the light is in each quarter, and whether the kit can freeze action in it.

    \b
    lensyard light --venue brindle-prairie --at 2026-10-03T15:30
    lensyard light --venue tamarack-fork --at 2026-10-09T19:00 --lens 70-200/2.8 --iso-max 6400
    """
    from lensyard.features.light.compute import light_answer
    from lensyard.features.light.report import light_document, light_report
    from lensyard.sun.game_light import LightRequest

    venue = named_venue.venue()
    request = LightRequest(
        venue=venue,
        kickoff=datetime.fromisoformat(time.kickoff),
        kit=light_settings.of(kit.kit()),
        max_iso=iso.max_iso,
        shutter_s=light_settings.shutter_s,
        sky=light_settings.sky,
    )
    if output.plot is not None and venue.covered:
        raise click.UsageError("a covered venue has no sun to draw; leave --plot out")
    answer = light_answer(
        request, distance_yd=light_settings.distance_yd, wbgt_f=light_settings.wbgt_f
    )
    output.show(answer, light_report, light_document)
