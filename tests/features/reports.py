"""Every feature's report, made of invented results: one line each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from data.recipes.demo_game import demo_log
from tests.features.crew.invented import crew_answer, crew_game_of_three
from tests.features.evidence.invented import (
    club_tendencies,
    expected_points,
    simulated_season,
)
from tests.features.game_plan.invented import invented_curve, invented_plan
from tests.features.gear.invented import comparison_of, three_kits
from tests.features.plays.invented import a_comparison, a_mapping, imported, stored
from tests.features.review.invented import a_review
from tests.support.logs import add, start

from lensyard.domain.situation import Zone
from lensyard.features.captions.compute import match_captures
from lensyard.features.captions.exif import read_times
from lensyard.features.captions.report import capture_report
from lensyard.features.crew.report import crew_game_report, crew_report
from lensyard.features.evidence.kept import read_evidence
from lensyard.features.evidence.model_reports import (
    points_report,
    simulation_report,
    tendencies_report,
)
from lensyard.features.evidence.report import evaluation_report
from lensyard.features.game_log.compute import demo_folder, list_games
from lensyard.features.game_log.report import answer_report, game_report, games_report
from lensyard.features.game_plan.price_report import price_report
from lensyard.features.game_plan.report import plan_report
from lensyard.features.gear.report import gear_report
from lensyard.features.plays.report import (
    comparison_report,
    import_report,
    mapping_report,
    stored_report,
)
from lensyard.features.review.report import review_report
from lensyard.features.zones.compute import ZonesRequest, count_zones
from lensyard.features.zones.report import zones_report
from lensyard.game.entry import Result
from lensyard.game.logbook import open_log
from lensyard.model.choice import BASE_MODEL
from lensyard.model.context import load_context
from lensyard.plays.store import shared_store
from lensyard.render.report import Report
from lensyard.render.text import document


@dataclass(frozen=True)
class Case:
    """A result, how it is reported, and how it becomes a JSON document."""

    result: Callable[[], Any]
    report: Callable[[Any], Report]
    document: Callable[[Any], dict[str, Any]] = document


def red_zone():
    """Return the red zone of one season, counted."""
    request = ZonesRequest(down=3, seasons=(2019,), zones=(Zone.RED_ZONE,))
    return count_zones(load_context(), request, shared_store())


def with_cautions(report):
    """Return how a result becomes a document where the command adds the report's cautions."""
    return lambda result: document(result) | {"cautions": list(report(result).cautions)}


def import_reported(result):
    """Describe the files of an import's document."""
    return import_report(result["files"])


def mapping_reported(result):
    """Describe a mapping that was written."""
    return mapping_report(result, written="otters.toml")


def logged_play():
    """Return what adding a play to a new game answers."""
    with TemporaryDirectory() as folder:
        start(Path(folder))
        return add(Path(folder), spot="left:opp20", result=Result.RUN, gain_yd=4)


def logged_games():
    """Return a log's games."""
    with TemporaryDirectory() as folder:
        start(Path(folder))
        with open_log(Path(folder)) as book:
            return list_games(book)


def matched_captures():
    """Return the captures of the demo's cameras, matched with its plays."""
    times = read_times(demo_folder() / "times.csv")
    return match_captures(demo_log(), times, offsets={}, find_clocks=True)


CASES = {
    "gear": Case(three_kits, gear_report),
    "gear, one kit": Case(lambda: comparison_of(("400", (6.0, 6.0))), gear_report),
    "crew, one play": Case(crew_answer, crew_report),
    "crew, a game": Case(
        crew_game_of_three, lambda game: crew_game_report(game, zone=Zone.RED_ZONE)
    ),
    "plan": Case(invented_plan, plan_report),
    "plan, prices": Case(invented_curve, price_report),
    "zones": Case(red_zone, zones_report),
    "plays, stored": Case(stored, stored_report, with_cautions(stored_report)),
    "plays, imported": Case(imported, import_reported, with_cautions(import_reported)),
    "plays, mapped": Case(a_mapping, mapping_reported, with_cautions(mapping_reported)),
    "plays, compared": Case(a_comparison, comparison_report, with_cautions(comparison_report)),
    "evaluation": Case(
        lambda: read_evidence(load_context(BASE_MODEL)).evaluation,
        evaluation_report,
        lambda found: found,
    ),
    "simulated drives": Case(simulated_season, simulation_report),
    "expected points": Case(expected_points, points_report),
    "club tendencies": Case(club_tendencies, tendencies_report),
    "log, a change": Case(logged_play, answer_report),
    "log, a game": Case(logged_play, game_report),
    "log, all games": Case(logged_games, games_report),
    "captures": Case(matched_captures, capture_report),
    "review": Case(a_review, review_report),
}
