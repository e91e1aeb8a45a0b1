"""The page "Next play" in a real browser, on a laptop and on a phone."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import parse_qs, urlparse

import pytest

from lensyard.cli import main
from lensyard.render.theme import THEMES

pytestmark = pytest.mark.browser

SITUATION = {"down": "3", "distance": "7", "ball": "opp35"}


def query(page: Any) -> dict[str, str]:
    return {name: values[-1] for name, values in parse_qs(urlparse(page.tab.url).query).items()}


def bottom_px(page: Any, selector: str) -> float:
    box = page.tab.locator(selector).first.bounding_box()
    return float(box["y"] + box["height"])


def test_the_answer_is_seen_without_scrolling(dashboard: Any) -> None:
    dashboard.open(**SITUATION, standing="left:opp40")
    height = dashboard.tab.viewport_size["height"]
    for part in (".ly-lead h1", ".ly-why", ".ly-figures"):
        assert 0 < bottom_px(dashboard, part) <= height
    controls = dashboard.tab.get_by_role("radiogroup", name="Down").bounding_box()
    assert bottom_px(dashboard, ".ly-lead") <= controls["y"]


def test_from_opening_to_another_answer_in_three_taps(dashboard: Any) -> None:
    dashboard.open()
    dashboard.expect("1st and 10 at its own 25")
    dashboard.pick("Down", "2nd")
    dashboard.pick("Distance", "6")
    dashboard.tab.get_by_role("button", name="+", exact=True).click()
    dashboard.expect("2nd and 6 at its own 26")
    assert query(dashboard) == {"down": "2", "distance": "6", "ball": "own26"}


def test_an_answer_can_be_shared_and_reloaded(dashboard: Any) -> None:
    dashboard.open(**SITUATION, hash="left", lens=["70-200", "300"], converter="1.4")
    before = dashboard.lead()
    assert "300 x1.4" in before
    dashboard.tab.reload()
    dashboard.tab.wait_for_selector(".drawing svg")
    dashboard.settle()
    assert dashboard.lead() == before


def test_the_way_back_leads_to_the_situation_before(laptop: Any) -> None:
    laptop.open(**SITUATION)
    laptop.pick("Down", "4th")
    laptop.expect("4th and 7")
    laptop.tab.go_back()
    laptop.expect("3rd and 7")
    assert query(laptop)["down"] == "3"


def test_a_tap_on_the_field_sets_the_ball(dashboard: Any) -> None:
    dashboard.open(**SITUATION)
    dashboard.tap(x_yd=90.2, y_yd=40.0)
    dashboard.expect("3rd and 7 at the opponent's 20")
    assert (query(dashboard)["ball"], query(dashboard)["hash"]) == ("opp20", "left")
    dashboard.tap(x_yd=42.8, y_yd=26.5)
    dashboard.expect("at its own 33")
    assert query(dashboard)["hash"] == "middle"


def test_a_tap_beside_the_field_says_where_one_stands(dashboard: Any) -> None:
    dashboard.open(**SITUATION)
    assert "Walk" not in dashboard.lead()
    dashboard.tap(x_yd=79.6, y_yd=57.5)
    dashboard.expect("Walk")
    assert query(dashboard)["standing"] == "left:opp30"
    dashboard.tap(x_yd=124.0, y_yd=40.0)
    dashboard.tab.wait_for_url("**standing=end*")
    assert query(dashboard)["standing"] == "end:left13"


def test_a_tap_on_a_spot_goes_there(dashboard: Any) -> None:
    dashboard.open(**SITUATION)
    spot = dashboard.tab.locator('[data-role="spot"][data-rank="2"]')
    place = [float(spot.get_attribute(f"data-{axis}-yd")) for axis in "xy"]
    spot.locator("text").first.click()  # the number in the mark
    dashboard.expect("Walk")
    stands = dashboard.tab.locator('[data-role="standing"]')
    assert stands.count() == 1
    side = "left" if place[1] > 26 else "right"
    assert query(dashboard)["standing"].split(":")[0] in (side, "end")


def test_keys_do_what_taps_do_and_focus_stays(dashboard: Any) -> None:
    dashboard.open(**SITUATION)
    upright = dashboard.tab.viewport_size["width"] < 600
    ahead, left = ("ArrowUp", "ArrowLeft") if upright else ("ArrowRight", "ArrowUp")
    field = dashboard.tab.locator(".drawing")
    assert "Best spot" in field.get_attribute("aria-label")
    assert dashboard.tab.locator(".field [tabindex]").count() == 1  # one tab stop
    field.focus()
    for key in (ahead, ahead, f"Shift+{ahead}", left):
        dashboard.tab.keyboard.press(key)
    assert dashboard.tab.locator(".said").inner_text() == "Ball on the opponent's 23, left hash"
    dashboard.tab.keyboard.press("Enter")
    dashboard.expect("at the opponent's 23")
    assert query(dashboard)["hash"] == "left"
    dashboard.tab.keyboard.press(left)
    dashboard.tab.keyboard.press(ahead)
    dashboard.tab.keyboard.press("Enter")
    dashboard.expect("Walk")
    assert query(dashboard)["standing"] == "left:opp22"


def test_a_bad_link_is_a_sentence_in_place(dashboard: Any) -> None:
    dashboard.open(down="7", ball="opp70", lens="wide")
    told = dashboard.tab.get_by_role("alert").inner_text()
    assert "Down must be between 1 and 4; got 7." in told
    assert "own1 to own49" in told
    assert "1st and 10 at its own 25" in dashboard.lead()
    assert dashboard.tab.locator("[data-testid=stException]").count() == 0
    assert "Traceback" not in dashboard.tab.locator("body").inner_text()


def test_a_kit_that_reaches_nothing_is_told_and_mended_with_two_taps(dashboard: Any) -> None:
    dashboard.open(**SITUATION, lens="16-35")
    assert "take a longer lens" in dashboard.tab.get_by_role("alert").inner_text()
    dashboard.tab.get_by_role("button", name="Kit").first.click()
    dashboard.tab.get_by_role("button", name="70-200", exact=True).click()
    dashboard.expect("of plays usable")
    assert dashboard.tab.get_by_role("alert").count() == 0


SETTINGS = ("Kit", "Field", "Game", "Screen")


def test_nothing_scrolls_sideways_and_every_target_fits_a_thumb(dashboard: Any) -> None:
    dashboard.open(**SITUATION, standing="left:opp40")
    for setting in (None, *SETTINGS):
        if setting is not None:
            dashboard.tab.get_by_role("button", name=setting, exact=True).click()
            dashboard.tab.wait_for_selector("[data-testid=stPopoverBody]")
        wide = "e => [e.scrollWidth, e.clientWidth]"
        for part in ("html", "[data-testid=stMain]"):
            scroll, client = dashboard.tab.locator(part).evaluate(wide)
            assert scroll <= client, (setting, part)
        assert dashboard.small_targets() == [], setting
        if setting is not None:
            dashboard.tab.keyboard.press("Escape")
            dashboard.tab.wait_for_selector("[data-testid=stPopoverBody]", state="detached")


def test_settings_show_what_holds(laptop: Any) -> None:
    laptop.open(
        **SITUATION, lens="300", converter="1.4", faces="defense", score="-3", theme="night"
    )
    shown = {
        "Kit": ("Converter on the longest", "x1.4"),
        "Field": ("Faces of the", "Defense"),
        "Screen": ("Screen", "Night"),
    }
    for setting, (group, chosen) in shown.items():
        laptop.tab.get_by_role("button", name=setting, exact=True).click()
        row = laptop.tab.get_by_role("radiogroup", name=group, exact=True)
        row.get_by_role("radio", name=chosen, exact=True, checked=True).wait_for()
        if setting == "Kit":
            assert laptop.tab.get_by_label("Lenses, mm").input_value() == "300"
        laptop.tab.keyboard.press("Escape")


def test_the_whole_page_takes_the_look(laptop: Any) -> None:
    laptop.open(**SITUATION)
    laptop.tab.get_by_role("button", name="Screen", exact=True).click()
    color = "e => getComputedStyle(e).backgroundColor"
    for name in ("night", "print", "sunlight"):
        laptop.pick("Screen", name.capitalize())
        laptop.tab.locator(f'.drawing svg[data-theme="{name}"]').wait_for()
        laptop.settle()
        page = THEMES[name].page
        expected = f"rgb({int(page[1:3], 16)}, {int(page[3:5], 16)}, {int(page[5:7], 16)})"
        for part in ("[data-testid=stMain]", "[data-testid=stPopoverBody]"):
            assert laptop.tab.locator(part).evaluate(color) == expected, name


RANKED = (
    {"down": "3", "distance": "7", "ball": "opp35", "hash": "left"},
    {"down": "1", "distance": "4", "ball": "opp4", "lens": "70-200"},
    {"down": "2", "distance": "9", "ball": "own8", "rules": "college", "standing": "left:own20"},
    {"down": "1", "distance": "10", "ball": "50", "faces": "defense", "score": "-7"},
)


def test_page_and_command_line_rank_alike(laptop: Any, capsys: pytest.CaptureFixture[str]) -> None:
    for options in RANKED:
        words = [word for name, value in options.items() for word in (f"--{name}", value)]
        main(["next", *words, "--json"])
        document = json.loads(capsys.readouterr().out)
        laptop.open(**options)
        marks = laptop.tab.locator('[data-role="spot"][data-rank]').evaluate_all(
            "marks => marks.map(m => [m.dataset.rank, m.dataset.xYd, m.dataset.yYd].map(Number))"
        )
        spots = document["spots"]
        places = [(s["rank"], round(s["x_yd"], 2), round(s["y_yd"], 2)) for s in spots]
        assert sorted(tuple(mark) for mark in marks) == places
        listed = laptop.tab.locator('td[data-label="Where"]').all_inner_texts()
        assert listed[: len(spots)] == [spot["label"] for spot in spots]


def test_a_lost_server_is_told_and_the_last_answer_stays(browser: Any) -> None:
    from tests.benchmarks.served import served

    tab = browser.new_page(viewport={"width": 390, "height": 844})
    with served() as url:
        tab.goto(f"{url}/?down=3&distance=7&ball=opp35")
        tab.wait_for_selector(".drawing svg")
    tab.wait_for_selector(
        '.stApp[data-test-connection-state="PINGING_SERVER"], '
        '.stApp[data-test-connection-state="DISCONNECTED_FOREVER"]'
    )
    told = tab.evaluate("getComputedStyle(document.querySelector('.stApp'), '::after').content")
    assert "The server does not answer" in told
    tab.locator(".ly-lead h1").wait_for()
    tab.close()
