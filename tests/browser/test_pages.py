"""Every page in a real browser: it fits laptop and phone, and what only a browser does."""

import csv
import io
import json
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from threading import Thread
from urllib.parse import urlencode

import pytest
from tests.benchmarks.served import OWNER, REBOUND, let_in, served
from tests.browser.conftest import GUEST, LAPTOP, PHONE
from tests.support.play_files import school_chart

pytestmark = pytest.mark.browser

# A plan, a season played again and a rule card, on a computer that is busy.
LONG_MS = 400_000
SITUATION = {"down": "3", "distance": "7", "ball": "opp35"}
FIELD, CHART = ".drawing svg", "[data-testid=stVegaLiteChart][aria-label]"
PAGES = {
    "": (FIELD, {**SITUATION, "standing": "left:opp40"}),
    "plan": (".ly-table", {}),
    "zones": (CHART, {}),
    "gear": (CHART, {"lens": "70-200", "kit": "400"}),
    "crew": (FIELD, {**SITUATION, "shooters": "3"}),
    "drill": (FIELD, {}),
    "plays": (".ly-table", {}),
    "evidence": (CHART, {}),
}


def show(page, path, **query):
    """Open a page and wait for its answer."""
    page.tab.goto(f"{page.address}/{path}?{urlencode(query)}")
    page.tab.locator(".ly-lead h1").wait_for(timeout=LONG_MS)


def downloaded(page, button):
    """Press a download button and return what comes."""
    with page.tab.expect_download(timeout=LONG_MS) as coming:
        page.tab.get_by_role("button", name=button).first.click(timeout=LONG_MS)
    return Path(coming.value.path()).read_bytes()


def rows_of(page):
    """Return the first table that a page offers."""
    return list(csv.DictReader(io.StringIO(downloaded(page, "Figures as CSV").decode())))


def require_fits(page):
    """Nothing scrolls sideways; thumbs meet and readers name everything; pictures have words."""
    for part in ("html", "[data-testid=stMain]"):
        scroll, client = page.tab.locator(part).evaluate("e => [e.scrollWidth, e.clientWidth]")
        assert scroll <= client, part
    assert page.small_targets() == []
    assert page.unnamed() == []
    for picture in page.tab.locator(f"{CHART}, .ly-figure img").all():
        words = picture.get_attribute("aria-label") or picture.get_attribute("alt")
        assert len(words) > 40


@pytest.mark.parametrize("path", PAGES)
def test_a_page_fits_both_screens_with_its_answer_on_the_first(laptop, path):
    ready, query = PAGES[path]
    show(laptop, path, **query)
    laptop.tab.locator(ready).first.wait_for(timeout=LONG_MS)
    for width, height in (LAPTOP, PHONE):
        laptop.tab.set_viewport_size({"width": width, "height": height})
        laptop.settle()
        lead = laptop.tab.locator(".ly-lead").bounding_box()
        assert 0 < lead["y"] + lead["height"] <= height
        if ready == FIELD and width == LAPTOP[0]:
            field = laptop.tab.locator(FIELD).bounding_box()
            assert field["y"] + field["height"] / 2 < height
        require_fits(laptop)


def test_what_a_button_opens_fits_a_thumb(phone):
    phone.open(**SITUATION)
    for setting in ("Kit", "Field", "Game", "Screen"):
        phone.tab.get_by_role("button", name=setting, exact=True).click()
        phone.tab.wait_for_selector("[data-testid=stPopoverBody]")
        require_fits(phone)
        phone.tab.keyboard.press("Escape")
        phone.tab.wait_for_selector("[data-testid=stPopoverBody]", state="detached")


def test_the_kit_goes_along_from_page_to_page(phone):
    phone.open(**SITUATION, lens="300")
    for title, lead in (("Evidence", "reach"), ("Next play", "Stand")):
        phone.tab.get_by_role("button", name="Pages", exact=True).click()
        phone.tab.wait_for_selector("[data-testid=stPopoverBody]")
        link = phone.tab.get_by_role("link", name=title, exact=True)
        link.locator("visible=true").first.click()
        phone.tab.locator(".ly-lead").filter(has_text=lead).wait_for(timeout=LONG_MS)
    phone.expect("3rd and 7 at the opponent's 35")
    assert "300 (1 body" in phone.lead()


def test_a_drill_is_answered_with_a_tap_on_the_field(phone):
    show(phone, "drill")
    phone.tab.locator(FIELD).wait_for()
    phone.settle()
    # The ball may be tapped in vain: here every tap is a place on the strip.
    phone.tap(x_yd=112.0, y_yd=-4.0)
    phone.tab.get_by_text("The play:").or_(phone.tab.get_by_role("alert")).first.wait_for()
    assert phone.tab.locator("[data-testid=stException]").count() == 0


def test_a_crew_is_changed_with_a_tap_and_saved(laptop):
    show(laptop, "crew", **PAGES["crew"][1])
    laptop.tab.locator(FIELD).wait_for()
    laptop.settle()
    laptop.tap(x_yd=90.2, y_yd=26.6)
    laptop.expect("3rd and 7 at the opponent's 20")
    laptop.pick("Photographers", "3")
    laptop.expect("At least one of 3 has")
    spots = laptop.tab.locator('.drawing [data-role="spot"]')
    spots.nth(2).wait_for()  # the field comes after the answer
    assert spots.count() == 3
    rows = rows_of(laptop)
    assert [row["shooter"] for row in rows] == ["1", "2", "3"]
    assert rows[0]["spot"] in laptop.lead()


def test_a_plan_is_taken_along_on_paper_and_the_card_is_cancelled_and_begun_again(laptop):
    show(laptop, "plan", kickoff="2026-10-03T15:30")
    assert downloaded(laptop, "Sheet, letter").startswith(b"%PDF-")
    laptop.tab.get_by_role("button", name="Make the offline card").click(timeout=LONG_MS)
    for again in (True, False):
        laptop.tab.get_by_text("Working on the offline card").wait_for(timeout=LONG_MS)
        laptop.tab.get_by_role("button", name="Cancel").click()
        laptop.tab.get_by_text("Cancelled: the offline card.").wait_for()
        if again:
            laptop.tab.get_by_role("button", name="Start again").click()


def test_a_play_is_logged_ticked_and_taken_back(guest):
    guest.open(**SITUATION, assignment="newspaper")
    guest.tab.get_by_role("button", name="Log this game").click()
    guest.tab.get_by_label("Home team").fill("Otters")
    guest.tab.get_by_role("button", name="Start the game").click()
    guest.tab.get_by_role("button", name="Went there").click()
    guest.tab.wait_for_url("**standing=*")
    guest.settle()
    guest.tap(x_yd=90.2, y_yd=26.0)
    guest.tab.get_by_text("Play 1 is logged").wait_for()
    guest.expect("1st and 10 at the opponent's 20")
    guest.tab.get_by_role("button", name="Shots 0/").click()
    popover = guest.tab.locator("[data-testid=stPopoverBody]")
    popover.get_by_text("touchdown", exact=False).first.click()
    guest.tab.get_by_role("button", name="Shots 1/").wait_for()
    guest.tab.keyboard.press("Escape")
    for told in ("Took back: tick", "Took back: add"):
        guest.tab.get_by_role("button", name="Undo", exact=True).click()
        guest.tab.get_by_text(told).wait_for()


def test_the_demo_is_reviewed_and_taken_along(guest):
    show(guest, "review")
    assert "No game is in your log yet" in guest.lead()
    guest.tab.get_by_role("button", name="Try the demo game").click()
    guest.tab.locator(".ly-lead", has_text="plays usable").wait_for(timeout=LONG_MS)
    guest.settle()
    require_fits(guest)
    assert downloaded(guest, "Review as PDF").startswith(b"%PDF-")
    with guest.tab.expect_download() as saved:
        guest.tab.locator(".st-key-ly_csv_review_plays button").click()
    rows = list(csv.DictReader(io.StringIO(Path(saved.value.path()).read_text(encoding="utf-8"))))
    assert f"of {sum(bool(row['spot']) for row in rows)} plays usable" in guest.lead()


def test_a_chart_is_sent_through_the_gate_and_read(own):
    show(own, "plays")
    chart = {"name": "week 3.csv", "mimeType": "text/csv", "buffer": school_chart(20).encode()}
    own.tab.locator("input[type=file]").set_input_files(files=[chart])
    own.tab.locator(".ly-lead", has_text="20 of 20 rows of week 3.csv are plays").wait_for()
    own.settle()
    require_fits(own)
    own.tab.get_by_role("button", name="Import these plays").click()
    own.tab.locator(".ly-lead", has_text="Stored 20 plays").wait_for()


def test_on_a_network_only_who_has_the_token_gets_in(browser, address, data_folder):
    before = set(data_folder.glob("guests/*"))
    stranger = browser.new_context().new_page()
    for tried in ("", "/?token=guess", "/evidence"):
        stranger.goto(address + tried)
        told = stranger.get_by_role("alert")
        told.wait_for()
        assert "open only to those who have its whole address" in told.inner_text()
        assert stranger.locator(".ly-lead, .stButton").count() == 0
    guests = []
    for _ in range(2):
        tab = browser.new_context().new_page()
        tab.goto(f"{address}/?token={GUEST}&down=1&distance=10&ball=own25")
        tab.wait_for_selector(".drawing svg")
        guests.append(tab)
    first, second = guests
    first.wait_for_url(lambda shown: "token" not in shown)
    kept = {cookie["name"]: cookie for cookie in first.context.cookies()}
    for name in ("token", "guest"):
        cookie = kept[f"lensyard_{name}_{address.rpartition(':')[2]}"]
        assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Strict")
    assert "token" not in first.evaluate("document.cookie")
    first.get_by_role("button", name="Log this game").click()
    first.get_by_role("button", name="Start the game").click()
    first.get_by_role("button", name="Went there").wait_for()
    first.reload()  # the cookie lets the guest in again, to the same log
    first.get_by_role("button", name="Went there").wait_for()
    second.reload()
    second.get_by_role("button", name="Log this game").wait_for()
    assert second.get_by_role("button", name="Went there").count() == 0
    folders = set(data_folder.glob("guests/*")) - before
    assert len(folders) == 2
    assert not (data_folder / "games").exists()
    copies = [path for folder in folders for path in folder.glob("games/*.json")]
    assert len(copies) == 1
    assert json.loads(copies[0].read_text(encoding="utf-8"))["game"]["home"] == "Home"
    for tab in (stranger, *guests):
        tab.context.close()


# What a page can try with the dashboard's address: read, send, embed, run and open it. Sent forms
# and pictures tell the page nothing; the server's folder tells the test.
_PRESS = """async (address) => {
  const tried = {}, late = (ms) => new Promise((done) => setTimeout(() => done("nothing"), ms));
  const first = (...any) => Promise.race([...any, late(5000)]);
  const read = (path, more) => fetch(address + path, {credentials: "include", ...more})
    .then((answer) => answer.ok ? answer.text() : "refused")
    .then((text) => text === "refused" ? text : text.length, () => "refused");
  tried.read = await read("/");
  tried.health = await read("/_stcore/health");
  for (const method of ["POST", "PUT", "DELETE"])
    tried[method] = await read("/_stcore/upload_file/a/b", {method, body: "x".repeat(1000)});
  await fetch(address + "/_stcore/upload_file/a/b", {
    method: "POST", body: "x".repeat(1000), credentials: "include", mode: "no-cors",
  }).catch(() => null);
  tried.socket = await first(new Promise((done) => {
    const socket = new WebSocket(address.replace("http", "ws") + "/_stcore/stream", ["streamlit"]);
    socket.onopen = () => done("open");
    socket.onerror = () => done("refused");
  }));
  for (const tag of ["img", "script"])
    tried[tag] = await first(new Promise((done) => {
      const made = document.createElement(tag);
      made.onload = () => done("loaded");
      made.onerror = () => done("refused");
      made.src = address + (tag === "img" ? "/favicon.png" : "/static/x.js");
      document.body.append(made);
    }));
  const frame = document.createElement("iframe");
  frame.name = "inside";
  document.body.append(frame);
  frame.src = address + "/";
  await late(1000);
  try { tried.frame = frame.contentDocument.body.innerText; } catch (error) { tried.frame = ""; }
  const form = document.createElement("form");
  Object.assign(form, {method: "post", action: address + "/?undo=1", target: "inside"});
  document.body.append(form);
  form.submit();
  await late(1000);
  return tried;
}"""


def test_a_page_of_another_origin_reads_and_presses_nothing(browser, tmp_path):
    """Other pages lie on another port, and under a name that was pointed here meanwhile.

    Whoever sits there is logged in, and the browser holds the token for the other name as well,
    which is more than an attacker could have. The server's own page gets what the others do not.
    """
    with served(environment={"LENSYARD_DATA_DIR": str(tmp_path)}) as url, other_site() as port:
        own_port = int(url.rpartition(":")[2])
        rebound = f"http://{REBOUND}:{own_port}"
        context = browser.new_context()
        for address in (url, rebound):
            let_in(context, address)
        tab = context.new_page()
        tab.goto(f"{url}/?{urlencode(SITUATION)}")
        tab.wait_for_selector(".drawing svg")
        own = tab.evaluate(_PRESS, url)
        assert own["read"] > 500
        assert (own["health"], own["socket"], own["img"]) == (2, "open", "loaded")
        assert own["POST"] == "refused"
        tab.get_by_role("button", name="Log this game").click()
        tab.get_by_role("button", name="Start the game").click()
        tab.get_by_role("button", name="Went there").wait_for()
        before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
        assert before
        for host in ("127.0.0.1", "localhost", REBOUND):
            for address in (url, rebound):
                other = context.new_page()
                other.goto(f"http://{host}:{port}/")
                tried = other.evaluate(_PRESS, address)
                assert tried.pop("frame") == "", (host, address)
                assert set(tried.values()) == {"refused"}, (host, address, tried)
                assert sum(frame.locator(".stApp").count() for frame in other.frames) == 0
                other.close()
        # The name pointed here, the browser takes the server for the page's own origin.
        other = context.new_page()
        answer = other.goto(f"{rebound}/?token={OWNER}")
        assert answer.status == 403
        assert other.locator("p").inner_text() == "This dashboard answers to its own address only."
        tried = other.evaluate(_PRESS, rebound)
        assert tried.pop("frame") == ""
        assert set(tried.values()) == {"refused"}, tried
        after = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
        assert after == before
        context.close()


@contextmanager
def other_site():
    """A page that this computer serves beside the dashboard."""
    handler = type("Quiet", (BaseHTTPRequestHandler,), {"do_GET": _empty, "log_message": _nothing})
    server = HTTPServer(("127.0.0.1", 0), handler)
    thread = Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server.server_port
    server.shutdown()
    server.server_close()


def _empty(self):
    self.send_response(200)
    self.send_header("Content-Type", "text/html")
    self.end_headers()
    self.wfile.write(b"<!doctype html><body>elsewhere")


def _nothing(self, *_):
    return None
