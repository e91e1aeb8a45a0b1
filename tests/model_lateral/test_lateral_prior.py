"""The sideways prior against measured tables, and its laws."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.domain.field import CENTER_Y_YD, FIELD_WIDTH_YD, RULES, HashMark
from lensyard.errors import ModelError
from lensyard.model import lateral_tables as tables
from lensyard.model.lateral import (
    GAIN_KINDS,
    GAIN_LOW_YD,
    LANE_CENTERS_Y_YD,
    LateralPrior,
    start_y_yd,
)
from lensyard.model.lateral_sampling import LabeledPlays, draw_end_y_yd, draw_hash
from lensyard.model.lateral_tables import (
    COMPLETE,
    INCOMPLETE,
    LATERAL_KINDS,
    MEASURED_SEASONS,
    RUN,
    SCRAMBLE,
    LabelShares,
    bundled_shares,
    measure_labels,
)

START_HASHES = (0.456, 0.092, 0.452)  # n of the measured next-hash table, runs and passes
PRIORS = {name: LateralPrior.build(rules=rules) for name, rules in RULES.items()}


def labeled(plays: pd.DataFrame, hash_code: np.ndarray) -> LabeledPlays:
    return LabeledPlays(
        kind=tables.codes(plays["kind"], LATERAL_KINDS),
        side=tables.codes(plays["side"], tables.SIDES),
        depth=tables.codes(plays["depth"], tables.DEPTHS),
        gap=tables.codes(plays["gap"], tables.GAPS),
        gain_yd=plays["gain_yd"].to_numpy(float),
        air_yd=plays["air_yd"].to_numpy(float),
        out_of_bounds=plays["out_of_bounds"].to_numpy(bool),
        hash_code=hash_code,
    )


@pytest.fixture(scope="module")
def drawn(fitted_plays: pd.DataFrame) -> pd.DataFrame:
    """Real plays with a drawn start hash, end and next hash, professional rules."""
    plays = fitted_plays[fitted_plays["kind"].isin(LATERAL_KINDS)]
    plays = plays.sample(90_000, random_state=5).reset_index(drop=True)
    rng = np.random.default_rng(20)
    start = rng.choice(3, len(plays), p=START_HASHES)
    batch = labeled(plays, start)
    y = draw_end_y_yd(rng, batch, rules=RULES["pro"])
    following = draw_hash(rng, y_end_yd=y, kind=batch.kind, hash_code=start, rules=RULES["pro"])
    return plays.assign(start=start, y=y, following=following, code=batch.kind)


def shares_of(codes: pd.Series) -> np.ndarray:
    return np.bincount(codes, minlength=3) / len(codes)


# --- signs and frames


def test_a_left_label_ends_at_larger_y_and_a_left_hash_starts_there(drawn: pd.DataFrame) -> None:
    for kind in ("run", "complete", "incomplete"):
        by_side = drawn[drawn["kind"] == kind].groupby("side")["y"].mean()
        # At least 6 yd: the measured medians lie 9 (carries) to 16 (passes) off the middle.
        assert by_side["left"] > CENTER_Y_YD + 6
        assert by_side["right"] < CENTER_Y_YD - 6
    ball = RULES["pro"].ball_y_yd(HashMark.LEFT)
    start = start_y_yd(kind=np.array([RUN]), hash_code=np.array([0]), rules=RULES["pro"])[0]
    assert CENTER_Y_YD < start < ball


def test_out_of_bounds_ends_lie_exactly_on_a_sideline_and_others_inside(
    drawn: pd.DataFrame,
) -> None:
    out = drawn[drawn["out_of_bounds"]]
    assert set(out["y"].unique()) == {0.0, FIELD_WIDTH_YD}
    inside = drawn[~drawn["out_of_bounds"] & (drawn["kind"] != "incomplete")]
    assert inside["y"].between(0.0, FIELD_WIDTH_YD, inclusive="neither").all()
    # A labeled side decides nearly always which sideline: the other is 40 yd away.
    left_out = out[(out["side"] == "left") & (out["gain_yd"] < 10)]
    assert (left_out["y"] == FIELD_WIDTH_YD).mean() > 0.95


# --- measured tables


def test_next_hash_by_kind_and_start_hash_agrees_with_the_measured_table(
    drawn: pd.DataFrame, measured
) -> None:
    table = measured("next_hash_by_kind")
    for row in table.itertuples():
        code = "LMR".index(row.starting_hash)
        rows = drawn[(drawn["kind"] == row.kind) & (drawn["start"] == code)]
        model = shares_of(rows["following"])
        # .05: three yards of the hash marks hold a share of .13 to .3, so this is within half
        # a yard sideways; plus 3 standard errors of the smaller sample of the two.
        n = min(len(rows), row.n)
        expected = np.array([row.L, row.M, row.R])
        tolerance = 0.05 + 3 * np.sqrt(expected * (1 - expected) / n)
        assert np.all(np.abs(model - expected) <= tolerance), (row, model)


def test_next_hash_by_label_agrees_with_the_measured_table(drawn: pd.DataFrame, measured) -> None:
    for row in measured("next_hash_by_label").itertuples():
        label = row.depth_or_side
        if row.kind == "complete":
            chosen = (drawn["depth"] == label) & (drawn["side"] == row.label)
        elif label == "middle":
            chosen = drawn["side"] == "middle"
        else:
            chosen = (drawn["side"] == label) & (drawn["gap"] == row.label)
        model = shares_of(drawn[chosen & (drawn["kind"] == row.kind)]["following"])
        expected = np.array([row.next_L, row.next_M, row.next_R])
        # Two weeks of a season: 25 to 352 plays a row; 3 standard errors (of at least a play in
        # thirty), and .03 for the rest.
        spread = np.maximum(expected * (1 - expected), 0.03 * 0.97)
        assert np.all(np.abs(model - expected) <= 0.03 + 3 * np.sqrt(spread / row.n)), row


def test_out_of_bounds_shares_agree_with_the_measured_table(
    fitted_plays: pd.DataFrame, measured
) -> None:
    for row in measured("out_of_bounds_by_label").itertuples():
        kind = "complete" if row.kind == "complete_pass" else "run"
        rows = fitted_plays[fitted_plays["kind"] == kind]
        if kind == "complete":
            rows = rows[(rows["depth"] == row.depth_or_side) & (rows["side"] == row.label)]
        elif row.depth_or_side == "middle":
            rows = rows[rows["side"] == "middle"]
        else:
            rows = rows[(rows["side"] == row.depth_or_side) & (rows["gap"] == row.label)]
        share = rows["out_of_bounds"].mean()
        # Six weeks of 2017 against three seasons: 3.5 standard errors (thirteen rows), and .01 for
        # the touchdowns and laterals that the two sources count differently.
        error = np.sqrt(row.share * (1 - row.share) / row.n)
        assert share == pytest.approx(row.share, abs=0.01 + 3.5 * error), row


def test_carries_and_targets_spread_as_measured(drawn: pd.DataFrame, measured) -> None:
    table = measured("lateral_by_label").set_index(["quantity", "label"])
    runs = drawn[(drawn["kind"] == "run") & (drawn["side"] != "")]
    start = start_y_yd(
        kind=runs["code"].to_numpy(), hash_code=runs["start"].to_numpy(), rules=RULES["pro"]
    )
    moved = (runs["y"] - start).groupby(runs["side"])
    throws = drawn[(drawn["kind"] == "incomplete") & (drawn["side"] != "")]
    landed = (throws["y"] - CENTER_Y_YD).groupby(throws["side"])
    for quantity, groups, tolerance_yd in (
        # 1 yd: left and right, forced to be equal here, differ by 1.2 in the measured table.
        ("carry_end_x_minus_start_x", moved, 1.0),
        # 2 yd: incompletions are thrown deeper, and so wider, than all targets together.
        ("pass_target_x", landed, 2.0),
    ):
        for side, y in groups:
            measured_row = table.loc[(quantity, side)]
            median = float(y.median())
            spread = 1.5 * float((y - median).abs().median())
            # The measured x is negative on the left, y grows toward the left.
            assert median == pytest.approx(-measured_row["median_yd"], abs=tolerance_yd)
            assert spread == pytest.approx(
                measured_row["spread_yd_1.5MAD"], abs=1.5
            )  # the two sides of the measured table differ by .6


def test_targets_within_a_third_of_the_field_lie_as_measured(drawn: pd.DataFrame, measured) -> None:
    throws = drawn[(drawn["kind"] == "incomplete") & (drawn["side"] != "")]
    x = CENTER_Y_YD - throws["y"]
    third = np.where(x < -FIELD_WIDTH_YD / 6, "left", "middle")
    third = np.where(x > FIELD_WIDTH_YD / 6, "right", third)
    for row in measured("target_by_third").itertuples():
        inside = x[(third == row.third) & (throws["depth"] == row.depth)]
        # 1 yd on means: incompletions only here, all passes there; charted by hand.
        assert inside.mean() == pytest.approx(row.mean, abs=1.0), row


def test_bundled_shares_are_what_the_bundled_plays_say(fitted_plays: pd.DataFrame) -> None:
    assert tuple(sorted(fitted_plays["season"].unique())) == MEASURED_SEASONS
    again, bundled = measure_labels(fitted_plays), bundled_shares()
    # Rounded literals (6e-5); the rest lets a few plays be read anew without a new prior.
    np.testing.assert_allclose(bundled.weight, again.weight, atol=0.005)
    np.testing.assert_allclose(bundled.p_out, again.p_out, atol=0.005)
    np.testing.assert_allclose(bundled.after_catch_yd, again.after_catch_yd, atol=0.1)


def test_out_of_bounds_share_by_gain_holds_on_the_season_left_out(
    bundled_plays: pd.DataFrame, pro_prior: LateralPrior
) -> None:
    season = bundled_plays[(bundled_plays["season"] == 2019) & ~bundled_plays["touchdown"]]
    for kind in (RUN, COMPLETE, SCRAMBLE):
        rows = season[season["kind"] == LATERAL_KINDS[kind]]
        for low, high in ((-20, 3), (4, 9), (10, 19), (20, 99)):
            inside = rows[rows["gain_yd"].between(low, high)]
            table = pro_prior.by_gain[GAIN_KINDS.index(kind), :, :, [0, 17]].sum(axis=0)
            p_out = table[inside["gain_yd"].to_numpy() - GAIN_LOW_YD] @ np.array(START_HASHES)
            seen = inside["out_of_bounds"].mean()
            # Three standard errors of the season, and .02 for steps between gain buckets.
            error = np.sqrt(seen * (1 - seen) / len(inside))
            assert p_out.mean() == pytest.approx(seen, abs=0.02 + 3 * error), (kind, low)


# --- draws and tables tell the same


def test_draws_over_the_labels_agree_with_the_tables(
    fitted_plays: pd.DataFrame, pro_prior: LateralPrior
) -> None:
    rng = np.random.default_rng(7)
    for kind, low, high in ((RUN, 0, 3), (RUN, 10, 14), (COMPLETE, 4, 9), (SCRAMBLE, 4, 9)):
        plays = fitted_plays[
            (fitted_plays["kind"] == LATERAL_KINDS[kind])
            & fitted_plays["gain_yd"].between(low, high)
            & ~fitted_plays["touchdown"]
            & (fitted_plays["side"] != "")
        ].sample(2400 if kind == SCRAMBLE else 30_000, random_state=1, replace=True)
        start = np.zeros(len(plays), dtype=np.int64)
        y = draw_end_y_yd(rng, labeled(plays, start), rules=RULES["pro"])
        lane = np.clip((y / FIELD_WIDTH_YD * 16).astype(int), 0, 15)
        drawn_pmf = np.bincount(lane, minlength=16) / len(y)
        gains = plays["gain_yd"].to_numpy() - GAIN_LOW_YD
        prior = pro_prior.by_gain[GAIN_KINDS.index(kind), gains, 0].mean(axis=0)
        prior[1] += prior[0]
        prior[16] += prior[17]
        # Half the summed difference: the tables take the mean drift after the catch, the draws
        # each play's own; real labels favor the right by a point or so; the shared
        # out-of-bounds share moves between hash marks in the tables only. Plus noise.
        distance = np.abs(drawn_pmf - prior[1:17]).sum() / 2
        assert distance < 0.05 + 0.4 * np.sqrt(16 / len(y)), (LATERAL_KINDS[kind], distance)


def test_unknown_labels_are_drawn_as_often_as_they_occur() -> None:
    n = 40_000
    unknown = np.full(n, -1)
    batch = LabeledPlays(
        kind=np.full(n, RUN),
        side=unknown,
        depth=unknown,
        gap=unknown,
        gain_yd=np.full(n, 5.0),
        air_yd=np.full(n, np.nan),
        out_of_bounds=np.zeros(n, dtype=bool),
        hash_code=np.ones(n, dtype=np.int64),
    )
    y = draw_end_y_yd(np.random.default_rng(3), batch, rules=RULES["pro"])
    inside = PRIORS["pro"].side_pmf(kind=RUN, yards=5, hash_code=1)[1:17]
    pmf = np.histogram(y, bins=16, range=(0, FIELD_WIDTH_YD))[0] / n
    # 4 standard errors of a lane's share, and .01 for interpolating between the knots.
    assert np.abs(pmf - inside / inside.sum()).max() < 0.01 + 4 * np.sqrt(0.15 * 0.85 / n)


def test_kneels_stay_where_they_were_snapped() -> None:
    one = np.array([-1])
    batch = LabeledPlays(
        kind=one,
        side=one,
        depth=one,
        gap=one,
        gain_yd=np.array([-1.0]),
        air_yd=np.array([np.nan]),
        out_of_bounds=np.array([False]),
        hash_code=np.array([2]),
    )
    y = draw_end_y_yd(np.random.default_rng(0), batch, rules=RULES["pro"])
    assert y[0] == pytest.approx(RULES["pro"].ball_y_yd(HashMark.RIGHT))


# --- laws


@given(
    rules=st.sampled_from(sorted(RULES)),
    kind=st.integers(0, 5),
    yards=st.integers(-30, 120),
    hash_code=st.integers(0, 2),
)
def test_mass_is_one_and_mirrors(rules: str, kind: int, yards: int, hash_code: int) -> None:
    pmf = PRIORS[rules].side_pmf(kind=kind, yards=yards, hash_code=hash_code)
    other = PRIORS[rules].side_pmf(kind=kind, yards=yards, hash_code=2 - hash_code)
    assert pmf.sum() == pytest.approx(1.0, abs=1e-12)
    assert (pmf >= 0).all()
    np.testing.assert_allclose(pmf, other[::-1], atol=1e-15)  # mirrored by construction
    lanes = PRIORS[rules].lane_pmf(kind=kind, yards=yards, hash_code=hash_code)
    assert lanes.sum() == pytest.approx(1.0, abs=1e-12)


@given(kind=st.integers(0, 5), yards=st.integers(-10, 70))
def test_wider_hash_marks_move_the_play_farther(kind: int, yards: int) -> None:
    def shift(rules: str) -> float:
        lanes = PRIORS[rules].lane_pmf(kind=kind, yards=yards, hash_code=0)
        return float(lanes @ LANE_CENTERS_Y_YD) - CENTER_Y_YD

    assert 0 < shift("pro") < shift("college") < shift("high-school")


def test_next_hash_tables_sum_to_one_and_agree_with_the_draws(
    drawn: pd.DataFrame, pro_prior: LateralPrior
) -> None:
    np.testing.assert_allclose(pro_prior.hash_by_gain.sum(axis=3), 1.0, atol=1e-12)
    runs = drawn[(drawn["kind"] == "run") & (drawn["start"] == 0) & (drawn["side"] != "")]
    gains = runs["gain_yd"].clip(-20, 99).to_numpy() - GAIN_LOW_YD
    table = pro_prior.hash_by_gain[0, gains, 0].mean(axis=0)
    # .02: real labels favor one side by a point; 18,000 draws have an error of .004.
    np.testing.assert_allclose(table, shares_of(runs["following"]), atol=0.02)


def test_incompletions_that_come_down_beyond_a_sideline_are_few_but_some() -> None:
    short = PRIORS["pro"].side_pmf(kind=INCOMPLETE, yards=8, hash_code=1)
    deep = PRIORS["pro"].side_pmf(kind=INCOMPLETE, yards=30, hash_code=1)
    # The outermost measured percentiles of deep targets (5 %) lie at the sideline, 26.7 yd from
    # the middle; of short ones a yard or two inside it.
    assert short[[0, 17]].sum() < 0.05 < deep[[0, 17]].sum() < 0.15


def test_shares_round_trip_and_refuse_foreign_arrays() -> None:
    shares = bundled_shares()
    again = LabelShares.from_arrays(shares.to_arrays())
    np.testing.assert_array_equal(again.weight, shares.weight)
    with pytest.raises(ModelError, match="lacks"):
        LabelShares.from_arrays({})
    with pytest.raises(ModelError, match="shapes"):
        LabelShares(
            weight=shares.weight[:1], p_out=shares.p_out, after_catch_yd=shares.after_catch_yd
        )
