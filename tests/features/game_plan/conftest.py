"""One cache folder for all tests of plans, so that each plan is solved once."""

from functools import cache

import pytest

from lensyard.model.transition import TransitionModel

# Computed once for all plans of these tests; they depend on the model only.
_matrices = cache(TransitionModel.transition_matrices)


@pytest.fixture(scope="session")
def plan_cache(tmp_path_factory):
    return tmp_path_factory.mktemp("plans")


@pytest.fixture(autouse=True)
def _one_cache(plan_cache, monkeypatch):
    monkeypatch.setattr(TransitionModel, "transition_matrices", _matrices)
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(plan_cache))
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(plan_cache / "data"))
