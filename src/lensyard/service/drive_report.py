"""Whether the model's plays add up to real drives, and what possession is worth in points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lensyard.domain.field import rules_named
from lensyard.errors import DataError, InvalidInputError, require_range
from lensyard.service.context import SCHEMA_VERSION, Context
from lensyard.service.kicks import kicks_of

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.axes import FloatArray
    from lensyard.model.drives import DriveCounts, Measure

MEASURES: Final = {
    "plays_per_drive": "plays a drive",
    "drives_per_game": "drives a game",
    "points_per_drive": "points a drive",
    "p_touchdown": "drives that end in a touchdown",
    "p_field_goal": "drives that end in a field goal",
    "p_punt": "drives that end in a punt",
    "p_turnover": "drives that end in a turnover",
}
DRIFT_SEASONS: Final = 4
"""The fitted seasons just before that the season is set beside."""
_COLUMNS: Final = (
    "game_id", "season", "season_type", "play_index", "drive_index", "offense", "half", "quarter",
    "clock_s", "down", "distance_yd", "yardline_100", "score_diff", "kind", "gain_yd",
    "touchdown", "return_touchdown", "turnover", "kick_result",
)  # fmt: skip


def _plays(seasons: list[int]) -> pd.DataFrame:
    from lensyard.data.store import load_plays

    return load_plays(_COLUMNS, seasons=seasons, season_type="REG")


def simulate_document(context: Context, *, season: int, games: int, seed: int) -> dict[str, Any]:
    """Return drawn games beside a season's, for ``lensyard model simulate --json``.

    Parameters
    ----------
    context
        The model.
    season
        A stored regular season that the model was not fitted on.
    games
        How many games to draw, 16 to 100,000.
    seed
        Of the draws.

    Raises
    ------
    InvalidInputError
        If the model was fitted on the season, or there are too few or too many games.
    DataError
        If the season, or every season that the clock could be read off, has no plays.
    """
    from lensyard.model.drives import count_drawn, count_played
    from lensyard.model.snap_clock import fit_snap_clock
    from lensyard.model.synthetic import draw_games

    require_range(low=16, high=100_000, games=games)
    fitted = context.model.manifest.seasons
    if season in fitted:
        raise InvalidInputError(
            f"the model {context.model.model_id} was fitted on season {season}; choose one that "
            "it has not seen"
        )
    before = [year for year in fitted if year < season][-DRIFT_SEASONS:]
    seen, held_out = _plays(before), _plays([season])
    if seen.empty or held_out.empty:
        raise DataError(
            f"there are no plays of {season}, or of the seasons {before} that the clock is read "
            "off; `lensyard data list` shows what there is"
        )
    clock = fit_snap_clock(seen)
    points = clock.touchdown_points
    drawn = draw_games(context.transition(), clock, games=games, seed=seed)
    simulated = count_drawn(drawn, touchdown_points=points)
    observed = count_played(held_out, touchdown_points=points)
    earlier = count_played(seen, touchdown_points=points)
    return {
        "schema_version": SCHEMA_VERSION,
        "season": season,
        "games": {"simulated": games, "observed": observed.games},
        "seed": seed,
        "clock_seasons": before,
        "touchdown_points": points,
        "measures": _compared(simulated, observed, earlier),
        "model": context.model_facts(),
        "cautions": [
            "One season is itself a sample: the standard error says how far another season of "
            "the same football could lie.",
        ],
    }


def _compared(
    simulated: DriveCounts, observed: DriveCounts, earlier: DriveCounts
) -> list[dict[str, Any]]:
    """Return every measure with its differences."""
    drawn, real, past = simulated.measures(), observed.measures(), earlier.measures()
    return [
        {
            "name": name,
            "text": text,
            "simulated": drawn[name].value,
            "simulated_error": drawn[name].error,
            "observed": real[name].value,
            "observed_error": real[name].error,
            "difference": _relative(drawn[name], real[name]),
            "seasons_before": past[name].value,
            "drift": _relative(real[name], past[name]),
        }
        for name, text in MEASURES.items()
    ]


def _relative(a: Measure, b: Measure) -> float:
    return a.value / b.value - 1.0


def points_document(context: Context) -> dict[str, Any]:
    """Return expected points on first and ten, for ``lensyard model points --json``."""
    from lensyard.model.drives import chain_drive_ends, expected_points
    from lensyard.model.published_points import CARTER_MACHOL, NFLFASTR, SOURCES

    snap = context.transition().snap_outcomes()
    touchdown = 6.0 + kicks_of(context).p_extra_point_made(rules_named("pro"))
    averaged = expected_points(snap, touchdown_points=touchdown)
    early = expected_points(snap, touchdown_points=touchdown, half_ends=False)
    ends = chain_drive_ends(snap)
    rows = [
        {
            "yardline_100": yard,
            "points": float(averaged[yard - 1]),
            "points_early_in_half": float(early[yard - 1]),
            "p_drive_touchdown": float(ends.p_touchdown[yard - 1]),
            "p_drive_field_goal": float(ends.p_field_goal[yard - 1]),
            "nflfastr": NFLFASTR.get(yard),
            "carter_machol": CARTER_MACHOL.get(yard),
        }
        for yard in sorted({*NFLFASTR, *CARTER_MACHOL})
    ]
    return {
        "schema_version": SCHEMA_VERSION,
        "situation": "first and ten",
        "touchdown_points": touchdown,
        "rows": rows,
        "mean_absolute_difference": {
            name: {
                "points": _mean_gap(averaged, table),
                "points_early_in_half": _mean_gap(early, table),
            }
            for name, table in (("nflfastr", NFLFASTR), ("carter_machol", CARTER_MACHOL))
        },
        "sources": SOURCES,
        "explained": [
            "points averages over all clocks: a half that ends first counts nothing, which takes "
            "up to .2 off near the goal. points_early_in_half lets play go on until somebody "
            "scores.",
            "The published table of 2020 is rounded to .1 and has the situation's clock as an "
            "input; the chain knows down, distance and yard line only.",
            "The table of 1971 is of 56 games of 1969, and nothing is corrected for the half "
            "century between: possession was worth less then, most of all near one's own goal.",
        ],
        "model": context.model_facts(),
        "cautions": [],
    }


def _mean_gap(points: FloatArray, published: dict[int, float]) -> float:
    """Return the mean absolute difference from a published table, in points."""
    return float(np.mean([abs(points[yard - 1] - value) for yard, value in published.items()]))
