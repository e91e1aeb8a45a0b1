"""``lensyard model``: what a model is, and fitting one."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.options.click_options import Output, output_options


@click.group("model")
def model_command() -> None:
    """The fitted model: ask it what it is, or fit one."""


@model_command.command("info")
@click.option("--model", "name", help="Its id, or the .npz file. Default: the bundled model.")
@output_options()
def info_command(name: str | None, output: Output) -> None:
    """Which data made it, with what, and whether its files are whole."""
    from lensyard.features.models.compute import model_info
    from lensyard.features.models.report import model_report
    from lensyard.model.artifact import default_model_path, model_path
    from lensyard.render.text import document

    found = model_info(default_model_path() if name is None else model_path(name))
    output.show(lambda: model_report(found), document=lambda: document(found))


@model_command.command("fit")
@click.option("--seasons", default="2009-2018", show_default=True, help="2009-2018 or 2016,2018.")
@click.option("--id", "model_id", required=True, help="Name of the new model.")
@click.option("--source", help="An imported source. Default: the bundled plays.")
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path(),
    show_default="here",
    help="Folder for the two files.",
)
@click.option("--level", help="Level of play. Default: what the source says.")
@click.option(
    "--shrink/--no-shrink",
    default=None,
    help="Hold few plays to the bundled model. Default: yes for imported sources.",
)
@click.option(
    "--shrink-to",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Another model to hold them to.",
)
@click.option(
    "--shrink-plays", type=click.FloatRange(min=1), help="How many plays that model counts for."
)
def fit_command(
    seasons: str,
    model_id: str,
    source: str | None,
    out: Path,
    level: str | None,
    shrink: bool | None,
    shrink_to: Path | None,
    shrink_plays: float | None,
) -> None:
    """Fit a model on stored regular seasons (about a minute for ten of them)."""
    from lensyard.features.models.compute import fit_model
    from lensyard.model.artifact import default_model_path
    from lensyard.plays.bundled import parse_seasons
    from lensyard.plays.importing.catalog import BUNDLED

    if shrink is None:
        shrink = shrink_to is not None or source not in (None, BUNDLED)
    path = fit_model(
        parse_seasons(seasons),
        model_id=model_id,
        folder=out,
        source=source,
        prior_path=(shrink_to or default_model_path()) if shrink else None,
        prior_plays=shrink_plays,
        level=level,
    )
    click.echo(path)
