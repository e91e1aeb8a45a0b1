"""Few plays held to a model of many: better than either alone, and raw in the end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.held_out import held_out_loss
from tests.support.synthetic_plays import canonical_plays
from tests.support.synthetic_population import SteadyClock, synthetic_population

from lensyard.domain.situation import SituationBatch
from lensyard.errors import DataError, OutOfRangeError
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.model.fitting import prior as shrinking
from lensyard.model.fitting.fit import fit_outcome
from lensyard.model.outcome_grid import GAINS_YD
from lensyard.model.simulation import simulate_games

FEW, MORE = 8, 60
"""Games of the invented level: about 1,000 and 8,000 plays."""


@dataclass(frozen=True)
class Losses:
    """Held-out losses in nats a play."""

    raw: float
    held: float


@pytest.fixture(scope="module")
def bundled():
    return load_context(BASE_MODEL).model


def invented(bundled, games, seed):
    world = synthetic_population(bundled)
    drawn = simulate_games(world, SteadyClock(27.0), games=games, seed=seed, marginal=True)
    return canonical_plays(drawn, world.outcome, seasons=[2001], seed=seed)


@pytest.fixture(scope="module")
def held_out(bundled):
    return invented(bundled, 60, 99)


@pytest.fixture(scope="module")
def losses(bundled, held_out):
    found = {}
    for games in (FEW, MORE):
        plays = invented(bundled, games, games)
        raw = fit_outcome(plays, seasons=[2001], model_id="raw")
        held = fit_outcome(
            plays,
            seasons=[2001],
            model_id="held",
            prior=shrinking.recentered(bundled, plays),
            prior_plays=shrinking.SHRINK_PLAYS,
        )
        assert held.manifest.prior == bundled.model_id
        found[games] = Losses(held_out_loss(raw, held_out), held_out_loss(held, held_out))
    return found


@pytest.mark.statistical
def test_held_to_the_bundled_model_beats_it_and_the_raw_fit_when_plays_are_few(
    losses, bundled, held_out
):
    prior = held_out_loss(bundled, held_out)
    few = losses[FEW]
    # .02 nats a play over some 8,000 plays: far beyond the noise of a paired difference (about
    # the square root of twice the gain over the plays, .002).
    assert few.held < prior - 0.02
    assert few.held < few.raw - 0.02


@pytest.mark.statistical
def test_with_more_plays_the_two_fits_come_together(losses):
    few, more = losses[FEW], losses[MORE]
    assert abs(more.held - more.raw) < 0.3 * abs(few.held - few.raw)
    assert more.held < few.held


@pytest.mark.statistical
def test_levels_move_to_the_new_plays(bundled):
    plays = invented(bundled, MORE, MORE)
    moved = shrinking.recentered(bundled, plays)
    world = synthetic_population(bundled).outcome
    batch = SituationBatch.neutral(
        down=np.array([1, 2, 3]), distance_yd=np.array([10, 6, 4]), yardline_100=np.array([70] * 3)
    )
    old, new = bundled.forecast(batch).p_kind[:, 0], moved.forecast(batch).p_kind[:, 0]
    assert (new > old + 0.03).all()  # the invented level runs more
    gains = moved.gain["run"].pmf
    from lensyard.model.outcome_grid import axis_codes

    codes = axis_codes(batch)
    ours, theirs, start = (
        (pmf(codes) @ GAINS_YD).mean()
        for pmf in (gains, world.gain["run"].pmf, bundled.gain["run"].pmf)
    )
    # LEVEL_PLAYS of 4,000 runs hold back a twentieth, and three numbers stand for 120 hazards of
    # plays by down and distance: half of the way is far more than chance (runs have an sd of 6 yd,
    # .1 for the mean of 4,000) and asks for nothing finer.
    assert abs(ours - theirs) < 0.5 * abs(start - theirs)
    assert 0.05 * len(plays) > shrinking.LEVEL_PLAYS


@pytest.mark.statistical
def test_the_priors_own_plays_move_nothing(bundled):
    world = synthetic_population(bundled, strength=0.0)
    drawn = simulate_games(world, SteadyClock(27.0), games=MORE, seed=4, marginal=True)
    plays = canonical_plays(drawn, world.outcome, seasons=[2001], seed=4)
    moved = shrinking.recentered(bundled, plays)
    shift = moved.arrays["next_kind:all"] - bundled.arrays["next_kind:all"].astype(float)
    # Standard errors of the rarest kind's logit: 1.3 % of 8,000 plays, .1; three of them.
    assert np.abs(shift).max() < 0.3


@given(plays=st.floats(0, 1e6), more=st.floats(1, 1e6), prior_plays=st.floats(1, 1e6))
def test_the_prior_decides_less_the_more_plays_there_are(plays, more, prior_plays):
    before = shrinking.prior_share(plays=plays, prior_plays=prior_plays)
    after = shrinking.prior_share(plays=plays + more, prior_plays=prior_plays)
    assert 0 <= after <= before <= 1


def test_blends_are_posterior_means():
    # A Dirichlet of 30 plays at (.5, .5) and 10 plays at (1, 0): (15 + 10) / 40.
    mixed = shrinking.blend(np.array([1.0, 0.0]), np.array([0.5, 0.5]), plays=10, prior_plays=30)
    np.testing.assert_allclose(mixed, [25 / 40, 15 / 40])
    untouched = shrinking.blend(np.zeros(2), np.array([0.3, 0.7]), plays=0, prior_plays=30)
    np.testing.assert_allclose(untouched, [0.3, 0.7])
    with pytest.raises(OutOfRangeError):
        shrinking.prior_share(plays=-1, prior_plays=1)


@pytest.mark.statistical
def test_plays_that_lack_a_kind_are_refused_with_what_to_do(bundled):
    plays = invented(bundled, FEW, 4)
    without = plays[plays["kind"] != "interception"]
    with pytest.raises(DataError, match=r"no interception.*Import more plays"):
        fit_outcome(without, seasons=[2001], model_id="lacking")
