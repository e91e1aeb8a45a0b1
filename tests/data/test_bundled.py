"""Finding what comes with the package, in a checkout and in an installed wheel."""

from __future__ import annotations

from pathlib import Path

import pytest

import lensyard
from lensyard.errors import DataError
from lensyard.plays import bundled


def test_a_checkout_has_its_folders_beside_the_sources() -> None:
    root = Path(lensyard.__file__).resolve().parents[2]
    if not (root / "pyproject.toml").is_file():
        pytest.skip("not a checkout")
    assert bundled.data_dir() == root / "data"
    assert bundled.models_dir() == root / "models"


def test_an_installed_package_has_them_inside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "site-packages" / "lensyard"
    inside = package / "_bundled" / "data"
    inside.mkdir(parents=True)
    (inside / "plays.parquet").write_bytes(b"")
    (tmp_path / "data").mkdir()  # something else beside the environment
    monkeypatch.setattr(bundled, "_PACKAGE", package)
    assert bundled.data_dir() == inside
    assert bundled.plays_path() == inside / "plays.parquet"


def test_a_missing_folder_says_where_it_was_looked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bundled, "_PACKAGE", tmp_path / "src" / "lensyard")
    with pytest.raises(DataError, match=r"'models' is missing; looked in .*_bundled.*Install"):
        bundled.models_dir()
    (tmp_path / "data").mkdir()
    with pytest.raises(DataError, match=r"bundled plays .* are missing"):
        bundled.plays_path()
