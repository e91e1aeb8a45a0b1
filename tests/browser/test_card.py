"""The offline card in a real browser, on a phone: the library's answers, and no network."""

import json
from dataclasses import replace

import numpy as np
import pytest

from lensyard.domain.assignment import FRAMES, USABLE_WEIGHTS
from lensyard.domain.field import Direction, HashMark
from lensyard.domain.places import spot_label
from lensyard.domain.situation import Situation, parse_ball
from lensyard.features.card.grid import MOMENTS
from lensyard.features.card.planes import CardTables
from lensyard.features.card.report import card_html
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.game.document import read_card_export
from lensyard.model.context import load_context
from lensyard.planner.decision import decide
from lensyard.render.words import percent
from lensyard.spots.kicks import kicks_of

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 844}
LEAST_TARGET_PX = 44.0
LEAST_LABEL_PX = 13.0
# Tolerance around the border between two shown percents, and between two places: a batch and a
# single call add single precision numbers up in another order, less than 1e-6 of a probability.
BORDER = 1e-6
STANDING, UNSAID, AT_A_MOMENT = 330, 90, 40

# Drives the card's own controls: buttons are pressed, the slider is moved, the field is tapped at
# the place of a station; then it reads what the page says.
_ASK = """(cases) => {
  const press = (id, value) => document.querySelector(`#${id} [data-value="${value}"]`).click();
  const read = (id) => document.getElementById(id).textContent;
  return cases.map((one) => {
    press("mode", false);
    press("ends", one.direction === "A" ? -1 : 1);
    press("down", one.down);
    press("hash", one.hash);
    const ball = document.getElementById("ball");
    ball.value = one.direction === "A" ? one.yardline : 100 - one.yardline;
    ball.dispatchEvent(new Event("input", { bubbles: true }));
    press("distance", one.distance);
    if (one.standing === null) document.getElementById("stand-clear").click();
    else {
      const dot = document.querySelector(`[data-station="${one.standing}"]`);
      const box = dot.getBoundingClientRect();
      for (const kind of ["pointerdown", "pointerup"])
        dot.ownerSVGElement.dispatchEvent(new PointerEvent(kind, {
          bubbles: true, clientX: box.x + box.width / 2, clientY: box.y + box.height / 2,
        }));
    }
    return { where: read("where"), p: read("p"), go: read("go"), stand: read("stand-text"),
             situation: read("situation") };
  });
}"""
_AT = """({lead, quarter, hurry}) => {
  const press = (id, value) => document.querySelector(`#${id} [data-value="${value}"]`).click();
  press("quarter", quarter);
  for (let i = 0; i < Math.abs(lead); i++) press("score", lead > 0 ? "home+" : "away+");
  if (hurry) document.getElementById("hurry").click();
}"""
_GAME = "() => JSON.parse(Object.values(localStorage)[0]).game"


@pytest.fixture(scope="module")
def context():
    return load_context()


@pytest.fixture(scope="module")
def phone(browser):
    made = browser.new_context(
        viewport=PHONE, is_mobile=True, has_touch=True, offline=True, accept_downloads=True
    )
    yield made
    made.close()


@pytest.fixture
def card(phone, card_file):
    tab = phone.new_page()
    wrong: list[str] = []
    asked: list[str] = []
    tab.on("pageerror", lambda error: wrong.append(str(error)))
    tab.on("console", lambda message: wrong.append(message.text))
    tab.on("request", lambda one: asked.append(one.url))
    opened(tab, card_file)
    yield tab
    tab.evaluate("localStorage.clear()")
    tab.close()
    assert wrong == []
    assert [url for url in asked if not url.startswith(("file:", "blob:"))] == []


def opened(tab, path):
    tab.goto(path.as_uri())
    tab.wait_for_selector("html[data-ready]", timeout=60_000)


def cases(solved, n, *, standing, seed):
    rng = np.random.default_rng(seed)
    stations = len(solved.scorers[0].perimeter)
    drawn = []
    for _ in range(n):
        yardline = int(rng.integers(1, 100))
        drawn.append(
            {
                "direction": str(rng.choice(["A", "B"])),
                "down": int(rng.integers(1, 5)),
                "yardline": yardline,
                "distance": int(rng.integers(1, min(10, yardline) + 1)),
                "hash": str(rng.choice(["left", "middle", "right", "any"])),
                "standing": int(rng.integers(stations)) if standing else None,
            }
        )
    return drawn


def situation_of(case):
    mark = None if case["hash"] == "any" else HashMark(case["hash"])
    return Situation(case["down"], case["distance"], case["yardline"], hash_mark=mark)


def direction_of(case):
    return Direction.TOWARD_A if case["direction"] == "A" else Direction.TOWARD_B


def shown(p):
    return {percent(min(max(q, 0.0), 1.0)) for q in (p - BORDER, p, p + BORDER)} | {percent(p)}


def test_with_a_standing_place_the_card_says_what_the_plan_decides(card, content, context):
    asked = cases(content.solved, STANDING, standing=True, seed=1)
    walked = sum(
        require_decided(context, content.solved, case, situation_of(case), said)
        for case, said in zip(asked, card.evaluate(_ASK, asked), strict=True)
    )
    assert 50 < walked < STANDING - 20  # both kinds of answer were compared
    stored = {entry.prediction for entry in content.packed.entries}
    assert {"shorter", "mirrored", "like", "opposite"} <= stored


@pytest.mark.parametrize("moment", MOMENTS, ids=lambda moment: moment.name)
def test_score_and_tempo_move_the_card_as_they_move_the_plan(card, content, context, moment):
    solved = CardTables(context, content.request, content.solved).plan(moment)
    asked = [{**case, "hash": "any"} for case in cases(solved, AT_A_MOMENT, standing=True, seed=4)]
    at = {"score_diff": moment.score_diff, "quarter": moment.quarter, "clock_s": moment.clock_s}
    card.evaluate(_AT, {"lead": moment.score_diff, "quarter": moment.quarter,
                        "hurry": moment.clock_s <= 120.0})  # fmt: skip
    for case, said in zip(asked, card.evaluate(_ASK, asked), strict=True):
        require_decided(context, solved, case, replace(situation_of(case), **at), said)


def require_decided(context, solved, case, situation, said):
    """Hold what the card said to what a plan decides; return whether that is a walk."""
    direction = direction_of(case)
    scorer = solved.scorer(direction)
    here = int(np.flatnonzero(scorer.stations == case["standing"])[0])
    decision = decide(context, solved, situation, standing=here, direction=direction)
    x, y = scorer.xy_yd
    to = decision.station
    assert said["stand"] == spot_label(x_yd=float(x[here]), y_yd=float(y[here])), case
    label = spot_label(x_yd=float(x[to]), y_yd=float(y[to]))
    assert said["where"].lower() == label.lower(), case
    forecast = context.forecast(situation)
    mass = forecast.cells(context.prior(solved.request.venue.rules), USABLE_WEIGHTS)[0]
    usable, kicks = scorer.expected_value(mass), kicks_of(context, forecast, scorer)
    usable = usable if kicks is None else kicks.mixed(usable)
    p = 0.0 if decision.snaps_missed else float(np.clip(usable[0, to], 0, 1))
    assert said["p"] in shown(p), case
    go = said["go"].rpartition(": ")[2].lower()  # after "nothing pays", where nothing does
    if decision.stay:
        assert go == "stay where you are", case
        return False
    how = "cross behind closed ground," if decision.snaps_missed else "walk"
    assert go.startswith(f"{how} {decision.walk_yd:.0f} yd, "), case
    return True


def test_without_a_standing_place_the_card_names_the_first_spot_of_the_library(
    card, content, context
):
    request_ = content.request
    asked = cases(content.solved, UNSAID, standing=False, seed=2)
    for case, said in zip(asked, card.evaluate(_ASK, asked), strict=True):
        request = NextRequest(
            situation_of(case),
            kit=request_.kit,
            venue=request_.venue,
            assignment=request_.assignment,
            direction=direction_of(case),
            top=2,
        )
        first, *others = next_play(context, request).ranking.spots
        alike = [spot for spot in others if spot.p_usable > first.p_usable - BORDER]
        names = {spot.label.lower() for spot in (first, *alike)}
        assert said["where"].lower() in names, case
        assert said["p"] in shown(first.p_usable), case


def test_after_a_change_of_possession_the_longer_walk_is_the_library_s(card, content, context):
    solved = content.solved
    limit = solved.request.walking.change_limit_yd
    rng = np.random.default_rng(3)
    longer = 0
    for yardline, station in zip(rng.integers(1, 100, 40), rng.integers(0, 190, 40), strict=True):
        before = {
            "direction": "A", "down": 2, "yardline": 100 - int(yardline), "distance": 1,
            "hash": "any", "standing": int(station) % len(solved.scorers[0].perimeter),
        }  # fmt: skip
        card.evaluate(_ASK, [before])
        card.locator("#possession").click()
        scorer = solved.scorer(Direction.TOWARD_B)
        here = int(np.flatnonzero(scorer.stations == before["standing"])[0])
        situation = Situation(1, min(10, int(yardline)), int(yardline))
        decision = decide(context, solved, situation, standing=here, limit_yd=limit)
        x, y = scorer.xy_yd
        go = decision.station
        label = spot_label(x_yd=float(x[go]), y_yd=float(y[go]))
        assert card.locator("#where").inner_text().lower() == label.lower()
        assert card.locator("#possession").inner_text().endswith("end B ▶")
        longer += decision.walk_yd > solved.request.walking.drive_limit_yd
    assert longer > 0


def test_a_finger_is_enough(card):
    card.tap("#down [data-value='3']")
    card.tap("#distance [data-value='7']")
    box = card.locator("#picture svg").bounding_box()
    card.touchscreen.tap(box["x"] + 0.6 * box["width"], box["y"] + 0.5 * box["height"])
    ball = card.locator("#ball-text").inner_text()
    assert ball.startswith("opp ")
    assert 30 <= int(ball.removeprefix("opp ")) <= 42  # the tap at three fifths of the picture
    assert card.locator("#situation").inner_text() == f"3rd & 7, {ball}"
    card.touchscreen.tap(box["x"] + 0.6 * box["width"], box["y"] + 4)
    assert "left sideline" in card.locator("#stand-text").inner_text()
    before = card.locator("#stand-text").inner_text()
    card.tap("#stand-on")
    assert card.locator("#stand-text").inner_text() != before


def test_ticks_taps_and_log_survive_a_reload(card, card_file):
    card.tap("#to-shots")
    card.locator("[data-frame='touchdown']").check()
    card.tap("#to-play")
    card.tap("#mode [data-value='true']")
    card.tap("[data-result='incomplete']")
    before = card.locator("#situation").inner_text()
    opened(card, card_file)
    assert card.locator("#situation").inner_text() == before
    card.tap("#to-shots")
    assert card.locator("[data-frame='touchdown']").is_checked()
    assert card.locator("#to-shots").inner_text() == f"Shots 1/{len(FRAMES)}"
    card.tap("#to-more")
    assert card.locator("#log li").count() == 1


def test_the_log_is_saved_as_the_documented_json(card, content, tmp_path):
    asked = {"direction": "A", "down": 3, "yardline": 35, "distance": 7, "hash": "left"}
    card.evaluate(_ASK, [{**asked, "standing": 40}])
    label = card.locator("#where").inner_text()
    card.tap("#quarter [data-value='2']")
    card.tap("#mode [data-value='true']")
    card.tap("[data-result='incomplete']")
    card.tap("[data-result='kick']")
    card.tap("[data-result='good']")
    card.tap("#to-shots")
    card.locator("[data-frame='drop-back']").check()
    card.tap("#to-more")
    with card.expect_download() as waiting:
        card.tap("#save")
    path = tmp_path / "log.json"
    waiting.value.save_as(path)
    log = json.loads(path.read_text(encoding="utf-8"))
    assert (log["format"], log["version"]) == ("lensyard-card-export", 2)
    assert log["card"]["key"] == content.solved.key
    assert log["card"]["model"] == content.model["id"]
    assert [tick["frame"] for tick in log["ticks"]] == ["drop-back"]
    first, second = log["plays"]
    expected = {
        "direction": "A", "down": 3, "distance_yd": 7, "yardline_100": 35, "hash": "left",
        "quarter": 2, "ball_changed_hands": False, "result": "incomplete", "offense": "home",
    }  # fmt: skip
    assert {key: first[key] for key in expected} == expected
    assert parse_ball(first["ball"]) == 35
    assert first["answer"]["label"].lower() == label.lower()
    assert (second["down"], second["result"]) == (4, "field-goal")
    read = read_card_export(path.read_text(encoding="utf-8"))
    assert [(play.down, play.yardline_100) for play in read.plays] == [(3, 35), (4, 35)]
    assert card.evaluate(_GAME)["home_points"] == 3
    assert read.ticks == ("drop-back",)


def test_one_look_holds_answer_and_field_and_nothing_moves(card):
    def tops():
        found: list[float] = card.evaluate(
            """() => ["possession", "picture", "mode"].map(
              (id) => document.getElementById(id).getBoundingClientRect().top)"""
        )
        return found

    card.tap("#mode [data-value='true']")
    before = tops()
    assert card.evaluate("document.documentElement.scrollTop") == 0
    bottom = card.evaluate("document.getElementById('take-back').getBoundingClientRect().bottom")
    nav = card.evaluate("document.querySelector('nav').getBoundingClientRect().top")
    assert bottom <= nav
    for ball in (0.3, 0.5, 0.7):
        at_ball(card, ball)
        assert tops() == before
    sizes = card.evaluate(
        """() => [...document.querySelectorAll("#picture text")].map((e) =>
          parseFloat(getComputedStyle(e).fontSize) * e.ownerSVGElement.getScreenCTM().a)"""
    )
    assert min(sizes) >= LEAST_LABEL_PX - 0.1


def at_ball(card, share):
    """Tap the field at a share of its picture's width."""
    box = card.locator("#picture svg").bounding_box()
    card.touchscreen.tap(box["x"] + share * box["width"], box["y"] + 0.5 * box["height"])


def test_one_tap_logs_a_play_and_undo_takes_it_back(card):
    card.tap("#mode [data-value='true']")
    start = card.evaluate(_GAME)
    at_ball(card, 0.34)
    after = card.evaluate(_GAME)
    assert (after["down"], after["distance_yd"]) == (2, 10 - (75 - after["yardline_100"]))
    card.tap("#take-back")
    assert card.evaluate(_GAME) == start
    card.tap("[data-result='quarter']")
    assert card.locator("#possession").inner_text().startswith("◀ end A")
    card.tap("#take-back")
    assert card.evaluate(_GAME) == start
    assert card.locator("#take-back").is_disabled()


def test_two_tabs_of_one_card_never_lose_a_play(card, phone, card_file):
    def logged(tab):
        found: list[str] = tab.evaluate(
            "() => JSON.parse(Object.values(localStorage)[0]).plays.map((play) => play.result)"
        )
        return found

    card.tap("#mode [data-value='true']")
    other = phone.new_page()
    opened(other, card_file)
    card.tap("[data-result='incomplete']")
    # The other tab goes on from there.
    other.wait_for_function("document.getElementById('situation').textContent.startsWith('2nd')")
    other.tap("[data-result='incomplete']")
    card.bring_to_front()
    card.wait_for_function("document.getElementById('situation').textContent.startsWith('3rd')")
    at_ball(card, 0.5)
    assert logged(card) == ["incomplete", "incomplete", "gain"]
    other.wait_for_function("document.querySelectorAll('#log li').length === 3")
    card.tap("#take-back")
    other.bring_to_front()
    other.wait_for_function("document.querySelectorAll('#log li').length === 2")
    other.tap("[data-result='incomplete']")  # nothing comes back that was taken back
    assert logged(other) == ["incomplete"] * 3
    other.close()


@pytest.mark.parametrize(
    "stored",
    [
        "{", "null", "7", "[]", '{"plays": 1, "game": [], "ticks": "x"}',
        '{"plays": [null, 1, {"at": "x"}, {"at": "2026-10-03T19:00:00Z", "direction": "C"}]}',
        '{"past": [null], "game": {"phase": "scrimmage", "yardline_100": 1e9}, "standing": "a"}',
    ],
)  # fmt: skip
def test_stored_nonsense_is_ignored(card, card_file, stored):
    card.tap("#mode [data-value='true']")
    card.tap("[data-result='incomplete']")
    card.evaluate("(text) => localStorage.setItem(Object.keys(localStorage)[0], text)", stored)
    card.tap("[data-result='incomplete']")  # what this tab has is kept over it
    assert card.locator("#unkept").is_hidden()
    card.evaluate("(text) => localStorage.setItem(Object.keys(localStorage)[0], text)", stored)
    opened(card, card_file)
    assert card.locator("#log li").count() == 0
    card.tap("#mode [data-value='true']")
    card.tap("[data-result='incomplete']")
    assert card.locator("#log li").count() == 1


def test_full_storage_is_said_where_one_taps(card):
    card.tap("#mode [data-value='true']")
    card.evaluate("() => { Storage.prototype.setItem = () => { throw new Error('full'); }; }")
    card.tap("[data-result='incomplete']")
    said = card.locator("#unkept")
    assert "save the log" in said.inner_text()
    assert said.is_visible()
    assert said.bounding_box()["y"] < PHONE["height"]


def test_the_card_counts_down_to_the_desk(phone, content, tmp_path):
    filing = [{"quarter": 2, "left_s": 180.0, "at": None, "when": "quarter 2, 3:00 left"}]
    (tmp_path / "card.html").write_text(card_html(content, filing=filing), encoding="utf-8")
    tab = phone.new_page()
    opened(tab, tmp_path / "card.html")
    tab.evaluate("localStorage.clear()")
    opened(tab, tmp_path / "card.html")
    said = tab.locator("#filing")
    # Two quarters of 15 minutes less three; a play takes 22 s of the clock.
    assert "in about 27:00 of the clock, some 74 plays: quarter 2" in said.inner_text()
    tab.tap("#mode [data-value='true']")
    tab.tap("[data-result='incomplete']")
    assert "in about 26:38 of the clock" in said.inner_text()
    opened(tab, tmp_path / "card.html")  # a reload keeps the clock
    assert "in about 26:38 of the clock" in said.inner_text()
    tab.tap("#take-back")
    tab.tap("[data-result='quarter']")
    assert "in about 12:00 of the clock" in said.inner_text()
    tab.tap("#filing-part summary")
    tab.tap("#clock [data-value='240']")
    assert "in about 1:00 of the clock, some 3 plays" in said.inner_text()
    tab.tap("#clock [data-value='180']")
    assert said.inner_text() == "Leave for the desk now."
    tab.tap("[data-result='quarter']")
    assert said.is_hidden()
    tab.evaluate("localStorage.clear()")
    tab.close()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_nothing_is_too_small_or_sticks_out(card, theme):
    card.emulate_media(color_scheme=theme)
    for page in ("#to-play", "#to-shots", "#to-more"):
        card.tap(page)
        assert card.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
        sizes = card.evaluate(
            """() => [...document.querySelectorAll("button, input, label, summary, textarea")]
              .filter((e) => !e.closest("label") || e.tagName === "LABEL")
              .map((e) => [e.id || e.textContent, e.getBoundingClientRect()])
              .filter(([, box]) => box.width > 0)
              .map(([name, box]) => [name, box.width, box.height, box.left, box.right])"""
        )
        assert sizes
        for name, width, height, left, right in sizes:
            assert min(width, height) >= LEAST_TARGET_PX, name
            assert left >= 0, name
            assert right <= PHONE["width"], name


def test_the_look_follows_the_phone_and_can_be_set(card):
    def ground():
        color: str = card.evaluate("getComputedStyle(document.body).backgroundColor")
        return color

    card.emulate_media(color_scheme="light")
    light = ground()
    card.emulate_media(color_scheme="dark")
    dark = ground()
    assert light != dark
    card.tap("#to-more")
    card.tap("#theme [data-value='light']")
    assert ground() == light


def test_words_of_a_venue_are_text_and_never_markup(card):
    assert card.locator("main i").count() == 0
    assert "<i>" in card.locator("#picture desc").evaluate("e => e.textContent")


def test_nothing_can_be_fetched_from_the_card(phone, card_file):
    tab = phone.new_page()
    said: list[str] = []
    tab.on("console", lambda message: said.append(message.text))
    opened(tab, card_file)
    assert said == []
    tab.evaluate('fetch("https://example.invalid/").catch(() => null)')
    tab.close()
    assert any("Content Security Policy" in text for text in said)
