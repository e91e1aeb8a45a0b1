"""``lensyard next``: where to stand for the next play."""

from __future__ import annotations

import click

from lensyard.options import groups
from lensyard.options.click_options import Output, options, output_options, say


@click.command("next")
@options(
    groups.SituationOptions,
    groups.KitOptions,
    groups.VenueOptions,
    groups.ModelOptions,
    groups.DirectionOptions,
    groups.StandingOptions,
    groups.AssignmentOptions,
    groups.HaveOptions,
    groups.LightOptions,
    groups.RankingOptions,
)
@output_options()
def next_command(
    situation: groups.SituationOptions,
    kit: groups.KitOptions,
    venue: groups.VenueOptions,
    model: groups.ModelOptions,
    direction: groups.DirectionOptions,
    standing: groups.StandingOptions,
    assignment: groups.AssignmentOptions,
    have: groups.HaveOptions,
    light: groups.LightOptions,
    ranking: groups.RankingOptions,
    output: Output,
) -> None:
    """Where to stand for the next play, how likely it is usable from there, and why.

    \b
    lensyard next --down 3 --distance 7 --ball opp35
    lensyard next --down 1 --ball opp8 --lens 70-200 --standing left:opp20
    lensyard next --down 1 --ball opp20 --venue brindle-prairie --at 2026-10-03T15:30
    lensyard next --down 2 --ball own30 --assignment newspaper --have drop-back,catch
    """
    from lensyard.features.next_play.compute import NextRequest, next_play
    from lensyard.features.next_play.report import next_document, next_report

    at_venue = venue.venue()
    answer = next_play(
        model.context(at_venue),
        NextRequest(
            situation=situation.situation(),
            kit=kit.kit(),
            venue=at_venue,
            assignment=assignment.assignment(),
            direction=direction.direction(at_venue, say=say),
            standing=standing.standing or None,
            top=ranking.top,
            by_value=ranking.by_value,
            ball_changed_hands=standing.changed_hands,
            have=have.ticked(),
            at=light.at(),
            light=light.light,
        ),
    )
    output.show(lambda: next_report(answer).brief(), document=lambda: next_document(answer))
