"""``lensyard review``: what a game or a season brought."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from lensyard.errors import InvalidInputError
from lensyard.options.click_options import Output, options, output_options, say
from lensyard.options.groups import ModelOptions, ReviewOptions


@click.command("review", context_settings={"help_option_names": ["-h", "--help"]})
@options(ReviewOptions, ModelOptions)
@click.option(
    "--use-curve/--use-slope",
    default=None,
    help="Count with your own keep rate by distance in every later answer; or with the crop "
    "margin's slope again.",
)
@click.option("--pdf", type=click.Path(dir_okay=False, path_type=Path), help="Write it as a PDF.")
@output_options(plot="Draw its charts to this file: .png, .svg or .pdf.")
def review_command(
    review: ReviewOptions,
    model: ModelOptions,
    use_curve: bool | None,
    pdf: Path | None,
    output: Output,
) -> None:
    """Where you stood, what was usable, what you kept, and what the plan would have had.

    \b
    lensyard review
    lensyard review --season 2026 --pdf season.pdf
    """
    from lensyard.features.review.compute import chosen_games, review_games
    from lensyard.features.review.report import review_report
    from lensyard.game.entry import game_setup_of
    from lensyard.game.logbook import open_log

    if pdf is not None and pdf.suffix.lower() != ".pdf":
        raise InvalidInputError(f"expected a file ending in .pdf; got {pdf.name!r}")
    with open_log(writing=False) as book:
        title, ids = chosen_games(book.games(), game_id=review.game, season=review.season)
        logs = [book.log(game_id) for game_id in ids]
    if sys.stderr.isatty():
        say("counting; the first time for a kit and a venue takes half a minute")
    games = [(log, game_setup_of(log.game)) for log in logs]
    found = review_games(
        model.context(games[-1][1].venue), games, title=title, own_reach=review.own_reach
    )
    if use_curve is not None:
        from lensyard.settings import own_curve

        if use_curve and not found.own_curve.knots:
            raise InvalidInputError(
                "there are too few plays with keepers for a keep rate by distance of your own; the "
                "review says how many it takes"
            )
        own_curve.use_curve(found.own_curve.knots if use_curve else ())
    output.show(found, review_report)
    if pdf is not None:
        from lensyard.files import write_output
        from lensyard.render.paper_chart import report_pdf

        write_output(pdf, report_pdf(review_report(found)))
        say(f"wrote {pdf}")
