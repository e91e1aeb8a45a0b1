"""The page "Next play" in a real browser: taps and keys, settings, memory, and a lost server."""

import pytest
from tests.benchmarks.served import let_in, served
from tests.browser.conftest import LAPTOP, PHONE, query

from lensyard.render.theme import THEMES

pytestmark = pytest.mark.browser

SITUATION = {"down": "3", "distance": "7", "ball": "opp35"}


def test_three_taps_to_another_answer_that_can_be_left_again_and_reloaded(phone):
    phone.open()
    phone.expect("1st and 10 at its own 25")
    phone.pick("Down", "2nd")
    phone.pick("Distance", "6")
    # Quick taps make one address; to go back to this one it must have been written.
    phone.expect("2nd and 6 at its own 25")
    phone.tab.wait_for_url("**distance=6&ball=own25*")
    phone.tap(x_yd=75.2, y_yd=26.7)
    phone.expect("2nd and 6 at the opponent's 35")
    phone.tab.wait_for_url("**ball=opp35*")
    assert query(phone) == {"down": "2", "distance": "6", "ball": "opp35", "hash": "middle"}
    phone.tab.go_back()
    phone.expect("2nd and 6 at its own 25")
    before = phone.lead()
    phone.tab.reload()
    phone.expect("2nd and 6 at its own 25")
    assert phone.lead() == before


def test_a_tap_sets_the_ball_says_where_one_stands_and_goes_to_a_spot(dashboard):
    dashboard.open(**SITUATION)
    assert "Walk" not in dashboard.lead()
    dashboard.tap(x_yd=90.2, y_yd=40.0)
    dashboard.expect("3rd and 7 at the opponent's 20")
    dashboard.tab.wait_for_url("**ball=opp20*hash=left*")
    dashboard.tap(x_yd=79.6, y_yd=57.5)
    dashboard.expect("Walk")
    dashboard.tab.wait_for_url("**standing=left%3Aopp30*")
    dashboard.tab.locator('[data-role="standing"]').wait_for()
    # The number in a mark is the mark.
    spot = dashboard.tab.locator('[data-role="spot"][data-rank="2"]')
    side = "left" if float(spot.get_attribute("data-y-yd")) > 26 else "right"
    end = not 0 <= float(spot.get_attribute("data-x-yd")) <= 120
    spot.locator("text").first.click()
    dashboard.tab.wait_for_function("!location.search.includes('standing=left%3Aopp30')")
    assert query(dashboard)["standing"].split(":")[0] == ("end" if end else side)


def test_keys_do_what_taps_do_and_focus_stays(dashboard):
    dashboard.open(**SITUATION)
    ahead, left = "ArrowRight", "ArrowUp"
    field = dashboard.tab.locator(".drawing")
    assert "Best spot" in field.get_attribute("aria-label")
    assert dashboard.tab.locator(".field [tabindex]").count() == 1  # one tab stop
    field.focus()
    for key in (*[f"Shift+{ahead}"] * 2, *[ahead] * 2, left):
        dashboard.tab.keyboard.press(key)
    assert dashboard.tab.locator(".said").inner_text() == "Ball on the opponent's 23, left hash"
    dashboard.tab.keyboard.press("Enter")
    dashboard.expect("at the opponent's 23")
    for key in (left, f"Shift+{ahead}", "Enter"):
        dashboard.tab.keyboard.press(key)
    dashboard.expect("Walk")
    dashboard.tab.wait_for_url("**hash=left*standing=left%3Aopp22*")


def test_a_phone_shows_answer_and_field_in_one_look_and_keeps_the_answer(phone):
    phone.open(**SITUATION)
    box = phone.tab.locator(".drawing").bounding_box()
    assert box["y"] + box["height"] < 844
    assert phone.tab.locator(".ly-lead").bounding_box()["y"] < box["y"]
    phone.tab.locator("[data-testid=stMain]").evaluate("main => main.scrollBy(0, 500)")
    phone.tab.wait_for_timeout(300)
    assert 0 <= phone.tab.locator(".ly-lead h1").bounding_box()["y"] < 100


def test_settings_show_what_holds_and_the_whole_page_takes_the_look(laptop):
    laptop.open(**SITUATION, lens="300", converter="1.4", faces="defense")
    shown = {"Kit": ("Converter on the longest", "x1.4"), "Field": ("Faces of the", "Defense")}
    for setting, (group, chosen) in shown.items():
        laptop.tab.get_by_role("button", name=setting, exact=True).click()
        row = laptop.tab.get_by_role("radiogroup", name=group, exact=True)
        row.get_by_role("radio", name=chosen, exact=True, checked=True).wait_for()
        if setting == "Kit":
            assert laptop.tab.get_by_label("Lenses, mm").input_value() == "300"
        laptop.tab.keyboard.press("Escape")
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


def test_a_first_visit_explains_and_the_browser_remembers(browser, address):
    context = browser.new_context(viewport=dict(zip(("width", "height"), LAPTOP, strict=True)))
    let_in(context, address)
    tab = context.new_page()
    tab.goto(address)
    tab.locator(".ly-lead h1").wait_for()
    tab.locator(".drawing svg").wait_for()
    # The welcome has a row of its own: below it the answer stands beside the field.
    box = {
        part: tab.locator(part).first.bounding_box()
        for part in (".st-key-ly_welcome", ".ly-lead", ".drawing")
    }
    assert box[".st-key-ly_welcome"]["y"] < box[".ly-lead"]["y"] < box[".drawing"]["y"] + 200
    assert box[".ly-lead"]["x"] + box[".ly-lead"]["width"] < box[".drawing"]["x"]
    tab.get_by_role("button", name="Got it").click()
    tab.locator(".ly-welcome").wait_for(state="detached")
    tab.get_by_role("button", name="Kit", exact=True).click()
    tab.get_by_role("button", name="70-200 + 600", exact=True).click()
    tab.locator(".ly-figures").filter(has_text="70-200 + 600").wait_for()
    tab.wait_for_function("document.cookie.includes('lensyard_kit')")
    # An address that names a kit wins, and is not remembered.
    later = context.new_page()
    for path, kit in ((f"?{'down=1&distance=10&ball=50&lens=300'}", "300 (1 body"), ("", "600")):
        later.goto(f"{address}/{path}")
        later.locator(".ly-figures").filter(has_text=kit).wait_for()
        assert later.locator(".ly-welcome").count() == 0
    context.close()


def test_two_sessions_at_once_keep_to_themselves(browser, address):
    tabs = [browser.new_context().new_page() for _ in range(2)]
    for tab, ball in zip(tabs, ("own10", "opp10"), strict=True):
        let_in(tab.context, address)
        tab.goto(f"{address}/?down=1&distance=5&ball={ball}")
        tab.wait_for_selector(".drawing svg")
    for tab in tabs:
        row = tab.get_by_role("radiogroup", name="Down", exact=True)
        row.get_by_role("radio", name="3rd", exact=True).click()
    for tab, place in zip(tabs, ("its own 10", "the opponent's 10"), strict=True):
        tab.locator(".ly-figures").filter(has_text=f"3rd and 5 at {place}").wait_for()
        tab.context.close()


def test_a_lost_server_is_told_and_the_last_answer_stays(browser):
    width, height = PHONE
    tab = browser.new_page(viewport={"width": width, "height": height})
    with served() as url:
        let_in(tab.context, url)
        tab.goto(f"{url}/?down=3&distance=7&ball=opp35")
        tab.wait_for_selector(".drawing svg")
    tab.wait_for_selector('.stApp:not([data-test-connection-state="CONNECTED"])')
    told = tab.evaluate("getComputedStyle(document.querySelector('.stApp'), '::after').content")
    assert "The server does not answer" in told
    # The server's own box comes first and is put away; then the field says it for itself.
    own = tab.get_by_role("dialog")
    own.wait_for(timeout=60_000)
    tab.keyboard.press("Escape")
    own.wait_for(state="detached")
    tab.locator(".drawing svg").click(position={"x": 180, "y": 100})
    tab.locator(".hint.lost").wait_for()
    assert "this tap was not taken" in tab.locator(".hint").inner_text()
    tab.locator(".ly-lead h1").wait_for()
    tab.close()
