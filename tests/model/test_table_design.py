"""A design made of tables is the matrix it stands for."""

import numpy as np
import pytest
from scipy import sparse
from sklearn.linear_model import LogisticRegression

from lensyard.errors import InvalidInputError
from lensyard.model.fitting import splines
from lensyard.model.tables import ClassTables


@pytest.fixture
def rng():
    return np.random.default_rng(11)


def _design(rng):
    blocks, dense = [], []
    for rows, columns in ((7, 3), (5, 4)):
        basis = sparse.csr_array(rng.random((rows, columns)))
        at = rng.integers(0, rows, 40)
        blocks.append(splines.TableBlock(at, basis, np.full(columns, 0.5)))
        dense.append(basis.toarray()[at])
    return splines.TableDesign(blocks), np.hstack(dense)


def test_products_are_those_of_the_matrix_written_out(rng):
    design, dense = _design(rng)
    beta = rng.normal(size=(7, 3))
    values = rng.normal(size=(40, 3)).astype(np.float32)
    weight = rng.random(40).astype(np.float32)
    # float32 sums of at most 40 terms near 1
    np.testing.assert_allclose(design.times(beta), dense @ beta, atol=1e-5)
    np.testing.assert_allclose(design.transposed_times(values), dense.T @ values, atol=1e-4)
    np.testing.assert_allclose(design.mean_squares(weight), (dense**2).T @ weight, atol=1e-4)


def test_a_design_of_no_tables_is_refused():
    with pytest.raises(InvalidInputError, match="at least one table"):
        splines.TableDesign([])


def test_a_ridge_fit_is_that_of_scikit_learn(rng):
    design, dense = _design(rng)
    trials = rng.integers(1, 30, 40).astype(float)
    events = rng.binomial(trials.astype(int), 0.3).astype(float)
    beta = splines.fit_binomial(design, events=events, trials=trials, penalty=design.penalty)
    # minimizes log-loss + 0.5 b^2 here, and C * log-loss + 0.5 b^2 there
    oracle = LogisticRegression(C=1.0, fit_intercept=False, tol=1e-10, max_iter=5000)
    oracle.fit(
        np.vstack([dense, dense]),
        np.repeat([1, 0], 40),
        sample_weight=np.concatenate([events, trials - events]),
    )
    # both searches stop at gradients of about 1e-6 of the total
    np.testing.assert_allclose(beta, oracle.coef_[0], atol=2e-2)


def test_nested_terms_share_a_table_and_give_the_same_answer(rng):
    n = 3000
    sizes = {"all": 1, "down": 4, "distance": 30, "goal": 2}
    codes = {name: rng.integers(0, size, n) for name, size in sizes.items()}
    logit = 0.5 * codes["down"] - 0.1 * codes["distance"]
    happened = rng.random(n) < 1 / (1 + np.exp(-logit))
    share = np.stack([happened, ~happened], axis=1).astype(np.float32)
    target = splines.ClassTarget(codes=codes, share=share, weight=np.ones(n), trend=np.zeros(n))
    nested = [
        splines.Term({"down": None}, 1.0),
        splines.Term({"down": None, "distance": [1, 10, 30]}, 1.0),
    ]
    tables = splines.fit_class_tables(target, nested, ahead=0.0)
    assert set(tables) == {"all", "down*distance"}
    fitted = ClassTables(tuple((tuple(name.split("*")), t) for name, t in tables.items()))
    p = fitted.probabilities(codes)[:, 0]
    for down in range(4):
        here = codes["down"] == down
        # a ridge of 1 beside 750 plays, whose share has a standard error of .02
        assert p[here].mean() == pytest.approx(happened[here].mean(), abs=0.02)
