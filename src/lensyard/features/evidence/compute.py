"""What is measured of the model: simulated drives, expected points, clubs, what is scored."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.domain.field import rules_named
from lensyard.errors import DataError, InvalidInputError, require_range
from lensyard.records import Record

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.context import Context
    from lensyard.model.kicks import KickModel
    from lensyard.model.outcome import OutcomeModel

GAP_SEASONS: Final = 2
"""By default the last fitted season lies so many before the scored one.

The season between was used to choose the form of the model, so a fit without it shows what the
choices are worth.
"""
DRIFT_SEASONS: Final = 4
"""The fitted seasons just before that a season's drives are set beside."""
MEASURES: Final = {
    "plays_per_drive": "plays a drive",
    "drives_per_game": "drives a game",
    "points_per_drive": "points a drive",
    "p_touchdown": "drives that end in a touchdown",
    "p_field_goal": "drives that end in a field goal",
    "p_punt": "drives that end in a punt",
    "p_turnover": "drives that end in a turnover",
}
SAMPLE_CAUTION: Final = (
    "One season is itself a sample: the standard error says how far another season of the same "
    "football could lie."
)
POINTS_EXPLAINED: Final = (
    "points averages over all clocks: a half that ends first counts nothing, which takes up to .2 "
    "off near the goal. points_early_in_half lets play go on until somebody scores.",
    "The published table of 2020 is rounded to .1 and has the situation's clock as an input; the "
    "chain knows down, distance and yard line only.",
    "The table of 1971 is of 56 games of 1969, and nothing is corrected for the half century "
    "between: possession was worth less then, most of all near one's own goal.",
)

NFLFASTR: Final = {
    10: 5.0, 15: 4.8, 20: 4.4, 25: 4.1, 30: 3.8, 35: 3.5, 40: 3.2, 45: 2.8, 50: 2.5,
    55: 2.2, 60: 1.8, 65: 1.5, 70: 1.2, 75: 1.1, 80: 0.6, 85: 0.2, 90: -0.1, 95: -0.4,
}  # fmt: skip
"""Points by yards to the end zone. S. Morris, expected-points cheat sheet, 2020."""
CARTER_MACHOL: Final = {
    5: 6.041, 15: 4.572, 25: 3.681, 35: 3.167, 45: 2.392,
    55: 1.538, 65: 0.923, 75: 0.236, 85: -0.637, 95: -1.245,
}  # fmt: skip
"""By yards to the goal line, 8,373 plays of 56 professional games of 1969. V. Carter and
R. E. Machol, "Operations Research on Football", Operations Research 19, 1971, 541-544."""
PUBLISHED: Final = {"nflfastr": NFLFASTR, "carter_machol": CARTER_MACHOL}
POINT_SOURCES: Final = {
    "nflfastr": "S. Morris, expected-points cheat sheet, 2020, from nflfastR 2.1.0",
    "carter_machol": "Carter & Machol, Operations Research 19, 1971 (games of 1969)",
}


def require_unseen(model: OutcomeModel, season: int) -> None:
    """Raise `InvalidInputError` if the model was fitted on a season."""
    if season in model.manifest.seasons:
        raise InvalidInputError(
            f"the model {model.model_id} was fitted on season {season}; choose one that it has "
            "not seen"
        )


def training_seasons(stored: Sequence[int], *, season: int) -> tuple[int, ...]:
    """Return the stored regular seasons up to `GAP_SEASONS` before a season.

    Raises `DataError` if there are none.
    """
    training = tuple(sorted(int(s) for s in set(stored) if s <= season - GAP_SEASONS))
    if not training:
        raise DataError(
            f"no stored season is at least {GAP_SEASONS} before {season}; name seasons with "
            "--train, or import earlier ones"
        )
    return training


def plays_to_score(
    train: Sequence[int],
    *,
    season: int,
    source: str | None,
    columns: Sequence[str],
    saved: OutcomeModel | None,
) -> pd.DataFrame:
    """Return the canonical plays that an evaluation fits baselines on and scores.

    A saved model's own seasons come from where they are stored, the scored season from ``source``.
    Raises `DataError` if no season is left for the baselines.
    """
    import pandas as pd

    from lensyard.plays.store import load_plays

    if saved is None or source is None:
        return load_plays(
            columns=list(columns), seasons=[*train, season], season_type="REG", source=source
        )
    parts = (
        load_plays(columns=list(columns), seasons=list(train), season_type="REG"),
        load_plays(columns=list(columns), seasons=[season], season_type="REG", source=source),
    )
    return pd.concat(parts, ignore_index=True)


def saved_bytes(model: OutcomeModel) -> int:
    """Return the size that a model's two files would have. [bytes]"""
    from lensyard.model.artifact import save, size_bytes

    with TemporaryDirectory() as folder:
        return size_bytes(save(model, Path(folder)))


class DriveMeasure(Record):
    """One measure of simulated drives beside those of a season and of the seasons before.

    ``difference`` and ``drift`` are relative: simulated to observed, observed to the seasons
    before. Errors are standard errors, games being independent.
    """

    name: str
    text: str
    simulated: float
    simulated_error: float
    observed: float
    observed_error: float
    difference: float
    seasons_before: float
    drift: float


class SimulatedSeason(Record):
    """Simulated games beside a season that the model has not seen."""

    season: int
    games: Mapping[str, int]
    seed: int
    clock_seasons: tuple[int, ...]
    touchdown_points: float
    measures: tuple[DriveMeasure, ...]
    model: Mapping[str, object]
    cautions: tuple[str, ...] = (SAMPLE_CAUTION,)


def clock_seasons(model: OutcomeModel, *, season: int) -> tuple[int, ...]:
    """Return the fitted seasons before a held-out one that the clock is read off.

    Raises `InvalidInputError` if the model was fitted on the season.
    """
    require_unseen(model, season)
    return tuple(s for s in model.manifest.seasons if s < season)[-DRIFT_SEASONS:]


def simulate_season(
    context: Context, plays: pd.DataFrame, *, season: int, games: int, seed: int
) -> SimulatedSeason:
    """Return 16 to 100,000 simulated games beside a season's.

    ``plays`` are canonical plays of whole games of the season and of `clock_seasons`.

    Raises `InvalidInputError` if the model was fitted on the season or the number of games is out
    of range, `DataError` if the season, or all that the clock could be read off, have no plays.
    """
    from lensyard.model.drives import count_observed, fit_snap_clock
    from lensyard.model.simulation import count_simulated, simulate_games

    require_range(low=16, high=100_000, games=games)
    before = clock_seasons(context.model, season=season)
    seen, held_out = (plays[plays["season"].isin(some)] for some in (before, (season,)))
    if seen.empty or held_out.empty:
        raise DataError(
            f"there are no plays of {season}, or of the seasons {list(before)} that the clock is "
            "read off; `lensyard data list` shows what there is"
        )
    clock = fit_snap_clock(seen)
    points = clock.touchdown_points
    drawn = simulate_games(context.transition(), clock, games=games, seed=seed)
    simulated = count_simulated(drawn, touchdown_points=points).measures()
    counted = count_observed(held_out, touchdown_points=points)
    observed = counted.measures()
    earlier = count_observed(seen, touchdown_points=points).measures()
    return SimulatedSeason(
        season=season,
        games={"simulated": games, "observed": counted.games},
        seed=seed,
        clock_seasons=before,
        touchdown_points=points,
        measures=tuple(
            DriveMeasure(
                name=name,
                text=text,
                simulated=simulated[name].value,
                simulated_error=simulated[name].error,
                observed=observed[name].value,
                observed_error=observed[name].error,
                difference=simulated[name].value / observed[name].value - 1.0,
                seasons_before=earlier[name].value,
                drift=observed[name].value / earlier[name].value - 1.0,
            )
            for name, text in MEASURES.items()
        ),
        model=context.model_facts(),
    )


class PointsRow(Record):
    """First and ten at one yard line: expected points, drive ends, and the published points."""

    yardline_100: int
    points: float
    points_early_in_half: float
    p_drive_touchdown: float
    p_drive_field_goal: float
    nflfastr: float | None
    carter_machol: float | None


class ExpectedPoints(Record):
    """Expected points on first and ten beside the published tables."""

    touchdown_points: float
    rows: tuple[PointsRow, ...]
    mean_absolute_difference: Mapping[str, Mapping[str, float]]
    model: Mapping[str, object]
    situation: str = "first and ten"
    sources: Mapping[str, str] = field(default_factory=lambda: POINT_SOURCES)
    explained: tuple[str, ...] = POINTS_EXPLAINED
    cautions: tuple[str, ...] = ()


def points_table(context: Context, kicks: KickModel) -> ExpectedPoints:
    """Return expected points on first and ten by the chain of snaps, beside published ones."""
    from lensyard.model.drives import chain_drive_ends, expected_points

    snap = context.transition().snap_outcomes()
    touchdown = 6.0 + kicks.p_extra_point_made(rules_named("pro"))
    ways = {
        "points": expected_points(snap, touchdown_points=touchdown),
        "points_early_in_half": expected_points(snap, touchdown_points=touchdown, half_ends=False),
    }
    ends = chain_drive_ends(snap)
    return ExpectedPoints(
        touchdown_points=touchdown,
        rows=tuple(
            PointsRow(
                yardline_100=yard,
                **{name: float(points[yard - 1]) for name, points in ways.items()},
                p_drive_touchdown=float(ends.p_touchdown[yard - 1]),
                p_drive_field_goal=float(ends.p_field_goal[yard - 1]),
                nflfastr=NFLFASTR.get(yard),
                carter_machol=CARTER_MACHOL.get(yard),
            )
            for yard in sorted({*NFLFASTR, *CARTER_MACHOL})
        ),
        mean_absolute_difference={
            source: {
                name: float(np.mean([abs(points[yard - 1] - v) for yard, v in table.items()]))
                for name, points in ways.items()
            }
            for source, table in PUBLISHED.items()
        },
        model=context.model_facts(),
    )


class ClubTendencies(Record):
    """What knowing the club would add to the odds of the kinds of play, in nats a play.

    ``doubt_plays`` is the strength of the prior that was best on the last fitted season; the gain
    of treating the whole league as one club (``gain_of_season``) is the season's drift.
    """

    season: int
    plays: int
    doubt_plays: float
    log_loss: float
    log_loss_with_clubs: float
    gain: float
    gain_error: float
    gain_share: float
    gain_of_season: float
    text: str
    model: Mapping[str, object]
    used: bool = False
    cautions: tuple[str, ...] = ()


def club_tendencies(context: Context, plays: pd.DataFrame, *, season: int) -> ClubTendencies:
    """Return the gain in log-loss from club tendencies on a season nobody fitted.

    ``plays`` are canonical plays of the season, which is only scored, and of the last fitted one,
    on which the strength of the prior is chosen.

    Raises `InvalidInputError` if the model was fitted on the season; `DataError` if the season, or
    the last fitted one, has no plays.
    """
    from lensyard.model.evaluation.evaluate import DOUBT_PLAYS, tendency_gain

    require_unseen(context.model, season)
    last = context.model.manifest.seasons[-1]
    earlier, held_out = (plays[plays["season"] == some] for some in (last, season))
    if earlier.empty or held_out.empty:
        raise DataError(
            f"there are no plays of {season} or {last}; `lensyard data list` shows what there is"
        )
    doubt = max(DOUBT_PLAYS, key=lambda d: tendency_gain(context.model, earlier, doubt=d).gain)
    found = tendency_gain(context.model, held_out, doubt=doubt)
    league = tendency_gain(context.model, held_out, doubt=doubt, one_club=True)
    plain = float(found.plain.mean())
    return ClubTendencies(
        season=season,
        plays=int(found.plain.shape[0]),
        doubt_plays=doubt,
        log_loss=plain,
        log_loss_with_clubs=float(found.with_clubs.mean()),
        gain=found.gain,
        gain_error=found.error,
        gain_share=found.gain / plain,
        gain_of_season=league.gain,
        text=(
            f"Treating the whole league as one club gains {league.gain:+.5f}: that part is the "
            "season's drift. Clubs are not used in any answer."
        ),
        model=context.model_facts(),
    )
