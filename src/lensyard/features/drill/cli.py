"""``lensyard drill``: real situations to practice on."""

from __future__ import annotations

import pathlib
import sys
from typing import TYPE_CHECKING, TextIO

import click

from lensyard.options import groups
from lensyard.options.choices import Text, choice, whole
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
    source: str = choice("", Text(), "source", "", groups.SOURCE_HELP)


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
@click.option("--name", default="", help="Whose answers those are, on the list of a class.")
@click.option(
    "--import",
    "imports",
    multiple=True,
    metavar="NAME=FILE",
    help="Add somebody's drill-answers.jsonl to the class; a second time adds nothing.",
)
@click.option("--class", "whole_class", is_flag=True, help="Show how the class stands, and end.")
@click.option(
    "--csv",
    "csv_file",
    type=click.Path(dir_okay=False, path_type=pathlib.Path),
    help="With --class: write it as CSV too.",
)
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
    name: str,
    imports: tuple[str, ...],
    whole_class: bool,
    csv_file: Path | None,
    progress: bool,
    output: Output,
) -> None:
    """Practice: a real situation, your spot, what came of it, and what plan, rule and habit had.

    \b
    lensyard drill
    lensyard drill --seed 12 --length 20 --lens 70-200 --lens 300
    lensyard drill --seed 12 --name Ann
    lensyard drill --import Bo=drill-answers.jsonl --class --csv class.csv
    """
    from lensyard.features.drill.compute import summary_of
    from lensyard.features.drill.progress import learner_progress
    from lensyard.features.drill.report import drill_document, progress_report, summary_report
    from lensyard.features.drill.school import class_path
    from lensyard.features.drill.series import DrillRequest, series_for
    from lensyard.render.text import render_text
    from lensyard.running import interruptible

    if imports or whole_class:
        _class(imports, csv_file, output)
        return
    if csv_file is not None:
        raise click.UsageError("--csv needs --class")
    answers_file = class_path(name) if name else None
    if progress:
        found = learner_progress(answers_file)
        output.show(found, progress_report)
        return
    request = DrillRequest(
        kit=kit.kit(),
        venue=venue.venue(),
        assignment=assignment.assignment(),
        walk_time=walk_limit.walk_time(),
        length=series.length,
        seed=series.seed,
        source=series.source or None,
    )
    say("making a series ready; the first time for a kit it takes a while")
    drill, path, notes = series_for(
        model.context(request.venue), request, keep=keep, path=answers_file
    )
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
        sitting.graded,
        lambda graded: summary_report(drill, summary_of(graded)),
        lambda graded: drill_document(drill, graded),
    )
    if ended_early:
        raise click.ClickException(
            f"the answers ended after {len(sitting.graded)} of {len(drill.questions)} situations; "
            "what was answered is kept"
        )


def _class(imports: tuple[str, ...], csv_file: Path | None, output: Output) -> None:
    from lensyard.features.drill.report import class_report, class_table
    from lensyard.features.drill.school import class_progress, import_answers
    from lensyard.files import write_output
    from lensyard.render.text import csv_text

    found = class_progress(imported=import_answers(imports))
    output.show(found, class_report)
    if csv_file is not None:
        write_output(csv_file, csv_text(class_table(found)))
        say(f"wrote {csv_file}")


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
