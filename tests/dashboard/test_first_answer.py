"""The answer that comes with the document: what it is, and when the document is left as it is."""

import asyncio
import re
from html import unescape

from streamlit.testing.v1 import AppTest

from lensyard.dashboard.document import FirstAnswer
from lensyard.dashboard.serve import script_path
from lensyard.features.next_play.first import first_answer


def served(answer: str, *, path: str = "/") -> tuple[dict[bytes, bytes], str]:
    """Headers and body of what is sent for a path."""
    sent = []

    async def app(scope, receive, send):
        await send({"type": "http.response.start", "headers": []})
        await send({"type": "http.response.body", "body": b"by the pages' server"})

    async def send(message):
        sent.append(message)

    scope = {"type": "http", "method": "GET", "path": path, "query_string": b"down=2"}

    def answered(query, cookies):
        if not answer:
            raise KeyError(query)
        return answer if (query, cookies) == ("down=2", {"a": "b"}) else ""

    wrapped = FirstAnswer(app, answered)
    asyncio.run(wrapped({**scope, "headers": [(b"cookie", b"a=b")]}, None, send))
    start, *bodies = sent
    return dict(start["headers"]), b"".join(message["body"] for message in bodies).decode()


def test_an_answer_stands_over_the_page_and_waits_for_nothing_of_it():
    headers, body = served("<p>Stand – here</p>")
    assert int(headers[b"content-length"]) == len(body.encode())
    order = ['<div id="root"></div>', "<p>Stand – here</p>", '<link rel="stylesheet"', "</body>"]
    assert [body.count(part) for part in order] == [1] * 4
    assert sorted(order, key=body.index) == order


def test_what_is_not_the_first_page_is_left_to_the_server_of_the_pages():
    assert served("<p>Stand here</p>", path="/plan")[1] == "by the pages' server"


def test_an_answer_that_fails_takes_no_page_away():
    assert served("")[1] == served("<p></p>")[1].replace("<p></p>", "", 1)


def words(html: str) -> str:
    text = unescape(
        re.sub(r"<[^>]*>", " ", re.sub(r"<(script|style).*?</\1>", "", html, flags=re.S))
    )
    return " ".join(text.split())


def test_the_first_answer_says_what_the_page_says_cautions_included():
    first = words(first_answer("down=2&distance=6&ball=opp35", {}))
    app = AppTest.from_file(script_path(), default_timeout=60)
    for name, value in (("down", "2"), ("distance", "6"), ("ball", "opp35")):
        app.query_params[name] = value
    said = [words(element.body) for element in app.run().get("html")]
    lead, figures = (next(one for one in said if key in one) for key in ("usable", "Situation"))
    answer, _, cautions = first.partition(" Cautions ")
    assert answer == f"lensyard {lead} {figures}"
    assert cautions
    assert any(f"Cautions {cautions}" in one for one in said)


def test_what_the_log_or_an_unreadable_address_has_a_say_in_is_left_to_the_page():
    assert first_answer("down=7", {}) == ""
    assert first_answer("play=kickoff", {}) == ""
    assert first_answer("down=2", {"lensyard_guest_8501": "x" * 24}) == ""
