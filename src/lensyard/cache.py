"""Results that take long, kept on disk under the hash of what they depend on.

A damaged or unreadable file counts as missing; a folder that cannot be written costs only the time
to compute again.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lensyard.config import user_cache_dir
from lensyard.errors import StoreError
from lensyard.files import write_atomically

_NAME_CHARACTERS = 32


def cached(key: str, compute: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """Return the result of a key: from disk, or computed and stored as JSON.

    Parameters
    ----------
    key
        A hexadecimal hash of everything that the result depends on.
    compute
        Makes the result: plain values that JSON can hold. Called only if it is not on disk.
    """
    path = user_cache_dir() / "reports" / f"{key[:_NAME_CHARACTERS]}.json"
    found = _read_json(path, key)
    if found is None:
        # Through JSON in both cases, so that the first answer is the same as later ones.
        text = json.dumps({"key": key, "figures": compute()}, allow_nan=False)
        _store(path, text)
        found = json.loads(text)["figures"]
    return found


def cached_array(
    key: str,
    compute: Callable[[], NDArray[np.float32]],
    *,
    shape: tuple[int, ...],
    folder: Path | None = None,
) -> NDArray[np.float32]:
    """Return the array of a key: from disk if it has this shape and is finite, else computed.

    Parameters
    ----------
    key, compute
        See `cached`.
    shape
        Its shape.
    folder
        Where it is kept; by default the plans of the user's cache.
    """
    path = (folder or user_cache_dir() / "plans") / f"{key[:_NAME_CHARACTERS]}.npy"
    found = _read_array(path, shape)
    if found is None:
        found = compute()
        stream = io.BytesIO()
        np.save(stream, found, allow_pickle=False)
        _store(path, stream.getvalue())
    return found


def hash_of(document: object) -> str:
    """Return a key for `cached`: the hash of plain values that JSON can hold.

    >>> hash_of({"a": 1, "b": (2,)}) == hash_of({"b": [2], "a": 1})
    True
    """
    return hashlib.sha256(json.dumps(document, sort_keys=True).encode()).hexdigest()


def _read_json(path: Path, key: str) -> dict[str, Any] | None:
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    if not isinstance(document, dict) or document.get("key") != key:
        return None
    figures = document.get("figures")
    return figures if isinstance(figures, dict) else None


def _read_array(path: Path, shape: tuple[int, ...]) -> NDArray[np.float32] | None:
    try:
        found = np.load(path, allow_pickle=False)
    except (OSError, ValueError, EOFError):
        return None
    fits = isinstance(found, np.ndarray) and found.shape == shape and found.dtype == np.float32
    return found if fits and np.isfinite(found).all() else None


def _store(path: Path, data: str | bytes) -> None:
    try:
        write_atomically(path, data)
    except StoreError:
        return
