"""``lensyard review``: what a game or a season brought."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from lensyard.options.cli_options import echo_json


@click.command("review", context_settings={"help_option_names": ["-h", "--help"]})
@click.option("--game", "game_id", help="A game's id. Default: the one going on, else the last.")
@click.option("--season", type=int, help="All games of a season in place of one.")
@click.option(
    "--own-reach", is_flag=True, help="Count again with your own reach, from what you kept."
)
@click.option("--pdf", type=click.Path(dir_okay=False, path_type=Path), help="Write a page.")
@click.option(
    "--plot",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write a picture: PNG, SVG or PDF.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def review_command(
    game_id: str | None,
    season: int | None,
    own_reach: bool,
    pdf: Path | None,
    plot: Path | None,
    as_json: bool,
) -> None:
    """Where you stood, what was usable, what you kept, and what the plan would have had.

    \b
    lensyard review
    lensyard review --season 2026 --pdf season.pdf
    """
    from lensyard.features.review.compute import review_document, review_game
    from lensyard.model.context import load_context

    if sys.stderr.isatty():
        click.echo("counting; the first time for a kit and a venue takes half a minute", err=True)
    review = review_game(load_context(), game_id=game_id, season=season, own_reach=own_reach)
    from lensyard.features.review.report import review_page_of, review_plot_of, review_text

    if pdf is not None:
        from lensyard.features.review.paper import save_review_page

        save_review_page(review_page_of(review), pdf)
        click.echo(f"wrote {pdf}", err=True)
    if plot is not None:
        from lensyard.features.review.charts import save_review_plot

        save_review_plot(review_plot_of(review), plot)
        click.echo(f"wrote {plot}", err=True)
    if as_json:
        echo_json(review_document(review))
    else:
        click.echo(review_text(review))
    for warning in review.warnings:
        click.echo(f"lensyard: {warning}", err=True)
