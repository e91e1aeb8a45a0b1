"""Files are written whole or not at all, and nothing is left beside them."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from lensyard.errors import InvalidInputError, StoreError
from lensyard.files import cached, cached_array, replacing, write_atomically, write_output


def test_a_file_replaces_the_old_one_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "new" / "notes.txt"
    write_atomically(path, "first\n")
    write_atomically(path, b"second\n")
    assert path.read_bytes() == b"second\n"
    assert list(path.parent.iterdir()) == [path]


def test_a_body_that_fails_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("old")

    def fail_half_way() -> None:
        with replacing(path) as temporary:
            temporary.write_text("half")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_half_way()
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_refused_write_says_which_file_and_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file, no folder")
    with pytest.raises(StoreError, match=r"cannot write .*notes.txt .*free the disk"):
        write_atomically(tmp_path / "taken" / "notes.txt", "x")
    with pytest.raises(InvalidInputError, match=r"cannot write .*name a file in a folder"):
        write_output(tmp_path / "missing" / "notes.txt", "x")


def test_an_output_is_not_replaced_unless_allowed(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    write_output(path, "first", replace=False)
    with pytest.raises(InvalidInputError, match="--force"):
        write_output(path, "second", replace=False)
    write_output(path, "third")
    assert path.read_text() == "third"


@pytest.fixture
def cache_dir(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path / "cache"))
    return tmp_path / "cache"


def test_a_result_is_computed_once(cache_dir: Path) -> None:
    calls: list[int] = []

    def compute() -> dict[str, object]:
        calls.append(1)
        return {"pair": (1, 2.5)}

    assert [cached("ab" * 32, compute) for _ in range(3)] == [{"pair": [1, 2.5]}] * 3
    assert len(calls) == 1
    (path,) = cache_dir.rglob("*.json")
    path.write_text(path.read_text()[:9])
    assert cached("ab" * 32, compute) == {"pair": [1, 2.5]}
    assert len(calls) == 2


def test_a_cache_that_cannot_be_written_costs_only_time(cache_dir: Path) -> None:
    cache_dir.write_text("a file, no folder")
    assert cached("cd" * 32, lambda: {"a": 1}) == {"a": 1}
    ones = np.ones((2, 3), dtype=np.float32)
    np.testing.assert_array_equal(cached_array("cd" * 32, lambda: ones, shape=(2, 3)), ones)


def test_an_array_of_another_shape_counts_as_missing(cache_dir: Path) -> None:
    cached_array("ef" * 32, lambda: np.ones((2, 3), dtype=np.float32), shape=(2, 3))
    again = cached_array("ef" * 32, lambda: np.zeros((3, 2), dtype=np.float32), shape=(3, 2))
    assert again.shape == (3, 2)
    assert cache_dir.exists()


@pytest.mark.skipif(os.name == "nt", reason="owners and modes of a POSIX system")
def test_what_other_accounts_may_write_is_computed_again(cache_dir: Path) -> None:
    assert cached("ab" * 32, lambda: {"figure": 1}) == {"figure": 1}
    assert cached("ab" * 32, lambda: {"figure": 2}) == {"figure": 1}
    (cache_dir / "reports").chmod(0o777)
    assert cached("ab" * 32, lambda: {"figure": 2}) == {"figure": 2}
    (cache_dir / "reports").chmod(0o755)
