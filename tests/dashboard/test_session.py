"""What a session keeps between runs of a page: taps, choices, the address, the way back."""

from typing import Any

import streamlit as st

from lensyard.dashboard import session
from lensyard.dashboard.controls import Controls
from lensyard.domain.field import HashMark


def test_a_tap_is_taken_over(monkeypatch):
    kept = session.SessionState(Controls(), {})
    tap = {"kind": "ball", "yardline_100": 12, "hash": "right"}
    state = _State({"next_state": kept, session.FIELD_KEY: {"tap": tap}})
    monkeypatch.setattr(st, "session_state", state)
    session.take_tap()
    assert kept.controls.yardline_100 == 12
    assert state["next_yardline_100"] == 12
    assert state["next_hash_mark"] == "right"
    assert session.current().issues == ()
    state[session.FIELD_KEY] = {"tap": {"kind": "stand", "station": 10**6}}
    session.take_tap()
    assert "station must be between" in session.current().issues[0]
    assert kept.controls.yardline_100 == 12


class Browser:
    """A browser that lags behind: an address and widgets' values, as its requests carry them."""

    def __init__(self, monkeypatch):
        self.state = _State()
        self.address = _Query()
        monkeypatch.setattr(st, "session_state", self.state)
        monkeypatch.setattr(st, "query_params", self.address)

    def request(self, address, *, cut_short=False, **widgets):
        """One run: widgets that hold another value than the session are chosen first."""
        self.address.from_dict(address)
        for name, value in widgets.items():
            if self.state[session.key_of(name)] != value:
                self.state[session.key_of(name)] = value
                session.choose(name)
        run = session.one_run()
        controls = run.__enter__()
        if not cut_short:
            run.__exit__(None, None, None)
        return controls


class _State(dict[str, Any]):
    to_dict = dict.copy


class _Query(dict[str, list[str]]):
    def get_all(self, name):
        return self[name]

    def from_dict(self, query):
        self.clear()
        self.update(query)


FIRST = {"down": ["3"], "distance": ["7"], "ball": ["own25"]}


def test_an_old_value_from_a_browser_behind_undoes_nothing(monkeypatch):
    browser = Browser(monkeypatch)
    browser.request(FIRST)
    assert browser.request(FIRST, cut_short=True, down=1).distance_yd == 10
    # The browser has not seen the ten yards yet when the hash mark is pressed.
    controls = browser.request(FIRST, down=1, distance_yd=7, hash_mark=HashMark.LEFT)
    assert (controls.down, controls.distance_yd, controls.hash_mark) == (1, 10, HashMark.LEFT)


def test_the_same_value_from_a_browser_in_step_is_a_choice(monkeypatch):
    browser = Browser(monkeypatch)
    browser.request(FIRST)
    browser.request(FIRST, down=1)
    caught_up = dict(browser.address)
    assert caught_up["distance"] == ["10"]
    assert browser.request(caught_up, down=1, distance_yd=7).distance_yd == 7


def test_an_old_address_after_a_run_cut_short_undoes_nothing(monkeypatch):
    browser = Browser(monkeypatch)
    browser.request(FIRST)
    browser.request(FIRST, cut_short=True, down=4)
    assert browser.request(FIRST).down == 4
    assert browser.address["down"] == ["4"]


def test_an_old_address_in_a_quiet_run_is_the_way_back(monkeypatch):
    browser = Browser(monkeypatch)
    browser.request(FIRST)
    browser.request(FIRST, down=4)
    assert browser.request(FIRST).down == 3


def test_who_comes_back_from_another_page_finds_the_situation(monkeypatch):
    browser = Browser(monkeypatch)
    session.note_page("next")
    browser.request(FIRST)
    browser.request(FIRST, down=4)
    session.note_page("gear")
    session.note_page("next")
    assert browser.request({}).down == 4
    assert browser.address["down"] == ["4"]
    session.note_page("next")
    assert browser.request({}).down == 1  # here, it is the way back to the bare address
