"""``lensyard gear``: what to carry."""

from __future__ import annotations

import click

from lensyard.options.click_options import Output, options, output_options, say, typed_values
from lensyard.options.groups import (
    FALLOFF,
    AssignmentOptions,
    GearOptions,
    IsoOptions,
    LensOptions,
    ModelOptions,
    VenueOptions,
)


@click.command("gear")
@options(GearOptions, LensOptions, VenueOptions, ModelOptions, AssignmentOptions, IsoOptions)
@click.option("--add", "adds", multiple=True, help="A lens to add to the first kit: 400, 300 x1.4.")
@output_options(plot="Draw the comparison to this file: .svg, .png or .pdf.")
def gear_command(
    gear: GearOptions,
    lens: LensOptions,
    venue: VenueOptions,
    model: ModelOptions,
    assignment: AssignmentOptions,
    iso: IsoOptions,
    adds: tuple[str, ...],
    output: Output,
) -> None:
    """Compare kits by what a plan brings home with each, zone by zone.

    Every kit takes some seconds the first time; after that its figures are at hand.

    \b
    lensyard gear --kit "70-200" --kit "70-200 + 400" --kit "70-200 + 300 x1.4"
    lensyard gear --kit "70-200 + 300" --add "300 x1.4" --add 400 --plot kits.svg
    """
    from lensyard.features.gear.compute import gear_comparison, kits_from
    from lensyard.features.gear.report import gear_report
    from lensyard.options.choices import lines_of

    own = [lens.kit().text] if typed_values(LensOptions).keys() - FALLOFF else []
    if not own and not gear.kits:
        raise click.UsageError("say a --kit to compare, or your own with --lens")
    comparison = gear_comparison(
        model.context(venue.venue()),
        kits_from([*own, *lines_of(gear.kits)], adds, own=lens.kit()),
        venue=venue.venue(),
        assignment=assignment.assignment(),
        max_iso=iso.max_iso,
        progress=lambda text: say(f"{text} …"),
    )
    output.show(comparison, gear_report)
