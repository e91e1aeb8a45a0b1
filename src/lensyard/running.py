"""What a run of the program has done so far, for when it is interrupted or cannot say its answer.

Ctrl-C ends the program at once: no exception rises through libraries that would make something else
of it. What must not be cut in two is done first (`uninterrupted`), unfinished files are removed,
and one line says what was made durable. Only standard modules that every start needs are imported.
"""

from __future__ import annotations

import atexit
import gc
import math
import os
import shutil
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from threading import current_thread, local, main_thread
from types import FrameType
from typing import Any, Final, NoReturn

INTERRUPTED: Final = 130
UNSAID: Final = 3
"""Exit code where everything was done, but the answer could not be written."""


class _Run:
    """The run of this process; `begin` makes it new."""

    is_program = False
    done = ""
    is_changed = False
    wants_json = False
    has_answered = False
    unfinished: Final[set[str]] = set()


def begin(arguments: list[str], *, program: bool = False) -> None:
    """Begin a run with what was typed; ``program``: whether this process has nothing else to do."""
    _Run.is_program = program
    _Run.done, _Run.has_answered, _Run.is_changed = "", False, False
    _Run.wants_json = "--json" in arguments


@contextmanager
def importing() -> Iterator[None]:
    """Import in the body without looking for garbage, then or when the program ends.

    What modules make lives as long as the program. Looking through it again and again takes a tenth
    of the time of a short answer.
    """
    if not _Run.is_program:
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()
    atexit.register(gc.freeze)


def note_done(text: str) -> None:
    """Note how things stand, as a sentence without its stop."""
    _Run.done = text


def last_done() -> str:
    """Return what was noted last; empty where nothing was."""
    return _Run.done


def is_changed() -> bool:
    """Return whether anything was made durable."""
    return _Run.is_changed


def note_answered() -> None:
    """Note that the document was written to standard output; there is only one."""
    _Run.has_answered = True


@contextmanager
def unfinished(path: str | os.PathLike[str]) -> Iterator[None]:
    """Remove a file or folder, and files named after it, where the program ends in the body."""
    _Run.unfinished.add(os.fspath(path))
    try:
        yield
    finally:
        _Run.unfinished.discard(os.fspath(path))


@contextmanager
def uninterrupted(done: str = "") -> Iterator[None]:
    """Let Ctrl-C wait until the body is through, which then has done what ``done`` says."""
    if current_thread() is not main_thread():
        yield
        return
    came: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: came.append(number))
    try:
        yield
        if done:
            note_done(done)
            _Run.is_changed = True
    finally:
        signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)
        if came:
            signal.raise_signal(signal.SIGINT)


@contextmanager
def interruptible() -> Iterator[None]:
    """Let Ctrl-C be a `KeyboardInterrupt` in the body, for what still has something to say."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)


def end_at_interrupt() -> None:
    """Let Ctrl-C end this program as the module says; for programs, not for libraries."""
    if current_thread() is main_thread():
        signal.signal(signal.SIGINT, _end)


def let_be() -> None:
    """Let Ctrl-C do nothing any more: the program is ending."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _end(_: int, __: FrameType | None) -> None:
    for path in _Run.unfinished:
        _remove(path)
    with suppress(OSError):
        if document := error_text("interrupted", interrupted_text(), INTERRUPTED):
            os.write(1, document.encode())
        shown = "\x1b[?25h\r" if sys.stderr.isatty() else ""  # a bar may have hidden the cursor
        os.write(2, f"{shown}lensyard: {interrupted_text()}\n".encode())
    os._exit(INTERRUPTED)


def _remove(path: str) -> None:
    folder, name = os.path.split(path)
    with suppress(OSError):
        for found in os.listdir(folder or "."):
            if found.startswith(name):
                place = os.path.join(folder, found)
                if os.path.isdir(place):
                    shutil.rmtree(place, ignore_errors=True)
                else:
                    os.unlink(place)


def interrupted_text() -> str:
    """Return that the run was interrupted, and what was done before."""
    return f"interrupted; {_Run.done}" if _Run.done else "interrupted"


def error_text(kind: str, message: str, code: int) -> str:
    """Return the document of a failure where --json was typed and nothing was written; else ""."""
    if not _Run.wants_json or _Run.has_answered:
        return ""
    import json

    _Run.has_answered = True
    error = {"kind": kind, "message": message, "exit_code": code}
    document = {"schema_version": 2, "error": error, "done": _Run.done if _Run.is_changed else None}
    return json.dumps(document, indent=2) + "\n"


class CancelledError(Exception):
    """Nobody waits for this work any more."""


class _Work(local):
    """What tells the work of this thread to stop."""

    is_stopped: Callable[[], bool] | None = None


_work: Final = _Work()


def stop_when(is_stopped: Callable[[], bool]) -> None:
    """Let `checkpoint` end the work of this thread once this says so."""
    _work.is_stopped = is_stopped


def checkpoint() -> None:
    """Raise `CancelledError` where the work of this thread was cancelled.

    Called in every loop that may take long, so that work stops within half a second.
    """
    if _work.is_stopped is not None and _work.is_stopped():
        raise CancelledError


@contextmanager
def beside(work: Callable[[], Any]) -> Iterator[Callable[[], Any]]:
    """Do work in a second process while the body goes on; yield what waits for its result.

    ``work`` returns plain values that JSON can hold, arrays among them. Where there is no second
    core, or the process cannot be doubled safely (other threads, other platforms than Linux), it is
    done when its result is asked for; so it is if the second process fails. The second process ends
    with this one.
    """
    if not _may_double():
        yield work
        return
    import select

    parent = os.getpid()
    reader, writer = os.pipe()
    child = os.fork()
    if not child:
        os.close(reader)  # else nobody would tell it that nobody reads any more
        _be_second(writer, work, parent)
    os.close(writer)

    def result() -> Any:
        parts: list[bytes] = []
        while not parts or parts[-1]:
            checkpoint()
            if select.select([reader], [], [], 0.1)[0]:
                parts.append(os.read(reader, 1 << 16))
        sent = b"".join(parts)
        return _received(sent) if sent else work()

    try:
        yield result
    finally:
        os.close(reader)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)


def in_two(
    work: Callable[[int], Any], pieces: int, *, meanwhile: Callable[[], object] = bool
) -> list[Any]:
    """Return the results of pieces of work, done in two processes as in `beside`.

    Whichever has nothing to do takes the next one; this one does ``meanwhile`` before. At most 255
    pieces; each returns what that of `beside` may.
    """
    reader, writer = os.pipe()
    os.write(writer, bytes(range(pieces)))
    os.close(writer)

    def taken() -> list[tuple[int, Any]]:
        return [(piece[0], work(piece[0])) for piece in iter(lambda: os.read(reader, 1), b"")]

    try:
        with beside(taken) as others:
            meanwhile()
            done = dict([*taken(), *others()])
    finally:
        os.close(reader)
    # Those that a second process failed to do.
    return [done[i] if i in done else work(i) for i in range(pieces)]


def _sent(found: Any) -> list[bytes]:
    """Return a line of JSON and the bytes of the arrays that it speaks of, each at a word's end."""
    import json

    arrays: list[bytes] = []

    def kept(array: Any) -> dict[str, Any]:
        arrays.append(array.tobytes() + bytes(-array.nbytes % 8))
        return {"dtype": array.dtype.str, "shape": array.shape, "at": sum(map(len, arrays[:-1]))}

    text = json.dumps(found, default=kept).encode()
    return [text + b" " * (-(len(text) + 1) % 8) + b"\n", *arrays]


def _received(sent: bytes) -> Any:
    """Return what `_sent` made bytes of; its arrays are not to be changed."""
    import json

    start = sent.index(b"\n") + 1

    def array(plain: dict[str, Any]) -> Any:
        if plain.keys() != {"dtype", "shape", "at"}:
            return plain
        import numpy as np

        shape = tuple(plain["shape"])
        of = np.frombuffer(sent, plain["dtype"], math.prod(shape), start + plain["at"])
        return of.reshape(shape)

    return json.loads(sent[:start], object_hook=array)


_PR_SET_PDEATHSIG: Final = 1
"""Of prctl(2): the signal that a process gets when the one that made it ends."""


def _may_double() -> bool:
    if sys.platform != "linux" or len(os.sched_getaffinity(0)) < 2:
        return False
    try:
        return len(os.listdir("/proc/self/task")) == 1
    except OSError:
        return False


def _be_second(writer: int, work: Callable[[], Any], parent: int) -> NoReturn:
    """Do the work of the second process and end it; nothing of what it inherited is written."""
    try:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        stop_when(lambda: os.getppid() != parent)
        with suppress(ImportError, OSError, AttributeError):
            import ctypes

            ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)  # at once, too
        for part in _sent(work()):
            left = memoryview(part)
            while left:
                left = left[os.write(writer, left) :]
    finally:
        os._exit(0)


def in_shares(tell: Callable[[str], None], *shares: float) -> Callable[[str], None]:
    """Return a report of progress that adds what share is done and what time is left.

    ``shares`` are those of the whole that is done when each step begins, in order, in [0, 1).

    >>> told = []
    >>> step = in_shares(told.append, 0.0, 0.5)
    >>> step("reading"), step("counting")
    (None, None)
    >>> told
    ['reading', 'counting (50% done, about 0 s left)']
    """
    began, done = time.monotonic(), iter(shares)

    def report(text: str) -> None:
        share = next(done, 0.0)
        left_s = (time.monotonic() - began) * (1.0 / share - 1.0) if share else 0.0
        tell(f"{text} ({share:.0%} done, about {left_s:.0f} s left)" if share else text)

    return report
