"""A model on disk: plain arrays in ``<id>.npz`` and a manifest in ``<id>.json``.

The manifest holds the SHA-256 of the array file, which is checked before a byte of it is parsed,
and seals itself: ``manifest_sha256`` is the SHA-256 of the document without that field, keys
sorted, without spaces. Nothing is ever unpickled. The array file also holds the kicks
(`lensyard.model.kicks`, names starting ``kicks_``); `load` skips them, so that an answer between
two plays does not wait for them, and `load_kicks` reads nothing else.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import struct
from collections.abc import Iterator, Mapping
from dataclasses import asdict, field, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lensyard.arrays import AnyArray
from lensyard.errors import ModelError
from lensyard.files import write_atomically
from lensyard.model.outcome import OutcomeModel
from lensyard.records import Record

if TYPE_CHECKING:
    from lensyard.model.kicks import KickModel

KICKS_PREFIX: Final = "kicks_"
MAX_BYTES: Final = 20_000_000
"""A file beyond this is refused unread; the bundled model has about a twentieth of it."""


def save(model: OutcomeModel, folder: Path, *, kicks: KickModel | None = None) -> Path:
    """Write both files of a model and its kicks, each in one step; return the arrays' path.

    The manifest on disk gets the hash of the array file. Same tables, same bytes.
    """
    import zipfile

    arrays: dict[str, AnyArray] = dict(model.arrays)
    for name, array in {} if kicks is None else kicks.to_arrays().items():
        # Shares by place need no more than half precision; coefficients keep theirs.
        arrays[name] = array.astype(np.float16) if array.ndim == 2 else array
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        for name in sorted(arrays):
            member = io.BytesIO()
            array = np.asarray(arrays[name], order="C")
            np.lib.format.write_array(member, array, allow_pickle=False)
            info = zipfile.ZipInfo(f"{name}.npy", date_time=(1980, 1, 1, 0, 0, 0))
            archive.writestr(info, member.getvalue())
    content = buffer.getvalue()
    manifest = replace(model.manifest, arrays_sha256=hashlib.sha256(content).hexdigest())
    path = folder / f"{manifest.model_id}.npz"
    write_atomically(path, content)
    write_atomically(path.with_suffix(".json"), manifest.to_json().encode())
    return path


def load(path: Path) -> OutcomeModel:
    """Read the model at ``<folder>/<id>.npz``, without its kicks.

    Raises `ModelError` if a file is missing, truncated or changed, the two do not belong together,
    or they were written by another version.
    """
    content, manifest = _checked(path)
    return OutcomeModel(_parse(content, path.name, kicks=False), manifest)


def load_kicks(path: Path) -> KickModel:
    """Read the kicks of the model at ``<folder>/<id>.npz``.

    Raises `ModelError` as `load` does, and if the model holds no kicks.
    """
    from lensyard.model.kicks import KickModel

    content, _ = _checked(path)
    arrays = _parse(content, path.name, kicks=True)
    if not arrays:
        raise ModelError(f"{path.name} holds no kicks; fit the model again on whole games")
    return KickModel.from_arrays(arrays)


def _checked(path: Path) -> tuple[bytes, ModelManifest]:
    """Return the bytes of an array file whose hash is the one in its manifest."""
    manifest = load_manifest(path)
    content = _read(path)
    digest = hashlib.sha256(content).hexdigest()
    if digest != manifest.arrays_sha256:
        raise ModelError(
            f"{path.name} is not the file that its manifest describes (its SHA-256 is "
            f"{digest[:12]}..., expected {manifest.arrays_sha256[:12]}...); it is damaged or was "
            "swapped: restore both files or fit the model again"
        )
    return content, manifest


def load_manifest(path: Path) -> ModelManifest:
    """Read the manifest of the model at ``<folder>/<id>.npz``.

    Raises `ModelError` if it is missing, no manifest, or that of another model.
    """
    try:
        text = _read(path.with_suffix(".json")).decode()
    except UnicodeDecodeError:
        raise ModelError(f"{path.stem}.json is damaged; restore it or fit the model") from None
    manifest = ModelManifest.from_json(text)
    if manifest.model_id != path.stem:
        raise ModelError(
            f"{path.stem}.json describes model {manifest.model_id!r}; the files were renamed or "
            "swapped: restore their names"
        )
    return manifest


def size_bytes(path: Path) -> int:
    """Return the size of both files of a model. [bytes]"""
    return path.stat().st_size + path.with_suffix(".json").stat().st_size


def _parse(content: bytes, name: str, *, kicks: bool) -> dict[str, AnyArray]:
    """Return the arrays of an NPZ file: those of the kicks, or all others."""
    try:
        return {
            key: _array(data)
            for key, data in _members(content)
            if key.startswith(KICKS_PREFIX) == kicks
        }
    except (ValueError, struct.error) as error:
        raise ModelError(f"{name} holds no plain arrays ({error}); fit the model again") from None


_LOCAL_HEADER: Final = struct.Struct("<4s5H3L2H")
_ARRAY_HEADER: Final = re.compile(
    rb"\x93NUMPY\x01\x00..\{'descr': '([<|][biuf]\d)', 'fortran_order': False, "
    rb"'shape': \(([\d, ]*)\), \} *\n",
    re.DOTALL,
)


def _members(content: bytes) -> Iterator[tuple[str, memoryview]]:
    """Yield name and content of the arrays of a ZIP archive that are stored one after another.

    The hash of the whole file was checked, so that sums of single members tell no more; so read,
    seventy arrays take a tenth of the time that `numpy.load` takes.
    """
    at = 0
    while content.startswith(b"PK\x03\x04", at):
        _, _, _, method, *_, size, name, extra = _LOCAL_HEADER.unpack_from(content, at)
        start = at + _LOCAL_HEADER.size + name + extra
        if method or start + size > len(content):
            raise ValueError("a member is packed or cut off")
        key = content[start - extra - name : start - extra].decode()
        yield key.removesuffix(".npy"), memoryview(content)[start : start + size]
        at = start + size
    if not at:
        raise ValueError("no archive")


def _array(data: memoryview) -> AnyArray:
    """Return the array of a file in NumPy's format, version 1.0: numbers in C order only."""
    header = _ARRAY_HEADER.match(data)
    if header is None:
        raise ValueError("objects, or another order or format")
    shape = tuple(int(length) for length in header[2].split(b",") if length.strip())
    found = np.frombuffer(data, np.dtype(header[1].decode()), offset=header.end())
    return found.reshape(shape).copy()


def _read(path: Path) -> bytes:
    """Return the content of a file of a model."""
    try:
        if path.stat().st_size > MAX_BYTES:
            raise ModelError(f"{path.name} is larger than any model; restore or fit it again")
        return path.read_bytes()
    except OSError as error:
        raise ModelError(f"cannot read {path}: {error.strerror}; restore or fit it") from None


FORMAT_VERSION = 3
"""Raised when the files change meaning or form; another version is refused."""

SEAL = "manifest_sha256"


class ModelManifest(Record):
    """The second file of a model, ``<id>.json``.

    - ``model_id``: the name of both files without their suffix; every answer carries it.
    - ``level``: the level of play of the data, such as ``professional``.
    - ``seasons``, ``plays``: what was fitted: seasons in order, and how many scrimmage plays.
    - ``season_for``: the season that the drifting parts (calling, how drives end) are set to.
    - ``data_sha256``: of the plays that were fitted, in canonical columns.
    - ``arrays_sha256``: of the whole ``<id>.npz`` file; empty until the model is saved.
    - ``license``, ``attribution``, ``source``: of the data; the source is empty for the bundled
      plays.
    - ``seed``, ``versions``: of every random draw in the fit; of the libraries.
    - ``metrics``: named scores, with what they were measured on in their names.
    - ``prior``, ``prior_plays``: the id of the model that the fit was shrunk toward, or empty, and
      how many plays it counted for. The new plays decided ``plays / (plays + prior_plays)`` of a
      table that all plays inform.
    - ``from_prior``: in words, what the plays could not tell and the prior says.
    - ``level_seasons``: seasons whose counts moved the levels of a fitted shape, or none.
    - ``note``: anything a reader should know, in a sentence.
    """

    model_id: str
    level: str
    seasons: tuple[int, ...]
    season_for: int
    plays: int
    data_sha256: str
    arrays_sha256: str
    license: str
    attribution: str
    seed: int
    versions: Mapping[str, str] = field(default_factory=dict)
    metrics: Mapping[str, float] = field(default_factory=dict)
    prior: str = ""
    prior_plays: float = 0.0
    from_prior: tuple[str, ...] = ()
    level_seasons: tuple[int, ...] = ()
    source: str = ""
    note: str = ""
    format_version: int = FORMAT_VERSION

    def to_json(self) -> str:
        """Return the manifest as a sealed JSON document that ends in a newline."""
        document = json.loads(json.dumps(asdict(self)))
        document[SEAL] = _seal(document)
        return json.dumps(document, indent=2, sort_keys=True) + "\n"

    @staticmethod
    def from_json(text: str) -> ModelManifest:
        """Return the manifest from its JSON document.

        Raises `ModelError` if the text is no JSON object, lacks a field, has one too many, is of
        another format version, or was changed.
        """
        try:
            document: Any = json.loads(text)
        except ValueError as error:
            raise ModelError(f"the manifest is not JSON ({error}); fetch or fit it again") from None
        if not isinstance(document, dict):
            raise ModelError("the manifest must be one JSON object; fetch or fit the model again")
        version = document.get("format_version")
        if version != FORMAT_VERSION:
            raise ModelError(
                f"the model has format version {version!r}, but this lensyard reads "
                f"{FORMAT_VERSION}; fit it again with `lensyard model fit`"
            )
        known = {f.name for f in fields(ModelManifest)} | {SEAL}
        if set(document) != known:
            wrong = ", ".join(sorted(set(document) ^ known))
            raise ModelError(f"the manifest lacks or does not know: {wrong}; fit the model again")
        if document.pop(SEAL) != _seal(document):
            raise ModelError(
                "the manifest is damaged or was changed by hand (its seal does not fit); restore "
                "it or fit the model again"
            )
        try:
            for name in ("seasons", "level_seasons"):
                document[name] = tuple(int(season) for season in document[name])
            document["from_prior"] = tuple(str(part) for part in document["from_prior"])
            return ModelManifest(**document)
        except (TypeError, ValueError) as error:
            raise ModelError(f"the manifest has a field of the wrong type ({error})") from None


def _seal(document: Mapping[str, Any]) -> str:
    """Return the SHA-256 of a document of plain JSON values."""
    text = json.dumps(document, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
