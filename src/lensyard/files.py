"""Writing small files so that an interruption leaves the old one or the new one, never half."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from pathlib import Path

from lensyard.errors import StoreError

WRITING_SUFFIX = ".building"


def temporary_beside(path: Path) -> Path:
    """Return a name of its own for a file that will take the place of another."""
    return path.with_name(f"{path.name}.{os.getpid()}-{secrets.token_hex(4)}{WRITING_SUFFIX}")


def write_whole(path: Path, text: str) -> None:
    """Write a text file durably and all at once, replacing what is there.

    Raises
    ------
    StoreError
        If the disk refuses; a file that was there is still whole then.
    """
    temporary = temporary_beside(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with temporary.open("w", encoding="utf-8", newline="") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(temporary, path)
        flush_folder(path.parent)
    except OSError as error:
        raise StoreError(
            f"cannot write {path} ({error.strerror or error}); free the disk or the folder, then "
            "try again"
        ) from error
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)


def flush_file(path: Path) -> None:
    """Flush a closed file to disk."""
    with path.open("rb+") as stream:
        os.fsync(stream.fileno())


def flush_folder(folder: Path) -> None:
    """Flush a folder's entries to disk where the platform can."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def place_new(temporary: Path, target: Path) -> bool:
    """Give a complete file its name unless somebody else has it already; say whether it has it.

    Raises
    ------
    OSError
        If the disk refuses.
    """
    try:
        os.link(temporary, target)  # atomic, and never replaces a file
    except FileExistsError:
        return False
    except OSError:  # a file system without links
        if target.exists():
            return False
        os.replace(temporary, target)
    flush_folder(target.parent)
    return True
