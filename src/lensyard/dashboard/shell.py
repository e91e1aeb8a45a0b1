"""What every page is given: the controls, jobs, a place for the answer, and one way to fail.

A page is ``def page(shell: Shell) -> None``: it shows its widgets, reads the controls, computes and
shows a report. A `LensyardError` becomes a message on the page here, so pages catch none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

import streamlit as st

from lensyard.dashboard import session
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.figures import plain
from lensyard.dashboard.show import show_body, show_lead
from lensyard.dashboard.work import Progress, run_job
from lensyard.errors import LensyardError
from lensyard.render.html import lead_of
from lensyard.render.report import Report
from lensyard.render.theme import THEMES, Theme
from lensyard.render.words import sentence

T = TypeVar("T")

PLAIN, WIDE = "ly_plain", "ly_page"
"""Keys of the container around a page: a column of text, or the field beside the answer."""


class Shell:
    """One page in one run.

    Attributes
    ----------
    name
        Of the page; tells its elements and jobs from those of others.
    controls
        What was chosen.
    """

    def __init__(self, *, name: str, controls: Controls) -> None:
        self.name = name
        self.controls = controls
        self._lead = st.container()

    @property
    def theme(self) -> Theme:
        """The colors that were chosen."""
        return THEMES[self.controls.theme]

    def run(self, key: object, make: Callable[[Progress], T], *, title: str) -> T | None:
        """Return the result of a job; None while it runs, was cancelled or failed.

        Parameters
        ----------
        key
            What the result depends on; its ``repr`` must say all of it.
        make
            Computes it; it is given a function to report progress to.
        title
            For people, such as "the plan for this kit".
        """
        return self.attempt(lambda: run_job(f"{self.name} {key!r}", make, title=title))

    def attempt(self, make: Callable[[], T]) -> T | None:
        """Return what a function returns; where it raises a `LensyardError`, show that and None."""
        try:
            return make()
        except LensyardError as error:
            show_error(error)
            return None

    def lead(self, title: str, sentences: Sequence[str] = ()) -> None:
        """Show an answer, or what the page waits for, on top of the page."""
        with self._lead:
            st.html(lead_of(title, sentences))

    def show(self, report: Report, *, key: str = "") -> None:
        """Show a report: its answer on top of the page, the rest here."""
        with self._lead:
            show_lead(report)
        show_body(report, theme=self.theme, key=key or self.name)


def show_error(error: LensyardError) -> None:
    """Show an error as a sentence."""
    st.error(plain(sentence(str(error))))


def run_page(page: Callable[[Shell], None], controls: Controls, *, name: str, frame: str) -> None:
    """Run a page: what could not be read in the address first, then the page.

    Parameters
    ----------
    page, name, controls
        The page, its name, and what was chosen.
    frame
        `PLAIN` or `WIDE`.
    """
    with st.container(key=frame):
        if issues := session.problems():
            st.warning(plain("\n\n".join(issues)))
        shell = Shell(name=name, controls=controls)
        shell.attempt(lambda: page(shell))
