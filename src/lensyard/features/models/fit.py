"""Fitting a model and asking it what it is.

Whether the model's plays add up to real drives, and what possession is worth in points.

What knowing the clubs would add: a measurement, so that nobody has to believe either way.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lensyard.domain.field import rules_named
from lensyard.errors import DataError, InvalidInputError, ModelError, require_range
from lensyard.features.game_plan.kicks import kicks_of
from lensyard.model.artifact import load, load_manifest, save, size_bytes
from lensyard.model.context import SCHEMA_VERSION, Context

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.drives import DriveCounts, Measure
    from lensyard.model.kicks import KickModel
    from lensyard.model.outcome import OutcomeModel
    from lensyard.model.outcome_grid import FloatArray


BUNDLED: Final = "bundled"
MODEL_ID: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
LEVEL_CAUTION: Final = (
    "Fitted on professional games. High-school and college games run more, throw less and kick "
    "differently: take its odds as a start and fit your own level when you have its plays."
)
BUNDLED_SEASONS = tuple(range(2009, 2019))
BUNDLED_MODEL_ID = "pro-2009-2018-r2"


def fit_model(
    *,
    seasons: Sequence[int],
    model_id: str,
    folder: Path,
    prior_path: Path | None = None,
    prior_plays: float | None = None,
    level: str | None = None,
    source: str | None = None,
) -> Path:
    """Fit a model with its kicks on stored seasons and save it.

    Parameters
    ----------
    seasons
        Regular seasons to fit.
    model_id
        Its name; the files are ``<id>.npz`` and ``<id>.json``.
    folder
        Where to.
    prior_path
        A model to shrink toward when plays are few, or None.
    prior_plays
        How many plays that model counts for; `SHRINK_PLAYS` by default.
    level
        Level of play, for the manifest; by default what the source says of itself.
    source
        A source of the store; the bundled plays by default.

    Returns
    -------
    Path
        Of the arrays.

    Raises
    ------
    InvalidInputError
        If the id is no plain file name.
    DataError
        If there are too few plays, or none of a season.
    """
    from dataclasses import replace

    from lensyard.model.fitting.fit import fit_outcome
    from lensyard.model.fitting.prior import SHRINK_PLAYS, recentered
    from lensyard.model.plays import select_seasons
    from lensyard.plays.store import load_plays

    if not MODEL_ID.fullmatch(model_id):
        raise InvalidInputError(
            f"the model id {model_id!r} must be letters, digits, dots, dashes and underscores"
        )
    about = _about(source, seasons)
    plays = load_plays(seasons=list(seasons), season_type="REG", source=source or BUNDLED)
    prior: OutcomeModel | None = None
    if prior_path is not None:
        prior = recentered(load(prior_path), select_seasons(plays, seasons))
    counted = SHRINK_PLAYS if prior_plays is None else prior_plays
    model = fit_outcome(
        plays,
        seasons=seasons,
        model_id=model_id,
        level=level or about.level,
        prior=prior,
        prior_plays=counted,
        data_license=about.license,
        attribution=about.attribution,
    )
    model.manifest = replace(
        model.manifest,
        source=source or BUNDLED,
        prior_plays=0.0 if prior is None else counted,
        note=_note(model.manifest.plays, model.manifest.prior, counted),
    )
    kicks = _fit_kicks(plays, model, prior_path=prior_path, prior_plays=counted)
    return save(model, folder, kicks=kicks)


@dataclass(frozen=True, slots=True)
class _About:
    """What a source says of itself."""

    level: str
    license: str
    attribution: str


def _about(source: str | None, seasons: Sequence[int]) -> _About:
    """Return level, license and attribution of a source."""
    if source in (None, BUNDLED):
        from lensyard.plays.bundled import provenance

        bundled = provenance()
        return _About("professional", bundled.license, bundled.attribution)
    from lensyard.plays.store import shared_store

    entries = [
        entry
        for entry in shared_store().imported.catalog.entries
        if entry.source == source and entry.season in seasons
    ]

    def told(name: str) -> str:
        return "; ".join(sorted({getattr(entry, name) for entry in entries}))

    return _About(told("level"), told("license"), told("attribution"))


def _note(plays: int, prior: str, prior_plays: float) -> str:
    """Return how much a model was shrunk, in a sentence, or nothing."""
    if not prior:
        return ""
    share = prior_plays / (prior_plays + plays)
    return (
        f"Held to {prior}, its levels moved to these plays, which counts for {prior_plays:,.0f} "
        f"plays: it decides {share:.0%} of a table that every play teaches, more of rare "
        "situations."
    )


def _fit_kicks(
    plays: pd.DataFrame, model: OutcomeModel, *, prior_path: Path | None, prior_plays: float
) -> KickModel | None:
    """Return the kicks of the same plays, held to the prior's, or the prior's, or none."""
    from lensyard.model.artifact import load_kicks
    from lensyard.model.fitting.kicks import fit_kicks
    from lensyard.model.fitting.prior import blend_kicks

    try:
        prior = None if prior_path is None else load_kicks(prior_path)
    except ModelError:
        prior = None
    try:
        fitted = fit_kicks(plays, seasons=model.manifest.seasons)
    except ModelError:
        return prior  # too few kicks of some kind
    if prior is None:
        return fitted
    return blend_kicks(fitted, prior, plays=model.manifest.plays, prior_plays=prior_plays)


def bundled_model_path() -> Path:
    """Return the arrays of the bundled model."""
    from lensyard.config import models_dir
    from lensyard.model.artifact import default_model_path

    return default_model_path(models_dir())


def model_document(path: Path) -> dict[str, Any]:
    """Return what a model says about itself, for ``lensyard model info --json``."""
    from dataclasses import asdict

    manifest = load_manifest(path)
    load(path)  # a damaged file is refused, not described
    return {
        "schema_version": SCHEMA_VERSION,
        "model": {"id": manifest.model_id, **asdict(manifest)},
        "has_kicks": _has_kicks(path),
        "size_bytes": size_bytes(path),
        "cautions": [LEVEL_CAUTION] if manifest.level in ("professional", "pro") else [],
    }


def _has_kicks(path: Path) -> bool:
    from lensyard.model.artifact import load_kicks

    try:
        load_kicks(path)
    except ModelError:
        return False
    return True


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
    from lensyard.plays.store import load_plays

    return load_plays(_COLUMNS, seasons=seasons, season_type="REG")


def simulate_document(context: Context, *, season: int, games: int, seed: int) -> dict[str, Any]:
    """Return drawn games beside a season's, for ``lensyard evidence simulate --json``.

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
    from lensyard.model.simulation import draw_games
    from lensyard.model.snap_clock import fit_snap_clock

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
    """Return expected points on first and ten, for ``lensyard evidence points --json``."""
    from lensyard.model.drives import chain_drive_ends, expected_points
    from lensyard.model.points import CARTER_MACHOL, NFLFASTR, SOURCES

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


def tendencies_document(context: Context, *, season: int) -> dict[str, Any]:
    """Return the gain in log-loss from club tendencies on a season nobody fitted.

    The strength of the tilt is the best on the last fitted season; the season itself only scores.

    Raises
    ------
    InvalidInputError
        If the model was fitted on the season.
    DataError
        If the season, or the last fitted one, has no plays.
    """
    from lensyard.model.points import DOUBT_PLAYS, tendency_gain
    from lensyard.plays.store import load_plays

    fitted = context.model.manifest.seasons
    if season in fitted:
        raise InvalidInputError(
            f"the model {context.model.model_id} was fitted on season {season}; choose one that "
            "it has not seen"
        )
    earlier = load_plays(seasons=[fitted[-1]], season_type="REG")
    plays = load_plays(seasons=[season], season_type="REG")
    if earlier.empty or plays.empty:
        raise DataError(
            f"there are no plays of {season} or {fitted[-1]}; `lensyard data list` shows what "
            "there is"
        )
    doubt = max(DOUBT_PLAYS, key=lambda d: tendency_gain(context.model, earlier, doubt=d).gain)
    found = tendency_gain(context.model, plays, doubt=doubt)
    league = tendency_gain(context.model, plays, doubt=doubt, one_club=True)
    plain = float(found.plain.mean())
    return {
        "schema_version": SCHEMA_VERSION,
        "season": season,
        "plays": int(found.plain.shape[0]),
        "doubt_plays": doubt,
        "log_loss": plain,
        "log_loss_with_clubs": float(found.with_clubs.mean()),
        "gain": found.gain,
        "gain_error": found.error,
        "gain_share": found.gain / plain,
        "gain_of_season": league.gain,
        "used": False,
        "text": (
            f"Treating the whole league as one club gains {league.gain:+.5f}: that part is the "
            "season's drift. Clubs are not used in any answer."
        ),
        "model": context.model_facts(),
        "cautions": [],
    }
