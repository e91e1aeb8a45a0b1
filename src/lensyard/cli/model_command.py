"""``lensyard model``: what a model is, and fitting one."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.cli.options import echo_json


@click.group("model")
def model_command() -> None:
    """The fitted model: ask it what it is, or fit one."""


@model_command.command("info")
@click.option(
    "--model",
    "path",
    type=click.Path(dir_okay=False, path_type=Path),
    help="The .npz file. Default: the bundled model.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def info_command(path: Path | None, as_json: bool) -> None:
    """Which data made it, with what, and whether its files are whole."""
    from lensyard.service.modeling import bundled_model_path, model_document

    document = model_document(path or bundled_model_path())
    if as_json:
        echo_json(document)
        return
    facts = document["model"]
    seasons = facts["seasons"]
    click.echo(
        f"{facts['model_id']}: {facts['plays']:,} {facts['level']} plays, "
        f"{seasons[0]}-{seasons[-1]}, set to {facts['season_for']}"
    )
    click.echo(f"{document['size_bytes'] / 1e6:.2f} MB, hashes as recorded")
    click.echo(f"{facts['attribution']} License: {facts['license']}")


@model_command.command("fit")
@click.option("--seasons", default="2009-2018", show_default=True, help="2009-2018 or 2016,2018.")
@click.option("--id", "model_id", required=True, help="Name of the new model.")
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path(),
    show_default="here",
    help="Folder for the two files.",
)
@click.option("--level", default="professional", show_default=True, help="Level of play.")
@click.option(
    "--shrink-to",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A model that few plays are shrunk toward.",
)
def fit_command(seasons: str, model_id: str, out: Path, level: str, shrink_to: Path | None) -> None:
    """Fit a model on stored regular seasons (less than a minute for ten of them)."""
    from lensyard.service.modeling import fit_model
    from lensyard.service.plays import parse_seasons

    path = fit_model(
        seasons=parse_seasons(seasons),
        model_id=model_id,
        folder=out,
        prior_path=shrink_to,
        level=level,
    )
    click.echo(path)
