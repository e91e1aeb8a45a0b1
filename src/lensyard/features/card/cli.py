"""``lensyard card``: the offline card for a phone."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.features.card.serve import PORT
from lensyard.options import groups
from lensyard.options.click_options import Output, echo_json, options, output_options, say

SUFFIXES = (".html", ".htm")


@click.command("card")
@options(
    groups.KitOptions,
    groups.VenueOptions,
    groups.ModelOptions,
    groups.AssignmentOptions,
    groups.WalkingOptions,
    groups.TimeOptions,
)
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    default=Path("card.html"),
    show_default=True,
    help="The file to write, .html.",
)
@click.option(
    "--serve",
    is_flag=True,
    help="Then hand it to phones in this computer's network, by a QR code, until Ctrl-C.",
)
@click.option(
    "--port", type=click.IntRange(1, 65535), default=PORT, show_default=True, help="With --serve."
)
@output_options(json_help="One JSON document about what was written.")
def card_command(
    kit: groups.KitOptions,
    venue: groups.VenueOptions,
    model: groups.ModelOptions,
    assignment: groups.AssignmentOptions,
    walking: groups.WalkingOptions,
    time: groups.TimeOptions,
    out: Path,
    serve: bool,
    port: int,
    output: Output,
) -> None:
    """One HTML file that answers on a phone without a network.

    Copy it to the phone and open it there. It holds the plan's answers for your kit, venue and
    assignment, the shot list to tick, and keeps a log that can be saved and imported.

    \b
    lensyard card --lens 70-200 --lens 400 --out card.html
    lensyard card --venue brindle-prairie --assignment newspaper --out saturday.html
    lensyard card --serve
    """
    from lensyard.features.card.compute import card_content
    from lensyard.features.card.report import card_html, card_written, leaving
    from lensyard.features.game_plan.filing import Filing, filing_of
    from lensyard.features.game_plan.report import filing_lines
    from lensyard.files import write_output
    from lensyard.planner.plans import PlanRequest
    from lensyard.planner.season_data import stored_season
    from lensyard.sun.game_light import light_at_kickoff

    if out.suffix.lower() not in SUFFIXES:
        raise click.UsageError(f"--out must end in {' or '.join(SUFFIXES)}; got {out.name!r}")
    lenses, task = kit.kit(), assignment.assignment()
    request = PlanRequest(lenses, venue.venue(), task, walking.walking(lenses, task))
    at = time.at()
    light = None if at is None else light_at_kickoff(request.venue, lenses, at)
    say("answering every situation of the card …")
    context = model.context(request.venue)
    content = card_content(context, request)
    told: list[tuple[str, str]] = []
    filing: tuple[Filing, ...] = ()
    if task.deadlines:
        say("when to leave for the desk …")
        filing = filing_of(context, request, stored_season(context), kickoff=at)
        told = [("Filing", line) for line in filing_lines(filing)]
    page = card_html(content, light, told, leaving(filing, kickoff=at)).encode()
    write_output(out, page)
    if output.as_json:
        echo_json(card_written(content, path=str(out), size_bytes=len(page)))
    else:
        say(f"wrote {out} ({len(page) / 1000:.0f} kB)")
    if serve:
        _serve(page, port)


def _serve(page: bytes, port: int) -> None:
    """Hand the card out until interrupted."""
    from lensyard.dashboard.serve import network_address
    from lensyard.features.card.serve import KEEP_OPEN, hand_out, qr_text

    server, where = hand_out(page, address=network_address(), port=port)
    say(f"{qr_text(where)}\n{where}")
    say(KEEP_OPEN)
    with server:
        server.serve_forever()
