"""A series without waiting: the plan solved once, the rule's two numbers given."""

import os

import pytest

from lensyard.domain.kit import kit_of
from lensyard.features.drill.series import DrillRequest, drill_series
from lensyard.model.context import load_context
from lensyard.plays.store import close_shared_store
from lensyard.spots.position_rule import PositionRule

RULE = PositionRule(22.5, 0, "rule")


@pytest.fixture(scope="session")
def cache(tmp_path_factory):
    """One cache folder for all drill tests, so that a plan is solved once."""
    folder = tmp_path_factory.mktemp("cache")
    before = os.environ.get("LENSYARD_CACHE_DIR")
    yield folder
    if before is not None:
        os.environ["LENSYARD_CACHE_DIR"] = before


@pytest.fixture(autouse=True)
def folders(cache, tmp_path, monkeypatch):
    """Own folders for cache and data; give the data folder."""
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(cache))
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))
    close_shared_store()  # it looks for imported seasons in the data folder
    yield tmp_path / "data"
    close_shared_store()


@pytest.fixture
def rule():
    """The rule card's numbers that the tests play with."""
    return RULE


@pytest.fixture
def make_series():
    """Give a maker of fixed series with a short kit, where places differ most."""

    def make(length, seed=5):
        request = DrillRequest(kit=kit_of(["70-200", "300"]), length=length, seed=seed)
        return drill_series(load_context(), request, rule=RULE)

    return make
