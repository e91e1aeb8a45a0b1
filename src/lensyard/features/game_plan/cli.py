"""``lensyard plan``: the plan for a game."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from lensyard.options.click_options import Output, options, output_options, say
from lensyard.options.groups import (
    AssignmentOptions,
    HaveOptions,
    IsoOptions,
    KitOptions,
    ModelOptions,
    TimeOptions,
    VenueOptions,
    WalkingOptions,
)

TEXT_ONLY = "-"


@click.command("plan")
@options(
    KitOptions,
    VenueOptions,
    ModelOptions,
    AssignmentOptions,
    HaveOptions,
    WalkingOptions,
    TimeOptions,
    IsoOptions,
)
@click.option(
    "--price-curve",
    is_flag=False,
    flag_value=TEXT_ONLY,
    help="In place of the plan: walking and value at several prices of a yard. With a file name "
    "(.svg, .png or .pdf) it is drawn too.",
)
@output_options()
def plan_command(
    kit: KitOptions,
    venue: VenueOptions,
    model: ModelOptions,
    assignment: AssignmentOptions,
    have: HaveOptions,
    walking: WalkingOptions,
    time: TimeOptions,
    iso: IsoOptions,
    price_curve: str | None,
    output: Output,
) -> None:
    """Where to stand in each part of the game, what it brings, and what to bring home.

    The first plan for a kit, venue and assignment takes some seconds; after that it is at hand.

    \b
    lensyard plan --lens 70-200 --lens 400
    lensyard plan --venue brindle-prairie --assignment newspaper --have drop-back
    lensyard plan --price-curve walking.svg
    """
    from lensyard.features.game_plan import compute, report
    from lensyard.features.game_plan.price_curve import price_curve as curve_of
    from lensyard.planner.plans import PlanRequest
    from lensyard.planner.season_data import stored_season
    from lensyard.render.paper_chart import require_plot_file

    if price_curve not in (None, TEXT_ONLY):
        path = Path(price_curve)
        require_plot_file(path)
        output = replace(output, plot=path)
    chosen_kit, chosen_assignment = kit.kit(), assignment.assignment()
    walks = walking.walking(chosen_kit, chosen_assignment)
    request = PlanRequest(chosen_kit, venue.venue(), chosen_assignment, walks=walks)
    context = model.context(request.venue)
    plays, looked = stored_season(context), price_curve is not None

    def progress(text: str) -> None:
        nonlocal looked
        if not looked:
            looked = True  # said where the season's figures are not at hand
            asked = compute.after_ticks(request, compute.ticked_keys(request, have.ticked()))
            say(report.first_look_text(compute.first_look(context, asked)))
        say(f"{text} …")

    if price_curve is not None:
        curve = curve_of(context, request, plays, progress=progress)
        output.show(curve, report.price_report)
        return
    plan = compute.game_plan(
        context,
        request,
        plays,
        have=have.ticked(),
        max_iso=iso.max_iso,
        kickoff=time.at(),
        progress=progress,
    )
    output.show(plan, report.plan_report)
