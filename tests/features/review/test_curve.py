"""One's own keep rate by distance: who is known is found again, few plays change nothing."""

from dataclasses import replace

import numpy as np
import pytest

from lensyard.domain.kit import kit_of
from lensyard.features.review.compute import own_curve_of
from lensyard.settings.own_curve import use_curve

REACH_YD = 40.0
SLOPE = kit_of(["400"])


def photographed(plays, truth, seed=3):
    """The curve of somebody who keeps 60 % near at hand, times a truth by distance over reach."""
    rng = np.random.default_rng(seed)
    at = rng.uniform(0.3, 2.0, plays)
    kept = rng.random(plays) < 0.6 * truth(at)
    return own_curve_of(at * REACH_YD, kept, reach_yd=REACH_YD)


@pytest.mark.parametrize(
    ("truth", "name"),
    [
        (lambda at: (at <= 1.0) * 1.0, "a wall"),
        (lambda at: np.clip(1.0 - (at - 1.0) / 0.9, 0.0, 1.0), "a long slope"),
        (lambda at: np.clip(1.5 - at, 0.0, 0.5) * 2.0, "the usual slope"),
    ],
)
def test_many_plays_find_the_photographer_again(truth, name):
    found = photographed(20_000, truth)
    own = replace(SLOPE, keep_curve=found.knots)
    # In the middle of the bands; between them a curve is linear.
    middle = np.array([0.875, 1.0625, 1.1875, 1.3125, 1.4375, 1.625])
    quality = own.quality(middle * REACH_YD, own.mounted)
    assert quality == pytest.approx(truth(middle), abs=0.06), name


def test_few_plays_stay_near_the_slope_and_too_few_say_nothing():
    wall = photographed(90, lambda at: (at <= 1.0) * 1.0)
    at = np.array([1.1875])
    own = replace(SLOPE, keep_curve=wall.knots)
    shrunk = float(own.quality(at * REACH_YD, own.mounted)[0])
    assert 0.1 < shrunk < float(SLOPE.quality(at * REACH_YD, SLOPE.mounted)[0])
    assert photographed(30, lambda at: at * 0.0 + 1.0).knots == ()


SITUATION = ("next", "--down", "3", "--distance", "7", "--ball", "opp35")


@pytest.mark.parametrize(
    "wrong", ["1.2", "1:1 0.9:0", "1:0.5 1.2:0.6 1.5:0", "1:1 1.5:0.3", "1:1 9:0"]
)
def test_wrong_curves_are_refused(run, wrong):
    code, out, err = run(*SITUATION, "--keep-curve", wrong)
    assert (code, out) == (2, "")
    assert "reach" in err


def test_what_was_kept_counts_everywhere_until_the_slope_is_named(
    tmp_path, monkeypatch, document, run
):
    monkeypatch.setenv("LENSYARD_CONFIG_DIR", str(tmp_path))
    curve = "0.75:1 1.1:0.2 1.3:0"
    plain, asked = (document(*SITUATION, *more) for more in ((), ("--keep-curve", curve)))
    use_curve(((0.75, 1.0), (1.1, 0.2), (1.3, 0.0)))
    assert document(*SITUATION)["spots"] == asked["spots"] != plain["spots"]
    assert document(*SITUATION, "--keep-curve", "slope")["spots"] == plain["spots"]
    use_curve(())
    assert document(*SITUATION)["spots"] == plain["spots"]
    (tmp_path / "keep-curve").write_text("nonsense", encoding="utf-8")
    code, _, err = run(*SITUATION)
    assert code == 2
    assert "--use-curve" in err


def test_next_and_plan_follow_the_curve(document):
    usual = document(*SITUATION)["spots"][0]["p_usable"]
    less = document(*SITUATION, "--keep-curve", "0.5:1 0.6:0")["spots"][0]["p_usable"]
    more = document(*SITUATION, "--keep-curve", "1:1 1.5:1 2:0")["spots"][0]["p_usable"]
    assert less < usual < more
