"""``lensyard backtest``: what each policy would have brought home in a season."""

from __future__ import annotations

import click

from lensyard.cli.options import (
    assignment_from,
    assignment_option,
    echo_json,
    ground_options,
    kit_from,
    kit_options,
    venue_from,
)


@click.command("backtest")
@click.option("--season", type=int, default=2019, show_default=True, help="A season with plays.")
@kit_options
@ground_options
@assignment_option
@click.option(
    "--faces",
    type=click.Choice(["offense", "defense"]),
    default="offense",
    show_default=True,
    help="Whose faces the frames must show.",
)
@click.option("--usable", is_flag=True, help="Every usable play is worth the same.")
@click.option("--between", default=30.0, show_default=True, help="Yards one walks between plays.")
@click.option("--at-change", default=110.0, show_default=True, help="Yards when the ball changes.")
@click.option("--price", type=float, help="Of a yard walked. Default: the plan's.")
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def backtest_command(
    season: int,
    lenses: tuple[str, ...],
    crop_factors: tuple[float, ...],
    bodies: int | None,
    converter: float,
    rules: str,
    team_area: float | None,
    faces: str,
    usable: bool,
    between: float,
    at_change: float,
    price: float | None,
    as_json: bool,
) -> None:
    """Play a season again, with the plan beside habit, rule, greed and hindsight.

    The two-number rule is fitted on the last three seasons before it that the model was fitted on.
    """
    from dataclasses import replace

    from lensyard.service.backtests import backtest_document, backtest_season, for_usable_plays
    from lensyard.service.context import load_context
    from lensyard.service.plans import PlanRequest

    request = PlanRequest(
        kit=kit_from(lenses=lenses, crop_factors=crop_factors, bodies=bodies, converter=converter),
        venue=venue_from(rules=rules, team_area=team_area),
        assignment=assignment_from(faces),
    )
    request = for_usable_plays(request) if usable else request
    usual = request.walking
    walks = replace(
        usual,
        drive_limit_yd=between,
        change_limit_yd=at_change,
        price_per_yd=usual.price_per_yd if price is None else price,
    )
    request = replace(request, walks=walks)
    result = backtest_season(load_context(), request, season=season)
    if as_json:
        echo_json(backtest_document(result))
        return
    from lensyard.cli.backtest_text import backtest_text

    click.echo(backtest_text(result))
