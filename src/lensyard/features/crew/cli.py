"""``lensyard crew``: where several photographers stand."""

from __future__ import annotations

import click

from lensyard.options.click_options import Output, options, output_options, say, typed_values
from lensyard.options.groups import (
    AssignmentOptions,
    CrewOptions,
    DirectionOptions,
    LensOptions,
    ModelOptions,
    SituationOptions,
    VenueOptions,
)


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
@output_options()
def crew_command(
    crew: CrewOptions,
    lens: LensOptions,
    situation: SituationOptions | None,
    venue: VenueOptions,
    model: ModelOptions,
    direction: DirectionOptions,
    assignment: AssignmentOptions,
    output: Output,
) -> None:
    """Where several photographers stand so that at least one of them has the play.

    For one play the answer is exact, and says so; for a game plans are made one after another.

    \b
    lensyard crew --shooters 3 --down 1 --ball opp18
    lensyard crew --kit "70-200 + 400" --kit "24-70 + 70-200" --down 2 --distance 8 --ball own30
    lensyard crew --shooters 2 --game
    """
    if crew.carried and typed_values(LensOptions):
        raise click.UsageError("--kit already says what --lens and its like would; leave one out")
    if situation is None and not crew.whole_game:
        raise click.UsageError("say --down and --ball for one play, or --game for a whole game")
    from lensyard.domain.field import Direction
    from lensyard.features.crew.compute import CrewRequest, crew_play, kits_for
    from lensyard.features.crew.report import crew_game_report, crew_report
    from lensyard.render.text import document

    where = venue.venue()
    request = CrewRequest(
        kits=kits_for(crew.crew_size(), crew.carried_kits(lens.kit())),
        venue=where,
        assignment=assignment.assignment(),
        direction=Direction.TOWARD_B if crew.whole_game else direction.direction(where, say=say),
    )
    if crew.whole_game or situation is None:
        from lensyard.features.crew.compute import crew_game

        game = crew_game(model.context(where), request, progress=lambda text: say(f"{text} …"))
        output.show(lambda: crew_game_report(game), document=lambda: document(game))
        return
    answer = crew_play(model.context(where), request, situation.situation())
    output.show(lambda: crew_report(answer), document=lambda: document(answer))
