"""The shell: a report's parts on the page, jobs, and errors as messages."""

import re
from html import unescape

from streamlit.testing.v1 import AppTest


def text_of(app):
    pieces = " ".join(html.body for html in app.get("html"))
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", pieces)).split())


def report_page():
    from tests.render.charts_of_every_kind import EVERY_KIND

    from lensyard.dashboard.shell import show_body, show_lead
    from lensyard.render.theme import THEMES

    show_lead(EVERY_KIND)
    show_body(EVERY_KIND, theme=THEMES["sunlight"], key="every")


def test_a_report_is_shown_with_every_part_and_its_answer_first():
    app = AppTest.from_function(report_page, default_timeout=60).run()
    assert not app.exception
    said = text_of(app)
    assert said.startswith("B brings the most It brings 26 usable plays a game.")
    for part in ("1,806 yd", "58%", "11.0", "+3.1 (+2.0 to +4.2)", "Reach in words.",
                 "Lamps allow 1/500 s.", "Keep clear of the sideline.", "Games drawn again.",
                 "Plays: invented."):  # fmt: skip
        assert part in said
    charts = [element for element in app.main if element.type == "vega_lite_chart"]
    assert len(app.get("vega_lite_chart")) + len(charts) >= 6


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
