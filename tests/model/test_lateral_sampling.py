"""Drawn ends and next hash marks against measured tables, and expected places against draws."""

from dataclasses import replace

import numpy as np
import pytest
from tests.support.field import CENTER_Y_YD, FIELD_WIDTH_YD

from lensyard.domain.field import RULES, HashMark
from lensyard.model import lateral, lateral_tables
from lensyard.model import lateral_sampling as sampling
from lensyard.model import outcome_grid as grid

PRO = RULES["pro"]
PRIOR = lateral.LateralPrior.build(rules=PRO)
DRAWS = 6


@pytest.fixture(scope="module")
def drawn(fitted_plays):
    """Real plays with a drawn start hash, end and next hash, professional rules."""
    plays = fitted_plays[fitted_plays["kind"].isin(grid.KINDS)]
    plays = plays.sample(50_000, random_state=5).reset_index(drop=True)
    rng = np.random.default_rng(20)
    start = rng.choice(3, len(plays), p=lateral.START_HASH_SHARES)
    batch = sampling.LabeledPlays.of(plays, start)
    y = sampling.draw_end_y_yd(rng, batch, rules=PRO)
    following = sampling.draw_hash(rng, y_end_yd=y, kind=batch.kind, hash_code=start, rules=PRO)
    return plays.assign(start=start, y=y, following=following, code=batch.kind)


def shares_of(codes):
    return np.bincount(codes, minlength=3) / len(codes)


# --- signs and frames


@pytest.mark.slow
def test_a_left_label_ends_at_larger_y_and_a_left_hash_starts_there(drawn):
    for kind in ("run", "complete", "incomplete"):
        by_side = drawn[drawn["kind"] == kind].groupby("side")["y"].mean()
        # At least 6 yd: the measured medians lie 9 (carries) to 16 (passes) off the middle.
        assert by_side["left"] > CENTER_Y_YD + 6
        assert by_side["right"] < CENTER_Y_YD - 6
    ball = PRO.ball_y_yd(HashMark.LEFT)
    start = lateral.start_y_yd(kind=np.array([grid.RUN]), hash_code=np.array([0]), rules=PRO)[0]
    assert CENTER_Y_YD < start < ball


def test_out_of_bounds_ends_lie_exactly_on_a_sideline_and_others_inside(drawn):
    out = drawn[drawn["out_of_bounds"]]
    assert set(out["y"].unique()) == {0.0, FIELD_WIDTH_YD}
    inside = drawn[~drawn["out_of_bounds"] & (drawn["kind"] != "incomplete")]
    assert inside["y"].between(0.0, FIELD_WIDTH_YD, inclusive="neither").all()
    # A labeled side decides nearly always which sideline: the other is 40 yd away.
    left_out = out[(out["side"] == "left") & (out["gain_yd"] < 10)]
    assert (left_out["y"] == FIELD_WIDTH_YD).mean() > 0.95


# --- measured tables


def test_next_hash_by_kind_and_start_hash_agrees_with_the_measured_table(drawn, measured):
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


def test_next_hash_by_label_agrees_with_the_measured_table(drawn, measured):
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


def test_out_of_bounds_shares_agree_with_the_measured_table(fitted_plays, measured):
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


def test_carries_and_targets_spread_as_measured(drawn, measured):
    table = measured("lateral_by_label").set_index(["quantity", "label"])
    runs = drawn[(drawn["kind"] == "run") & (drawn["side"] != "")]
    start = lateral.start_y_yd(
        kind=runs["code"].to_numpy(), hash_code=runs["start"].to_numpy(), rules=PRO
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


# --- draws and tables tell the same


def test_draws_over_the_labels_agree_with_the_tables(fitted_plays):
    rng = np.random.default_rng(7)
    for kind, low, high in (
        (grid.RUN, 0, 3),
        (grid.RUN, 10, 14),
        (grid.COMPLETE, 4, 9),
        (grid.SCRAMBLE, 4, 9),
    ):
        plays = fitted_plays[
            (fitted_plays["kind"] == grid.KINDS[kind])
            & fitted_plays["gain_yd"].between(low, high)
            & ~fitted_plays["touchdown"]
            & (fitted_plays["side"] != "")
        ].sample(2400 if kind == grid.SCRAMBLE else 12_000, random_state=1, replace=True)
        start = np.zeros(len(plays), dtype=np.int64)
        y = sampling.draw_end_y_yd(rng, sampling.LabeledPlays.of(plays, start), rules=PRO)
        lane = np.clip((y / FIELD_WIDTH_YD * 16).astype(int), 0, 15)
        drawn_pmf = np.bincount(lane, minlength=16) / len(y)
        gains = plays["gain_yd"].to_numpy() - grid.GAIN_MIN_YD
        prior = PRIOR.by_gain[grid.GAIN_KINDS.index(kind), gains, 0].mean(axis=0)
        prior[1] += prior[0]
        prior[16] += prior[17]
        # Half the summed difference: the tables take the mean drift after the catch, the draws
        # each play's own; real labels favor the right by a point or so; the shared
        # out-of-bounds share moves between hash marks in the tables only. Plus noise.
        distance = np.abs(drawn_pmf - prior[1:17]).sum() / 2
        assert distance < 0.05 + 0.4 * np.sqrt(16 / len(y)), (grid.KINDS[kind], distance)


def like_plays(n, **columns):
    """Plays that are all alike: a run of 5 yd from the middle without labels, but as said."""
    usual = {"kind": grid.RUN, "side": -1, "depth": -1, "gap": -1, "gain_yd": 5.0, "air_yd": np.nan}
    values = usual | {"out_of_bounds": False, "hash_code": 1} | columns
    return sampling.LabeledPlays(**{name: np.full(n, value) for name, value in values.items()})


def test_kneels_stay_where_they_were_snapped():
    batch = like_plays(1, kind=-1, gain_yd=-1.0, hash_code=2)
    y = sampling.draw_end_y_yd(np.random.default_rng(0), batch, rules=PRO)
    assert y[0] == pytest.approx(PRO.ball_y_yd(HashMark.RIGHT))


# --- laws


def test_next_hash_tables_sum_to_one_and_agree_with_the_draws(drawn):
    np.testing.assert_allclose(PRIOR.hash_by_gain.sum(axis=3), 1.0, atol=1e-12)
    runs = drawn[(drawn["kind"] == "run") & (drawn["start"] == 0) & (drawn["side"] != "")]
    gains = runs["gain_yd"].clip(-20, 99).to_numpy() - grid.GAIN_MIN_YD
    table = PRIOR.hash_by_gain[0, gains, 0].mean(axis=0)
    # .02: real labels favor one side by a point; 18,000 draws have an error of .004.
    np.testing.assert_allclose(table, shares_of(runs["following"]), atol=0.02)


def drawn_catches(n, **columns):
    left = {
        "kind": grid.COMPLETE,
        "side": lateral_tables.SIDES.index("left"),
        "depth": lateral_tables.DEPTHS.index("short"),
    }
    plays = like_plays(n, **left, **columns)
    return sampling.draw_end_y_yd(np.random.default_rng(12), plays, rules=PRO)


def test_the_longer_the_run_after_the_catch_the_wider_the_ends_spread():
    spreads = []
    for run in (0, 8, 25):
        y = drawn_catches(20_000, gain_yd=6 + run, air_yd=6.0)
        spreads.append(float(np.subtract(*np.percentile(y, [75, 25]))))
    # The quartiles of 20,000 draws are good to about .15 yd; drift must show beyond that.
    assert spreads[0] + 0.3 < spreads[1] < spreads[2] - 0.3


def labeled(plays, hash_code, *, rows):
    live = plays[(plays["season"] == 2019) & plays["kind"].isin(grid.KINDS)].head(rows)
    return sampling.LabeledPlays.of(live, np.full(len(live), hash_code))


@pytest.mark.parametrize("hash_code", [0, 1, 2])
def test_the_expected_places_are_those_of_many_draws(bundled_plays, hash_code):
    plays = labeled(bundled_plays, hash_code, rows=5000)
    expected = sampling.places_given(plays, PRIOR)
    drawn = np.zeros((len(grid.KINDS), 18))
    for seed in range(DRAWS):
        y = sampling.draw_end_y_yd(np.random.default_rng(seed), plays, rules=PRIOR.rules)
        place = np.clip(np.searchsorted(grid.LANE_EDGES_Y_YD, y, side="right"), 1, 16)
        place = np.where(y <= 0, 0, np.where(y >= FIELD_WIDTH_YD, 17, place))
        np.add.at(drawn, (plays.kind, place), 1.0)
    for kind in range(len(grid.KINDS)):
        mean = DRAWS * expected[plays.kind == kind].sum(axis=0)
        error = np.sqrt(np.maximum(mean, 1.0))
        # 108 places a hash mark: five standard errors fail once in some ten thousand; 4 % more
        # because fifteen nodes stand for the whole spread of targets, of which draws are
        # continuous for incompletions.
        assert (np.abs(drawn[kind] - mean) <= 5 * error + 0.04 * mean).all()


def test_places_sum_to_one_and_out_of_bounds_lies_on_a_sideline(bundled_plays):
    plays = labeled(bundled_plays, 3, rows=1250)
    places = sampling.places_given(plays, PRIOR)
    np.testing.assert_allclose(places.sum(axis=1), 1.0, atol=1e-12)
    out = plays.out_of_bounds & np.isin(plays.kind, (0, 1, 4))
    assert out.any()
    np.testing.assert_allclose(places[out][:, [0, 17]].sum(axis=1), 1.0, atol=1e-12)


def test_left_is_right_mirrored(bundled_plays):
    plays = labeled(bundled_plays, 0, rows=1250)
    mirror = np.array([2, 1, 0, -1])
    sided = plays.side != 1  # a label in the middle is drawn toward one side only
    turned = replace(plays, side=mirror[plays.side], hash_code=np.full(len(plays.kind), 2))
    left, right = sampling.places_given(plays, PRIOR), sampling.places_given(turned, PRIOR)
    np.testing.assert_allclose(left[sided], right[sided][:, ::-1], atol=1e-12)


def test_an_unknown_hash_mark_is_the_mixture_of_all_three(bundled_plays):
    unknown = sampling.places_given(labeled(bundled_plays, 3, rows=625), PRIOR)
    mixed = sum(
        share * sampling.places_given(labeled(bundled_plays, code, rows=625), PRIOR)
        for code, share in enumerate(PRIOR.hash_shares)
    )
    np.testing.assert_allclose(unknown, mixed, atol=1e-12)
