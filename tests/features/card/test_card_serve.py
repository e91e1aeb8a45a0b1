"""The card is handed to whoever has its whole address, and nothing else is there."""

import http.client
import threading
from urllib.parse import urlsplit

import pytest
import segno
from streamlit.testing.v1 import AppTest

from lensyard.features.card import page
from lensyard.features.card.serve import card_host, card_server

PAGE, TOKEN = b"<!doctype html>the card", "a-random-word-of-128-bits"
NAME = "card.html"


@pytest.fixture
def port():
    server = card_server(PAGE, address="127.0.0.1", port=0, token=TOKEN)
    thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    yield int(server.server_address[1])
    server.shutdown()
    server.server_close()
    thread.join()


def ask(port, path, *, method="GET", host=""):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        connection.request(method, path, headers={"host": host or card_host("127.0.0.1", port)})
        answer = connection.getresponse()
        return answer.status, answer.read()
    finally:
        connection.close()


def test_who_has_the_whole_address_gets_the_card(port):
    assert ask(port, f"/{TOKEN}/{NAME}") == (200, PAGE)


@pytest.mark.parametrize(
    ("path", "method", "host", "status"),
    [
        ("/", "GET", "", 404),
        (f"/{NAME}", "GET", "", 404),
        (f"/{TOKEN}/", "GET", "", 404),
        (f"/{TOKEN}x/{NAME}", "GET", "", 404),
        (f"/{TOKEN}/../{NAME}", "GET", "", 404),
        (f"/{TOKEN}/{NAME}", "GET", "rebound.invalid", 403),
        (f"/{TOKEN}/{NAME}", "POST", "", 501),
        (f"/{TOKEN}/{NAME}", "PUT", "", 501),
    ],
)
def test_everybody_else_gets_nothing(port, path, method, host, status):
    code, body = ask(port, path, method=method, host=host)
    assert code == status
    assert PAGE not in body
    assert TOKEN.encode() not in body


def handing():
    """A page that has nothing but a card to hand out."""
    from types import SimpleNamespace

    from lensyard.features.card import page

    page._phone(SimpleNamespace(attempt=lambda make: make()), b"<!doctype html>the card")  # type: ignore[arg-type]


def test_the_page_shows_a_code_for_a_phone_and_hands_the_card_out_until_it_is_stopped(monkeypatch):
    monkeypatch.setattr(page, "network_address", lambda: "127.0.0.1")
    app = AppTest.from_function(handing).run()
    assert not app.get("html")
    app.button(key="ly_card_phone").click().run()
    (shown,) = app.get("html")
    where = page.handed_out().where
    assert shown.body.count(where) == 1
    assert segno.make(where, error="m").svg_data_uri(scale=6, border=4, light="#fff") in shown.body
    address = urlsplit(where)
    assert address.port is not None
    assert ask(address.port, address.path) == (200, PAGE)
    assert ask(address.port, f"/{NAME}")[0] == 404
    app.button(key="ly_card_stop").click().run()
    assert not app.get("html")
    with pytest.raises(ConnectionError):
        ask(address.port, address.path)
