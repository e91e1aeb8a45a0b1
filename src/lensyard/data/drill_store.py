"""What a learner has answered, kept line by line.

One file in the user's data folder, one answer a line as JSON, only ever added to. Each line is
flushed to the disk before the next situation is shown, so that nothing answered is lost when the
program is killed; a line that was cut off is left out when the file is read, and two programs that
write at once do not harm each other.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from lensyard.errors import StoreError

FILE_NAME: Final = "drill-answers.jsonl"
LINE_VERSION: Final = 1


@dataclass(frozen=True, slots=True)
class Kept:
    """What the file holds: the answers in their order, and how many lines could not be read."""

    answers: tuple[dict[str, Any], ...]
    unreadable: int


def answers_path(*, create: bool = False) -> Path:
    """Return the file of answers.

    Parameters
    ----------
    create
        Make its folder, and make sure that it can be written.

    Raises
    ------
    StoreError
        If ``create`` is set and it cannot.
    """
    from lensyard.config import user_data_dir

    return user_data_dir(create=create) / FILE_NAME


def read_answers(path: Path) -> Kept:
    """Return what a file of answers holds; nothing where there is none.

    Raises
    ------
    StoreError
        If the file is there but cannot be read.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Kept((), 0)
    except OSError as error:
        raise StoreError(
            f"cannot read the drill's answers {path}: {error.strerror or error}. Free the file, or "
            "set LENSYARD_DATA_DIR to another folder."
        ) from error
    answers, unreadable = [], 0
    for line in data.split(b"\n"):
        if not line.strip():
            continue
        answer = _parsed(line)
        if answer is None:
            unreadable += 1
        else:
            answers.append(answer)
    return Kept(tuple(answers), unreadable)


def _parsed(line: bytes) -> dict[str, Any] | None:
    try:
        answer = json.loads(line)
    except ValueError:
        return None
    if not isinstance(answer, dict) or answer.get("version") != LINE_VERSION:
        return None
    return answer


def append_answer(path: Path, answer: Mapping[str, Any]) -> None:
    """Add one answer, durably.

    Parameters
    ----------
    path
        The file; its folder must be there.
    answer
        Plain values that JSON can hold.

    Raises
    ------
    StoreError
        If the disk refuses.
    """
    line = json.dumps({"version": LINE_VERSION, **answer}, allow_nan=False).encode() + b"\n"
    try:
        new = not path.exists()
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
        try:
            # A line that was cut off must not swallow this one.
            size = os.fstat(handle).st_size
            if size and _last_byte(handle, size) != b"\n":
                line = b"\n" + line
            _write_all(handle, line)
            os.fsync(handle)
        finally:
            os.close(handle)
        if new:
            _flush_folder(path.parent)
    except OSError as error:
        raise StoreError(
            f"cannot keep the answer in {path}: {error.strerror or error}. What was answered "
            "before is kept; free some space, or set LENSYARD_DATA_DIR to another folder."
        ) from error


def _last_byte(handle: int, size: int) -> bytes:
    os.lseek(handle, size - 1, os.SEEK_SET)
    return os.read(handle, 1)


def _write_all(handle: int, line: bytes) -> None:
    written = os.write(handle, line)
    while written < len(line):
        written += os.write(handle, line[written:])


def _flush_folder(folder: Path) -> None:
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
