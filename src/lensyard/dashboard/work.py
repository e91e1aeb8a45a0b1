"""Work that takes longer than a page may: done aside, with progress, and it can be cancelled.

A piece of work has a key; whoever asks for the same key shares it, and what came of it is kept for
the next one. It is told to stop where it reports progress next, once nobody waits for it any more.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import streamlit as st

from lensyard.errors import LensyardError

Progress = Callable[[str], None]
KEPT = 24
_GIVEN_UP = "ly_given_up"
_LOOK_AGAIN_S = 1.0


class CancelledError(Exception):
    """Nobody waits for this work any more."""


@dataclass
class Job:
    """One piece of work.

    Attributes
    ----------
    key, title
        What it is, and how it is called.
    steps
        What it has reported so far.
    result, error
        What came of it.
    finished
        Whether it came to an end.
    stop
        Set when nobody waits any more.
    waiting
        The sessions that wait.
    """

    key: str
    title: str
    steps: list[str] = field(default_factory=list)
    result: Any = None
    error: Exception | None = None
    finished: threading.Event = field(default_factory=threading.Event)
    stop: threading.Event = field(default_factory=threading.Event)
    waiting: set[str] = field(default_factory=set)
    began: float = field(default_factory=time.monotonic)

    def report(self, text: str) -> None:
        """Note a step; raise where nobody waits any more."""
        if self.stop.is_set():
            raise CancelledError
        self.steps.append(text)

    def run(self, make: Callable[[Progress], Any]) -> None:
        """Do the work; the target of the thread."""
        try:
            self.result = make(self.report)
        except CancelledError:
            self.stop.set()
        except Exception as error:
            self.error = error
        finally:
            self.finished.set()


class JobPool:
    """The pieces of work of one server."""

    def __init__(self) -> None:
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._lock = threading.Lock()

    def job(self, key: str, make: Callable[[Progress], Any], *, title: str, session: str) -> Job:
        """Return the work of a key, begun if need be."""
        with self._lock:
            job = self._jobs.get(key)
            if job is None or job.stop.is_set() or job.error is not None:
                job = self._jobs[key] = Job(key, title)
                threading.Thread(target=job.run, args=(make,), daemon=True).start()
            self._jobs.move_to_end(key)
            while len(self._jobs) > KEPT:
                self._jobs.popitem(last=False)
            if not job.finished.is_set():
                job.waiting.add(session)
            return job

    def wait(self, timeout_s: float) -> bool:
        """Wait until all work has come to an end, and return whether it has."""
        with self._lock:
            jobs = tuple(self._jobs.values())
        return all(job.finished.wait(timeout_s) for job in jobs)

    def cancel(self, job: Job, *, session: str) -> None:
        """Wait no longer; the work stops if nobody else waits."""
        with self._lock:
            job.waiting.discard(session)
            if not job.waiting and not job.finished.is_set():
                job.stop.set()


@st.cache_resource(show_spinner=False)
def bench() -> JobPool:
    """Return the server's bench."""
    return JobPool()


def session_word() -> str:
    """Return a word that no other session has."""
    word: str = st.session_state.setdefault("ly_session", secrets.token_hex(8))
    return word


def asked(key: str, make: Callable[[Progress], Any], *, title: str) -> Any | None:
    """Return what came of a piece of work; until then show how far it is, and None.

    Parameters
    ----------
    key
        Names everything that the work depends on.
    make
        Does it; it is given a function to report steps to.
    title
        For people, such as "the plan for this kit".

    Raises
    ------
    LensyardError
        What the work raised.
    """
    session = session_word()
    cancelled: set[str] = st.session_state.setdefault(_GIVEN_UP, set())
    if key in cancelled:
        st.info(f"Cancelled: {title}.")
        st.button("Start again", key=f"ly_again_{key}", on_click=cancelled.discard, args=(key,))
        return None
    job = bench().job(key, make, title=title, session=session)
    job.finished.wait(0.25)  # what is at hand needs no progress
    if not job.finished.is_set():
        _show(job, session)
        return None
    if job.error is not None:
        if isinstance(job.error, LensyardError):
            raise job.error
        raise RuntimeError(f"the work on {title} failed") from job.error
    return job.result


@st.fragment(run_every=_LOOK_AGAIN_S)
def _show(job: Job, session: str) -> None:
    """Show how far a piece of work is, and let it be cancelled."""
    if job.finished.is_set():
        st.rerun()
    passed = time.monotonic() - job.began
    step = job.steps[-1] if job.steps else "starting"
    with st.container(key="ly_working"):
        st.html(
            f'<p class="ly-working" role="status"><span class="ly-spin"></span>'
            f"<b>Working on {job.title}</b>: {step} ({passed:.0f} s)</p>"
        )
        if st.button("Cancel", key=f"ly_cancel_{job.key}"):
            bench().cancel(job, session=session)
            st.session_state[_GIVEN_UP].add(job.key)
            st.rerun()
