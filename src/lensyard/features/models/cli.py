"""``lensyard model``: what models there are, choosing one, and fitting one."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.options.click_options import Output, output_options, say


@click.group("model")
def model_command() -> None:
    """The fitted models: list them, choose one, ask what it is, or fit one."""


@model_command.command("list")
@output_options()
def list_command(output: Output) -> None:
    """The models that there are, and which one answers under which rule set."""
    from lensyard.features.models.compute import models_list
    from lensyard.features.models.report import models_report

    found = models_list()
    output.show(found, models_report)


@model_command.command("use")
@click.argument("name", required=False)
@click.option("--rules", is_flag=True, help="Leave the choice to the rule set of the field again.")
@output_options()
def use_command(name: str | None, rules: bool, output: Output) -> None:
    """Choose the model that answers everywhere from now on, by its id or its .npz file."""
    from lensyard.features.models.compute import choose_model
    from lensyard.features.models.report import models_report

    if (name is None) != rules:
        raise click.UsageError("name a model, or say --rules")
    found = choose_model(name or "")
    output.show(found, models_report)


@model_command.command("info")
@click.option("--model", "name", default="", help="Its id, or the .npz file. Default: the chosen.")
@output_options()
def info_command(name: str, output: Output) -> None:
    """Which data made it, with what, and whether its files are whole."""
    from lensyard.features.models.compute import model_info
    from lensyard.features.models.report import model_report
    from lensyard.model.context import chosen_model

    found = model_info(chosen_model(name).path)
    output.show(found, model_report)


@model_command.command("fit")
@click.option("--seasons", default="", help="2009-2018 or 2016,2018. Default: all of the sources.")
@click.option("--id", "model_id", required=True, help="Name of the new model.")
@click.option(
    "--source",
    "sources",
    multiple=True,
    help="Bundled, or an imported one; repeat for more. Default: each season's own.",
)
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the two files. Default: among your models, where `model use` finds it.",
)
@click.option("--level", help="Level of play. Default: what the source says.")
@click.option(
    "--shrink/--no-shrink",
    default=None,
    help="Hold few plays to a model that exists. Default: yes for imported sources.",
)
@click.option(
    "--shrink-to",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Which one. Default: the bundled model of their level.",
)
@click.option(
    "--shrink-plays", type=click.FloatRange(min=1), help="How many plays that model counts for."
)
@click.option("--use", is_flag=True, help="Choose it, so that it answers everywhere.")
def fit_command(
    seasons: str,
    model_id: str,
    sources: tuple[str, ...],
    out: Path | None,
    level: str | None,
    shrink: bool | None,
    shrink_to: Path | None,
    shrink_plays: float | None,
    use: bool,
) -> None:
    """Fit a model on stored regular seasons: seconds for a season, a minute for ten.

    What the plays cannot tell (air yards, kicks, scrambles ...) is the prior's, and said.
    """
    from lensyard.features.models.compute import choose_model, fit_model
    from lensyard.features.models.report import fit_words
    from lensyard.model.artifact import load_manifest
    from lensyard.plays.bundled import parse_seasons

    path = fit_model(
        parse_seasons(seasons) if seasons else (),
        model_id=model_id,
        folder=out,
        sources=sources,
        prior_path=shrink_to,
        shrink=shrink,
        prior_plays=shrink_plays,
        level=level,
        progress=lambda text: say(f"{text} …"),
    )
    for sentence in fit_words(load_manifest(path)):
        say(sentence)
    if use:
        choose_model(str(path) if out is not None else model_id)
        say(f"{model_id} answers from now on; `lensyard model use --rules` takes that back")
    click.echo(path)
