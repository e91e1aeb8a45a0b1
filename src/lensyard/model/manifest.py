"""What a fitted model says about itself: which data made it, with what, and how good it was.

The JSON file seals itself: ``manifest_sha256`` is the SHA-256 of the document without that field,
keys sorted, without spaces. A changed number is noticed like a changed array.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any

from lensyard.errors import ModelError

FORMAT_VERSION = 2
"""Raised when the files change meaning or form; another version is refused."""
SEAL = "manifest_sha256"


@dataclass(frozen=True, slots=True)
class ModelManifest:
    """The second file of a model, ``<id>.json``.

    Attributes
    ----------
    model_id
        The name of both files without their suffix; every answer carries it.
    level
        The level of play of the data, such as ``professional``.
    seasons, plays
        What was fitted: seasons in order, and how many scrimmage plays.
    season_for
        The season that the drifting parts (calling, how drives end) are set to.
    data_sha256
        Of the plays that were fitted, in canonical columns.
    arrays_sha256
        Of the whole ``<id>.npz`` file; empty until the model is saved.
    license, attribution, source
        Of the data; the source is empty for the bundled plays.
    seed, versions
        Of every random draw in the fit; of the libraries.
    metrics
        Named scores, with what they were measured on in their names.
    prior, prior_plays
        The id of the model that the fit was shrunk toward, or empty, and how many plays it
        counted for. The new plays decided ``plays / (plays + prior_plays)`` of a table that all
        plays inform.
    note
        Anything a reader should know, in a sentence.
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

        Raises
        ------
        ModelError
            If the text is no JSON object, lacks a field, has one too many, is of another format
            version, or was changed.
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
            document["seasons"] = tuple(int(season) for season in document["seasons"])
            return ModelManifest(**document)
        except (TypeError, ValueError) as error:
            raise ModelError(f"the manifest has a field of the wrong type ({error})") from None


def _seal(document: Mapping[str, Any]) -> str:
    """Return the SHA-256 of a document of plain JSON values."""
    text = json.dumps(document, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
