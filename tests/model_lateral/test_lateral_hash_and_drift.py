"""Hash marks by rule set, the drift after the catch, and out of bounds by label."""

from __future__ import annotations

import numpy as np
import pytest

from lensyard.domain.field import CENTER_Y_YD, FIELD_WIDTH_YD, RULES, HashMark
from lensyard.model.lateral import LateralPrior
from lensyard.model.lateral_sampling import LabeledPlays, draw_end_y_yd
from lensyard.model.lateral_tables import COMPLETE, DEPTHS, RUN, SIDES


# Rule books: hash marks 70 ft 9 in from the sidelines (professional), 60 ft (college), a third of
# the width, 53 ft 4 in (high school); off the middle 3.08, 6.67 and 8.89 yd.
@pytest.mark.parametrize(
    ("name", "from_sideline_ft"),
    [("pro", 70 + 9 / 12), ("college", 60.0), ("high-school", 160 / 3)],
)
def test_hash_marks_lie_where_the_rule_books_put_them(name: str, from_sideline_ft: float) -> None:
    off_middle_yd = CENTER_Y_YD - from_sideline_ft / 3
    rules = RULES[name]
    assert rules.ball_y_yd(HashMark.LEFT) - CENTER_Y_YD == pytest.approx(off_middle_yd, abs=1e-9)
    assert CENTER_Y_YD - rules.ball_y_yd(HashMark.RIGHT) == pytest.approx(off_middle_yd, abs=1e-9)
    assert rules.ball_y_yd(HashMark.MIDDLE) == pytest.approx(CENTER_Y_YD)


def test_from_the_middle_left_and_right_are_equal_in_every_rule_set() -> None:
    for rules in RULES.values():
        prior = LateralPrior.build(rules=rules)
        for kind in (RUN, COMPLETE):
            pmf = prior.side_pmf(kind=kind, yards=8, hash_code=1)
            np.testing.assert_allclose(pmf, pmf[::-1], atol=1e-15)


def drawn_catches(n: int, *, gain_yd: float, air_yd: float, out: bool = False) -> np.ndarray:
    batch = LabeledPlays(
        kind=np.full(n, COMPLETE),
        side=np.full(n, SIDES.index("left")),
        depth=np.full(n, DEPTHS.index("short")),
        gap=np.full(n, -1),
        gain_yd=np.full(n, gain_yd),
        air_yd=np.full(n, air_yd),
        out_of_bounds=np.full(n, out),
        hash_code=np.ones(n, dtype=np.int64),
    )
    return draw_end_y_yd(np.random.default_rng(12), batch, rules=RULES["pro"])


def test_the_longer_the_run_after_the_catch_the_wider_the_ends_spread() -> None:
    spreads = []
    for run in (0, 8, 25):
        y = drawn_catches(20_000, gain_yd=6 + run, air_yd=6.0)
        spreads.append(float(np.subtract(*np.percentile(y, [75, 25]))))
    # The quartiles of 20,000 draws are good to about .15 yd; drift must show beyond that.
    assert spreads[0] + 0.3 < spreads[1] < spreads[2] - 0.3


def test_a_catch_to_the_left_that_goes_out_goes_out_on_the_left() -> None:
    y = drawn_catches(4000, gain_yd=9.0, air_yd=7.0, out=True)
    assert set(np.unique(y)) <= {0.0, FIELD_WIDTH_YD}
    assert (y == FIELD_WIDTH_YD).mean() > 0.97


def test_from_the_left_hash_more_plays_end_out_on_the_left() -> None:
    for name in ("pro", "college", "high-school"):
        prior = LateralPrior.build(rules=RULES[name])
        pmf = prior.side_pmf(kind=RUN, yards=8, hash_code=0)
        assert pmf[-1] > pmf[0], name
    wide, narrow = (LateralPrior.build(rules=RULES[name]) for name in ("high-school", "pro"))
    ratio = [p.side_pmf(kind=RUN, yards=8, hash_code=0) for p in (wide, narrow)]
    assert ratio[0][-1] / ratio[0][0] > ratio[1][-1] / ratio[1][0]
