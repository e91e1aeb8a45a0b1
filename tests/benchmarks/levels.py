"""How models of other levels of play do on plays that none of them has seen, from a file.

Run ``python -m tests.benchmarks.levels FILE [FILE ...]``; any file that ``lensyard data import``
takes. It prints, for every bundled model in the same run, the log-loss of the kind of play (what
the file has none of, such as scrambles, is part of what it is counted as; once not), the CRPS of
the gain, the slope of P(gain >= 10), the log-loss of the choice on fourth down, and the share of
passes by down and by zone beside what happened. Nothing is stored.

Without a file it prints how long ``lensyard model fit`` takes on one season and on 150 plays of it,
beside reading those plays (30 s and 5 s on two quiet cores are the most), and the log-loss of the
kind of play on the counts that the college level was moved to, 516,527 plays by down, distance and
five yards. The counts tell no score and no clock, so every bundled model says its mean over the
situations of four bundled seasons in a cell. The shares of the cells themselves, which were seen,
are the floor.
"""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

import numpy as np
import pandas as pd
from data.recipes.bundled_models.levels import LAST_DISTANCE_YD, level_counts

from lensyard.domain.situation import Zone, zone_indices
from lensyard.features.models.compute import fit_model
from lensyard.model.context import BASE_MODEL, load_context, model_names
from lensyard.model.fitting.prior import as_counted
from lensyard.model.outcome_grid import GAINS_YD, KINDS
from lensyard.model.plays import batch_of, choice_index, gains_of, kind_index, live_plays
from lensyard.plays.importing.stage import Request, staged_file
from lensyard.plays.store import load_plays

SEASONS = (2016, 2017, 2018, 2019)
"""Whose situations stand for those of a cell of counts."""


def plays_of(path: Path) -> pd.DataFrame:
    """Return the canonical plays of a file."""
    with staged_file(Request(path)) as (connection, _):
        return connection.execute("SELECT * FROM plays ORDER BY game_id, play_index").df()


def calibration_slope(p: np.ndarray, happened: np.ndarray) -> float:
    """Return the slope of a logistic regression of what happened on the logit of p."""
    likely = np.clip(p, 1e-4, 1.0 - 1e-4)
    x = np.log(likely / (1.0 - likely))
    a, b = 0.0, 1.0
    for _ in range(50):
        q = 1.0 / (1.0 + np.exp(-(a + b * x)))
        w = q * (1.0 - q)
        hessian = np.array([[w.sum(), (w * x).sum()], [(w * x).sum(), (w * x * x).sum()]])
        step = np.linalg.solve(hessian, [(happened - q).sum(), ((happened - q) * x).sum()])
        a, b = a + step[0], b + step[1]
    return float(b)


def scores(model, plays: pd.DataFrame) -> dict[str, float]:
    """Return the scores of a model on canonical plays."""
    live = live_plays(plays)
    forecast = model.forecast(batch_of(live))
    kind, gain = kind_index(live), gains_of(live)
    rows = np.arange(len(live))
    pmf = forecast.gain_pmf
    cumulative = np.cumsum(pmf, axis=1)
    step = (GAINS_YD[None, :] >= gain[:, None]).astype(float)
    ten = pmf[:, GAINS_YD >= 10].sum(axis=1)
    fourth = plays[
        (plays["down"] == 4)
        & plays["kind"].isin(("run", "complete", "incomplete", "sack", "scramble",
                              "interception", "punt", "field_goal"))
    ]  # fmt: skip
    found = {
        "kind log-loss": float(-np.log(as_counted(forecast.p_kind, kind)[rows, kind]).mean()),
        "the same, all kinds apart": float(-np.log(forecast.p_kind[rows, kind]).mean()),
        "CRPS, yd": float(((cumulative - step) ** 2).sum(axis=1).mean()),
        "slope of P(gain >= 10)": calibration_slope(ten, (gain >= 10).astype(float)),
    }
    if len(fourth):
        choice = model.forecast(batch_of(fourth)).p_fourth_down_choice
        taken = choice[np.arange(len(fourth)), choice_index(fourth)]
        found["fourth-down log-loss"] = float(-np.log(taken).mean())
    passed = live["kind"].isin(("complete", "incomplete", "interception")).to_numpy()
    groups = {f"{down}. down": live["down"].to_numpy() == down for down in (1, 2, 3, 4)}
    zones = zone_indices(live["yardline_100"].to_numpy())
    groups |= {name: zones == at for at, name in enumerate(Zone)}
    for name, some in groups.items():
        if some.any():
            off = forecast.p_pass[some].mean() - passed[some].mean()
            found[f"passes too likely, {name}, points"] = 100.0 * float(off)
    return found


def fit_times() -> dict[str, float]:
    """Return how long a fit takes. [s]"""
    found = {}
    begin = perf_counter()
    season = load_plays(seasons=[2018], season_type="REG", source="bundled")
    found["reading a season"] = perf_counter() - begin
    for name, plays in (("a season", season), ("150 plays", season.head(150))):
        with TemporaryDirectory() as folder:
            begin = perf_counter()
            fit_model(plays=plays, model_id="timed", folder=Path(folder), shrink=True)
            found[f"fitting {name}"] = perf_counter() - begin
    return found


def loss_on_counts(level: str) -> dict[str, float]:
    """Return the log-loss of the kind of play on the counts of a level by model, and its floor."""
    keys = ["down", "distance", "yardline"]
    counts = level_counts(level).query("part == 'kinds'")
    counted = counts.pivot_table(index=keys, columns="label", values="plays", aggfunc="sum")
    situations = live_plays(load_plays(seasons=SEASONS, season_type="REG", source="bundled"))
    cells = pd.DataFrame(
        {
            "down": situations["down"].to_numpy(),
            "distance": situations["distance_yd"].clip(upper=LAST_DISTANCE_YD["kinds"]).to_numpy(),
            "yardline": (situations["yardline_100"].to_numpy() - 1) // 5 * 5 + 1,
        }
    )

    def loss(shares: pd.DataFrame) -> float:
        plays = counted.loc[shares.index].fillna(0.0)
        return float(-(plays * np.log(shares[plays.columns])).sum().sum() / plays.sum().sum())

    found = {}
    for name in model_names():
        p_kind = load_context(name).model.forecast(batch_of(situations)).p_kind
        shares = cells.assign(**dict(zip(KINDS, p_kind.T, strict=True))).groupby(keys).mean()
        shares = shares.loc[shares.index.isin(counted.index)]
        lacking = [kind for kind in KINDS if kind not in counted]
        assert lacking == ["scramble"], "a scramble is counted as a run"
        found[name] = loss(shares.assign(run=shares["run"] + shares["scramble"]))
    seen = counted.loc[shares.index].fillna(1e-9)
    return found | {"the shares of the cells": loss(seen.div(seen.sum(axis=1), axis=0))}


def main(paths: list[str]) -> None:
    """Print the scores of every bundled model on files of plays, or how long fits take."""
    if not paths:
        for name, seconds in fit_times().items():
            print(f"{name:<20}{seconds:8.1f} s")
        for name, loss in loss_on_counts("college").items():
            print(f"kind log-loss on the college counts: {name:<24}{loss:8.4f}")
    for path in paths:
        plays = plays_of(Path(path))
        names = [BASE_MODEL, *(name for name in model_names() if name != BASE_MODEL)]
        table = pd.DataFrame({name: scores(load_context(name).model, plays) for name in names})
        print(f"{Path(path).name}: {len(live_plays(plays)):,} plays")
        print(table.round(3).to_string())


if __name__ == "__main__":
    main(sys.argv[1:])
