"""``lensyard evidence``: what was measured of plan and model, and measuring it again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lensyard.model.context import BASE_MODEL
from lensyard.options import groups
from lensyard.options.click_options import Output, options, output_options, say

if TYPE_CHECKING:
    from collections.abc import Callable

    from lensyard.features.evidence.advice import AdviceTable
    from lensyard.features.evidence.kept import Sensitivity
    from lensyard.model.context import Context
    from lensyard.model.outcome import OutcomeModel
    from lensyard.planner.plans import PlanRequest

MODEL_NAMES = "lensyard,marginal,cells,histgb,lightgbm"

_season = click.option(
    "--season", type=int, default=2019, show_default=True, help="A season that was not fitted."
)
_model = click.option(
    "--model",
    "model_name",
    default=BASE_MODEL,
    show_default=True,
    help="A model: its id, or the .npz file.",
)
_setup = options(
    groups.KitOptions, groups.VenueOptions, groups.AssignmentOptions, groups.WalkingOptions
)
_source = click.option("--source", help="Of the plays. Default: each season's own.")


@click.command("show")
@_model
@output_options()
def show_command(model_name: str, output: Output) -> None:
    """Say what was measured of the model in use; nothing is computed."""
    from lensyard.features.evidence.advice_report import evidence_report
    from lensyard.features.evidence.kept import read_evidence
    from lensyard.features.evidence.report import SAFETY
    from lensyard.model.context import load_context
    from lensyard.render.text import document

    context = load_context(model_name)
    evidence = read_evidence(context)
    output.show(
        evidence,
        lambda found: evidence_report(found, range(len(found.kits))),
        lambda found: document(found, model=context.model_facts(), cautions=[SAFETY]),
    )


@click.command("build")
@click.option("--season", type=int, help="Season. Default: the one the model was made for.")
@click.option(
    "--part",
    "parts",
    multiple=True,
    type=click.Choice(["backtests", "advice", "sensitivity", "evaluation"]),
    help="Measure this part only and keep the others, where they are of the same model and plays. "
    "Default: all.",
)
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Default: beside the model, where the dashboard looks.",
)
@_model
def build_command(
    season: int | None, parts: tuple[str, ...], out: Path | None, model_name: str
) -> None:
    """Measure model, plan and advice on a season, for three kits; takes a quarter of an hour."""
    from lensyard.features.evidence import kept
    from lensyard.files import write_atomically
    from lensyard.model.context import load_context

    context = load_context(model_name)
    manifest = context.model.manifest
    found = kept.build_evidence(
        context,
        season=season or manifest.season_for or max(manifest.seasons) + 1,
        parts=parts or kept.PARTS,
        kept=kept.kept_document(context),
        progress=lambda text: say(f"{text} …"),
    )
    path = out or kept.evidence_path(context)
    write_atomically(path, json.dumps(found, indent=1, allow_nan=False) + "\n")
    say(f"wrote {path}")


@click.command("backtest")
@_season
@_setup
@_model
@_source
@click.option("--usable", is_flag=True, help="Every usable play is worth the same.")
@click.option("--kicks", is_flag=True, help="Beside it the same with punts and field goals.")
@output_options(plot="Draw each policy's share of the value to this file: .svg, .png or .pdf.")
def backtest_command(
    season: int,
    kit: groups.KitOptions,
    venue: groups.VenueOptions,
    assignment: groups.AssignmentOptions,
    walking: groups.WalkingOptions,
    model_name: str,
    source: str | None,
    usable: bool,
    kicks: bool,
    output: Output,
) -> None:
    """Play a season again, with the plan beside position rules, greed and hindsight.

    The two-number rule is fitted on the last three seasons before it that the model was fitted on.
    """
    from contextlib import ExitStack
    from dataclasses import replace

    from lensyard.domain.assignment import USABLE_WEIGHTS
    from lensyard.features.evidence import report
    from lensyard.model.context import load_context
    from lensyard.planner.plans import PlanRequest, plan_for
    from lensyard.planner.season import backtest_document, backtest_season, kicked_document
    from lensyard.running import beside

    carried, counted = kit.kit(), assignment.assignment()
    counted = replace(counted, weights=USABLE_WEIGHTS) if usable else counted
    walks = walking.walking(carried, counted)
    request = PlanRequest(kit=carried, venue=venue.venue(), assignment=counted, walks=walks)
    context = load_context(model_name, rules=request.venue.rules.name)

    def with_kicks() -> dict[str, object]:
        return kicked_document(
            backtest_season(context, request, season=season, source=source, kicks=True)
        )

    with ExitStack() as stack:
        if kicks:
            plan_for(context, request)  # solved once for both processes
            second = stack.enter_context(beside(with_kicks))
        found = backtest_document(backtest_season(context, request, season=season, source=source))
        if kicks:
            found["with_kicks"] = second()
    output.show(found, report.backtest_report, lambda found: found | {"cautions": [report.SAFETY]})


_again = click.option("--again", is_flag=True, help="Measure anew what is kept.")
_kits = click.option(
    "--reference-kits", is_flag=True, help="Three kits in turn: reach 20, 30 and 40 yd."
)


@click.command("advice")
@_season
@_setup
@_kits
@_model
@_again
@output_options(plot="Draw everybody's share of the value to this file: .svg, .png or .pdf.")
def advice_command(season: int, model_name: str, output: Output, **asked: Any) -> None:
    """Play published advice on where to stand over a season, beside the plan.

    What is kept of the reference kits is shown at once; another kit takes a minute. Sources stand
    with every rule.
    """
    from lensyard.features.evidence.advice import advice_table
    from lensyard.features.evidence.advice_report import advice_report
    from lensyard.features.evidence.report import SAFETY
    from lensyard.planner.season_data import stored_season

    def measure(context: Context, request: PlanRequest) -> AdviceTable:
        say(f"playing season {season} again with {request.kit.text} …")
        return advice_table(context, request, stored_season(context, season))

    found = _by_kit("advice", measure, season, model_name, **asked)
    output.show({"kits": found, "cautions": [SAFETY]}, lambda _: advice_report(found))


@click.command("sensitivity")
@_season
@_setup
@_kits
@_model
@_again
@output_options(plot="Draw the plan's lead to this file: .svg, .png or .pdf.")
def sensitivity_command(season: int, model_name: str, output: Output, **asked: Any) -> None:
    """Say how the plan's lead over the best advice depends on what is assumed.

    Facing, crop margin, setback, pace, weights and the open part of the end line, one at a time.
    What is kept of the reference kits is shown at once; for another kit a plan is solved for each
    assumption, some minutes.
    """
    from lensyard.features.evidence.advice_report import sensitivity_report
    from lensyard.features.evidence.kept import coarse, sensitivity
    from lensyard.features.evidence.report import SAFETY
    from lensyard.planner.season_data import stored_season

    def measure(context: Context, request: PlanRequest) -> Sensitivity:
        plays = stored_season(context, season)
        return sensitivity(context, request, plays, progress=lambda text: say(f"{text} …"))

    found = _by_kit("sensitivity", measure, season, model_name, form=coarse, **asked)
    output.show({"kits": found, "cautions": [SAFETY]}, lambda _: sensitivity_report(found))


def _by_kit(
    part: str,
    measure: Callable[[Context, PlanRequest], object],
    season: int,
    model_name: str,
    *,
    kit: groups.KitOptions,
    venue: groups.VenueOptions,
    assignment: groups.AssignmentOptions,
    walking: groups.WalkingOptions,
    reference_kits: bool,
    again: bool,
    form: Callable[[PlanRequest], PlanRequest] | None = None,
) -> list[dict[str, Any]]:
    """Return a part of the evidence for one kit, or for the three reference kits.

    What is kept of it is read; the rest, or with ``again`` all, is measured. ``form`` is the form
    in which a request is measured.
    """
    from lensyard.domain.kit import kit_of
    from lensyard.features.evidence.kept import REFERENCE_KITS, kept_part
    from lensyard.model.context import load_context
    from lensyard.planner.plans import PlanRequest
    from lensyard.render.text import document

    context, found = load_context(model_name), []
    own, sent_for = kit.kit(), assignment.assignment()
    kits = [own.falling_alike(kit_of(list(lenses))) for lenses in REFERENCE_KITS]
    for one in kits if reference_kits else [own]:
        walks = walking.walking(one, sent_for)
        request = PlanRequest(one, venue.venue(), sent_for, walks=walks)
        request = request if form is None else form(request)
        measured, fresh = kept_part(context, part, request, season=season)
        if measured is None or again:
            measured = document(measure(context, request))
        elif not fresh:
            say("measured with an earlier build of the model; --again measures anew")
        found.append(measured)
    return found


@click.command("evaluate")
@_season
@click.option(
    "--train",
    help="Seasons that are fitted: 2009-2017 or 2016,2017. Default: all stored ones up to two "
    "before the scored season.",
)
@click.option("--models", default=MODEL_NAMES, show_default=True, help="Which models.")
@click.option(
    "--model", "model_name", help="Score this saved model (id or .npz file) in place of a new fit."
)
@_source
@output_options(plot="Draw predicted against observed to this file: .svg, .png or .pdf.")
def evaluate_command(
    season: int,
    train: str | None,
    models: str,
    model_name: str | None,
    source: str | None,
    output: Output,
) -> None:
    """How good the probabilities are: this model beside baselines, fitted in the same run.

    Regular seasons; runs, passes, sacks and scrambles, without kneels, spikes and plays that a
    penalty wiped out. Two or three minutes with all models.
    """
    from lensyard.features.evidence import compute, report
    from lensyard.model.evaluation.evaluate import check_request, evaluate
    from lensyard.model.plays import COLUMNS
    from lensyard.plays.bundled import parse_seasons
    from lensyard.plays.store import load_plays
    from lensyard.render.text import document

    saved = _saved_model(model_name)
    if train is not None:
        seasons = parse_seasons(train)
    elif saved is not None:
        seasons = saved.manifest.seasons
    else:
        stored = load_plays(columns=["season"], season_type="REG", source=source)["season"].unique()
        seasons = compute.training_seasons(stored.tolist(), season=season)
    names = tuple(name.strip() for name in models.split(",") if name.strip())
    if saved is not None and set(names) <= {"lensyard"}:
        seasons = ()  # nothing is fitted
    else:
        check_request(season=season, train_seasons=seasons, models=names)
    plays = compute.plays_to_score(
        seasons, season=season, source=source, columns=COLUMNS, saved=saved
    )
    result = evaluate(
        plays,
        season=season,
        train_seasons=seasons,
        models=names,
        artifact_bytes=compute.saved_bytes,
        saved=saved,
    )
    found = document(result)
    for name in set(names) - {scores.name for scores in result.models}:
        say(f"{name} is not installed; add it with the extra `boosted`")
    output.show(found, report.evaluation_report, dict)


def _saved_model(name: str | None) -> OutcomeModel | None:
    from lensyard.model.context import load_context

    return None if name is None else load_context(name).model


@click.command("simulate")
@_season
@click.option("--games", type=int, default=4096, show_default=True, help="Games to simulate.")
@click.option("--seed", type=int, default=2019, show_default=True, help="Of the draws.")
@_model
@output_options()
def simulate_command(season: int, games: int, seed: int, model_name: str, output: Output) -> None:
    """Simulate whole games from the model and set their drives beside a real season's."""
    from lensyard.features.evidence import compute, model_reports
    from lensyard.model.context import load_context
    from lensyard.plays.store import load_plays

    context = load_context(model_name)
    seasons = [*compute.clock_seasons(context.model, season=season), season]
    plays = load_plays(seasons=seasons, season_type="REG")
    found = compute.simulate_season(context, plays, season=season, games=games, seed=seed)
    output.show(found, model_reports.simulation_report)


@click.command("points")
@_model
@output_options()
def points_command(model_name: str, output: Output) -> None:
    """Expected points on first and ten by field position, beside published tables."""
    from lensyard.features.evidence import compute, model_reports
    from lensyard.model.context import load_context

    context = load_context(model_name)
    found = compute.points_table(context, context.kicks())
    output.show(found, model_reports.points_report)


@click.command("tendencies")
@_season
@_model
@output_options()
def tendencies_command(season: int, model_name: str, output: Output) -> None:
    """What knowing the club would add to the odds of run and pass; measured, not used."""
    from lensyard.features.evidence import compute, model_reports
    from lensyard.model.context import load_context
    from lensyard.plays.store import load_plays

    context = load_context(model_name)
    seasons = [context.model.manifest.seasons[-1], season]
    found = compute.club_tendencies(
        context, load_plays(seasons=seasons, season_type="REG"), season=season
    )
    output.show(found, model_reports.tendencies_report)
