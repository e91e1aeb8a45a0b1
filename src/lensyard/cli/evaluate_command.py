"""``lensyard evaluate``: the model beside baselines on a season that none of them has seen."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.cli.options import echo_json

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
    from lensyard.service.evaluations import evaluate_season, evaluation_document
    from lensyard.service.plays import parse_seasons

    if plot is not None:
        from lensyard.views.charts import require_plot_file

        require_plot_file(plot)
    names = tuple(name.strip() for name in models.split(",") if name.strip())
    result = evaluate_season(
        season=season,
        train_seasons=None if train is None else parse_seasons(train),
        models=names,
    )
    if plot is not None:
        from lensyard.present.evaluation import reliability_plot
        from lensyard.views.reliability import save_reliability_plot

        save_reliability_plot(reliability_plot(result), plot)
        click.echo(f"Drawn to {plot}", err=True)
    missing = [name for name in names if name not in {scores.name for scores in result.models}]
    for name in missing:
        click.echo(f"{name} is not installed; add it with the extra `boosted`", err=True)
    if as_json:
        echo_json(evaluation_document(result))
        return
    from lensyard.cli.evaluate_text import evaluation_text

    click.echo(evaluation_text(result))
