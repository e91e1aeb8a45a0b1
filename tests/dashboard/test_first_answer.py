"""The answer that comes with the document: what it is, and when the document is left as it is."""

import asyncio
import re
from html import unescape

import pytest
from streamlit.testing.v1 import AppTest

from lensyard.dashboard.serve import script_path
from lensyard.dashboard.server import FirstAnswer
from lensyard.pages import first_answer

DOCUMENT = b'<!doctype html><body><div id="root"></div></body>'


def served(answer: str, *, path: str = "/", status: int = 200) -> tuple[dict[bytes, bytes], bytes]:
    """Headers and body of a document that is sent in two parts."""
    sent = []

    async def app(scope, receive, send):
        length = (b"content-length", str(len(DOCUMENT)).encode())
        await send({"type": "http.response.start", "status": status, "headers": [length]})
        await send({"type": "http.response.body", "body": DOCUMENT[:20], "more_body": True})
        await send({"type": "http.response.body", "body": DOCUMENT[20:]})

    async def send(message):
        sent.append(message)

    scope = {"type": "http", "method": "GET", "path": path, "query_string": b"down=2"}

    def answered(query, cookies):
        if not answer:
            raise KeyError(query)
        return answer if query == "down=2" else ""

    wrapped = FirstAnswer(app, answered)
    asyncio.run(wrapped({**scope, "headers": [(b"cookie", b"a=b")]}, None, send))
    start, *bodies = sent
    return dict(start["headers"]), b"".join(message["body"] for message in bodies)


def test_an_answer_stands_at_the_end_of_the_document_and_its_length_is_right():
    headers, body = served("<p>Stand – here</p>")
    assert body == DOCUMENT.replace(b"</body>", "<p>Stand – here</p></body>".encode())
    assert headers[b"content-length"] == str(len(body)).encode()


@pytest.mark.parametrize("other", [{"path": "/plan"}, {"status": 404}])
def test_other_documents_stay_as_they_are(other):
    assert served("<p>Stand here</p>", **other)[1] == DOCUMENT


def test_an_answer_that_fails_takes_no_page_away():
    assert served("")[1] == DOCUMENT


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
    cautions = next(one for one in said if one.startswith("Cautions"))
    assert first == f"lensyard {lead} {figures} {cautions}"


def test_what_the_log_or_an_unreadable_address_has_a_say_in_is_left_to_the_page():
    assert first_answer("down=7", {}) == ""
    assert first_answer("play=kickoff", {}) == ""
    assert first_answer("down=2", {"lensyard_guest_8501": "x" * 24}) == ""
