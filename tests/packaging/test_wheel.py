"""A wheel built from the tree carries data and model, and works outside the checkout."""

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    pytest.importorskip("hatchling")
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    return next(folder.glob("*.whl"))


@pytest.mark.slow
def test_the_wheel_answers_outside_the_checkout(wheel, tmp_path):
    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    environment = {**os.environ, "PYTHONPATH": str(site), "LENSYARD_CACHE_DIR": str(tmp_path / "c")}
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); import lensyard; "
        "assert lensyard.__file__.startswith(sys.argv[1]), lensyard.__file__; "
        "from lensyard.cli import main; main(sys.argv[2:])"
    )
    for arguments in (
        ["next", "--down", "3", "--distance", "7", "--ball", "opp35", "--json"],
        ["data", "list", "--json"],
        ["venue", "show", "tamarack-fork", "--json"],
    ):
        done = subprocess.run(
            [sys.executable, "-c", code, str(site), *arguments],
            cwd=tmp_path,
            env=environment,
            check=False,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stderr
        assert json.loads(done.stdout)["schema_version"] in (2, 3)  # next has its own


def test_the_wheel_holds_no_tests_no_recipes_and_no_secrets_of_the_build(wheel):
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    assert any(name.endswith("_bundled/data/plays.parquet") for name in names)
    assert any(name.endswith("_bundled/data/label_shares.json") for name in names)
    assert any(name.endswith("_bundled/models/pro-2009-2018-r2.npz") for name in names)
    assert not [
        name
        for name in names
        if name.startswith(("tests/", "data/", ".ci/")) or "recipes" in name or ".venv" in name
    ]
