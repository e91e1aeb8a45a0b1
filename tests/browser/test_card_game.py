"""A bundled game tapped through the card, every snap compared, the taps counted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from tests.support.replay import (
    PRO_2019,
    Row,
    differences,
    games_of,
    opening,
    result_of,
    state_at,
    team_of,
)
from tests.support.replay import after as following

from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError
from lensyard.features.card.compute import card_content
from lensyard.features.card.report import card_html
from lensyard.game.document import read_card_export
from lensyard.game.entry import Result, Team
from lensyard.game.rules import GAME_RULES
from lensyard.game.state import MOVES, GameState, Phase, PlayResult, apply, end_quarter, kickoff_out
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest

pytestmark = [pytest.mark.browser, pytest.mark.slow]
MOST_TAPS = 2.2
_GAME = "() => JSON.parse(Object.values(localStorage)[0]).game"


def whole_game() -> list[Row]:
    """The first game of 2019 all of whose snaps follow by the rules, without overtime."""
    for game in games_of(2019):
        state, right = opening(game[0]), game[-1]["quarter"] == 4
        for play, then in pairwise(game):
            try:
                state = following(state, play, then)
            except InvalidInputError:
                right = False
            if not right or differences(state, then):
                right = False
                break
        if right:
            return game
    raise AssertionError("no game of 2019 follows by the rules")


class Thumb:
    """Taps on the card, and counts."""

    def __init__(self, tab: Any) -> None:
        self.tab = tab
        self.taps = 0

    def say(self, *names: str) -> None:
        for name in names:
            self.tab.tap(f"[data-result='{name}']")
            self.taps += 1

    def ball(self, state: GameState, yardline_100: int) -> None:
        along = 110 - yardline_100 if state.direction == 1 else yardline_100 + 10
        x, y = self.tab.evaluate(
            """(along) => {
              const svg = document.querySelector("#picture svg");
              const layer = svg.querySelector("[data-affine]");
              const [a, b, c, d, e, f] = layer.dataset.affine.split(" ").map(Number);
              const [x, y] = [along, 80 / 3], under = a * e - b * d;
              const at = new DOMPoint((e * (x - c) - b * (y - f)) / under,
                (a * (y - f) - d * (x - c)) / under).matrixTransform(svg.getScreenCTM());
              return [at.x, at.y];
            }""",
            along,
        )
        self.tab.touchscreen.tap(x, y)
        self.taps += 1

    def play(self, state: GameState, result: PlayResult) -> None:
        """Tap what a play turned into, in as few taps as the card needs."""
        kind, ball = result.kind, result.yardline_100
        if kind is Result.INCOMPLETE:
            self.say("incomplete" if state.phase is Phase.SCRIMMAGE else "missed")
        elif kind is Result.FIELD_GOAL:
            self.say(*(("kick", "good") if state.phase is Phase.SCRIMMAGE else ("good",)))
        elif kind is Result.MISSED and state.phase is Phase.TRY:
            self.say("missed")
        elif kind is Result.MISSED and ball is None:
            self.say("kick", "missed")
        elif state.phase is Phase.TRY and kind in MOVES:
            self.say("two")
        elif kind is Result.NO_PLAY or (kind in MOVES and result.first_down):
            self.say("flag", *(("first",) if result.first_down else ()))
            self.ball(state, state.yardline_100 if ball is None else ball)
        elif kind in MOVES:
            self.ball(state, 0 if ball is None else ball)
        else:
            self.given_away(state, result)

    def given_away(self, state: GameState, result: PlayResult) -> None:
        kick = result.kind in (Result.KICK, Result.KICK_KEPT, Result.MISSED)
        opened = [] if state.phase is Phase.KICKOFF else ["kick" if kick else "turnover"]
        if result.kind is Result.KICK_KEPT:
            self.say(*opened, "kept")
            self.ball(state, result.yardline_100 or 0)
        elif not result.yardline_100:
            self.say(*opened, "touchback")
        elif result.yardline_100 == 100:
            self.say(*opened, "returned")
        elif state.phase is Phase.KICKOFF and result == kickoff_out(state):
            self.say("out")
        else:
            self.say(*opened)
            self.ball(state, result.yardline_100)


@pytest.fixture
def tab(browser: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    monkeypatch.setitem(GAME_RULES, "pro", PRO_2019)
    content = card_content(
        load_context(), PlanRequest(DEMO_KIT, standard_venue("pro")), longest_yd=10
    )
    path = tmp_path / "card.html"
    path.write_text(card_html(content), encoding="utf-8")
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True, offline=True
    )
    page = context.new_page()
    page.goto(path.as_uri())
    page.wait_for_selector("html[data-ready]", timeout=15_000)
    yield page
    context.close()


def test_a_game_goes_through_the_card_in_few_taps(tab: Any) -> None:
    game = whole_game()
    state = opening(game[0])
    thumb = Thumb(tab)
    if team_of(game[0]) is Team.AWAY:
        tab.tap("#possession")
    tab.tap("#down [data-value='kickoff']")
    state = replace(state, direction=tab.evaluate(_GAME)["direction"])
    for play, then in pairwise(game):
        assert shown(tab) == expected(state_at(play, like=state)), play
        result = result_of(state, play, then)
        thumb.play(state, result)
        state = apply(state, result)
        if play["penalty"] and state.phase in (Phase.TRY, Phase.KICKOFF):
            if state.yardline_100 != then["yardline_100"]:
                thumb.play(state, PlayResult(Result.NO_PLAY, then["yardline_100"]))
            state = apply(state, PlayResult(Result.NO_PLAY, then["yardline_100"]))
        while state.quarter < then["quarter"]:
            thumb.say("quarter")
            state = end_quarter(state)
    plays = len(game) - 1
    assert thumb.taps / plays <= MOST_TAPS, f"{thumb.taps} taps for {plays} plays"
    tab.tap("#to-more")
    tab.tap("#save")
    read = read_card_export(tab.locator("#text").input_value())
    logged = [
        (one.down or 0, one.distance_yd or 0, one.yardline_100, one.score_diff, one.offense)
        for one in read.plays
    ]
    known = [
        (row["down"], row["distance_yd"], row["yardline_100"], row["score_diff"], team_of(row))
        for row in game[:-1]
        if row["kind"] != "two_point"
    ]
    assert set(known) <= set(logged)


def shown(tab: Any) -> dict[str, Any]:
    game = tab.evaluate(_GAME)
    return {name: game[name] for name in NAMES}


NAMES = ("phase", "offense", "direction", "yardline_100", "down", "distance_yd", "quarter")


def expected(state: GameState) -> dict[str, Any]:
    found = {name: getattr(state, name) for name in NAMES}
    if state.phase is Phase.TRY and state.yardline_100 == PRO_2019.two_points_from:
        found["yardline_100"] = PRO_2019.try_from  # for two they choose the nearer spot
    return found
