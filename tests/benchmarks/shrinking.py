"""How many plays the bundled model should count for when a small sample is held to it.

Small samples of an invented level of play (`tests.support.synthetic_population`) and of the first
bundled
season are fitted raw and held to a model of other plays with several strengths; the rest is scored.
Run ``python -m tests.benchmarks.shrinking``; it takes some minutes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.support.held_out import held_out_loss
from tests.support.synthetic_plays import canonical_plays
from tests.support.synthetic_population import synthetic_population

from lensyard.model.artifact import load
from lensyard.model.context import BASE_MODEL, model_path
from lensyard.model.drives import fit_snap_clock
from lensyard.model.fitting.fit import fit_outcome
from lensyard.model.fitting.prior import recentered
from lensyard.model.plays import live_plays
from lensyard.model.simulation import simulate_games
from lensyard.plays.store import load_plays

if TYPE_CHECKING:
    import pandas as pd


STRENGTHS = (4000.0, 16000.0, 32000.0, 64000.0)
GAMES = (4, 10, 30, 100)


def compare(plays: pd.DataFrame, held_out: pd.DataFrame, prior) -> dict[str, float]:
    """Return held-out losses of the prior, the raw fit and every strength."""
    seasons = sorted(int(season) for season in plays["season"].unique())
    losses = {
        "prior": held_out_loss(prior, held_out),
        "raw": held_out_loss(fit_outcome(plays, seasons=seasons, model_id="raw"), held_out),
    }
    moved = recentered(prior, plays)
    losses["levels"] = held_out_loss(moved, held_out)
    for strength in STRENGTHS:
        model = fit_outcome(
            plays, seasons=seasons, model_id="held", prior=moved, prior_plays=strength
        )
        losses[f"{strength:.0f}"] = held_out_loss(model, held_out)
    return losses


def first_games(plays: pd.DataFrame, games: int) -> pd.DataFrame:
    """Return the first so many games."""
    return plays[plays["game_id"].isin(plays["game_id"].drop_duplicates().head(games))]


def invented(prior, games: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return plays of the invented level, and others of it held out."""
    clock = fit_snap_clock(load_plays(seasons=[2017, 2018], season_type="REG", source="bundled"))
    world = synthetic_population(prior)
    drawn = simulate_games(world, clock, games=games, seed=games, marginal=True)
    other = simulate_games(world, clock, games=150, seed=1_000_003, marginal=True)
    return (
        canonical_plays(drawn, world.outcome, seasons=[2001], seed=1),
        canonical_plays(other, world.outcome, seasons=[2001], seed=2),
    )


def main() -> None:
    """Print one table a world."""
    bundled = load(model_path(BASE_MODEL))
    print(
        "world games plays "
        + " ".join(["prior", "raw", "levels", *(f"{s:.0f}" for s in STRENGTHS)])
    )
    for games in GAMES:
        plays, held_out = invented(bundled, games)
        _row("invented", plays, compare(plays, held_out, bundled))
    later = load_plays(seasons=list(range(2014, 2019)), season_type="REG", source="bundled")
    prior = fit_outcome(later, seasons=range(2014, 2019), model_id="later")
    first = load_plays(seasons=[2009], season_type="REG", source="bundled")
    for games in GAMES:
        plays = first_games(first, games)
        held_out = first[~first["game_id"].isin(first_games(first, GAMES[-1])["game_id"])]
        _row("2009", plays, compare(plays, held_out, prior))


def _row(world: str, plays: pd.DataFrame, losses: dict[str, float]) -> None:
    games = plays["game_id"].nunique()
    numbers = " ".join(f"{loss:.4f}" for loss in losses.values())
    print(world, games, len(live_plays(plays)), numbers, flush=True)


if __name__ == "__main__":
    main()
