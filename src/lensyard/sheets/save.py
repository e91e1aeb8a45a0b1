"""Writing a sheet or a card: whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from lensyard.errors import InvalidInputError


def save(path: Path, content: bytes) -> None:
    """Write a file in one step: a reader sees the old one or the new one, never half of it.

    Raises
    ------
    InvalidInputError
        If it cannot be written there.
    """
    part = None
    try:
        handle, part = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(part, 0o644)
        os.replace(part, path)
    except OSError as error:
        if part is not None:
            Path(part).unlink(missing_ok=True)
        raise InvalidInputError(
            f"cannot write {path}: {error.strerror or error}; name a file in a folder that exists "
            "and may be written"
        ) from error
