"""``lensyard next``: where to stand for the next play."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from lensyard.options import groups
from lensyard.options import situation as situations
from lensyard.options.click_options import Output, options, output_options, say, typed_values

if TYPE_CHECKING:
    from lensyard.features.next_play.kicks import KickRequest
    from lensyard.model.context import Context


@click.command("next")
@options(
    situations.PlayOptions,
    situations.SituationOptions,
    groups.KitOptions,
    groups.VenueOptions,
    groups.ModelOptions,
    situations.DirectionOptions,
    situations.FlipOptions,
    situations.StandingOptions,
    groups.AssignmentOptions,
    groups.HaveOptions,
    groups.LightOptions,
    groups.RankingOptions,
    groups.WalkLimitOptions,
    optional=(situations.SituationOptions,),
)
@output_options()
def next_command(
    play: situations.PlayOptions,
    situation: situations.SituationOptions | None,
    kit: groups.KitOptions,
    venue: groups.VenueOptions,
    model: groups.ModelOptions,
    direction: situations.DirectionOptions,
    flip: situations.FlipOptions,
    standing: situations.StandingOptions,
    assignment: groups.AssignmentOptions,
    have: groups.HaveOptions,
    light: groups.LightOptions,
    ranking: groups.RankingOptions,
    walk_limit: groups.WalkLimitOptions,
    output: Output,
) -> None:
    """Where to be for the next play, how likely it is usable from there, and why.

    Without --standing the best spot; with it one decision: stay, walk to an open place that can be
    reached before the snap, cross behind closed ground, or that nothing pays on this snap.

    \b
    lensyard next --down 3 --distance 7 --ball opp35
    lensyard next --down 1 --ball opp8 --lens 70-200 --standing left:opp20
    lensyard next --down 1 --ball opp20 --venue brindle-prairie --at 2026-10-03T15:30
    lensyard next --down 2 --ball own30 --assignment newspaper --have drop-back,catch
    lensyard next --down 3 --distance 7 --ball opp35 --standing left:opp20 --flip
    lensyard next --play kickoff --rules high-school
    """
    from lensyard.features.next_play.compute import NextRequest, next_play
    from lensyard.features.next_play.report import next_brief, next_document, next_report

    at_venue = venue.venue()
    typed = typed_values(situations.SituationOptions)
    kick = play.kick(
        at_venue.rules,
        yardline_100=typed.get("yardline_100"),
        hash_mark=typed.get("hash_mark"),
    )
    if kick is not None:
        from lensyard.features.next_play.kicks import KickRequest

        _show_kick(
            KickRequest(
                kick=kick,
                kit=kit.kit(),
                venue=at_venue,
                direction=direction.direction(at_venue, say=say),
                standing=standing.standing or None,
                ball_changed_hands=standing.changed_hands,
                walk_time=walk_limit.walk_time(),
                least_usable=ranking.least_usable,
                top=ranking.top,
            ),
            model.context(at_venue),
            output,
        )
        return
    if situation is None:
        raise click.UsageError(
            "say what is played: --down and --ball, such as --down 3 --distance 7 --ball opp35, or "
            "--play kickoff"
        )
    if flip.flip:
        situation, direction, standing = situations.flipped(
            situation, direction, standing, at_venue
        )
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
            walk_time=walk_limit.walk_time(),
            least_usable=ranking.least_usable,
            have=have.ticked(),
            at=light.at(),
            light=light.light,
        ),
    )
    output.show(answer, next_report if output.more else next_brief, next_document)


def _show_kick(request: KickRequest, context: Context, output: Output) -> None:
    """Answer where to stand for a kick."""
    from lensyard.features.next_play.kick_report import kick_document, kick_report
    from lensyard.features.next_play.kicks import kick_play

    answer = kick_play(context, request)
    output.show(answer, kick_report, kick_document)
