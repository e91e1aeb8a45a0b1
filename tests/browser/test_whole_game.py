"""A bundled game tapped through card and page, every snap compared, the taps counted."""

import json
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise

import pytest
from tests.support.replay import (
    after,
    differences,
    games_of,
    opening,
    result_of,
    state_at,
    team_of,
)

from lensyard.errors import InvalidInputError
from lensyard.game.course import next_text
from lensyard.game.document import read_card_export
from lensyard.game.entry import Game, Result, Team
from lensyard.game.rules import GAME_RULES
from lensyard.game.state import (
    MOVES,
    Phase,
    PlayResult,
    apply,
    end_quarter,
    kickoff_out,
    start_of,
)

pytestmark = pytest.mark.browser
MOST_TAPS = 2.2
RULES = GAME_RULES["pro"]
GAME = Game(
    game_id="x",
    home="Home",
    away="Visitors",
    season=2019,
    started_at=datetime(2019, 9, 5, tzinfo=UTC),
)
Snap = tuple[int, int, int, int, str]
_GAME = "() => JSON.parse(Object.values(localStorage)[0]).game"


@pytest.fixture(scope="module")
def rows():
    """The first game of 2019 all of whose snaps follow by the rules, without overtime."""
    for game in games_of(2019):
        state, right = opening(game[0]), game[-1]["quarter"] == 4
        for play, then in pairwise(game):
            try:
                state = after(state, play, then)
            except InvalidInputError:
                right = False
            if not right or differences(state, then):
                right = False
                break
        if right:
            return game
    raise AssertionError("no game of 2019 follows by the rules")


class Thumb:
    """Taps, and counts; a face says how a button and a place of the field are tapped."""

    taps = 0

    def say(self, *names):
        """Press what was said of a play."""
        raise NotImplementedError

    def ball(self, state, yardline_100):
        """Tap where the ball is now, as the team sees it that snapped or kicked."""
        raise NotImplementedError

    def play(self, state, result):
        """Tap what a play turned into, in as few taps as the face needs."""
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

    def given_away(self, state, result):
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


class CardThumb(Thumb):
    """Taps on the card."""

    def __init__(self, tab):
        self.tab = tab

    def say(self, *names):
        for name in names:
            self.tab.tap(f"[data-result='{name}']")
            self.taps += 1

    def ball(self, state, yardline_100):
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

    def expect(self, state, plays):
        """Hold what the card has to a state."""
        names = ("phase", "offense", "direction", "yardline_100", "down", "distance_yd", "quarter",
                 "home_points", "away_points")  # fmt: skip
        found = self.tab.evaluate(_GAME)
        assert {name: found[name] for name in names} == {n: getattr(state, n) for n in names}, plays


class PageThumb(Thumb):
    """Taps on the page "Next play"."""

    def __init__(self, page):
        self.page, self.tab = page, page.tab

    def say(self, *names):
        for name in names:
            self.tab.locator(f".st-key-ly_say_{name} button").tap()
            self.taps += 1
            if name in ("kick", "kept", "turnover", "flag", "first", "score"):
                self.tab.locator(".st-key-ly_say_back button").wait_for()
                self.tab.locator(f".st-key-ly_say_{name} button").wait_for(state="detached")

    def ball(self, state, yardline_100):
        # The field is drawn as the team sees it that snaps next: of a kickoff the receivers.
        kickoff = state.phase is Phase.KICKOFF
        self.page.tap(x_yd=10 + yardline_100 if kickoff else 110 - yardline_100, y_yd=80 / 3)
        self.taps += 1

    def expect(self, state, plays):
        """Wait until a state is shown, and so many plays are logged."""
        if plays:
            done = self.tab.get_by_text(f"Play {plays} is", exact=False)
            done.first.wait_for()
        self.tab.get_by_text(next_text(state, GAME), exact=False).first.wait_for()
        self.page.settle()


def tapped_through(thumb, rows, state):
    """Tap a game from its opening kickoff; return the end, and the snaps that were logged."""
    snaps: list[Snap] = []

    def tell(result):
        nonlocal state
        snaps.append(
            (state.down or 0, state.distance_yd or 0, state.yardline_100, state.score_diff,
             state.offense.value)
        )  # fmt: skip
        before = thumb.taps
        thumb.play(state, result)
        usual = result.kind in (*MOVES, Result.INCOMPLETE) and not result.first_down
        assert thumb.taps - before <= (1 if usual else 3), result
        state = apply(state, result)

    for play, then in pairwise(rows):
        said = state_at(play, like=state)
        if play["kind"] == "two_point":  # for two they choose the nearer spot
            said = replace(said, yardline_100=RULES.try_from)
        assert state == replace(said, home_points=state.home_points, clock_s=None), play
        assert state.score_diff == play["score_diff"], play
        thumb.expect(state, len(snaps))
        result = result_of(state, play, then)
        if state.phase is Phase.KICKOFF and result.kind is Result.KICK and not result.yardline_100:
            result = PlayResult(Result.KICK, 25)  # that season's touchback, not today's
        tell(result)
        if play["penalty"] and state.phase in (Phase.TRY, Phase.KICKOFF):
            if state.yardline_100 != then["yardline_100"]:
                tell(PlayResult(Result.NO_PLAY, then["yardline_100"]))
            else:
                state = apply(state, PlayResult(Result.NO_PLAY, then["yardline_100"]))
        while state.quarter < then["quarter"]:
            thumb.expect(state, len(snaps))
            thumb.say("quarter")
            state = end_quarter(state)
    thumb.expect(state, len(snaps))
    assert thumb.taps / len(snaps) <= MOST_TAPS, f"{thumb.taps} taps for {len(snaps)} plays"
    return state, snaps


@pytest.fixture
def card(browser, card_file):
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True, offline=True
    )
    page = context.new_page()
    page.goto(card_file.as_uri())
    page.wait_for_selector("html[data-ready]", timeout=60_000)
    yield page
    context.close()


def start(rows):
    """The state before the opening kickoff, by today's rules."""
    kicking = team_of(rows[0])
    return replace(start_of(GAME, kicking=kicking), rules=RULES)


def test_a_game_goes_through_the_card_in_few_taps(card, rows, content):
    if team_of(rows[0]) is Team.AWAY:
        card.tap("#possession")
    card.tap("#down [data-value='kickoff']")
    _, snaps = tapped_through(CardThumb(card), rows, start(rows))
    card.tap("#to-more")
    card.tap("#save")
    read = read_card_export(card.locator("#text").input_value())
    logged = [
        (one.down or 0, one.distance_yd or 0, one.yardline_100, one.score_diff, one.offense)
        for one in read.plays
    ]
    assert logged == snaps


@pytest.mark.slow
def test_a_game_goes_through_the_page_in_few_taps(guest, rows, data_folder):
    guest.open(down="1", distance="10", ball="own25")
    guest.tab.get_by_role("button", name="Log this game").tap()
    guest.tab.get_by_role("button", name="Start the game").tap()
    guest.tab.get_by_role("button", name="Kickoff", exact=True).tap()
    guest.tab.get_by_text(next_text(start_of(GAME), GAME)).wait_for()
    if team_of(rows[0]) is Team.AWAY:
        guest.tab.locator(".st-key-ly_possession button").tap()
    _, snaps = tapped_through(PageThumb(guest), rows, start(rows))
    files = list(data_folder.glob("guests/*/games/*.json"))
    newest = max(files, key=lambda path: path.stat().st_mtime)
    plays = json.loads(newest.read_text(encoding="utf-8"))["plays"]
    assert [
        (one.get("down") or 0, one.get("distance_yd") or 0, one["yardline_100"],
         one["score_diff"], one["offense"])
        for one in plays
    ] == snaps  # fmt: skip
