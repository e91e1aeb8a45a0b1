"""``lensyard drill``: real situations to practice on."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, TextIO

import click

from lensyard.options import groups
from lensyard.options.choices import choice, whole
from lensyard.options.click_options import Output, options, output_options, say
from lensyard.records import Record

if TYPE_CHECKING:
    from pathlib import Path

    from lensyard.features.drill.compute import Graded
    from lensyard.features.drill.series import Question, Series
    from lensyard.render.report import Report


class SeriesOptions(Record):
    """How many situations, and whether everybody gets the same."""

    length: int = choice(10, whole(1, 500), "length", "", "Situations, 1 to 500.")
    seed: int | None = choice(
        None,
        whole(0, 2**32 - 1),
        "seed",
        "",
        "A fixed series: the same situations and starts for everybody with this number.",
    )


@click.command("drill")
@options(
    SeriesOptions,
    groups.KitOptions,
    groups.VenueOptions,
    groups.ModelOptions,
    groups.AssignmentOptions,
    groups.WalkLimitOptions,
)
@click.option(
    "--answers",
    type=click.File("r", encoding="utf-8", errors="replace"),
    help="Read answers from a file, one a line; - is standard input.",
)
@click.option("--keep/--no-keep", default=True, help="Whether the answers count as progress.")
@click.option("--progress", is_flag=True, help="Show how you stand with every zone, and end.")
@output_options(json_help="One JSON document at the end.")
def drill_command(
    series: SeriesOptions,
    kit: groups.KitOptions,
    venue: groups.VenueOptions,
    model: groups.ModelOptions,
    assignment: groups.AssignmentOptions,
    walk_limit: groups.WalkLimitOptions,
    answers: TextIO | None,
    keep: bool,
    progress: bool,
    output: Output,
) -> None:
    """Practice: a real situation, your spot, what came of it, and what plan, rule and habit had.

    \b
    lensyard drill
    lensyard drill --seed 12 --length 20 --lens 70-200 --lens 300
    """
    from lensyard.features.drill.compute import summary_of
    from lensyard.features.drill.progress import learner_progress
    from lensyard.features.drill.report import drill_document, progress_report, summary_report
    from lensyard.features.drill.series import DrillRequest, series_for
    from lensyard.render.text import document, render_text
    from lensyard.running import interruptible

    if progress:
        found = learner_progress()
        output.show(lambda: progress_report(found), document=lambda: document(found))
        return
    request = DrillRequest(
        kit=kit.kit(),
        venue=venue.venue(),
        assignment=assignment.assignment(),
        walking=walk_limit.limits(),
        length=series.length,
        seed=series.seed,
    )
    say("making a series ready; the first time for a kit it takes a while")
    drill, path, notes = series_for(model.context(request.venue), request, keep=keep)
    for note in notes:
        say(note)
    sitting = _Sitting(drill, answers or sys.stdin, path, aside=output.as_json)
    try:
        with interruptible():
            ended_early = sitting.run()
    except (KeyboardInterrupt, click.Abort):
        click.echo("", err=True)
        click.echo(render_text(summary_report(drill, summary_of(sitting.graded))), err=True)
        raise
    output.show(
        lambda: summary_report(drill, summary_of(sitting.graded)),
        document=lambda: drill_document(drill, sitting.graded),
    )
    if ended_early:
        raise click.ClickException(
            f"the answers ended after {len(sitting.graded)} of {len(drill.questions)} situations; "
            "what was answered is kept"
        )


class _Sitting:
    """Asks, reads, grades and stores, one situation after the other."""

    def __init__(self, series: Series, source: TextIO, path: Path | None, *, aside: bool) -> None:
        self.series, self.source, self.path, self.aside = series, source, path, aside
        self.asks = source.isatty()
        self.line = 0
        self.graded: list[Graded] = []

    def run(self) -> bool:
        """Ask everything; return whether the answers ended before the questions did."""
        from lensyard.features.drill.compute import grade, keep_answer
        from lensyard.features.drill.report import (
            ANSWER_FORMS,
            field_text,
            graded_report,
            question_report,
        )

        click.echo(ANSWER_FORMS, err=self.aside)
        for question in self.series.questions:
            field = field_text(self.series, question)
            self.show(question_report(self.series, question), field)
            station_index = self.answer(question)
            if station_index is None:
                return True
            graded = grade(self.series, question, station_index)
            if self.path is not None:
                keep_answer(self.path, self.series, graded)
            self.graded.append(graded)
            self.show(graded_report(graded), field_text(self.series, question, graded))
        return False

    def answer(self, question: Question) -> int | None:
        """Return the station index of the next answer that can be used; None where none is left."""
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
                say(f"{where}{error}. {again}")

    def show(self, report: Report, field: str) -> None:
        """Show a report and the field: on standard output, or aside where a document goes there."""
        from lensyard.render.text import render_text

        click.echo(f"\n{render_text(report)}\n{field}", err=self.aside)
