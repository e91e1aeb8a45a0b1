"""Where the user's files live, and what comes with the package."""

import os
from pathlib import Path

import platformdirs
import pytest

import lensyard
from lensyard import config
from lensyard.config import user_cache_dir, user_config_dir, user_data_dir
from lensyard.errors import DataError, StoreError
from lensyard.plays.bundled import plays_path

FOLDERS = [
    (user_cache_dir, "LENSYARD_CACHE_DIR", platformdirs.user_cache_path),
    (user_data_dir, "LENSYARD_DATA_DIR", platformdirs.user_data_path),
    (user_config_dir, "LENSYARD_CONFIG_DIR", platformdirs.user_config_path),
]


@pytest.mark.parametrize(("folder", "variable", "convention"), FOLDERS)
def test_the_environment_wins_over_the_platforms_convention(
    folder, variable, convention, tmp_path, monkeypatch
):
    monkeypatch.delenv(variable, raising=False)
    assert folder() == convention("lensyard", appauthor=False)
    monkeypatch.setenv(variable, str(tmp_path / "mine"))
    assert folder() == tmp_path / "mine"
    monkeypatch.setenv(variable, "  ")
    assert folder() == convention("lensyard", appauthor=False)


def test_a_folder_is_made_only_on_demand(tmp_path, monkeypatch):
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path / "a" / "b"))
    assert not user_cache_dir().exists()
    assert user_cache_dir(create=True).is_dir()
    assert list(user_cache_dir().iterdir()) == []


def test_a_folder_that_cannot_be_made_names_its_variable(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "file" / "below"))
    with pytest.raises(StoreError, match=r"cannot write to .*set LENSYARD_DATA_DIR"):
        user_data_dir(create=True)


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_permission_is_refused(tmp_path, monkeypatch):
    tmp_path.chmod(0o500)
    monkeypatch.setenv("LENSYARD_CONFIG_DIR", str(tmp_path))
    with pytest.raises(StoreError):
        user_config_dir(create=True)


def test_a_checkout_has_its_folders_beside_the_sources():
    root = Path(lensyard.__file__).resolve().parents[2]
    if not (root / "pyproject.toml").is_file():
        pytest.skip("not a checkout")
    assert config.data_dir() == root / "data"
    assert config.models_dir() == root / "models"


def test_an_installed_package_has_them_inside(tmp_path, monkeypatch):
    package = tmp_path / "site-packages" / "lensyard"
    inside = package / "_bundled" / "data"
    inside.mkdir(parents=True)
    (inside / "plays.parquet").write_bytes(b"")
    (tmp_path / "data").mkdir()  # something else beside the environment
    monkeypatch.setattr(config, "_PACKAGE", package)
    assert config.data_dir() == inside
    assert plays_path() == inside / "plays.parquet"


def test_a_missing_folder_says_where_it_was_looked_for(tmp_path, monkeypatch):
    monkeypatch.setattr(config, "_PACKAGE", tmp_path / "src" / "lensyard")
    with pytest.raises(DataError, match=r"'models' is missing; looked in .*_bundled.*Install"):
        config.models_dir()
    (tmp_path / "data").mkdir()
    with pytest.raises(DataError, match=r"bundled plays .* are missing"):
        plays_path()
