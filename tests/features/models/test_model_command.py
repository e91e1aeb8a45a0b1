"""``lensyard model``: every subcommand, its document and its refusals."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from lensyard.cli import main
from lensyard.features.models import compute
from lensyard.model import artifact
from lensyard.model.context import load_context
from lensyard.plays.store import load_plays


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    try:
        main(["model", *arguments])
        code = 0
    except SystemExit as stop:
        code = int(stop.code or 0)
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def document(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:
    code, out, _ = run(capsys, *arguments, "--json")
    assert code == 0
    found = json.loads(out)
    assert found["schema_version"] == 1
    assert found["model"]["id"] == load_context().model.model_id
    assert isinstance(found["cautions"], list)
    return found


def test_info_says_what_made_the_model_and_for_which_level(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = document(capsys, "info")
    manifest = artifact.load_manifest(artifact.default_model_path())
    assert found["model"]["data_sha256"] == manifest.data_sha256
    assert found["has_kicks"]
    assert "professional games" in found["cautions"][0]
    _, out, _ = run(capsys, "info")
    for fact in (
        manifest.model_id, "2009-2018", manifest.data_sha256, manifest.license, "numpy",
        "professional games", "seed 0",
    ):  # fmt: skip
        assert fact in " ".join(out.split())


# --- fitting


@pytest.mark.slow
def test_a_fit_on_few_games_says_what_made_it_and_how_much_it_was_shrunk(tmp_path: Path) -> None:
    whole = load_plays(seasons=[2009], season_type="REG", source="bundled")
    few = whole[whole["game_id"].isin(whole["game_id"].drop_duplicates().head(24))]
    path = compute.fit_model(
        (2009,),
        plays=few,
        model_id="one",
        folder=tmp_path,
        prior_path=artifact.default_model_path(),
        prior_plays=64_000,
    )
    manifest = artifact.load(path).manifest
    assert manifest.seasons == (2009,)
    assert manifest.source == "bundled"
    assert manifest.prior == load_context().model.model_id
    assert manifest.prior_plays == 64_000
    share = 64_000 / (64_000 + manifest.plays)
    assert f"{share:.0%}" in manifest.note
    assert artifact.load_kicks(path).kickoff_yard_line[0] == 30  # as it was in 2009


@pytest.mark.parametrize("name", ["../escape", "", "a/b", ".hidden"])
def test_a_model_id_is_a_plain_file_name(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str
) -> None:
    code, _, err = run(capsys, "fit", "--id", name, "--out", str(tmp_path))
    assert code == 2
    assert "model id" in err
    assert not list(tmp_path.iterdir())


def test_an_unknown_source_is_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    code, _, err = run(
        capsys, "fit", "--id", "x", "--source", "nowhere", "--seasons", "2024", "--out",
        str(tmp_path),
    )  # fmt: skip
    assert code == 2
    assert "source" in err
