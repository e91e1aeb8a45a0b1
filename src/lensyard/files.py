"""Write files so that an interruption leaves the old content or the new one, never half of it.

Results that take long are kept under the hash of what they depend on. A damaged or unreadable one
counts as missing; a folder that cannot be written costs only the time to compute again.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import stat
import sys
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lensyard.config import user_cache_dir
from lensyard.errors import InvalidInputError, StoreError
from lensyard.running import unfinished

WRITING_SUFFIX = ".building"
"""How the names of files end that are not complete yet."""
STALE_AFTER_S = 3600.0
"""Writing a file takes seconds; a temporary one of this age belongs to nobody who still runs."""


def temporary_beside(path: Path) -> Path:
    """Return an unused name, in the same folder, for a file that will replace another."""
    return path.with_name(f"{path.name}.{os.getpid()}-{os.urandom(4).hex()}{WRITING_SUFFIX}")


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Yield a temporary name; the file written there takes the place of `path` in one step.

    It is flushed to disk before and the folder after. If the body fails, `path` is unchanged and
    nothing is left beside it.

    Raises `OSError` if the disk refuses, or the body wrote no file.
    """
    temporary = temporary_beside(path)
    with unfinished(temporary):
        try:
            yield temporary
            flush_file(temporary)
            os.replace(temporary, path)
            flush_folder(path.parent)
        finally:
            with suppress(OSError):
                temporary.unlink(missing_ok=True)


def sweep_unfinished(folder: Path) -> None:
    """Remove the temporary files, and logs beside them, that interrupted writers left long ago."""
    for path in folder.glob(f"*{WRITING_SUFFIX}*"):
        with suppress(FileNotFoundError):  # another process sweeps as well
            if time.time() - path.stat().st_mtime >= STALE_AFTER_S:
                path.unlink()


def write_atomically(path: Path, data: str | bytes) -> None:
    """Write a file of the program's own durably and in one step; missing folders are made.

    - ``path``: where to.
    - ``data``: its content; text is written as UTF-8.

    Raises `StoreError` if the disk refuses; a file that was there is unchanged then.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _write(path, data)
    except OSError as error:
        raise StoreError(
            f"cannot write {path} ({error.strerror or error}); free the disk or the folder, then "
            "try again"
        ) from error


def write_output(path: Path, data: str | bytes, *, replace: bool = True) -> None:
    """Write a file that the user named, durably and in one step.

    - ``path``, ``data``: see `write_atomically`; the folder has to be there.
    - ``replace``: whether a file of this name may be replaced.

    Raises `InvalidInputError` if it is there already and may not be replaced, or cannot be written.
    """
    if not replace and path.exists():
        raise InvalidInputError(f"{path} is there already; --force writes over it, --out elsewhere")
    try:
        _write(path, data)
    except OSError as error:
        raise InvalidInputError(
            f"cannot write {path}: {error.strerror or error}; name a file in a folder that exists "
            "and may be written"
        ) from error


def _write(path: Path, data: str | bytes) -> None:
    with replacing(path) as temporary:
        temporary.write_bytes(data.encode() if isinstance(data, str) else data)


def file_sha256(path: Path) -> str:
    """Return the SHA-256 of a file as 64 hexadecimal digits."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


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


class Lock:
    """A file that one process, and one thread of it, holds at a time; it ends with its process."""

    def __init__(self, handle: int) -> None:
        self._handle = handle

    @classmethod
    def take(cls, path: Path, *, wait_s: float) -> Lock | None:
        """Return the lock, waiting while somebody has it; None when time is up. [s]

        Raises `OSError` if the file cannot be made.
        """
        deadline = time.monotonic() + wait_s
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            while not _try_lock(handle):
                if time.monotonic() >= deadline:
                    os.close(handle)
                    return None
                time.sleep(_BETWEEN_TRIES_S)
        except BaseException:
            with suppress(OSError):
                os.close(handle)
            raise
        return cls(handle)

    def release(self) -> None:
        """Let the next one in; once."""
        os.close(self._handle)


def _try_lock(handle: int) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


_BETWEEN_TRIES_S = 0.02
_NAME_CHARACTERS = 32


def cached(key: str, compute: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """Return the result of a key: from disk, or computed and stored as JSON.

    - ``key``: a hexadecimal hash of everything that the result depends on.
    - ``compute``: makes the result: plain values that JSON can hold. Called only if it is not on
      disk.
    """
    path = user_cache_dir() / "reports" / f"{key[:_NAME_CHARACTERS]}.json"
    found = _read_json(path, key)
    _used(path)
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

    - ``key``, ``compute``: see `cached`.
    - ``shape``: its shape.
    - ``folder``: where it is kept; by default the plans of the user's cache.
    """
    path = (folder or user_cache_dir() / "plans") / f"{key[:_NAME_CHARACTERS]}.npy"
    found = _read_array(path, shape)
    _used(path)
    if found is None:
        found = compute()
        stream = io.BytesIO()
        np.save(stream, found, allow_pickle=False)
        _store(path, stream.getvalue())
    return found


def is_private(path: Path) -> bool:
    """Return whether only this user (or root) can have written a file or what lies in a folder.

    What others may write is not believed: it is computed again.
    """
    if os.name == "nt":
        return True
    try:
        found = path.stat()
    except OSError:
        return False
    return found.st_uid in (0, os.geteuid()) and not found.st_mode & stat.S_IWOTH


def _is_believed(path: Path) -> bool:
    return is_private(path) and is_private(path.parent) and is_private(path.parent.parent)


def hash_of(document: object) -> str:
    """Return a key for `cached`: the hash of plain values that JSON can hold.

    >>> hash_of({"a": 1, "b": (2,)}) == hash_of({"b": [2], "a": 1})
    True
    """
    return hashlib.sha256(json.dumps(document, sort_keys=True).encode()).hexdigest()


def _read_json(path: Path, key: str) -> dict[str, Any] | None:
    if not _is_believed(path):
        return None
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    if not isinstance(document, dict) or document.get("key") != key:
        return None
    figures = document.get("figures")
    return figures if isinstance(figures, dict) else None


def _read_array(path: Path, shape: tuple[int, ...]) -> NDArray[np.float32] | None:
    if not _is_believed(path):
        return None
    try:
        found = np.load(path, allow_pickle=False)
    except (OSError, ValueError, EOFError):
        return None
    fits = isinstance(found, np.ndarray) and found.shape == shape and found.dtype == np.float32
    return found if fits and np.isfinite(found).all() else None


def read_arrays(path: Path, prefix: str) -> dict[str, NDArray[Any]]:
    """Return the arrays of an ``.npz`` file whose names start so, by the rest of their names.

    Empty where there is none, or the file cannot be read.
    """
    try:
        with np.load(path, allow_pickle=False) as archive:
            wanted = [name for name in archive.files if name.startswith(prefix)]
            return {name.removeprefix(prefix): archive[name] for name in wanted}
    except (OSError, ValueError, EOFError, zipfile.BadZipFile):
        return {}


LARGEST_CACHE_BYTES = 500_000_000
"""Of one kind of results; a plan takes some 2 MB, a report 20 kB."""


def _store(path: Path, data: str | bytes) -> None:
    try:
        write_atomically(path, data)
        _evict(path.parent, keep=path)
    except (StoreError, OSError):
        return


def _used(path: Path) -> None:
    """Note that a result was read: the least recently used ones make room first."""
    with suppress(OSError):
        os.utime(path)


def _evict(folder: Path, *, keep: Path, largest_bytes: int | None = None) -> None:
    """Remove the least recently used results of a folder until the rest is within the limit."""
    largest_bytes = LARGEST_CACHE_BYTES if largest_bytes is None else largest_bytes
    found = [(path, path.stat()) for path in folder.iterdir() if path.is_file()]
    total = sum(status.st_size for _, status in found)
    for path, status in sorted(found, key=lambda one: one[1].st_mtime_ns):
        if total <= largest_bytes:
            return
        if path != keep:
            with suppress(OSError):  # another process reads or removes it
                path.unlink()
                total -= status.st_size
