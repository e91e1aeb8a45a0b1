"""Label shares from the 5-yard line in, and situations whose hash mark nobody knows."""

from __future__ import annotations

import numpy as np
import pytest

from lensyard.domain.field import RULES
from lensyard.model.lateral import START_HASH_SHARES, LateralPrior
from lensyard.model.lateral_tables import (
    COMPLETE,
    INCOMPLETE,
    MEASURED_SEASONS,
    NEAR_GOAL_YD,
    RUN,
    bundled_shares,
    measure_labels,
    near_goal_shares,
)
from lensyard.plays.store import load_plays

PRIOR = LateralPrior.build(rules=RULES["pro"])


def test_near_goal_shares_are_what_the_bundled_plays_say() -> None:
    columns = ("kind", "yardline_100", "gain_yd", "air_yd", "side", "depth", "gap")
    plays = load_plays(
        columns=(*columns, "out_of_bounds", "touchdown"),
        seasons=list(MEASURED_SEASONS),
        season_type="REG",
    )
    near = measure_labels(plays[plays["yardline_100"] <= NEAR_GOAL_YD])
    bundled = near_goal_shares(bundled_shares())
    for kind in (RUN, COMPLETE, INCOMPLETE):
        # The literals are rounded to four digits.
        assert bundled.weight[kind, :3] == pytest.approx(near.weight[kind, :3], abs=2e-4)


def test_near_the_goal_carries_end_nearer_to_the_middle() -> None:
    lanes = slice(6, 12)  # six of the sixteen lanes, around the middle
    for code in range(3):
        usual = PRIOR.side_pmf(kind=RUN, yards=2, hash_code=code)[lanes].sum()
        near = PRIOR.near_goal().side_pmf(kind=RUN, yards=2, hash_code=code)[lanes].sum()
        assert near > usual


def test_an_unknown_hash_is_the_mixture_of_the_known_ones() -> None:
    for kind, yards in ((RUN, 4), (COMPLETE, 12), (INCOMPLETE, 20)):
        known = np.stack([PRIOR.side_pmf(kind=kind, yards=yards, hash_code=c) for c in range(3)])
        unknown = PRIOR.side_pmf(kind=kind, yards=yards, hash_code=3)
        assert unknown == pytest.approx(PRIOR.hash_shares @ known, abs=1e-12)
        assert unknown == pytest.approx(unknown[::-1], abs=1e-9)


def test_the_chain_of_hash_marks_settles_where_real_snaps_start() -> None:
    # Measured lateral tables, 2022-2025. The chain is typical plays only (no penalties, no starts
    # of drives), so .02.
    assert PRIOR.hash_shares == pytest.approx(START_HASH_SHARES, abs=0.02)
