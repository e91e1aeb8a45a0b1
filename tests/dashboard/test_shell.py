"""The shell: a report's parts on the page, jobs, and errors as messages."""

import re
from html import unescape

from streamlit.testing.v1 import AppTest


def text_of(app):
    pieces = " ".join(html.body for html in app.get("html"))
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", pieces)).split())


def failing_page():

    from lensyard.dashboard import session
    from lensyard.dashboard.shell import PageEntry, run_page
    from lensyard.errors import InvalidInputError

    def page(shell):
        def fail(progress):
            raise InvalidInputError("no lens reaches *that* far")

        assert shell.run(("key", 1), fail, title="the plan") is None
        shell.lead("Still here", ("After a job that failed.",))
        raise InvalidInputError("and this one [too](x)")

    with session.one_run() as controls:
        run_page(page, controls, PageEntry("Test", "test", ""))


def test_errors_of_jobs_and_pages_become_messages_as_plain_text():
    app = AppTest.from_function(failing_page, default_timeout=60).run()
    assert not app.exception
    messages = [error.value for error in app.error]
    assert messages == ["No lens reaches \\*that\\* far.", "And this one \\[too\\]\\(x\\)."]
    assert text_of(app) == "Still here After a job that failed."


def working_page():
    import time

    from lensyard.dashboard import session
    from lensyard.dashboard.shell import PageEntry, run_page

    def page(shell):
        def slow(progress):
            progress("counting")
            time.sleep(0.6)
            return "done"

        found = shell.run("slow", slow, title="the count")
        shell.lead("Waiting" if found is None else f"It is {found}")

    with session.one_run() as controls:
        run_page(page, controls, PageEntry("Test", "test", ""))


def test_a_job_shows_its_progress_and_then_its_result():
    from lensyard.dashboard import work

    app = AppTest.from_function(working_page, default_timeout=60).run()
    said = text_of(app)
    assert "Waiting" in said
    assert "Working on the count : counting" in said
    assert [button.label for button in app.button] == ["Cancel"]
    assert work.job_pool().wait(30.0)
    assert text_of(app.run()) == "It is done"
