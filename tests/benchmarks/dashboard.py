"""``python -m tests.benchmarks.dashboard``: how long one waits for the page and for an answer."""

from __future__ import annotations

import logging
import sys
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from random import Random
from threading import Thread
from typing import Any

import numpy as np
from tests.benchmarks.phones import Phone
from tests.benchmarks.served import TO_SCREEN, chromium, let_in, served

from lensyard.dashboard.serve import script_path
from lensyard.errors import LensyardError

RERUNS = 60
REST_MS = 500
CHOOSES_S = 15.0
PHONE = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True}
PAGES = ("zones", "drill", "evidence")
"""Pages that are opened a second time, with their figures at hand."""
_BARE = "import streamlit as st\nst.write(st.slider('a', 0, 99, key='a'))"
"""What a choice costs with nothing to compute: the baseline."""
# In the page, so that neither the driver's looks nor its ways count: the press is when the browser
# took the finger; an answer stands once the page says it and a frame with it was begun.
_WATCH = """() => {
  addEventListener("pointerdown", (event) => { window.pressed = event.timeStamp; }, true);
  window.until = (words) => {
    window.answered = new Promise((resolve) => {
      const look = () => {
        if (!document.querySelector(".ly-figures")?.textContent.includes(words)) return;
        watch.disconnect();
        requestAnimationFrame(() => resolve(performance.now() - window.pressed));
      };
      const watch = new MutationObserver(look);
      watch.observe(document.body, { subtree: true, childList: true, characterData: true });
    });
  };
}"""
_AT_REST = '.stApp[data-test-script-state="notRunning"]'


def server_side() -> None:
    """Print the time of a run of the page's script after a choice, without a browser."""
    from streamlit.testing.v1 import AppTest

    logging.disable(logging.WARNING)
    bare = AppTest.from_string(_BARE, default_timeout=60).run()
    times = []
    for run in range(RERUNS):
        bare.slider(key="a").set_value(run)
        start = time.perf_counter()
        bare.run()
        times.append(time.perf_counter() - start)
    _print("run of a script with one slider", times)
    app = AppTest.from_file(script_path(), default_timeout=60).run()
    times = []
    for run in range(RERUNS):
        app.select_slider(key="next_yardline_100").set_value(1 + (37 * run) % 99)
        start = time.perf_counter()
        app.run()
        times.append(time.perf_counter() - start)
    _print("run of the whole script", times)
    # What runs after a choice is only a part of it; a session over the WebSocket asks for that.
    for what, standing in (("a choice, to the last word", ""), ("with the plan's", "left:own30")):
        with served() as address:
            phone = Phone(address, own_yard=25, standing=standing)
            phone.use(until=time.monotonic() + CHOOSES_S, every_s=0.25, rng=Random(7))
        _print(what, phone.times_s[1:])


def other_pages() -> None:
    """Print the time of a run of the other pages' scripts, their figures at hand."""
    from streamlit.testing.v1 import AppTest
    from streamlit.util import calc_hash

    for page in PAGES:
        app = AppTest.from_file(script_path(), default_timeout=300)
        app._page_hash = calc_hash(page)
        app.run()
        while any(_works(html) for html in app.get("html")):
            time.sleep(1.0)
            app.run()
        times = []
        for _ in range(RERUNS // 3):
            start = time.perf_counter()
            app.run()
            times.append(time.perf_counter() - start)
        _print(f"run of the page {page}", times)


def _works(html: Any) -> bool:
    """Whether a piece of the page says that work is under way."""
    body: str = getattr(html, "body", "")
    return body.startswith('<p class="ly-working"')


def in_a_browser() -> None:
    """Print the time to the first answer, and on a phone from a press to the next.

    Raises `LensyardError` if there is no browser, or the server does not start.
    """
    with chromium() as browser:
        empty = _empty_page(browser)
        start = time.perf_counter()
        with served() as address:
            listening = time.perf_counter() - start
            tab = browser.new_page(**PHONE)
            let_in(tab.context, address)
            query = "down=1&distance=10&ball=own10"
            tab.goto(f"{address}/?{query}", wait_until="commit")
            tab.wait_for_selector(".ly-lead")
            first = time.perf_counter() - start
            tab.wait_for_selector("#root .ly-lead")
            page = time.perf_counter() - start
            print(f"an empty page of a bare server    {empty:7.2f} s")
            print(f"server listens                    {listening:7.2f} s after its start")
            print(f"first answer in the browser       {first:7.2f} s")
            print(f"the page with that answer         {page:7.2f} s")
            tab.wait_for_selector(".drawing svg")
            start = time.perf_counter()
            tab.goto(f"{address}/?{query}&standing=left:own30")
            tab.wait_for_selector("#root .ly-lead")
            tab.wait_for_selector(".drawing svg")
            print(f"opened again where one stands     {time.perf_counter() - start:7.2f} s")
            tab.evaluate(_WATCH)
            times = [_press(tab, run, rests=True) for run in range(RERUNS)]
            _print("press of a distance to its answer", times)
            _print("the same without a rest", [_press(tab, run) for run in range(RERUNS)])
            _print("tap on the field to its answer", [_tap(tab, run) for run in range(RERUNS // 2)])


def _empty_page(browser: Any) -> float:
    """Return how long the browser takes to show a page of a few bytes: the baseline. [s]"""
    body = b'<!doctype html><p class="ly-lead">Empty</p>'

    class Bare(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("content-type", "text/html")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: Any) -> None:
            pass

    with ThreadingHTTPServer(("127.0.0.1", 0), Bare) as server:
        Thread(target=server.serve_forever, daemon=True).start()
        start = time.perf_counter()
        tab = browser.new_page(**PHONE)
        tab.goto(f"http://127.0.0.1:{server.server_port}/", wait_until="commit")
        tab.wait_for_selector(".ly-lead")
        taken = time.perf_counter() - start
        tab.close()
        server.shutdown()
    return taken


def _press(tab: Any, run: int, *, rests: bool = False) -> float:
    """Press a distance; return how long its answer takes. [s]

    ``rests``: whether the page is at rest before, or still draws what follows the last answer.
    """
    distance = 1 + run % 9
    row = tab.get_by_role("radiogroup", name="Distance", exact=True)
    segment = row.get_by_role("radio", name=str(distance), exact=True)
    if rests:
        tab.wait_for_selector(_AT_REST)
        tab.wait_for_timeout(REST_MS)
    tab.evaluate("words => window.until(words)", f"and {distance} at")
    segment.click()
    return float(tab.evaluate("() => window.answered")) / 1e3


def _tap(tab: Any, run: int) -> float:
    """Tap the field, so that the ball moves; return how long the answer takes. [s]"""
    tab.wait_for_selector(_AT_REST)
    tab.wait_for_timeout(REST_MS)
    yardline = 20 + 5 * (run % 5)
    layer = tab.locator("[data-affine]")
    tab.evaluate("words => window.until(words)", f"at the opponent's {yardline}")
    x, y = layer.evaluate(TO_SCREEN, [110 - yardline, 26.7])
    tab.touchscreen.tap(x, y)
    return float(tab.evaluate("() => window.answered")) / 1e3


def _print(what: str, times_s: list[float]) -> None:
    median, high = np.percentile(times_s, [50, 95]) * 1e3
    print(f"{what:33} {median:7.0f} ms median, {high:.0f} ms at the 95th percentile")


def main() -> None:
    """Print all times; without a browser, those that need none."""
    server_side()
    other_pages()
    try:
        in_a_browser()
    except LensyardError as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main()
