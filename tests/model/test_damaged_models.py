"""Every way in which a model's two files can be wrong ends in one clear error."""

import hashlib
import json
import shutil
from dataclasses import replace

import numpy as np
import pytest

from lensyard.errors import LensyardError, ModelError
from lensyard.model import artifact
from lensyard.model.context import BASE_MODEL, model_path


@pytest.fixture
def copy(tmp_path):
    source = model_path(BASE_MODEL)
    for suffix in (".npz", ".json"):
        shutil.copy(source.with_suffix(suffix), tmp_path)
    return tmp_path / source.name


def claim(path):
    """Make the manifest vouch for whatever the array file holds now, seal and all."""
    manifest = artifact.ModelManifest.from_json(path.with_suffix(".json").read_text())
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    path.with_suffix(".json").write_text(replace(manifest, arrays_sha256=digest).to_json())


def refused(path, match):
    for read in (artifact.load, artifact.load_kicks):
        with pytest.raises(ModelError, match=match) as caught:
            read(path)
        assert isinstance(caught.value, LensyardError)


@pytest.mark.parametrize("where", [0.0, 0.1, 0.35, 0.6, 0.85, 0.999])
def test_one_flipped_bit_or_a_missing_end_of_the_arrays_is_noticed(copy, where):
    content, at = copy.read_bytes(), int(where * copy.stat().st_size)
    for damaged in (content[:at] + bytes([content[at] ^ 1]) + content[at + 1 :], content[:at]):
        copy.write_bytes(damaged)
        refused(copy, "damaged or was swapped")


def test_the_arrays_of_another_sound_model_are_refused(copy, tmp_path):
    model = artifact.load(copy)
    other = dict(model.arrays)
    other["fumble_lost"] = other["fumble_lost"] * np.float32(2)
    model.arrays = other
    model.manifest = replace(model.manifest, model_id="other")
    second = artifact.save(model, tmp_path, kicks=artifact.load_kicks(copy))
    assert artifact.load(second).model_id == "other"
    shutil.copy(second, copy)
    refused(copy, "damaged or was swapped")


def test_a_manifest_of_another_model_is_refused(copy):
    copy.rename(copy.with_name("renamed.npz"))
    copy.with_suffix(".json").rename(copy.with_name("renamed.json"))
    refused(copy.with_name("renamed.npz"), "renamed or swapped")


@pytest.mark.parametrize("key", sorted(artifact.ModelManifest.__dataclass_fields__))
def test_a_manifest_that_lacks_a_field_is_refused(copy, key):
    manifest = copy.with_suffix(".json")
    document = json.loads(manifest.read_text())
    del document[key]
    manifest.write_text(json.dumps(document))
    refused(copy, "format version" if key == "format_version" else key)


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d | {"plays": d["plays"] + 1},
        lambda d: d | {"level": "college"},
        lambda d: d | {"license": "any"},
        lambda d: d | {"seasons": d["seasons"][:-1]},
    ],
)
def test_a_manifest_changed_by_hand_is_noticed(copy, change):
    manifest = copy.with_suffix(".json")
    manifest.write_text(json.dumps(change(json.loads(manifest.read_text()))))
    refused(copy, "seal")


def test_another_version_is_refused_with_the_way_out(copy):
    manifest = copy.with_suffix(".json")
    document = json.loads(manifest.read_text()) | {"format_version": 1}
    manifest.write_text(json.dumps(document))
    refused(copy, "format version 1.*lensyard model fit")


@pytest.mark.parametrize("name", ["kind:all", "kicks_tries"])
def test_objects_are_not_unpickled_even_when_the_hash_fits(copy, name):
    class Trap:
        def __reduce__(self):
            return (pytest.fail, ("something was unpickled",))

    with np.load(copy, allow_pickle=False) as archive:
        arrays = {key: archive[key] for key in archive.files}
    np.savez(copy, **{**arrays, name: np.array([Trap()], dtype=object)})
    claim(copy)
    with pytest.raises(ModelError, match="no plain arrays"):
        (artifact.load_kicks if name.startswith("kicks_") else artifact.load)(copy)


def test_a_table_of_another_shape_is_refused_even_when_the_hash_fits(copy):
    model = artifact.load(copy)
    model.arrays["kind:all"] = model.arrays["kind:all"][:, :-1]
    artifact.save(model, copy.parent)
    with pytest.raises(ModelError, match="kind:all"):
        artifact.load(copy)


def test_an_array_file_that_is_no_archive_is_refused_even_when_the_hash_fits(copy):
    copy.write_bytes(b"not an archive")
    claim(copy)
    refused(copy, "no plain arrays")


def test_a_file_larger_than_any_model_is_refused_unread(copy):
    with copy.open("r+b") as file:
        file.truncate(30_000_000)
    refused(copy, "larger than any model")


@pytest.mark.parametrize("text", ["", "[]", "{", "{}"])
def test_a_manifest_that_is_none_is_refused(copy, text):
    copy.with_suffix(".json").write_text(text)
    refused(copy, "manifest|format version")


def test_a_missing_model_says_so(tmp_path):
    refused(tmp_path / "nothing.npz", "cannot read")


# --- kicks beside the outcome


def test_the_bundled_model_has_kicks_that_answers_do_not_wait_for(copy):
    assert not [name for name in artifact.load(copy).arrays if name.startswith("kicks_")]
    assert artifact.size_bytes(copy) <= 2_000_000  # the project's bar
    kicks = artifact.load_kicks(copy)
    for yard in (40, 67, 95):
        outlook = kicks.punt(yardline_100=yard)
        for shares in (outlook.p_result, outlook.down_x, outlook.end_x):
            assert shares.sum() == pytest.approx(1.0, abs=1e-9)
        assert (outlook.out_x <= outlook.end_x + 1e-12).all()


def test_a_model_without_kicks_says_so(copy, tmp_path):
    model = artifact.load(copy)
    model.manifest = replace(model.manifest, model_id="bare")
    path = artifact.save(model, tmp_path)
    assert artifact.load(path).model_id == "bare"
    with pytest.raises(ModelError, match="holds no kicks"):
        artifact.load_kicks(path)


def test_the_same_tables_make_the_same_bytes(copy, tmp_path):
    model, kicks = artifact.load(copy), artifact.load_kicks(copy)
    first = artifact.save(model, tmp_path / "first", kicks=kicks)
    second = artifact.save(model, tmp_path / "second", kicks=kicks)
    assert first.read_bytes() == second.read_bytes()
    assert first.with_suffix(".json").read_bytes() == second.with_suffix(".json").read_bytes()
    assert artifact.load(first).manifest.data_sha256 == model.manifest.data_sha256
