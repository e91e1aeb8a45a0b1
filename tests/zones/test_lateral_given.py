"""Expected places across the field, against the draws of the same mixture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lensyard.domain.field import FIELD_WIDTH_YD, rules_named
from lensyard.model.lateral import LANE_EDGES_Y_YD, LateralPrior
from lensyard.model.lateral_sampling import LabeledPlays, draw_end_y_yd, places_given
from lensyard.model.lateral_tables import DEPTHS, GAPS, LATERAL_KINDS, SIDES, codes
from lensyard.plays.kinds import LIVE_KINDS
from lensyard.plays.store import load_plays

PRIOR = LateralPrior.build(rules=rules_named("pro"))
DRAWS = 6


def labeled(hash_code: int, games: int = 40) -> LabeledPlays:
    plays = load_plays(
        columns=("kind", "side", "depth", "gap", "gain_yd", "air_yd", "out_of_bounds"),
        seasons=[2019],
        kinds=LIVE_KINDS,
    ).head(games * 125)
    return LabeledPlays(
        kind=codes(plays["kind"], LATERAL_KINDS),
        side=codes(plays["side"], SIDES),
        depth=codes(plays["depth"], DEPTHS),
        gap=codes(plays["gap"], GAPS),
        gain_yd=plays["gain_yd"].to_numpy(float),
        air_yd=plays["air_yd"].to_numpy(float),
        out_of_bounds=plays["out_of_bounds"].to_numpy(bool),
        hash_code=np.full(len(plays), hash_code),
    )


@pytest.mark.parametrize("hash_code", [0, 1, 2])
def test_the_expected_places_are_those_of_many_draws(hash_code: int) -> None:
    plays = labeled(hash_code)
    expected = places_given(plays, PRIOR)
    drawn = np.zeros((len(LATERAL_KINDS), 18))
    for seed in range(DRAWS):
        y = draw_end_y_yd(np.random.default_rng(seed), plays, rules=PRIOR.rules)
        place = np.clip(np.searchsorted(LANE_EDGES_Y_YD, y, side="right"), 1, 16)
        place = np.where(y <= 0, 0, np.where(y >= FIELD_WIDTH_YD, 17, place))
        np.add.at(drawn, (plays.kind, place), 1.0)
    for kind in range(len(LATERAL_KINDS)):
        mean = DRAWS * expected[plays.kind == kind].sum(axis=0)
        error = np.sqrt(np.maximum(mean, 1.0))
        # 108 places a hash mark: five standard errors fail once in some ten thousand; 4 % more
        # because fifteen nodes stand for the whole spread of targets, of which draws are
        # continuous for incompletions.
        assert (np.abs(drawn[kind] - mean) <= 5 * error + 0.04 * mean).all()


def test_places_sum_to_one_and_out_of_bounds_lies_on_a_sideline() -> None:
    plays = labeled(3, games=10)
    places = places_given(plays, PRIOR)
    np.testing.assert_allclose(places.sum(axis=1), 1.0, atol=1e-12)
    out = plays.out_of_bounds & np.isin(plays.kind, (0, 1, 4))
    assert out.any()
    np.testing.assert_allclose(places[out][:, [0, 17]].sum(axis=1), 1.0, atol=1e-12)


def test_left_is_right_mirrored() -> None:
    plays = labeled(0, games=10)
    mirror = np.array([2, 1, 0, -1])
    sided = plays.side != 1  # a label in the middle is drawn toward one side only
    turned = replace(plays, side=mirror[plays.side], hash_code=np.full(len(plays.kind), 2))
    left, right = places_given(plays, PRIOR), places_given(turned, PRIOR)
    np.testing.assert_allclose(left[sided], right[sided][:, ::-1], atol=1e-12)


def test_an_unknown_hash_mark_is_the_mixture_of_all_three() -> None:
    unknown = places_given(labeled(3, games=5), PRIOR)
    mixed = sum(
        share * places_given(labeled(code, games=5), PRIOR)
        for code, share in enumerate(PRIOR.hash_shares)
    )
    np.testing.assert_allclose(unknown, mixed, atol=1e-12)
