"""``lensyard plan``: the plan for a game."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from lensyard.options.cli_options import (
    assignment_from,
    assignment_options,
    echo_json,
    have_from,
    have_option,
    kit_from,
    kit_options,
    venue_from,
    venue_options,
    walking_from,
    walking_options,
)

if TYPE_CHECKING:
    from lensyard.planner.plans import PlanRequest

TEXT_ONLY = "-"


@click.command("plan")
@kit_options
@venue_options
@assignment_options
@have_option
@walking_options
@click.option(
    "--iso-max",
    type=click.FloatRange(50, 1_000_000),
    default=6400,
    show_default=True,
    help="The highest ISO that you accept; what the venue's lamps allow is judged by it.",
)
@click.option(
    "--price-curve",
    is_flag=False,
    flag_value=TEXT_ONLY,
    help="In place of the plan: walking and value at several prices of a yard. With a file name "
    "(.svg, .png or .pdf) it is drawn too.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def plan_command(
    lenses: tuple[str, ...],
    crop_factors: tuple[float, ...],
    bodies: int | None,
    converter: float,
    rules: str,
    team_area: float | None,
    faces: str,
    have: tuple[str, ...],
    between: float,
    at_change: float,
    price: float | None,
    iso_max: float,
    price_curve: str | None,
    as_json: bool,
) -> None:
    """Where to stand in each part of the game, what it earns, and what to bring home.

    The first plan for a kit, venue and assignment takes some seconds; after that it is at hand.

    \b
    lensyard plan --lens 70-200 --lens 400
    lensyard plan --venue brindle-prairie --assignment newspaper --have drop-back
    lensyard plan --price-curve walking.svg
    """
    from lensyard.model.context import load_context
    from lensyard.planner.plans import PlanRequest

    kit = kit_from(lenses=lenses, crop_factors=crop_factors, bodies=bodies, converter=converter)
    assignment = assignment_from(faces)
    request = PlanRequest(
        kit=kit,
        venue=venue_from(rules=rules, team_area=team_area),
        assignment=assignment,
        walks=walking_from(kit, assignment, between=between, at_change=at_change, price=price),
    )
    if price_curve is not None:
        _price_curve(request, price_curve, as_json=as_json)
        return
    from lensyard.features.game_plan.compute import plan_document, plan_report

    report = plan_report(
        load_context(),
        request,
        have=have_from(have),
        max_iso=iso_max,
        progress=say_progress,
    )
    if as_json:
        echo_json(plan_document(report))
        return
    from lensyard.features.game_plan.report import plan_text

    click.echo(plan_text(report), nl=False)


def say_progress(text: str) -> None:
    """Say on standard error what takes a while."""
    click.echo(f"lensyard: {text} …", err=True)


def _price_curve(request: PlanRequest, target: str, *, as_json: bool) -> None:
    from pathlib import Path

    from lensyard.features.game_plan.price_curve import price_curve, price_document
    from lensyard.model.context import load_context

    path = None if target == TEXT_ONLY else Path(target)
    if path is not None:
        from lensyard.render.paper_chart import require_plot_file

        require_plot_file(path)
    curve = price_curve(load_context(), request, progress=say_progress)
    if as_json:
        echo_json(price_document(curve))
    else:
        from lensyard.features.game_plan.price_curve import price_text

        click.echo(price_text(curve), nl=False)
    if path is not None:
        from lensyard.features.game_plan.price_curve import price_plot, save_price_plot

        save_price_plot(price_plot(curve), path)
        click.echo(f"wrote {path}", err=True)
