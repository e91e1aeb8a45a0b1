"""``lensyard crew``: where several photographers stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from lensyard.options.cli_options import (
    assignment_from,
    assignment_options,
    attacking_option,
    direction_from,
    echo_json,
    kit_from,
    kit_options,
    situation_from,
    venue_from,
    venue_options,
)

if TYPE_CHECKING:
    from lensyard.features.crew.one_play import CrewRequest


@click.command("crew")
@click.option(
    "--shooters", type=click.IntRange(1, 12), help="How many. Default: 2, or one a --kit."
)
@click.option(
    "--kit",
    "kits",
    multiple=True,
    help='Who carries what, in order: --kit "70-200 + 400" --kit "24-70 + 70-200". One for all, or '
    "one each; in place of --lens.",
)
@kit_options
@click.option("--game", is_flag=True, help="Plans for a whole game in place of one play.")
@click.option("--down", type=int, help="1 to 4.")
@click.option("--distance", type=int, help="Yards to the line to gain. Default: 10, or the goal.")
@click.option("--ball", help="own20, 50 or opp35.")
@click.option(
    "--hash",
    "hash_mark",
    type=click.Choice(["left", "middle", "right"]),
    help="Hash mark, as the offense sees it. Default: not known.",
)
@click.option("--score", type=int, default=0, help="Offense's points less defense's. Default: 0.")
@click.option("--quarter", type=int, default=2, show_default=True, help="1 to 4; 5 is overtime.")
@click.option("--clock", default="15:00", show_default=True, help="Left in the quarter.")
@venue_options
@attacking_option
@assignment_options
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def crew_command(
    shooters: int | None,
    kits: tuple[str, ...],
    lenses: tuple[str, ...],
    crop_factors: tuple[float, ...],
    bodies: int | None,
    converter: float,
    game: bool,
    down: int | None,
    distance: int | None,
    ball: str | None,
    hash_mark: str | None,
    score: int,
    quarter: int,
    clock: str,
    rules: str,
    team_area: float | None,
    attacking: str | None,
    faces: str,
    as_json: bool,
) -> None:
    """Where several photographers stand so that at least one of them has the play.

    For one play the answer is exact, and says so; for a game plans are made one after another.

    \b
    lensyard crew --shooters 3 --down 1 --ball opp18
    lensyard crew --kit "70-200 + 400" --kit "24-70 + 70-200" --down 2 --distance 8 --ball own30
    lensyard crew --shooters 2 --game
    """
    from lensyard.domain.kit import DEMO_KIT, parse_kit
    from lensyard.features.crew.one_play import CrewRequest, kits_for
    from lensyard.model.context import load_context

    typed = bool(lenses or crop_factors or bodies is not None or converter != 1.0)
    if kits and typed:
        raise click.UsageError("--kit already says what --lens and its like would; leave one out")
    if kits:
        carried = [parse_kit(text) for text in kits]
    elif typed:
        carried = [
            kit_from(lenses=lenses, crop_factors=crop_factors, bodies=bodies, converter=converter)
        ]
    else:
        carried = [DEMO_KIT]
    if shooters is None:
        shooters = len(carried) if len(carried) > 1 else 2
    venue = venue_from(rules=rules, team_area=team_area)
    request = CrewRequest(
        kits=kits_for(shooters, carried),
        venue=venue,
        assignment=assignment_from(faces),
        direction=direction_from(attacking, venue) if not game else direction_from("B", venue),
    )
    if game:
        _game(request, as_json=as_json)
        return
    if down is None or ball is None:
        raise click.UsageError("say --down and --ball for one play, or --game for a whole game")
    from lensyard.features.crew.one_play import crew_document, crew_play

    situation = situation_from(
        down=down,
        distance=distance,
        ball=ball,
        hash_mark=hash_mark,
        score=score,
        quarter=quarter,
        clock=clock,
    )
    answer = crew_play(load_context(), request, situation)
    if as_json:
        echo_json(crew_document(answer))
        return
    from lensyard.features.crew.report import crew_text

    click.echo(crew_text(answer), nl=False)


def _game(request: CrewRequest, *, as_json: bool) -> None:
    from lensyard.features.crew.game import crew_game, crew_game_document
    from lensyard.features.game_plan.cli import say_progress
    from lensyard.model.context import load_context

    result = crew_game(load_context(), request, progress=say_progress)
    if as_json:
        echo_json(crew_game_document(result))
        return
    from lensyard.features.crew.report import crew_game_text

    click.echo(crew_game_text(result), nl=False)
