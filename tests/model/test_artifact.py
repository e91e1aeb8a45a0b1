"""A damaged model is refused with a clear error, never loaded."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from lensyard.errors import ModelError
from lensyard.model.artifact import default_model_path, load, size_bytes


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    source = default_model_path()
    for suffix in (".npz", ".json"):
        shutil.copy(source.with_suffix(suffix), tmp_path)
    return tmp_path / source.name


def test_the_bundled_model_loads_and_is_small(copy: Path) -> None:
    model = load(copy)
    assert model.manifest.seasons == tuple(range(2009, 2019))
    assert size_bytes(copy) <= 2_000_000  # the project's bar


def test_a_truncated_model_is_refused(copy: Path) -> None:
    copy.write_bytes(copy.read_bytes()[:-1000])
    with pytest.raises(ModelError):
        load(copy)


def test_a_changed_byte_is_noticed(copy: Path) -> None:
    content = bytearray(copy.read_bytes())
    content[len(content) // 2] ^= 0xFF
    copy.write_bytes(bytes(content))
    with pytest.raises(ModelError):
        load(copy)


def test_arrays_of_another_model_are_refused(copy: Path) -> None:
    np.savez(copy, kind=np.zeros(6))
    with pytest.raises(ModelError):
        load(copy)


def test_objects_are_never_unpickled(copy: Path) -> None:
    np.savez(copy, kind=np.array([{"a": 1}], dtype=object))
    with pytest.raises(ModelError):
        load(copy)


@pytest.mark.parametrize("text", ["", "[]", "{", "{}"])
def test_a_manifest_that_is_none_is_refused(copy: Path, text: str) -> None:
    copy.with_suffix(".json").write_text(text)
    with pytest.raises(ModelError):
        load(copy)


def test_a_manifest_of_another_version_is_refused(copy: Path) -> None:
    manifest = copy.with_suffix(".json")
    document = json.loads(manifest.read_text())
    document["format_version"] += 1
    manifest.write_text(json.dumps(document))
    with pytest.raises(ModelError, match="format version"):
        load(copy)


def test_a_missing_model_says_so(tmp_path: Path) -> None:
    with pytest.raises(ModelError):
        load(tmp_path / "nothing.npz")
