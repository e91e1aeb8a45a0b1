"""``lensyard evidence``: what was measured of the model, kept beside it for the dashboard.

``lensyard evidence backtest``: what each policy would have brought home in a season.

``lensyard evidence evaluate``: the model beside baselines on a season that none of them has seen.
"""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.options.cli_options import (
    assignment_from,
    assignment_option,
    echo_json,
    kit_from,
    kit_options,
    venue_from,
    venue_options,
)


@click.command("build")
@click.option("--season", type=int, help="Season. Default: the one the model was made for.")
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Default: beside the model, where the dashboard looks.",
)
def build_command(season: int | None, out: Path | None) -> None:
    """Score the model beside baselines and play a season again for three kits; takes minutes."""
    from lensyard.features.evidence.build import build_evidence, evidence_path, write_evidence
    from lensyard.model.context import load_context

    context = load_context()
    document = build_evidence(
        context, season=season, progress=lambda text: click.echo(f"lensyard: {text} …", err=True)
    )
    path = out or evidence_path(context.model.model_id)
    write_evidence(document, path)
    click.echo(f"wrote {path}", err=True)


@click.command("show")
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def show_command(as_json: bool) -> None:
    """Say what was measured, in words; nothing is computed."""
    from dataclasses import asdict

    from lensyard.features.evidence.build import read_evidence
    from lensyard.features.evidence.report import evidence_text
    from lensyard.model.context import SCHEMA_VERSION, load_context

    context = load_context()
    evidence = read_evidence(context)
    if as_json:
        document = {"schema_version": SCHEMA_VERSION, **asdict(evidence)}
        echo_json({**document, "model": context.model_facts(), "cautions": []})
        return
    click.echo(evidence_text(evidence))


@click.command("backtest")
@click.option("--season", type=int, default=2019, show_default=True, help="A season with plays.")
@kit_options
@venue_options
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

    from lensyard.model.context import load_context
    from lensyard.planner.backtest import backtest_document, backtest_season, for_usable_plays
    from lensyard.planner.plans import PlanRequest

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
    from lensyard.features.evidence.report import backtest_text

    click.echo(backtest_text(result))


MODEL_NAMES = "lensyard,marginal,cells,histgb,lightgbm"


@click.command("evaluate")
@click.option(
    "--season", type=int, default=2019, show_default=True, help="The season that is scored."
)
@click.option(
    "--train",
    help="Seasons that are fitted: 2009-2017 or 2016,2017. Default: all stored ones up to two "
    "before the scored season.",
)
@click.option("--models", default=MODEL_NAMES, show_default=True, help="Which models.")
@click.option(
    "--plot",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw predicted against observed to this file: .png, .svg or .pdf.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def evaluate_command(
    season: int, train: str | None, models: str, plot: Path | None, as_json: bool
) -> None:
    """How good the probabilities are: this model beside baselines, fitted in the same run.

    Regular seasons; runs, passes, sacks and scrambles, without kneels, spikes and plays that a
    penalty wiped out. Two or three minutes with all models.
    """
    from lensyard.features.evidence.evaluate import evaluate_season, evaluation_document
    from lensyard.plays.seasons import parse_seasons

    if plot is not None:
        from lensyard.render.paper_chart import require_plot_file

        require_plot_file(plot)
    names = tuple(name.strip() for name in models.split(",") if name.strip())
    result = evaluate_season(
        season=season,
        train_seasons=None if train is None else parse_seasons(train),
        models=names,
    )
    if plot is not None:
        from lensyard.features.evidence.charts import save_reliability_plot
        from lensyard.features.evidence.evaluate_report import reliability_plot

        save_reliability_plot(reliability_plot(result), plot)
        click.echo(f"Drawn to {plot}", err=True)
    missing = [name for name in names if name not in {scores.name for scores in result.models}]
    for name in missing:
        click.echo(f"{name} is not installed; add it with the extra `boosted`", err=True)
    if as_json:
        echo_json(evaluation_document(result))
        return
    from lensyard.features.evidence.evaluate_report import evaluation_text

    click.echo(evaluation_text(result))
