"""``lensyard sheet``: the plan on one printed page."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.options.cli_options import (
    assignment_from,
    assignment_options,
    echo_json,
    have_from,
    have_option,
    kit_from,
    kit_options,
    time_from,
    venue_from,
    venue_options,
    walking_from,
    walking_options,
)

FORMS = {".pdf": "pdf", ".png": "png"}


@click.command("sheet")
@kit_options
@venue_options
@assignment_options
@have_option
@walking_options
@click.option(
    "--at",
    "at_text",
    help="Kickoff: 2026-10-03T15:30 (the venue's clock), or with an offset; brings the light.",
)
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
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
@click.option("--json", "as_json", is_flag=True, help="One JSON document about what was printed.")
def sheet_command(
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
    at_text: str | None,
    paper: str,
    out: Path,
    as_json: bool,
) -> None:
    """One page for the pocket: the rule, the spots, the shot list, the light and the cautions.

    The same inputs give the same file. The first sheet for a kit, venue and assignment takes some
    seconds; after that the plan is at hand.

    \b
    lensyard sheet --venue brindle-prairie --assignment newspaper --at 2026-10-03T15:30
    lensyard sheet --lens 70-200 --lens 300 --rules college --paper a4 --out sheet.png
    """
    from lensyard.features.sheet.compute import SheetRequest, sheet_content, sheet_document
    from lensyard.features.sheet.layout import sheet_file
    from lensyard.features.sheet.report import sheet_of
    from lensyard.files import write_output
    from lensyard.model.context import load_context
    from lensyard.planner.plans import PlanRequest

    form = FORMS.get(out.suffix.lower())
    if form is None:
        raise click.UsageError(f"--out must end in {' or '.join(FORMS)}; got {out.name!r}")
    kit = kit_from(lenses=lenses, crop_factors=crop_factors, bodies=bodies, converter=converter)
    assignment = assignment_from(faces)
    request = SheetRequest(
        plan=PlanRequest(
            kit=kit,
            venue=venue_from(rules=rules, team_area=team_area),
            assignment=assignment,
            walks=walking_from(kit, assignment, between=between, at_change=at_change, price=price),
        ),
        kickoff=None if at_text is None else time_from(at_text),
        have=have_from(have),
    )
    content = sheet_content(load_context(), request, progress=say_progress)
    page = sheet_file(sheet_of(content), paper=paper, form=form)
    write_output(out, page)
    if as_json:
        echo_json(sheet_document(content, path=str(out), paper=paper))
        return
    click.echo(f"wrote {out} ({len(page) / 1000:.0f} kB)", err=True)


def say_progress(text: str) -> None:
    """Say on standard error what takes a while."""
    click.echo(f"lensyard: {text} …", err=True)
