"""The bundled models of other levels: shares as counted, all else is the shape's."""

import numpy as np
import pandas as pd
import pytest
from data.recipes.bundled_models.levels import LevelCounts, level_counts, move_levels

from lensyard.domain.situation import zone_indices
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.model.fitting.prior import as_counted
from lensyard.model.outcome_grid import GAINS_YD, KINDS, StateGrid
from lensyard.model.plays import batch_of, live_plays
from lensyard.plays.store import load_plays

PASSES = ("complete", "incomplete", "interception")
GAINED_BY = ("run", "complete")


@pytest.fixture(scope="module")
def situations():
    """Plays of a season that the shape was not fitted on; only their situations are used."""
    return live_plays(load_plays(seasons=[2019], season_type="REG", source="bundled"))


def cells_of(situations, last_yd):
    """Return down, distance and five yards of situations, as the counts have them."""
    return pd.DataFrame(
        {
            "down": situations["down"].to_numpy(),
            "distance": np.minimum(situations["distance_yd"].to_numpy(), last_yd),
            "yardline": (situations["yardline_100"].to_numpy() - 1) // 5 * 5 + 1,
        }
    )


def matched(situations, counts, last_yd=25):
    """Return weights that give every cell as often as it is counted, and the counts of these."""
    keys = ["down", "distance", "yardline"]
    cells = cells_of(situations, last_yd)
    there = cells.groupby(keys).size().rename("there")
    counted = counts.groupby(keys)["plays"].sum().rename("counted")
    found = cells.join(there, on=keys).join(counted, on=keys)
    both = counts.join(there, on=keys)
    weight = (found["counted"].fillna(0.0) / found["there"]).to_numpy()
    return weight, both[both["there"].notna()]


def counted_shares(counts, kinds, by):
    zone = zone_indices(np.minimum(counts["yardline"].to_numpy() + 2, 99))
    groups = counts["down"].to_numpy() if by == "down" else zone
    plays = counts["plays"].to_numpy(dtype=float)
    some = plays * counts["label"].isin(kinds).to_numpy()
    frame = pd.DataFrame({"group": groups, "some": some, "plays": plays})
    sums = frame.groupby("group").sum()
    return sums["some"] / sums["plays"]


def model_shares(
    model, situations, weight, kinds,
    by):  # fmt: skip
    p = model.forecast(batch_of(situations)).p_kind[:, [KINDS.index(kind) for kind in kinds]]
    middle = (situations["yardline_100"].to_numpy() - 1) // 5 * 5 + 3
    groups = situations["down"].to_numpy() if by == "down" else zone_indices(middle)
    frame = pd.DataFrame({"group": groups, "some": weight * p.sum(axis=1), "plays": weight})
    sums = frame.groupby("group").sum()
    return sums["some"] / sums["plays"]


@pytest.mark.parametrize("by", ["down", "zone"])
@pytest.mark.parametrize(("level", "season"), [("pro", 2024), ("college", 0)])
def test_passes_are_as_likely_as_they_are_counted_by_down_and_zone(situations, level, season, by):
    counts = level_counts(level).query(f"part == 'kinds' and season == {season}")
    weight, counts = matched(situations, counts)
    for kinds in (PASSES, ("run", "scramble")):
        ours = model_shares(load_context(level).model, situations, weight, kinds, by)
        counted = counted_shares(counts, kinds, by)
        # A point; two on fourth down, of which a season has some 800 (a standard error of 1.8).
        off = (ours - counted).abs()
        assert off.drop(4 if by == "down" else [], errors="ignore").max() < 0.01
        assert off.max() < 0.02


def test_the_shape_is_off_where_levels_have_moved(situations):
    counts = level_counts("college").query("part == 'kinds'")
    weight, counts = matched(situations, counts)
    base = model_shares(load_context(BASE_MODEL).model, situations, weight, PASSES, "down")
    assert (base - counted_shares(counts, PASSES, "down")).abs().max() > 0.05


@pytest.mark.parametrize("level", ["pro", "college"])
def test_gains_of_ten_yards_are_as_frequent_as_they_are_counted(situations, level):
    counts = level_counts(level).query("part == 'gains'")
    model = load_context(level).model
    for kind in GAINED_BY:
        rows = counts[(counts["label"] == kind) & (counts["yardline"] > 20)]
        long = rows["gain_yd"] >= 10
        by_down = (rows["plays"] * long).groupby(rows["down"]).sum() / rows["plays"].groupby(
            rows["down"]
        ).sum()
        played = situations[(situations["kind"] == kind) & (situations["yardline_100"] > 20)]
        forecast = model.forecast(batch_of(played))
        pmf = forecast.kind_gain_pmf[:, KINDS.index(kind)]
        ours = pd.Series(pmf[:, GAINS_YD >= 10].sum(axis=1)).groupby(
            played["down"].to_numpy()
        ).mean()  # fmt: skip
        # First and second down: distances differ little between the two. Two points of twelve
        # (runs) and fifty (catches), and the shares of states differ.
        np.testing.assert_allclose(ours[[1, 2]], by_down[[1, 2]], atol=0.02)


def test_a_level_without_scrambles_keeps_their_share_of_dropbacks(situations):
    """Who runs twice as much does not scramble twice as much: a scramble begins as a pass."""
    batch = batch_of(situations)
    shape, college = (load_context(name).model.forecast(batch).p_kind for name in
                      (BASE_MODEL, "college"))  # fmt: skip
    run, scramble = KINDS.index("run"), KINDS.index("scramble")
    ratio = [
        p[:, scramble].mean() / (1.0 - p[:, run].mean() - p[:, scramble].mean())
        for p in (shape, college)
    ]
    assert ratio[1] == pytest.approx(ratio[0], rel=0.15)
    assert college[:, run].mean() > 1.2 * shape[:, run].mean()


def test_kinds_that_a_source_does_not_have_are_scored_as_it_counts_them():
    p = np.array([[0.5, 0.2, 0.1, 0.05, 0.1, 0.05]])
    scored = as_counted(p, np.array([KINDS.index(kind) for kind in ("run", "incomplete", "sack")]))
    assert scored[0, KINDS.index("run")] == pytest.approx(0.6)  # the scrambles
    assert scored[0, KINDS.index("incomplete")] == pytest.approx(0.15)  # the interceptions
    assert scored.sum() == pytest.approx(1.0)


def test_fourth_downs_are_played_out_as_often_as_lately(situations):
    plays = load_plays(seasons=[2019], season_type="REG", source="bundled")
    fourth = plays[
        (plays["down"] == 4)
        & plays["kind"].isin((*KINDS, "punt", "field_goal"))
    ]  # fmt: skip
    counts = level_counts("pro").query("part == 'fourth_downs' and season == 2024")
    weight, counts = matched(fourth, counts, last_yd=20)
    share = counts.groupby("label")["plays"].sum()
    batch = batch_of(fourth)
    go = {
        name: float(
            (load_context(name).model.forecast(batch).p_fourth_down_choice[:, 0] * weight).sum()
            / weight.sum()
        )
        for name in (BASE_MODEL, "pro")
    }
    # Of 3,827 fourth downs in 2024, of which 765 were played out: a standard error of .6 points.
    assert go["pro"] == pytest.approx(share["go"] / share.sum(), abs=0.015)
    assert go["pro"] > go[BASE_MODEL] + 0.02


@pytest.mark.parametrize("level", ["pro", "college"])
def test_every_probability_of_a_moved_model_is_one(level):
    context = load_context(level)
    grid = StateGrid().batch()
    forecast = context.model.forecast(grid)
    for p in (forecast.p_kind, forecast.gain_pmf, forecast.p_drive_end):
        assert (p >= 0).all()
        np.testing.assert_allclose(p.sum(axis=-1), 1.0, atol=1e-6)  # float16 tables
    assert forecast.p_drive_end[(grid.yardline_100 > 5) & (grid.down < 4)].max() < 0.95
    manifest = context.model.manifest
    assert manifest.prior == BASE_MODEL
    assert manifest.level_seasons
    assert "drives end" in " ".join(manifest.from_prior)


@pytest.mark.statistical
def test_counts_of_the_shapes_own_plays_move_it_little():
    shape = load_context(BASE_MODEL).model
    plays = load_plays(seasons=[2018], season_type="REG", source="bundled")
    live = live_plays(plays)
    kinds = pd.DataFrame(
        {
            "down": live["down"],
            "distance": live["distance_yd"].clip(upper=25),
            "yardline": (live["yardline_100"] - 1) // 5 * 5 + 1,
            "label": live["kind"],
            "gain_yd": 0,
            "part": "kinds",
        }
    )
    moving = live[live["kind"].isin(("run", "complete", "sack", "scramble"))]
    gains = pd.DataFrame(
        {
            "down": moving["down"],
            "distance": np.array([1, 3, 7, 11])[
                np.searchsorted([1, 3, 7, 11], moving["distance_yd"], side="right") - 1
            ],
            "yardline": (moving["yardline_100"] - 1) // 10 * 10 + 1,
            "label": moving["kind"],
            "gain_yd": moving["gain_yd"].clip(-15, 99),
            "part": "gains",
        }
    )
    table = pd.concat([kinds, gains]).assign(season=0, plays=1.0)
    moved = move_levels(shape, plays, LevelCounts("pro", table), model_id="own")
    grid = StateGrid().batch()
    common = shape.forecast(grid).comparable_plays > 500
    old, new = (m.forecast(grid).p_kind[common] for m in (shape, moved))
    # A season's drift from the mean of ten with half lives of eight, and noise of some 200 plays.
    assert np.abs(new - old).mean() < 0.02
