"""``lensyard model``: what a model is, how well it adds up, and fitting one.

The documents of ``lensyard model`` as text.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from lensyard.options.cli_options import echo_json


def info_text(document: dict[str, Any]) -> str:
    """Return what a model says about itself."""
    facts = document["model"]
    seasons = facts["seasons"]
    span = f"{seasons[0]}" if len(seasons) == 1 else f"{seasons[0]}-{seasons[-1]}"
    kicks = "with kicks" if document["has_kicks"] else "without kicks"
    versions = ", ".join(f"{name} {number}" for name, number in facts["versions"].items())
    lines = [
        f"{facts['model_id']}: {facts['plays']:,} plays, level of play: {facts['level']}",
        f"seasons {span}, set to {facts['season_for']}; {kicks}",
        f"{document['size_bytes'] / 1e6:.2f} MB, hashes as recorded, format "
        f"{facts['format_version']}",
        f"plays  sha256 {facts['data_sha256']}",
        f"arrays sha256 {facts['arrays_sha256']}",
        f"fitted with {versions}; seed {facts['seed']}",
        f"{facts['attribution']} License: {facts['license']}",
    ]
    if facts["note"]:
        lines.append(facts["note"])
    lines += [f"{name}: {value:.5g}" for name, value in sorted(facts["metrics"].items())]
    lines.append("What was measured of the model in use: `lensyard evidence show`.")
    return "\n".join([*lines, *document["cautions"]])


def simulate_text(document: dict[str, Any]) -> str:
    """Return drawn games beside a season's."""
    season, games = document["season"], document["games"]
    before = document["clock_seasons"]
    lines = [
        f"{games['simulated']:,} games drawn from {document['model']['id']} beside the "
        f"{games['observed']} of {season} (halves without overtime)",
        "",
        f"{'':34}{'drawn':>9}{season:>9}{'+/-':>8}{'differs':>9}"
        f"{f'{before[0]}-{before[-1]}':>11}{'drift':>8}",
    ]
    for row in document["measures"]:
        lines.append(
            f"{row['text']:34}{row['simulated']:9.3f}{row['observed']:9.3f}"
            f"{row['observed_error']:8.3f}{row['difference']:+9.1%}"
            f"{row['seasons_before']:11.3f}{row['drift']:+8.1%}"
        )
    lines += ["", *document["cautions"]]
    return "\n".join(lines)


def points_text(document: dict[str, Any]) -> str:
    """Return expected points beside the published tables."""
    lines = [
        "Expected points of the next score, first and ten",
        "",
        f"{'to goal':>11}{'model':>8}{'early':>8}{'2020':>8}{'differs':>9}{'1969':>8}"
        f"{'differs':>9}",
    ]
    for row in document["rows"]:
        line = f"{row['yardline_100']:11}{row['points']:8.2f}{row['points_early_in_half']:8.2f}"
        for name in ("nflfastr", "carter_machol"):
            value = row[name]
            line += " " * 17 if value is None else f"{value:8.2f}{row['points'] - value:+9.2f}"
        lines.append(line.rstrip())
    lines.append("")
    for name, gaps in document["mean_absolute_difference"].items():
        lines.append(
            f"mean difference {gaps['points']:.3f}, early in a half "
            f"{gaps['points_early_in_half']:.3f}: {document['sources'][name]}"
        )
    return "\n".join([*lines, "", *document["explained"]])


def tendencies_text(document: dict[str, Any]) -> str:
    """Return what knowing the club would add."""
    lines = [
        f"Log-loss of the kind of play on {document['plays']:,} plays of {document['season']}:",
        f"  without clubs {document['log_loss']:.5f}",
        f"  with clubs    {document['log_loss_with_clubs']:.5f}  "
        f"(gain {document['gain']:+.5f} +/- {document['gain_error']:.5f} a play, "
        f"{document['gain_share']:+.2%})",
        document["text"],
    ]
    return "\n".join(lines)


@click.group("model")
def model_command() -> None:
    """The fitted model: ask it what it is, or fit one."""


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
    from lensyard.features.models.fit import bundled_model_path, model_document

    document = model_document(path or bundled_model_path())
    if as_json:
        echo_json(document)
        return

    click.echo(info_text(document))


@click.command("simulate")
@click.option("--season", type=int, default=2019, show_default=True, help="Not a fitted one.")
@click.option("--games", type=int, default=4096, show_default=True, help="Games to draw.")
@click.option("--seed", type=int, default=2019, show_default=True, help="Of the draws.")
@_MODEL
@_JSON
def simulate_command(season: int, games: int, seed: int, path: Path | None, as_json: bool) -> None:
    """Draw whole games from the model and set their drives beside a real season's."""
    from lensyard.features.models.fit import simulate_document
    from lensyard.model.context import load_context

    document = simulate_document(load_context(path), season=season, games=games, seed=seed)
    if as_json:
        echo_json(document)
        return

    click.echo(simulate_text(document))


@click.command("points")
@_JSON
def points_command(as_json: bool) -> None:
    """Expected points on first and ten by field position, beside published tables."""
    from lensyard.features.models.fit import points_document
    from lensyard.model.context import load_context

    document = points_document(load_context())
    if as_json:
        echo_json(document)
        return

    click.echo(points_text(document))


@click.command("tendencies")
@click.option("--season", type=int, default=2019, show_default=True, help="Not a fitted one.")
@_JSON
def tendencies_command(season: int, as_json: bool) -> None:
    """What knowing the club would add to the odds of run and pass; measured, not used."""
    from lensyard.features.models.fit import tendencies_document
    from lensyard.model.context import load_context

    document = tendencies_document(load_context(), season=season)
    if as_json:
        echo_json(document)
        return

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
    from lensyard.features.models.fit import BUNDLED, bundled_model_path, fit_model
    from lensyard.plays.seasons import parse_seasons

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
