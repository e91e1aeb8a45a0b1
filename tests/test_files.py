"""Files are written whole or not at all, and nothing is left beside them."""

import os

import numpy as np
import pytest

from lensyard import files
from lensyard.errors import StoreError
from lensyard.files import (
    cached,
    cached_array,
    hash_of,
    replacing,
    write_atomically,
)
from lensyard.planner.solve import PlanProblem, Walking, solve
from lensyard.running import CancelledError, stop_when


def test_a_file_replaces_the_old_one_and_leaves_nothing_beside_it(tmp_path):
    path = tmp_path / "new" / "notes.txt"
    write_atomically(path, "first\n")
    write_atomically(path, b"second\n")
    assert path.read_bytes() == b"second\n"
    assert list(path.parent.iterdir()) == [path]


def test_a_body_that_fails_leaves_the_old_file(tmp_path):
    path = tmp_path / "notes.txt"
    path.write_text("old")

    def fail_half_way():
        with replacing(path) as temporary:
            temporary.write_text("half")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_half_way()
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_refused_write_says_which_file_and_what_to_do(tmp_path):
    (tmp_path / "taken").write_text("a file, no folder")
    with pytest.raises(StoreError, match=r"cannot write .*notes.txt .*free the disk"):
        write_atomically(tmp_path / "taken" / "notes.txt", "x")


@pytest.fixture
def cache_dir(tmp_path, monkeypatch):
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path / "cache"))
    return tmp_path / "cache"


def test_a_result_is_computed_once(cache_dir):
    calls: list[int] = []

    def compute():
        calls.append(1)
        return {"pair": (1, 2.5)}

    assert [cached("ab" * 32, compute) for _ in range(3)] == [{"pair": [1, 2.5]}] * 3
    assert len(calls) == 1
    (path,) = cache_dir.rglob("*.json")
    path.write_text(path.read_text()[:9])
    assert cached("ab" * 32, compute) == {"pair": [1, 2.5]}
    assert len(calls) == 2


def test_a_cache_that_cannot_be_written_costs_only_time(cache_dir):
    cache_dir.write_text("a file, no folder")
    assert cached("cd" * 32, lambda: {"a": 1}) == {"a": 1}
    ones = np.ones((2, 3), dtype=np.float32)
    np.testing.assert_array_equal(cached_array("cd" * 32, lambda: ones, shape=(2, 3)), ones)


def test_an_array_of_another_shape_counts_as_missing(cache_dir):
    cached_array("ef" * 32, lambda: np.ones((2, 3), dtype=np.float32), shape=(2, 3))
    again = cached_array("ef" * 32, lambda: np.zeros((3, 2), dtype=np.float32), shape=(3, 2))
    assert again.shape == (3, 2)
    assert cache_dir.exists()


@pytest.mark.skipif(os.name == "nt", reason="owners and modes of a POSIX system")
def test_what_other_accounts_may_write_is_computed_again(cache_dir):
    assert cached("ab" * 32, lambda: {"figure": 1}) == {"figure": 1}
    assert cached("ab" * 32, lambda: {"figure": 2}) == {"figure": 1}
    (cache_dir / "reports").chmod(0o777)
    assert cached("ab" * 32, lambda: {"figure": 2}) == {"figure": 2}
    (cache_dir / "reports").chmod(0o755)


def test_the_least_recently_used_results_make_room(tmp_path, monkeypatch):
    keys = [hash_of(i) for i in range(4)]
    monkeypatch.setattr(files, "LARGEST_CACHE_BYTES", 3 * 528)  # a file of 100 numbers and its head

    def array(key):
        return cached_array(key, lambda: np.ones(100, np.float32), shape=(100,), folder=tmp_path)

    def at(key):
        return tmp_path / f"{key[:32]}.npy"

    for age, key in enumerate(keys[:3]):
        array(key)
        os.utime(at(key), ns=(age + 1, age + 1))
    array(keys[0])  # used again: now the second is the oldest
    array(keys[3])
    assert [at(key).exists() for key in keys] == [True, False, True, True]


def test_work_stops_inside_a_solve_once_it_is_cancelled():
    sweeps: list[int] = []

    def is_stopped():
        sweeps.append(len(sweeps))
        return len(sweeps) > 2

    n = 4
    problem = PlanProblem(
        reward=np.ones((1, 3, n), np.float32),
        same=np.full((3, 3), 0.3, np.float32),
        changed=np.zeros((3, 3), np.float32),
        after_change=(0,),
        walk_yd=np.zeros((1, n, n)),
        turned=np.arange(n),
        walking=Walking(),
        discount=0.9,
    )
    try:
        stop_when(is_stopped)
        with pytest.raises(CancelledError):
            solve(problem, tolerance=-1.0)
    finally:
        stop_when(lambda: False)
    assert len(sweeps) == 3


def test_what_comes_with_the_package_is_not_computed_and_damage_of_it_is(
    cache_dir, tmp_path, monkeypatch
):
    monkeypatch.setattr(files, "models_dir", lambda: tmp_path)
    array = np.random.default_rng(1).random((3, 5, 7), dtype=np.float32)
    figures, keys = {"share": 0.1, "place": "left"}, (hash_of("array"), hash_of("figures"))

    def asked(*, computed):
        calls: list[int] = []
        found = cached_array(keys[0], lambda: calls.append(0) or array, shape=array.shape)
        np.testing.assert_array_equal(found, array, strict=True)
        assert cached(keys[1], lambda: calls.append(1) or figures) == figures
        assert calls == ([0, 1] if computed else [])

    with files.recording() as recorded:
        asked(computed=True)
    files.pack_figures(recorded, tmp_path / "figures")
    asked(computed=False)
    assert not cache_dir.exists()
    packed = {path: path.read_bytes() for path in (tmp_path / "figures").iterdir()}
    assert sum(map(len, packed.values())) < array.nbytes + 500
    for at in (0, 31, 32, 40, -1):
        for path, content in packed.items():
            flipped = bytearray(content)
            flipped[at] ^= 1
            path.write_bytes(flipped)
            assert files.bundled_figures(keys[path.name == keys[1][: len(path.name)]]) is None
    asked(computed=True)
    files.pack_figures({}, tmp_path / "figures")
    assert not list((tmp_path / "figures").iterdir())
