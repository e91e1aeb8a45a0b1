"""Figures that take a while, kept on disk as JSON under the hash of what they depend on.

A damaged or unreadable file counts as missing; a folder that cannot be written costs only the time
to compute again.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from lensyard.config import user_cache_dir

FOLDER = "reports"


def cached(key: str, compute: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """Return the figures of a key: from disk, or computed and kept.

    Parameters
    ----------
    key
        A hexadecimal hash; it becomes the file's name.
    compute
        Makes the figures: plain values that JSON can hold. It is called when they are not at hand.
    """
    path = user_cache_dir() / FOLDER / f"{key[:32]}.json"
    found = _read(path, key)
    if found is None:
        # Through JSON in both cases, so that the first answer is the same as later ones.
        text = json.dumps({"key": key, "figures": compute()}, allow_nan=False)
        _write(path, text)
        found = json.loads(text)["figures"]
    return found


def _read(path: Path, key: str) -> dict[str, Any] | None:
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    if not isinstance(document, dict) or document.get("key") != key:
        return None
    figures = document.get("figures")
    return figures if isinstance(figures, dict) else None


def _write(path: Path, text: str) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(name, path)
    except OSError:
        return
