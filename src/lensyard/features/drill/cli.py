"""``lensyard drill``: real situations to practice on."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, TextIO

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

if TYPE_CHECKING:
    from pathlib import Path

    from lensyard.features.drill.compute import Graded, Question, Series


@click.command("drill")
@click.option("--length", type=int, default=10, show_default=True, help="Situations, 1 to 500.")
@click.option(
    "--seed",
    type=int,
    help="A fixed series: the same situations and starts for everybody with this number.",
)
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
@click.option("--between", default=30.0, show_default=True, help="Yards one walks between plays.")
@click.option("--at-change", default=110.0, show_default=True, help="Yards when the ball changes.")
@click.option(
    "--answers",
    type=click.File("r", encoding="utf-8", errors="replace"),
    help="Read answers from a file, one a line; - is standard input.",
)
@click.option("--keep/--no-keep", default=True, help="Whether the answers count as progress.")
@click.option("--progress", is_flag=True, help="Show how you stand with every zone, and end.")
@click.option("--json", "as_json", is_flag=True, help="One JSON document at the end.")
def drill_command(
    length: int,
    seed: int | None,
    lenses: tuple[str, ...],
    crop_factors: tuple[float, ...],
    bodies: int | None,
    converter: float,
    rules: str,
    team_area: float | None,
    faces: str,
    between: float,
    at_change: float,
    answers: TextIO | None,
    keep: bool,
    progress: bool,
    as_json: bool,
) -> None:
    """Practice: a real situation, your spot, what came of it, and what plan, rule and habit had.

    \b
    lensyard drill
    lensyard drill --seed 12 --length 20 --lens 70-200 --lens 300
    """
    if progress:
        _show_progress(as_json)
        return
    from lensyard.features.drill.compute import DrillRequest, drill_document, summary_of
    from lensyard.features.drill.progress import series_for
    from lensyard.model.context import load_context
    from lensyard.planner.solve import Walking

    request = DrillRequest(
        kit=kit_from(lenses=lenses, crop_factors=crop_factors, bodies=bodies, converter=converter),
        venue=venue_from(rules=rules, team_area=team_area),
        assignment=assignment_from(faces),
        walking=Walking(drive_limit_yd=between, change_limit_yd=at_change),
        length=length,
        seed=seed,
    )
    click.echo(
        "lensyard: making a series ready; the first time for a kit it takes a while", err=True
    )
    series, path, notes = series_for(load_context(), request, keep=keep)
    for note in notes:
        click.echo(f"lensyard: {note}", err=True)
    session = _Session(series, answers or sys.stdin, path, aside=as_json)
    from lensyard.features.drill.report import summary_text

    try:
        ended_early = session.run()
    except (KeyboardInterrupt, click.Abort):
        click.echo("", err=True)
        click.echo(summary_text(series, summary_of(session.graded)), err=True)
        raise
    if as_json:
        echo_json(drill_document(series, session.graded))
    else:
        click.echo(summary_text(series, summary_of(session.graded)))
    if ended_early:
        raise click.ClickException(
            f"the answers ended after {len(session.graded)} of {len(series.questions)} situations; "
            "what was answered is kept"
        )


def _show_progress(as_json: bool) -> None:
    from lensyard.features.drill.progress import progress_document

    document = progress_document()
    if as_json:
        echo_json(document)
        return
    from lensyard.features.drill.report import progress_text

    click.echo(progress_text(document))


class _Session:
    """One sitting: asks, reads, grades and keeps, one situation after the other."""

    def __init__(self, series: Series, source: TextIO, path: Path | None, *, aside: bool) -> None:
        self.series, self.source, self.path, self.aside = series, source, path, aside
        self.asks = source.isatty()
        self.line = 0
        self.graded: list[Graded] = []

    def run(self) -> bool:
        """Ask everything; return whether the answers ended before the questions did."""
        from lensyard.features.drill.compute import grade
        from lensyard.features.drill.progress import keep_answer
        from lensyard.features.drill.report import ANSWER_FORMS, graded_text, question_text

        self.say(ANSWER_FORMS)
        for question in self.series.questions:
            self.say("\n" + question_text(self.series, question))
            station_index = self.answer(question)
            if station_index is None:
                return True
            graded = grade(self.series, question, station_index)
            if self.path is not None:
                keep_answer(self.path, self.series, graded)
            self.graded.append(graded)
            self.say("\n" + graded_text(self.series, graded))
        return False

    def answer(self, question: Question) -> int | None:
        """Return the position of the next answer that can be used; None where there is none."""
        from lensyard.errors import InvalidInputError
        from lensyard.features.drill.compute import read_answer

        while True:
            if self.asks:
                click.echo("> ", nl=False, err=True)
            text = self.source.readline()
            if not text:
                return None
            self.line += 1
            if not text.strip() or text.lstrip().startswith("#"):
                continue
            try:
                return read_answer(self.series, question, text.strip())
            except InvalidInputError as error:
                where = "" if self.asks else f"line {self.line}: "
                again = "Try again." if self.asks else "Taking the next line instead."
                click.echo(f"lensyard: {where}{error}. {again}", err=True)

    def say(self, text: str) -> None:
        """Show text: on standard output, or aside where a document goes there."""
        click.echo(text, err=self.aside)
