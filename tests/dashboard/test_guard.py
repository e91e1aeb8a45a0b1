"""Whose log it is, and what a browser remembers."""

from typing import Any
from urllib.parse import quote, urlencode

import pytest
import streamlit as st
from hypothesis import given
from hypothesis import strategies as some

from lensyard.dashboard import guard
from lensyard.dashboard.controls import (
    KIT_COOKIE,
    Controls,
    from_address,
    from_memory,
    to_address,
    to_memory,
)
from lensyard.dashboard.gate import (
    GUEST_VARIABLE,
    OWNER_VARIABLE,
    guest_cookie,
    token_cookie,
)

OWNER, GUEST = "owner-word-0123456789", "guest-word-0123456789"


class Request:
    """What a browser's request brings."""

    def __init__(self, cookies, address=None):
        self.cookies = cookies
        self.ip_address = address
        self.headers = {"host": "192.0.2.7:8600"}


@pytest.fixture
def arrives(monkeypatch):
    """Let somebody arrive with cookies, an address on the network, and a query."""

    def arrived(cookies=None, *, address="192.0.2.7", query=None):
        monkeypatch.setattr(st, "session_state", {})
        monkeypatch.setattr(st, "query_params", query or {})
        monkeypatch.setattr(st, "context", Request(cookies or {}, address))

    return arrived


@pytest.fixture
def network(monkeypatch):
    monkeypatch.setenv(OWNER_VARIABLE, OWNER)
    monkeypatch.setenv(GUEST_VARIABLE, GUEST)


def test_without_a_network_only_this_computer_gets_in_and_what_lacks_is_said(arrives, capsys):
    guard._say_unguarded.cache_clear()
    arrives(address=None)
    assert [guard.role(), guard.role()] == [guard.Role.OWNER] * 2
    assert capsys.readouterr().err == f"{guard.UNGUARDED}\n"  # once, however many look
    arrives(address="192.0.2.7")
    assert guard.role() is None


@pytest.mark.usefixtures("network")
@pytest.mark.parametrize(
    ("word", "role"),
    [
        (OWNER, guard.Role.OWNER),
        (GUEST, guard.Role.GUEST),
        ("", None),
        (OWNER[:-1], None),
        (OWNER + "x", None),
        ("é", None),
    ],
)
def test_on_a_network_the_token_says_who_somebody_is(arrives, word, role):
    arrives({token_cookie(8600): word})
    assert guard.role() is role
    arrives({token_cookie(8501): word})  # of another dashboard on this computer
    assert guard.role() is None


@pytest.mark.usefixtures("network")
def test_who_is_refused_sees_nothing(open_page):
    app = open_page(token="guess")
    (error,) = app.error
    assert "address" in error.value
    assert not app.get("html")
    assert not app.button


@pytest.mark.usefixtures("network")
def test_every_guest_has_a_folder_of_their_own(arrives, data_folder):
    arrives({token_cookie(8600): OWNER})
    assert guard.data_folder() is None
    folders = []
    for _ in range(2):
        arrives({token_cookie(8600): GUEST})
        folders.append(guard.data_folder())
        assert guard.data_folder() == folders[-1]
    assert folders[0] != folders[1]
    assert all(folder.parent == data_folder / "guests" for folder in folders)


@pytest.mark.usefixtures("network")
@pytest.mark.parametrize("cookie", ["../../etc", "a/b", "x" * 2000, "short", ""])
def test_no_cookie_leads_out_of_the_guests_folder(arrives, data_folder, cookie):
    arrives({guest_cookie(8600): cookie, token_cookie(8600): GUEST})
    folder = guard.data_folder()
    assert folder is not None
    assert folder.parent == data_folder / "guests"
    assert cookie not in ("", folder.name)[1:]


KITS = some.sampled_from(["70-200, 400", "300", "70-200/2.8, 400/2.8", "24-70"])


@given(
    lenses=KITS,
    converter=some.sampled_from([1.0, 1.4]),
    bodies=some.sampled_from([None, 1, 2]),
    theme=some.sampled_from(["sunlight", "night"]),
    ball=some.integers(1, 99),
)
def test_a_browser_remembers_the_kit_and_nothing_of_the_game(
    lenses, converter, bodies, theme, ball
):
    chosen = Controls(
        lenses=lenses, converter=converter, bodies=bodies, theme=theme, yardline_100=ball
    )
    kept = from_memory(quote(urlencode(to_memory(chosen), doseq=True)))
    assert (kept.lenses, kept.converter, kept.bodies, kept.theme) == (
        lenses,
        converter,
        bodies,
        theme,
    )
    assert kept.yardline_100 == Controls().yardline_100


@given(own=KITS, chosen=KITS, bodies=some.sampled_from([None, 1, 2]))
def test_an_address_means_the_same_whatever_is_remembered(own, chosen, bodies):
    remembered = Controls(lenses=own, bodies=2 if "," in own else 1)
    controls = Controls(lenses=chosen, bodies=bodies if bodies != 2 or "," in chosen else 1)
    address = to_address(controls, usual=remembered)
    assert from_address(address, usual=remembered).controls == controls
    # To somebody without a memory it means the same unless both would say the usual.
    assert from_address(address).controls.lenses == chosen


@pytest.mark.parametrize(
    "cookie",
    ["", "%", "lens=wide", quote("venue=../../x"), quote("lens=" + "9," * 400), "x" * 5000],
)
def test_a_cookie_that_cannot_be_read_is_as_none(arrives, cookie):
    arrives({KIT_COOKIE: cookie})
    assert from_memory(guard.cookie(KIT_COOKIE)) == Controls()


def test_what_is_remembered_comes_back_through_the_cookie(arrives):
    chosen = Controls(lenses="300", converter=1.4, theme="night")
    text = quote(urlencode(to_memory(chosen), doseq=True), safe="")
    arrives({KIT_COOKIE: text})
    assert from_memory(guard.cookie(KIT_COOKIE)) == chosen
    assert not set(text) & set(' ;,="')  # RFC 6265, section 4.1.1


@pytest.mark.slow
def test_cookies_go_out_with_the_page(open_page):
    app = open_page()
    app.button(key="ly_got_it").click().run()
    written: dict[str, Any] = app.session_state["ly_cookies"]
    assert written == {guard.SEEN_COOKIE: "1"}
    app.button_group(key="next_theme").set_value("night").run()
    assert KIT_COOKIE in app.session_state["ly_cookies"]
