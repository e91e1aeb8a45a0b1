"""``lensyard sheet``: the plan on one printed page."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.options import groups
from lensyard.options.click_options import Output, echo_json, options, output_options, say
from lensyard.render.paper import PAPERS

FORMS = {".pdf": "pdf", ".png": "png"}


@click.command("sheet")
@options(
    groups.KitOptions,
    groups.VenueOptions,
    groups.ModelOptions,
    groups.AssignmentOptions,
    groups.HaveOptions,
    groups.WalkingOptions,
    groups.TimeOptions,
)
@click.option(
    "--paper",
    type=click.Choice(list(PAPERS)),
    default="letter",
    show_default=True,
    help="Size of the page.",
)
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    default=Path("sheet.pdf"),
    show_default=True,
    help="The file to write: .pdf or .png.",
)
@output_options(json_help="One JSON document about what was printed.")
def sheet_command(
    kit: groups.KitOptions,
    venue: groups.VenueOptions,
    model: groups.ModelOptions,
    assignment: groups.AssignmentOptions,
    have: groups.HaveOptions,
    walking: groups.WalkingOptions,
    time: groups.TimeOptions,
    paper: str,
    out: Path,
    output: Output,
) -> None:
    """One page for the pocket: the rule, the spots, the shot list, the light and the cautions.

    The same inputs give the same file. The first sheet for a kit, venue and assignment takes some
    seconds; after that the plan is at hand.

    \b
    lensyard sheet --venue brindle-prairie --assignment newspaper --at 2026-10-03T15:30
    lensyard sheet --lens 70-200 --lens 300 --rules college --paper a4 --out sheet.png
    """
    from lensyard.features.game_plan.compute import game_plan
    from lensyard.features.sheet.compute import sheet_content
    from lensyard.features.sheet.layout import Sheet, sheet_file
    from lensyard.features.sheet.report import sheet_document
    from lensyard.files import write_output
    from lensyard.planner.plans import PlanRequest
    from lensyard.planner.season_data import stored_season
    from lensyard.render.paper import ready_to_draw
    from lensyard.sun.game_light import light_at_kickoff

    form = FORMS.get(out.suffix.lower())
    if form is None:
        raise click.UsageError(f"--out must end in {' or '.join(FORMS)}; got {out.name!r}")
    lenses, task, at = kit.kit(), assignment.assignment(), time.at()
    request = PlanRequest(lenses, venue.venue(), task, walking.walking(lenses, task))
    light = None if at is None else light_at_kickoff(request.venue, lenses, at)
    context = model.context(request.venue)
    plan = game_plan(
        context,
        request,
        stored_season(context),
        have=have.ticked(),
        kickoff=at,
        progress=lambda text: say(f"{text} …"),
        meanwhile=ready_to_draw,
    )
    content = sheet_content(plan, light)
    page = sheet_file(Sheet.of(content), paper=paper, form=form)
    write_output(out, page)
    if output.as_json:
        echo_json(sheet_document(content, path=str(out), paper=paper))
        return
    say(f"wrote {out} ({len(page) / 1000:.0f} kB)")
