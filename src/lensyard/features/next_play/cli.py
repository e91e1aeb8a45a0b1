"""``lensyard next``: where to stand for the next play."""

from __future__ import annotations

import click

from lensyard.domain.assignment import LightPreference
from lensyard.options.cli_options import (
    assignment_from,
    assignment_options,
    attacking_option,
    direction_from,
    echo_json,
    have_from,
    have_option,
    kit_from,
    kit_options,
    situation_from,
    time_from,
    time_option,
    venue_from,
    venue_options,
)


@click.command("next")
@click.option("--down", type=int, required=True, help="1 to 4.")
@click.option("--distance", type=int, help="Yards to the line to gain. Default: 10, or the goal.")
@click.option("--ball", required=True, help="own20, 50 or opp35.")
@click.option(
    "--hash",
    "hash_mark",
    type=click.Choice(["left", "middle", "right"]),
    help="Hash mark, as the offense sees it. Default: not known.",
)
@kit_options
@venue_options
@attacking_option
@click.option(
    "--standing",
    help="Where you stand: left:opp40, right:own20, left:goal+4, right:back, end:left12.",
)
@click.option("--score", type=int, default=0, help="Offense's points less defense's. Default: 0.")
@click.option("--quarter", type=int, default=2, show_default=True, help="1 to 4; 5 is overtime.")
@click.option("--clock", default="15:00", show_default=True, help="Left in the quarter.")
@assignment_options
@have_option
@time_option
@click.option(
    "--top", type=click.IntRange(1, 20), default=5, show_default=True, help="Spots to name."
)
@click.option(
    "--by",
    type=click.Choice(["usable", "value"]),
    default="usable",
    show_default=True,
    help="Rank by how likely the play is usable, or by what it is worth to the assignment.",
)
@click.option(
    "--ball-changed-hands",
    is_flag=True,
    help="With --standing: there is time for a longer walk (110 yd) before this snap.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def next_command(
    down: int,
    distance: int | None,
    ball: str,
    hash_mark: str | None,
    lenses: tuple[str, ...],
    crop_factors: tuple[float, ...],
    bodies: int | None,
    converter: float,
    rules: str,
    team_area: float | None,
    attacking: str | None,
    standing: str | None,
    score: int,
    quarter: int,
    clock: str,
    faces: str,
    have: tuple[str, ...],
    at_text: str | None,
    light: str | None,
    top: int,
    by: str,
    ball_changed_hands: bool,
    as_json: bool,
) -> None:
    """Where to stand for the next play, how likely it is usable from there, and why.

    \b
    lensyard next --down 3 --distance 7 --ball opp35
    lensyard next --down 1 --ball opp8 --lens 70-200 --standing left:opp20
    lensyard next --down 1 --ball opp20 --venue brindle-prairie --at 2026-10-03T15:30
    lensyard next --down 2 --ball own30 --assignment newspaper --have drop-back,catch
    """
    from lensyard.features.next_play.answer import NextRequest, next_document, next_play
    from lensyard.model.context import load_context

    venue = venue_from(rules=rules, team_area=team_area)
    request = NextRequest(
        situation=situation_from(
            down=down,
            distance=distance,
            ball=ball,
            hash_mark=hash_mark,
            score=score,
            quarter=quarter,
            clock=clock,
        ),
        kit=kit_from(lenses=lenses, crop_factors=crop_factors, bodies=bodies, converter=converter),
        venue=venue,
        direction=direction_from(attacking, venue),
        assignment=assignment_from(faces),
        standing=standing,
        top=top,
        by_value=by == "value",
        ball_changed_hands=ball_changed_hands,
        have=have_from(have),
        at=None if at_text is None else time_from(at_text),
        light=None if light is None else LightPreference(light),
    )
    answer = next_play(load_context(), request)
    if as_json:
        echo_json(next_document(answer))
        return
    from lensyard.features.next_play.answer_parts import text_answer
    from lensyard.features.next_play.report import words_of

    click.echo(text_answer(words_of(answer)))
