"""What a fitted model says about itself: which data made it, with what, and how good it was."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any

from lensyard.errors import ModelError

FORMAT_VERSION = 1
"""Raised when the arrays change meaning; another version is refused."""


@dataclass(frozen=True, slots=True)
class ModelManifest:
    """The second file of a model, ``<id>.json``.

    Attributes
    ----------
    model_id
        The name of both files without their suffix; every answer carries it.
    level
        The level of play of the data, such as ``professional``.
    seasons
        The seasons that were fitted, in order.
    season_for
        The season that the drifting parts (calling, how drives end) are set to.
    plays
        Scrimmage plays that were fitted.
    data_sha256
        Of the plays that were fitted, in canonical columns.
    arrays_sha256
        Of the whole ``<id>.npz`` file; empty until the model is saved.
    license, attribution
        Of the data.
    seed
        Of every random draw in the fit.
    versions
        Library versions of the fit.
    metrics
        Named scores, with what they were measured on in their names.
    prior
        The id of the model that the fit was shrunk toward, or empty.
    note
        Anything a reader should know, in a sentence.
    format_version
        See `FORMAT_VERSION`.
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
    note: str = ""
    format_version: int = FORMAT_VERSION

    def to_json(self) -> str:
        """Return the manifest as a JSON document that ends in a newline."""
        return json.dumps(asdict(self), indent=2, sort_keys=True) + "\n"

    @staticmethod
    def from_json(text: str) -> ModelManifest:
        """Return the manifest from its JSON document.

        Raises
        ------
        ModelError
            If the text is no JSON object, lacks a field, has one too many, or is of another
            format version.
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
        known = {f.name for f in fields(ModelManifest)}
        if set(document) != known:
            wrong = ", ".join(sorted(set(document) ^ known))
            raise ModelError(f"the manifest lacks or does not know: {wrong}; fit the model again")
        try:
            document["seasons"] = tuple(int(season) for season in document["seasons"])
            return ModelManifest(**document)
        except (TypeError, ValueError) as error:
            raise ModelError(f"the manifest has a field of the wrong type ({error})") from None
