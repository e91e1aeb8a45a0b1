"""``lensyard model``: what a model is, how well it adds up, and fitting one."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.cli.options import echo_json


@click.group("model")
def model_command() -> None:
    """The fitted model: ask it what it is, test it against real drives, or fit one."""


_MODEL = click.option(
    "--model",
    "path",
    type=click.Path(dir_okay=False, path_type=Path),
    help="The .npz file. Default: the bundled model.",
)
_JSON = click.option("--json", "as_json", is_flag=True, help="One JSON document.")


@model_command.command("info")
@_MODEL
@_JSON
def info_command(path: Path | None, as_json: bool) -> None:
    """Which data made it, with what, and whether its files are whole."""
    from lensyard.service.modeling import bundled_model_path, model_document

    document = model_document(path or bundled_model_path())
    if as_json:
        echo_json(document)
        return
    from lensyard.cli.model_text import info_text

    click.echo(info_text(document))


@model_command.command("simulate")
@click.option("--season", type=int, default=2019, show_default=True, help="Not a fitted one.")
@click.option("--games", type=int, default=4096, show_default=True, help="Games to draw.")
@click.option("--seed", type=int, default=2019, show_default=True, help="Of the draws.")
@_MODEL
@_JSON
def simulate_command(season: int, games: int, seed: int, path: Path | None, as_json: bool) -> None:
    """Draw whole games from the model and set their drives beside a real season's."""
    from lensyard.service.context import load_context
    from lensyard.service.drive_report import simulate_document

    document = simulate_document(load_context(path), season=season, games=games, seed=seed)
    if as_json:
        echo_json(document)
        return
    from lensyard.cli.model_text import simulate_text

    click.echo(simulate_text(document))


@model_command.command("points")
@_JSON
def points_command(as_json: bool) -> None:
    """Expected points on first and ten by field position, beside published tables."""
    from lensyard.service.context import load_context
    from lensyard.service.drive_report import points_document

    document = points_document(load_context())
    if as_json:
        echo_json(document)
        return
    from lensyard.cli.model_text import points_text

    click.echo(points_text(document))


@model_command.command("tendencies")
@click.option("--season", type=int, default=2019, show_default=True, help="Not a fitted one.")
@_JSON
def tendencies_command(season: int, as_json: bool) -> None:
    """What knowing the club would add to the odds of run and pass; measured, not used."""
    from lensyard.service.context import load_context
    from lensyard.service.tendency_report import tendencies_document

    document = tendencies_document(load_context(), season=season)
    if as_json:
        echo_json(document)
        return
    from lensyard.cli.model_text import tendencies_text

    click.echo(tendencies_text(document))


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
    from lensyard.service.modeling import BUNDLED, bundled_model_path, fit_model
    from lensyard.service.plays import parse_seasons

    if shrink is None:
        shrink = shrink_to is not None or source not in (None, BUNDLED)
    path = fit_model(
        seasons=parse_seasons(seasons),
        model_id=model_id,
        folder=out,
        prior_path=(shrink_to or bundled_model_path()) if shrink else None,
        prior_plays=shrink_plays,
        level=level,
        source=source,
    )
    click.echo(path)
