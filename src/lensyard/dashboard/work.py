"""Jobs: work that takes longer than a page may, in a thread, with progress and cancellation.

A job has a key; sessions that ask for the same key share it, and its result is cached. It stops at
its next report of progress or `lensyard.running.checkpoint` once no session waits for it.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar

import streamlit as st

from lensyard.errors import LensyardError
from lensyard.running import CancelledError, stop_when

Progress = Callable[[str], None]
T = TypeVar("T")
MOST_JOBS = 24
"""Jobs whose results are cached."""
_CANCELLED = "ly_cancelled"
_LOOK_AGAIN_S = 1.0


@dataclass
class Job:
    """One job.

    - ``key``, ``title``: what it depends on, and its name for people.
    - ``steps``: the progress it has reported.
    - ``result``, ``error``: what it returned or raised.
    - ``finished``: set when it has ended.
    - ``stop``: set when it was cancelled.
    - ``waiting``: the sessions that were not yet given its result or error.
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
        """Note a step; raise `CancelledError` where the job was cancelled."""
        if self.stop.is_set():
            raise CancelledError
        self.steps.append(text)

    def run(self, make: Callable[[Progress], Any]) -> None:
        """Run the job; the target of its thread."""
        stop_when(self.stop.is_set)
        try:
            self.result = make(self.report)
        except CancelledError:
            self.stop.set()
        except Exception as error:
            self.error = error
        finally:
            self.finished.set()


class JobPool:
    """The jobs of one server."""

    def __init__(self) -> None:
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._lock = threading.Lock()

    def job(self, key: str, make: Callable[[Progress], Any], *, title: str, session: str) -> Job:
        """Return the job of a key; start it if it is new, was cancelled or failed.

        Whoever waits for a job that failed is given that job, so that its error can be shown: begun
        again at once, it would fail and rerun the page for ever.
        """
        with self._lock:
            job = self._jobs.get(key)
            failed = job is not None and job.error is not None and session not in job.waiting
            if job is None or job.stop.is_set() or failed:
                job = self._jobs[key] = Job(key, title, waiting={session})
                threading.Thread(target=job.run, args=(make,), daemon=True).start()
            self._jobs.move_to_end(key)
            while len(self._jobs) > MOST_JOBS:
                self._jobs.popitem(last=False)
            if not job.finished.is_set():
                job.waiting.add(session)
            return job

    def end(self, job: Job, *, session: str) -> None:
        """Note that a session was given what came of a job; a failed one is begun again next."""
        with self._lock:
            job.waiting.discard(session)

    def wait(self, timeout_s: float) -> bool:
        """Wait until all jobs have ended, and return whether they have."""
        with self._lock:
            jobs = tuple(self._jobs.values())
        return all(job.finished.wait(timeout_s) for job in jobs)

    def cancel(self, job: Job, *, session: str) -> None:
        """Withdraw a session; the job stops if no other session waits."""
        with self._lock:
            job.waiting.discard(session)
            if not job.waiting and not job.finished.is_set():
                job.stop.set()


@st.cache_resource(show_spinner=False)
def job_pool() -> JobPool:
    """Return the server's jobs."""
    return JobPool()


def session_word() -> str:
    """Return the session's random identifier."""
    word: str = st.session_state.setdefault("ly_session", secrets.token_hex(8))
    return word


def run_job(key: str, make: Callable[[Progress], T], *, title: str) -> T | None:
    """Return a job's result; until it has one, show its progress and return None.

    - ``key``: names everything that the result depends on.
    - ``make``: computes it; it is given a function to report progress to.
    - ``title``: for people, such as "the plan for this kit".

    Raises `LensyardError`: what the job raised; `RuntimeError` if it failed with any other
    exception.
    """
    session = session_word()
    cancelled: set[str] = st.session_state.setdefault(_CANCELLED, set())
    if key in cancelled:
        st.info(f"Cancelled: {title}.")
        st.button("Start again", key=f"ly_again_{key}", on_click=cancelled.discard, args=(key,))
        return None
    job = job_pool().job(key, make, title=title, session=session)
    job.finished.wait(0.25)  # what is at hand needs no progress
    if not job.finished.is_set():
        _show(job, session)
        return None
    job_pool().end(job, session=session)
    if job.error is not None:
        if isinstance(job.error, LensyardError):
            raise job.error
        raise RuntimeError(f"the work on {title} failed") from job.error
    result: T = job.result
    return result


@st.fragment(run_every=_LOOK_AGAIN_S)
def _show(job: Job, session: str) -> None:
    """Show a job's progress and a button that cancels it."""
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
            job_pool().cancel(job, session=session)
            st.session_state[_CANCELLED].add(job.key)
            st.rerun()
