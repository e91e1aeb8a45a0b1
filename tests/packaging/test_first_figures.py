"""The figures that come with the package are those that the program asks for, and still true."""

from __future__ import annotations

import io
import json
from pathlib import Path

import numpy as np
import pytest
from data.recipes.first_figures import ask_first_questions

from lensyard import files
from lensyard.files import bundled_figures, recording

FOLDER = Path(__file__).parents[2] / "models" / "figures"
MOST_BYTES = 2_000_000


@pytest.fixture(autouse=True)
def no_cache_of_one_s_own(monkeypatch):
    monkeypatch.setattr(files, "_believed", lambda path: None)


def test_first_questions_are_answered_from_the_package_and_nothing_else_lies_there(
    monkeypatch,
):
    asked = []

    def noted(key):
        asked.append(key)
        return bundled_figures(key)

    monkeypatch.setattr(files, "bundled_figures", noted)
    ask_first_questions()
    missing = [key for key in asked if bundled_figures(key) is None]
    assert not missing, "python -m data.recipes.first_figures builds them anew"
    names = {path.name for path in FOLDER.iterdir()}
    assert {name for name in names if not any(key.startswith(name) for key in asked)} == set()
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) <= MOST_BYTES


@pytest.mark.slow
def test_they_are_what_is_computed_now(monkeypatch):
    kept = {path.name: path for path in FOLDER.iterdir()}
    with monkeypatch.context() as patched, recording() as found:
        patched.setattr(files, "bundled_figures", lambda key: None)
        ask_first_questions()
    assert len(found) == len(kept)
    for key, content in found.items():
        known = bundled_figures(key)
        assert known is not None, key
        if known.startswith(b"\x93NUMPY"):
            was, now = (np.load(io.BytesIO(of)) for of in (known, content))
            np.testing.assert_allclose(now, was, rtol=0, atol=1e-4)
        else:
            assert_close(json.loads(known), json.loads(content))


def assert_close(was, now):
    """Compare plain values; figures may differ by rounding between processors."""
    if isinstance(was, dict) and isinstance(now, dict):
        assert was.keys() == now.keys()
        for name in was:
            assert_close(was[name], now[name])
    elif isinstance(was, list) and isinstance(now, list):
        assert len(was) == len(now)
        for one, other in zip(was, now, strict=True):
            assert_close(one, other)
    elif isinstance(was, float):
        assert now == pytest.approx(was, rel=1e-4, abs=1e-6)
    else:
        assert was == now
