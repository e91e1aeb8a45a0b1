"""``lensyard crew``: where several photographers stand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lensyard.errors import StoreError
from lensyard.options.click_options import Output, options, output_options, say, typed_values
from lensyard.options.groups import (
    AssignmentOptions,
    CrewOptions,
    LensOptions,
    ModelOptions,
    VenueOptions,
)
from lensyard.options.situation import DirectionOptions, SituationOptions

if TYPE_CHECKING:
    from lensyard.features.crew.compute import CrewGame
    from lensyard.model.context import Context


@click.command("crew")
@options(
    CrewOptions,
    LensOptions,
    SituationOptions,
    VenueOptions,
    ModelOptions,
    DirectionOptions,
    AssignmentOptions,
    optional=(SituationOptions,),
)
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="FOLDER",
    help="With --game: also a sheet (PDF) and an offline card (HTML) for each, in this folder.",
)
@output_options()
def crew_command(
    crew: CrewOptions,
    lens: LensOptions,
    situation: SituationOptions | None,
    venue: VenueOptions,
    model: ModelOptions,
    direction: DirectionOptions,
    assignment: AssignmentOptions,
    out: Path | None,
    output: Output,
) -> None:
    """Where several photographers stand so that at least one of them has the play.

    For one play the answer is exact, and says so; for a game plans are made one after another.

    \b
    lensyard crew --shooters 3 --down 1 --ball opp18
    lensyard crew --kit "70-200 + 400" --kit "24-70 + 70-200" --down 2 --distance 8 --ball own30
    lensyard crew --who Ann=end-zone --who Ben --who Cleo=features --game --out saturday
    """
    if crew.carried and typed_values(LensOptions):
        raise click.UsageError("--kit already says what --lens and its like would; leave one out")
    if situation is None and not crew.whole_game:
        raise click.UsageError("say --down and --ball for one play, or --game for a whole game")
    if out is not None and not crew.whole_game:
        raise click.UsageError("--out writes sheets and cards for a game; say --game too")
    from lensyard.domain.field import Direction
    from lensyard.features.crew.compute import CrewRequest, crew_play, kits_for
    from lensyard.features.crew.report import crew_game_report, crew_report

    where = venue.venue()
    request = CrewRequest(
        kits=kits_for(crew.crew_size(), crew.carried_kits(lens.kit())),
        venue=where,
        assignment=assignment.assignment(),
        direction=Direction.TOWARD_B if crew.whole_game else direction.direction(where, say=say),
        named=crew.members(),
    )
    if crew.whole_game or situation is None:
        from lensyard.features.crew.compute import crew_game

        if out is not None:
            _make(out)
        game = crew_game(model.context(where), request, progress=lambda text: say(f"{text} …"))
        if out is not None:
            _write(out, model.context(where), game)
        output.show(game, crew_game_report)
        return
    answer = crew_play(model.context(where), request, situation.situation())
    output.show(answer, crew_report)


def _make(folder: Path) -> None:
    """Make the folder of the sheets and cards, before minutes are spent on them."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"cannot make {folder} ({error.strerror or error})") from error


def _write(folder: Path, context: Context, game: CrewGame) -> None:
    """Write a sheet and a card for everybody, named by their numbers."""
    from dataclasses import replace

    from lensyard.features.card.compute import card_content
    from lensyard.features.card.report import card_html
    from lensyard.features.crew.compute import member_plans
    from lensyard.features.crew.report import crew_lines, frames_for, member_report
    from lensyard.files import write_output
    from lensyard.render.paper_chart import report_pdf

    for i, solved in enumerate(member_plans(context, game.request), start=1):
        say(f"a sheet and a card for {game.members[i - 1].name} …")
        task = replace(solved.request.assignment, must_have=frames_for(game, i))
        plan = replace(solved, request=replace(solved.request, assignment=task))
        content = card_content(context, plan.request, solved=plan)
        sheet, card = folder / f"crew-{i}-sheet.pdf", folder / f"crew-{i}-card.html"
        write_output(sheet, report_pdf(member_report(game, i)))
        write_output(card, card_html(content, told=crew_lines(game, i)).encode())
        say(f"wrote {sheet} and {card}")
