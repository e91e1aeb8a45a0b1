"""``lensyard card``: the offline card for a phone."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.options.cli_options import (
    assignment_from,
    assignment_options,
    echo_json,
    kit_from,
    kit_options,
    time_from,
    venue_from,
    venue_options,
    walking_from,
    walking_options,
)

SUFFIXES = (".html", ".htm")


@click.command("card")
@kit_options
@venue_options
@assignment_options
@walking_options
@click.option(
    "--at",
    "at_text",
    help="Kickoff: 2026-10-03T15:30 (the venue's clock), or with an offset; brings the light.",
)
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    default=Path("card.html"),
    show_default=True,
    help="The file to write, .html.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document about what was written.")
def card_command(
    lenses: tuple[str, ...],
    crop_factors: tuple[float, ...],
    bodies: int | None,
    converter: float,
    rules: str,
    team_area: float | None,
    faces: str,
    between: float,
    at_change: float,
    price: float | None,
    at_text: str | None,
    out: Path,
    as_json: bool,
) -> None:
    """One HTML file that answers on a phone without a network.

    Copy it to the phone and open it there. It holds the plan's answers for your kit, venue and
    assignment, the shot list to tick, and keeps a log that can be saved and imported.

    \b
    lensyard card --lens 70-200 --lens 400 --out card.html
    lensyard card --venue brindle-prairie --assignment newspaper --out saturday.html
    """
    from lensyard.features.card.build import card_content, card_facts
    from lensyard.features.card.html import card_html, card_page
    from lensyard.files import write_output
    from lensyard.model.context import load_context
    from lensyard.planner.plans import PlanRequest
    from lensyard.sun.game_light import light_at_kickoff

    if out.suffix.lower() not in SUFFIXES:
        raise click.UsageError(f"--out must end in {' or '.join(SUFFIXES)}; got {out.name!r}")
    kit = kit_from(lenses=lenses, crop_factors=crop_factors, bodies=bodies, converter=converter)
    assignment = assignment_from(faces)
    request = PlanRequest(
        kit=kit,
        venue=venue_from(rules=rules, team_area=team_area),
        assignment=assignment,
        walks=walking_from(kit, assignment, between=between, at_change=at_change, price=price),
    )
    click.echo("lensyard: answering every situation of the card …", err=True)
    light = None if at_text is None else light_at_kickoff(request.venue, kit, time_from(at_text))
    content = card_content(load_context(), request)
    page = card_html(card_page(content, light)).encode()
    write_output(out, page)
    if as_json:
        echo_json(card_facts(content, path=str(out), size_bytes=len(page)))
        return
    click.echo(f"wrote {out} ({len(page) / 1000:.0f} kB)", err=True)
