"""Every page in a real browser, on a laptop and on a phone: its main flow, clicked through."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlencode, urlparse

import pytest
from tests.benchmarks.served import served

from lensyard.dashboard.serve import GUEST_VARIABLE, OWNER_VARIABLE

pytestmark = pytest.mark.browser

LONG_MS = 120_000
# A plan, a season played again and a rule card, on a computer that is busy.
PLAN_MS = 400_000


CHART = "[data-testid=stVegaLiteChart][aria-label]"


def show(page: Any, path: str, ready: str, **query: str | list[str]) -> None:
    """Open a page and wait for what must be there."""
    page.tab.goto(f"{page.address}/{path}?{urlencode(query, doseq=True)}")
    page.tab.locator(ready).first.wait_for(timeout=LONG_MS)
    page.settle()


def query(page: Any) -> dict[str, str]:
    return {name: values[-1] for name, values in parse_qs(urlparse(page.tab.url).query).items()}


def downloaded(page: Any, button: str | re.Pattern[str]) -> bytes:
    """Press a download button and return what comes."""
    with page.tab.expect_download(timeout=LONG_MS) as coming:
        page.tab.get_by_role("button", name=button).first.click()
    return Path(coming.value.path()).read_bytes()


def go_to(page: Any, title: str) -> None:
    """Go to another page by its link, on a phone through the menu."""
    if page.tab.viewport_size["width"] < 1000:
        page.tab.get_by_role("button", name="Pages", exact=True).click()
        page.tab.wait_for_selector("[data-testid=stPopoverBody]")
    page.tab.get_by_role("link", name=title, exact=True).locator("visible=true").first.click()


def test_the_kit_goes_along_from_page_to_page(dashboard: Any) -> None:
    dashboard.open(down="3", distance="7", ball="opp35", lens="300")
    go_to(dashboard, "Field zones")
    lead = dashboard.tab.locator(".ly-lead").filter(has_text="plays counted")
    lead.wait_for(timeout=LONG_MS)
    assert "300 (1 body" in lead.inner_text()
    dashboard.tab.wait_for_url("**/zones?*lens=300*")
    go_to(dashboard, "Next play")
    dashboard.expect("3rd and 7 at the opponent's 35")
    assert "300 (1 body" in dashboard.lead()


def test_field_zones_by_down_with_a_file_of_figures(dashboard: Any) -> None:
    show(dashboard, "zones", CHART)
    dashboard.pick("Down", "3rd")
    lead = dashboard.tab.locator(".ly-lead").filter(has_text="3rd down")
    lead.wait_for(timeout=LONG_MS)
    dashboard.tab.wait_for_url("**/zones?zone_down=3")
    rows = list(csv.DictReader(io.StringIO(downloaded(dashboard, "Figures as CSV").decode())))
    assert {row["zone"] for row in rows} >= {"Red zone 20-6", "Inside the 5"}
    assert all(0 <= float(row["p_usable"]) <= 1 for row in rows)
    charts = dashboard.tab.locator(CHART)
    assert charts.count() >= 2
    assert "Red zone" in charts.first.get_attribute("aria-label")


def test_a_drill_is_answered_with_a_tap_on_the_field(dashboard: Any) -> None:
    show(dashboard, "drill", ".drawing svg")
    dashboard.tab.locator(".ly-lead").filter(has_text="1 of 10").wait_for()
    standing = dashboard.tab.locator('[data-role="standing"]').first
    assert standing.count() == 1
    # The ball may be tapped in vain: here every tap is a place on the strip.
    dashboard.tab.get_by_role("button", name="Stay here").click()
    dashboard.tab.get_by_text("The play:").wait_for()
    dashboard.tab.get_by_role("button", name="Next play").click()
    dashboard.tab.locator(".ly-lead").filter(has_text="2 of 10").wait_for()
    dashboard.settle()
    dashboard.tap(x_yd=112.0, y_yd=-4.0)
    dashboard.tab.get_by_text("The play:").or_(dashboard.tab.get_by_role("alert")).first.wait_for()
    assert dashboard.tab.locator("[data-testid=stException]").count() == 0


def test_evidence_by_kit_with_a_file_of_figures(dashboard: Any) -> None:
    show(dashboard, "evidence", CHART)
    before = dashboard.tab.locator(".ly-lead h1").inner_text()
    dashboard.pick("Kit", "70-200")
    dashboard.tab.locator(".ly-lead").filter(has_text="reach 20 yd").wait_for()
    assert dashboard.tab.locator(".ly-lead h1").inner_text() != before
    rows = list(csv.DictReader(io.StringIO(downloaded(dashboard, "Figures as CSV").decode())))
    assert "The plan" in {row["policy"] for row in rows}


def test_a_plan_is_made_with_progress_and_taken_along(laptop: Any) -> None:
    query = "venue=brindle-prairie&assignment=newspaper&kickoff=2026-10-03T15:30"
    laptop.tab.goto(f"{laptop.address}/plan?{query}")
    laptop.tab.get_by_text("Working on").or_(laptop.tab.get_by_text("To remember:")).wait_for()
    laptop.tab.get_by_text("To remember:").wait_for(timeout=PLAN_MS)
    laptop.settle()
    assert laptop.tab.get_by_text("Light on the action").count() == 1
    assert downloaded(laptop, "Sheet, letter").startswith(b"%PDF-")
    laptop.tab.get_by_role("button", name="Make the offline card").click()
    ready = re.compile(r"^Offline card \(\d+ kB\)")
    laptop.tab.get_by_role("button", name=ready).wait_for(timeout=PLAN_MS)
    card = downloaded(laptop, ready).decode()
    assert card.lower().startswith("<!doctype html>")
    assert "http://" not in card.replace("http://www.w3.org", "")


@pytest.mark.parametrize("page", ["plan", "zones", "drill", "evidence"])
def test_a_bad_link_is_told_on_every_page(laptop: Any, page: str) -> None:
    laptop.tab.goto(f"{laptop.address}/{page}?down=9&look=neon&kickoff=soon")
    told = laptop.tab.get_by_role("alert").first
    told.wait_for(timeout=LONG_MS)
    assert "Down must be between 1 and 4; got 9." in told.inner_text()
    assert laptop.tab.locator("[data-testid=stException]").count() == 0


@pytest.mark.parametrize(
    ("path", "ready"),
    [
        ("", ".drawing svg"),
        ("zones", CHART),
        ("drill", ".drawing svg"),
        ("evidence", CHART),
    ],
)
def test_pages_fit_the_screen_and_thumbs(dashboard: Any, path: str, ready: str) -> None:
    show(dashboard, path, ready)
    for part in ("html", "[data-testid=stMain]"):
        scroll, client = dashboard.tab.locator(part).evaluate("e => [e.scrollWidth, e.clientWidth]")
        assert scroll <= client, part
    assert dashboard.small_targets() == []
    assert dashboard.unnamed() == []


def test_a_play_is_logged_with_one_tap_and_taken_back(own: Any) -> None:
    own.open(down="3", distance="7", ball="opp35", assignment="newspaper")
    own.tab.get_by_role("button", name="Log this game").click()
    own.tab.get_by_label("Home team").fill("Otters")
    own.tab.get_by_role("button", name="Start the game").click()
    own.tab.get_by_role("button", name="Went there").click()
    own.tab.get_by_text("Play 1 is logged").wait_for()
    own.settle()
    assert "standing" in query(own)
    own.tab.get_by_role("button", name="Shots 0/").click()
    own.tab.locator("[data-testid=stPopoverBody]").get_by_text(
        "touchdown", exact=False
    ).first.click()
    own.tab.get_by_role("button", name="Shots 1/").wait_for()
    own.tab.keyboard.press("Escape")
    for told in ("Took back: tick", "Took back: add"):
        own.tab.get_by_role("button", name="Undo", exact=True).click()
        own.tab.get_by_text(told).wait_for()


def test_a_first_visit_explains_and_the_browser_remembers(browser: Any, address: str) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    tab = context.new_page()
    tab.goto(address)
    words = tab.locator(".ly-welcome").inner_text()
    assert words.count(". ") + 1 == 3
    tab.locator(".ly-lead h1").wait_for()
    tab.get_by_role("button", name="Got it").click()
    tab.locator(".ly-welcome").wait_for(state="detached")
    tab.get_by_role("button", name="Kit", exact=True).click()
    tab.get_by_role("button", name="70-200 + 600", exact=True).click()
    tab.locator(".ly-lead").filter(has_text="70-200 + 600").wait_for()
    tab.wait_for_function("document.cookie.includes('lensyard_kit')")
    later = context.new_page()
    later.goto(address)
    later.locator(".ly-lead").filter(has_text="70-200 + 600").wait_for()
    assert later.locator(".ly-welcome").count() == 0
    # An address that names a kit wins, and is not remembered.
    later.goto(f"{address}/?down=1&distance=10&ball=50&lens=300")
    later.locator(".ly-lead").filter(has_text="300 (1 body").wait_for()
    later.goto(address)
    later.locator(".ly-lead").filter(has_text="70-200 + 600").wait_for()
    other = browser.new_context().new_page()
    other.goto(address)
    other.locator(".ly-welcome").wait_for()
    assert "70-200 + 400" in other.locator(".ly-lead").inner_text()
    context.close()
    other.context.close()


def test_two_sessions_at_once_keep_to_themselves(browser: Any, address: str) -> None:
    tabs = [browser.new_context().new_page() for _ in range(2)]
    for tab, ball in zip(tabs, ("own10", "opp10"), strict=True):
        tab.goto(f"{address}/?down=1&distance=5&ball={ball}")
        tab.wait_for_selector(".drawing svg")
    for down in ("2nd", "3rd", "4th"):
        for tab in tabs:
            row = tab.get_by_role("radiogroup", name="Down", exact=True)
            row.get_by_role("radio", name=down, exact=True).click()
        for tab, place in zip(tabs, ("its own 10", "the opponent's 10"), strict=True):
            tab.locator(".ly-figures").filter(has_text=f"{down} and 5 at {place}").wait_for()
    for tab in tabs:
        tab.context.close()


def test_on_a_network_only_who_has_the_token_gets_in(browser: Any, tmp_path: Path) -> None:
    owner, guest = "owner-word-0123456789", "guest-word-0123456789"
    words = {OWNER_VARIABLE: owner, GUEST_VARIABLE: guest, "LENSYARD_DATA_DIR": str(tmp_path)}
    with served(environment=words) as url:
        stranger = browser.new_context().new_page()
        for address in (url, f"{url}/?token=guess", f"{url}/evidence"):
            stranger.goto(address)
            told = stranger.get_by_role("alert")
            told.wait_for()
            assert "open only to those who have its whole address" in told.inner_text()
            assert stranger.locator(".ly-lead, .stButton").count() == 0
        guests = []
        for _ in range(2):
            tab = browser.new_context().new_page()
            tab.goto(f"{url}/?token={guest}&down=1&distance=10&ball=own25")
            tab.wait_for_selector(".drawing svg")
            guests.append(tab)
        first, second = guests
        first.wait_for_url(lambda address: "token" not in address)
        first.wait_for_function("document.cookie.includes('lensyard_guest')")
        first.get_by_role("button", name="Log this game").click()
        first.get_by_role("button", name="Start the game").click()
        first.get_by_role("button", name="Went there").wait_for()
        first.reload()  # the cookie lets the guest in again, to the same log
        first.get_by_role("button", name="Went there").wait_for()
        second.reload()
        second.get_by_role("button", name="Log this game").wait_for()
        assert second.get_by_role("button", name="Went there").count() == 0
        folders = list((tmp_path / "guests").iterdir())
        assert len(folders) == 2
        assert not (tmp_path / "games.duckdb").exists()
        copies = list((tmp_path / "guests").glob("*/game-copies/*.json"))
        assert len(copies) == 1
        assert json.loads(copies[0].read_text(encoding="utf-8"))["game"]["home"] == "Home"
        for tab in (stranger, *guests):
            tab.context.close()


def test_a_tap_that_no_server_took_is_told_in_the_field(browser: Any) -> None:
    tab = browser.new_page(viewport={"width": 1280, "height": 800})
    with served() as url:
        tab.goto(f"{url}/?down=3&distance=7&ball=opp35")
        tab.wait_for_selector(".drawing svg")
    tab.wait_for_selector('.stApp:not([data-test-connection-state="CONNECTED"])')
    # The server's own box comes first and is put away; then the field says it for itself.
    own = tab.get_by_role("dialog")
    own.wait_for(timeout=60_000)
    tab.keyboard.press("Escape")
    own.wait_for(state="detached")
    box = tab.locator(".drawing svg").bounding_box()
    tab.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    tab.locator(".hint.lost").wait_for()
    assert "this tap was not taken" in tab.locator(".hint").inner_text()
    tab.locator(".ly-lead h1").wait_for()
    tab.close()
