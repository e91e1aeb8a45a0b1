"""Who is let in: every probe against the gate alone; the real server is in tests/browser.

The long form, against a running server: ``python -m tests.benchmarks.served --probes 10000``.
"""

import asyncio
from collections.abc import MutableMapping
from typing import Any

import pytest

from lensyard.dashboard import gate
from lensyard.dashboard.gate import GUEST_VARIABLE, OWNER_VARIABLE, Gate, guest_cookie, token_cookie

OWNER, GUEST = "owner-word-0123456789", "guest-word-0123456789"
HOST = "127.0.0.1:8501"
COOKIE = f"{token_cookie(8501)}={OWNER}"
UPLOAD = "/_stcore/upload_file/session/file"
Message = MutableMapping[str, Any]


class Served:
    """What an application behind the gate saw and what came back."""

    def __init__(self):
        self.reached = 0
        self.read = 0
        self.sent: list[Message] = []

    async def __call__(self, scope, receive, send):
        self.reached += 1
        if scope["type"] == "websocket":
            await send({"type": "websocket.accept"})
            await receive()
            return
        while (message := await receive())["type"] == "http.request":
            self.read += len(message.get("body", b""))
            if not message.get("more_body"):
                break
        headers = [(b"access-control-allow-origin", b"*"), (b"x-frame-options", b"ALLOWALL")]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": b"the page"})

    @property
    def status(self):
        return int(self.sent[0].get("status", 0))

    @property
    def headers(self):
        return [(name.decode(), value.decode()) for name, value in self.sent[0]["headers"]]


def scope_of(kind="http", path="/", *, method="GET", query="", **headers):
    given = {"host": HOST, **{name.replace("_", "-"): value for name, value in headers.items()}}
    return {
        "type": kind,
        "method": method,
        "path": path,
        "query_string": query.encode(),
        "server": ("127.0.0.1", 8501),
        "headers": [(name.encode(), value.encode()) for name, value in given.items() if value],
    }


@pytest.fixture(autouse=True)
def _words(monkeypatch):
    monkeypatch.setenv(OWNER_VARIABLE, OWNER)
    monkeypatch.setenv(GUEST_VARIABLE, GUEST)


def ask(scope, app=None, body=b""):
    served = app or Served()

    async def receive():
        return {"type": "http.request", "body": body}

    async def send(message):
        served.sent.append(message)

    asyncio.run(Gate(served)(scope, receive, send))
    return served


@pytest.mark.parametrize(
    "path", ["/", "/plan", "/_stcore/health", "/_stcore/host-config", "/static/js/index.js", UPLOAD]
)
@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"cookie": f"{token_cookie(8501)}={OWNER[:-1]}"},
        {"cookie": f"{token_cookie(8502)}={OWNER}"},
        {"cookie": COOKIE, "host": "evil.example:8501"},
        {"cookie": COOKIE, "host": "127.0.0.1:8502"},
        {"cookie": COOKIE, "host": ""},
        {"cookie": COOKIE, "origin": "http://evil.example"},
        {"cookie": COOKIE, "origin": "http://127.0.0.1:8502"},
        {"cookie": COOKIE, "origin": "null"},
        {"cookie": COOKIE, "host": "evil.example:8501", "origin": "http://evil.example:8501"},
        {"cookie": COOKIE, "sec_fetch_site": "same-site", "sec_fetch_mode": "no-cors"},
        {"cookie": COOKIE, "sec_fetch_site": "cross-site", "sec_fetch_mode": "cors"},
    ],
)
def test_who_has_no_token_or_comes_from_elsewhere_reaches_nothing(path, headers):
    for method in ("GET", "PUT", "POST", "OPTIONS"):
        served = ask(scope_of(path=path, method=method, **headers), body=b"x" * 1000)
        assert (served.reached, served.status) == (0, 403)
    socket = ask(scope_of("websocket", "/_stcore/stream", **headers))
    assert socket.reached == 0
    assert socket.sent[0]["type"] == "websocket.close"


@pytest.mark.parametrize(
    ("method", "path", "word", "length"),
    [
        ("POST", UPLOAD, OWNER, "1000"),
        ("PATCH", UPLOAD, OWNER, "1000"),
        ("OPTIONS", UPLOAD, OWNER, "1000"),
        ("PUT", "/plays", OWNER, "1000"),
        ("PUT", "/_stcore/stream", OWNER, "1000"),
        ("PUT", UPLOAD, GUEST, "1000"),
        ("DELETE", UPLOAD, GUEST, "0"),
        ("PUT", UPLOAD, OWNER, ""),  # nobody says how much comes
        ("PUT", UPLOAD, OWNER, str(40 << 20)),
    ],
)
def test_nothing_but_a_file_of_the_owner_can_be_sent(method, path, word, length):
    cookie = f"{token_cookie(8501)}={word}"
    scope = scope_of(path=path, method=method, cookie=cookie, content_length=length)
    served = ask(scope, body=b"x" * 1000)
    assert (served.reached, served.read, served.status) == (0, 0, 403)


def test_the_owner_sends_a_file_and_drops_it():
    sent = ask(scope_of(path=UPLOAD, method="PUT", cookie=COOKIE, content_length="1000"),
               body=b"x" * 1000)  # fmt: skip
    assert (sent.reached, sent.read, sent.status) == (1, 1000, 200)
    assert ask(scope_of(path=UPLOAD, method="DELETE", cookie=COOKIE)).reached == 1


@pytest.mark.parametrize("host", [HOST, "localhost:8501", "LOCALHOST:8501"])
def test_the_owner_is_let_in_and_no_other_page_may_frame_it(host):
    served = ask(scope_of(cookie=f"a=b; {COOKIE}", host=host, origin=f"http://{host}".lower()))
    assert (served.reached, served.status) == (1, 200)
    headers = dict(served.headers)
    assert headers["content-security-policy"] == "frame-ancestors 'none'"
    assert headers["x-frame-options"] == "DENY"
    assert "access-control-allow-origin" not in headers
    assert ask(scope_of("websocket", "/_stcore/stream", cookie=COOKIE)).reached == 1


def test_the_token_goes_from_the_address_into_a_cookie_that_scripts_cannot_read():
    served = ask(scope_of(path="/plan", query=f"down=3&token={OWNER}&kit=a%26b"))
    assert (served.reached, served.status) == (0, 200)
    (cookie,) = (value for name, value in served.headers if name == "set-cookie")
    assert cookie.startswith(f"{token_cookie(8501)}={OWNER};")
    assert {"HttpOnly", "SameSite=Strict"} <= set(cookie.split("; "))
    page = served.sent[1]["body"].decode()
    assert 'location.replace("/plan?down=3&kit=a%26b")' in page
    assert OWNER not in page


def test_an_address_cannot_lead_elsewhere_or_run_anything():
    path = "//evil.example/</script><b>"
    page = ask(scope_of(path=path, query=f"token={OWNER}")).sent[1]["body"].decode()
    assert 'location.replace("/evil.example/' in page
    assert page.count("</script>") == 1


def test_a_guest_gets_a_name_of_their_own_once():
    first = ask(scope_of(query=f"token={GUEST}"))
    names = [value.partition("=")[0] for name, value in first.headers if name == "set-cookie"]
    assert names == [token_cookie(8501), guest_cookie(8501)]
    kept = f"{guest_cookie(8501)}=guest-word-of-this-browser"
    again = ask(scope_of(query=f"token={GUEST}", cookie=kept))
    assert sum(name == "set-cookie" for name, _ in again.headers) == 1


def test_a_wrong_token_in_the_address_does_not_help():
    assert ask(scope_of(query="token=guess")).status == 403
    assert ask(scope_of(query="token=")).status == 403


def test_open_sockets_have_a_limit(monkeypatch):
    monkeypatch.setattr(gate, "MOST_SOCKETS", 2)
    served = Served()

    async def crowd():
        ended = asyncio.Event()

        async def receive():
            await ended.wait()
            return {"type": "websocket.disconnect"}

        async def send(message):
            served.sent.append(message)

        guarded = Gate(served)
        scope = scope_of("websocket", "/_stcore/stream", cookie=COOKIE)
        tasks = [asyncio.create_task(guarded(scope, receive, send)) for _ in range(5)]
        await asyncio.sleep(0)
        ended.set()
        await asyncio.gather(*tasks)

    asyncio.run(crowd())
    kinds = [message["type"] for message in served.sent]
    assert (kinds.count("websocket.accept"), kinds.count("websocket.close")) == (2, 3)


def test_without_words_nobody_is_let_in(monkeypatch):
    monkeypatch.delenv(OWNER_VARIABLE)
    monkeypatch.delenv(GUEST_VARIABLE)
    for query, cookie in (("token=", ""), ("", f"{token_cookie(8501)}=")):
        assert ask(scope_of(query=query, cookie=cookie)).status == 403
