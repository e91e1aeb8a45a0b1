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
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final, TypeVar

import numpy as np

from lensyard.arrays import AnyArray, Float32Array, NDArray
from lensyard.config import models_dir, user_cache_dir
from lensyard.errors import DataError, InvalidInputError, StoreError
from lensyard.running import checkpoint, unfinished

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
_DIGEST: Final = hashlib.sha256().digest_size
Found = TypeVar("Found")


def cached(key: str, compute: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """Return the result of a key: from disk, or computed and stored as JSON.

    - ``key``: a hexadecimal hash of everything that the result depends on.
    - ``compute``: makes the result: plain values that JSON can hold. Called only if it is neither
      in the user's cache nor among the figures that come with the package.
    """

    def make() -> tuple[dict[str, Any], bytes]:
        # Through JSON in both cases, so that the first answer is the same as later ones.
        text = json.dumps({"key": key, "figures": compute()}, allow_nan=False)
        return json.loads(text)["figures"], text.encode()

    path = user_cache_dir() / "reports" / f"{key[:_NAME_CHARACTERS]}.json"
    return _at_hand(path, key, lambda content: _figures(content, key), make)


def cached_array(
    key: str,
    compute: Callable[[], Float32Array],
    *,
    shape: tuple[int, ...],
    folder: Path | None = None,
) -> Float32Array:
    """Return the array of a key: from disk if it has this shape and is finite, else computed.

    - ``shape``: its shape.
    - ``folder``: where it is kept; by default the plans of the user's cache.
    """

    def make() -> tuple[Float32Array, bytes]:
        stream, found = io.BytesIO(), compute()
        np.save(stream, found, allow_pickle=False)
        return found, stream.getvalue()

    path = (folder or user_cache_dir() / "plans") / f"{key[:_NAME_CHARACTERS]}.npy"
    return _at_hand(path, key, lambda content: _array(content, shape), make)


class _Recorded:
    """What was asked for while `recording`, by key; None else."""

    found: dict[str, bytes] | None = None


@contextmanager
def recording() -> Iterator[dict[str, bytes]]:
    """Compute in the body what is asked for, and yield it by key, for `pack_figures`.

    What is asked for only while that is computed is left out.
    """
    found: dict[str, bytes] = {}
    _Recorded.found = found
    try:
        yield found
    finally:
        _Recorded.found = None


def _at_hand(
    path: Path,
    key: str,
    read: Callable[[bytes], Found | None],
    make: Callable[[], tuple[Found, bytes]],
) -> Found:
    """Return a result from the user's cache, from the package, or made and stored."""
    if (recorded := _Recorded.found) is not None:
        _Recorded.found = None
        try:
            found, recorded[key] = make()
        finally:
            _Recorded.found = recorded
        return found
    for content in (_believed(path), bundled_figures(key)):
        known = None if content is None else read(content)
        if known is not None:
            _used(path)
            return known
    checkpoint()
    found, content = make()
    _store(path, content)
    return found


def bundled_figures(key: str) -> bytes | None:
    """Return the content of a result that comes with the package; None if none does, or damaged."""
    try:
        packed = (models_dir() / "figures" / key[:_NAME_CHARACTERS]).read_bytes()
        content = _unpacked(packed[_DIGEST:])
    except (OSError, DataError, ValueError, zlib.error):
        return None
    return content if _digest(key, content) == packed[:_DIGEST] else None


def pack_figures(found: Mapping[str, bytes], folder: Path) -> None:
    """Write results (`recording`) as the folder of those that come with the package.

    A file is the SHA-256 of key and content, and the content with zlib (RFC 1950), the rows of an
    array as differences to the row before, byte by byte. Other files of the folder are removed.
    """
    names = {key[:_NAME_CHARACTERS]: key for key in found}
    for path in folder.glob("*"):
        if path.name not in names:
            path.unlink()
    for name, key in names.items():
        content = found[key]
        array, start = _words(content)
        steps = np.diff(array, axis=0, prepend=np.zeros_like(array[:1]))
        planes = steps.reshape(-1, 1).view(np.uint8).T.tobytes()
        packed = zlib.compress(content[:start] + planes, 9)
        write_atomically(folder / name, _digest(key, content) + packed)


def _unpacked(packed: bytes) -> bytes:
    content = zlib.decompress(packed)
    array, start = _words(content)
    planes = np.frombuffer(content, np.uint8, offset=start).reshape(4, -1)
    steps = np.ascontiguousarray(planes.T).view(np.uint32).reshape(array.shape)
    return content[:start] + np.cumsum(steps, axis=0, dtype=np.uint32).tobytes()


def _words(content: bytes) -> tuple[NDArray[np.uint32], int]:
    """Return the rows of an array file as words of 32 bits, and where they begin; else none."""
    if not content.startswith(np.lib.format.MAGIC_PREFIX):
        return np.zeros((0, 1), dtype=np.uint32), len(content)
    stream = io.BytesIO(content)
    np.lib.format.read_magic(stream)
    shape, _, _ = np.lib.format.read_array_header_1_0(stream)
    start = stream.tell()
    return np.frombuffer(content, np.uint32, offset=start).reshape(-1, shape[-1]), start


def _digest(key: str, content: bytes) -> bytes:
    return hashlib.sha256(key.encode() + content).digest()


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


def _believed(path: Path) -> bytes | None:
    if not _is_believed(path):
        return None
    try:
        return path.read_bytes()
    except OSError:
        return None


def _figures(content: bytes, key: str) -> dict[str, Any] | None:
    try:
        document = json.loads(content)
    except ValueError:
        return None
    if not isinstance(document, dict) or document.get("key") != key:
        return None
    figures = document.get("figures")
    return figures if isinstance(figures, dict) else None


def _array(content: bytes, shape: tuple[int, ...]) -> Float32Array | None:
    try:
        found = np.load(io.BytesIO(content), allow_pickle=False)
    except (OSError, ValueError, EOFError):
        return None
    fits = isinstance(found, np.ndarray) and found.shape == shape and found.dtype == np.float32
    return found if fits and np.isfinite(found).all() else None


def read_arrays(path: Path, prefix: str) -> dict[str, AnyArray]:
    """Return the arrays of an ``.npz`` file whose names start so, by the rest of their names.

    Empty where there is none, or the file cannot be read.
    """
    from zipfile import BadZipFile

    try:
        with np.load(path, allow_pickle=False) as archive:
            wanted = [name for name in archive.files if name.startswith(prefix)]
            return {name.removeprefix(prefix): archive[name] for name in wanted}
    except (OSError, ValueError, EOFError, BadZipFile):
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


def _evict(folder: Path, *, keep: Path) -> None:
    """Remove the least recently used results of a folder until the rest is within the limit."""
    found = [(path, path.stat()) for path in folder.iterdir() if path.is_file()]
    total = sum(status.st_size for _, status in found)
    for path, status in sorted(found, key=lambda one: one[1].st_mtime_ns):
        if total <= LARGEST_CACHE_BYTES:
            return
        if path != keep:
            with suppress(OSError):  # another process reads or removes it
                path.unlink()
                total -= status.st_size
