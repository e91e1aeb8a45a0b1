"""``lensyard gear``: what to carry."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.options.cli_options import (
    assignment_from,
    assignment_options,
    echo_json,
    venue_from,
    venue_options,
)


@click.command("gear")
@click.option(
    "--kit",
    "kits",
    multiple=True,
    required=True,
    help='A kit: "70-200 + 300 x1.4", "70-200 on 1.5", "70-200 + 400, 1 body". Repeat to compare; '
    "one alone is compared with what one usually thinks of next.",
)
@click.option("--add", "adds", multiple=True, help="A lens to add to the first kit: 400, 300 x1.4.")
@venue_options
@assignment_options
@click.option(
    "--iso-max",
    type=click.FloatRange(50, 1_000_000),
    default=6400,
    show_default=True,
    help="The highest ISO that you accept; what the venue's lamps allow is judged by it.",
)
@click.option(
    "--plot",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw the comparison to this file: .svg, .png or .pdf.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def gear_command(
    kits: tuple[str, ...],
    adds: tuple[str, ...],
    rules: str,
    team_area: float | None,
    faces: str,
    iso_max: float,
    plot: Path | None,
    as_json: bool,
) -> None:
    """Compare kits by what a plan brings home with each, zone by zone.

    Every kit takes some seconds the first time; after that its figures are at hand.

    \b
    lensyard gear --kit "70-200" --kit "70-200 + 400" --kit "70-200 + 300 x1.4"
    lensyard gear --kit "70-200 + 300" --add "300 x1.4" --add 400 --plot kits.svg
    """
    from lensyard.features.game_plan.cli import say_progress
    from lensyard.features.gear.compare import gear_document, gear_report, kits_from
    from lensyard.model.context import load_context

    if plot is not None:
        from lensyard.render.figure import require_plot_file

        require_plot_file(plot)
    report = gear_report(
        load_context(),
        kits_from(kits, adds),
        venue=venue_from(rules=rules, team_area=team_area),
        assignment=assignment_from(faces),
        max_iso=iso_max,
        progress=say_progress,
    )
    if as_json:
        echo_json(gear_document(report))
    else:
        from lensyard.features.gear.report import gear_text

        click.echo(gear_text(report), nl=False)
    if plot is not None:
        from lensyard.features.gear.charts import save_gear_plot
        from lensyard.features.gear.report import gear_plot

        save_gear_plot(gear_plot(report), plot)
        click.echo(f"wrote {plot}", err=True)
