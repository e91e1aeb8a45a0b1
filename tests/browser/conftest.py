"""The dashboard in a real Chromium; where there is none, the tests are skipped, aloud."""

from urllib.parse import parse_qs, urlencode, urlparse

import pytest
from tests.benchmarks.served import OWNER, TO_SCREEN, NoBrowserError, chromium, let_in, served

from lensyard.dashboard.gate import GUEST_VARIABLE
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.features.card.compute import card_content
from lensyard.features.card.report import card_html
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest

RERUNS = 1


def pytest_collection_modifyitems(items):
    """Try a browser test once more, aloud, where it ran out of time.

    Server, browser and the other tests share two cores. Whatever is wrong fails twice; the summary
    names every test that needed the second try.
    """
    again = pytest.mark.flaky(reruns=RERUNS, only_rerun=["TimeoutError"])
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(again)


GUEST = "guest-word-0123456789"
"""Lets a guest of the tests' server in."""
LAPTOP, PHONE = (1280, 800), (390, 844)
TIMEOUT_MS = 90_000

LEAST_TARGET_PX = 44.0

# Everything on the page that can be pressed, in shadow trees too, with the size that a finger
# meets: a text field counts with the frame around it, a slider its thumb, a box its label.
_TARGETS = """() => {
  const found = [];
  const collect = (root) => {
    for (const one of root.querySelectorAll("*")) {
      if (one.shadowRoot) collect(one.shadowRoot);
      if (!one.matches("button, a[href], input, textarea, summary, [tabindex='0']")) continue;
      if (one.matches("[data-testid=stSkipToContent]")) continue;  // comes with the tab key
      let target = one;
      if (one.matches("input[type=range]")) target = one.parentElement.parentElement;
      else if (one.matches("input[type=checkbox]")) target = one.closest("label");
      else if (one.matches("input[role=combobox]")) target = one.closest("[role=group]");
      else if (one.matches("input"))
        target = one.closest("[data-testid=stTextInputRootElement], " +
          "[data-testid=stNumberInputContainer]") || one;
      const box = target.getBoundingClientRect();
      if (box.width === 0) continue;
      const name = one.getAttribute("aria-label") || one.textContent || one.tagName;
      found.push([name.trim().slice(0, 40), box.width, box.height, box.left, box.right]);
    }
  };
  collect(document);
  return found;
}"""

# Controls without a name that a screen reader could say.
_UNNAMED = """() => {
  const found = [];
  const collect = (root) => {
    for (const one of root.querySelectorAll("*")) {
      if (one.shadowRoot) collect(one.shadowRoot);
      if (!one.matches("button, a[href], input, textarea, summary, [tabindex='0'], img")) continue;
      if (one.closest("[aria-hidden=true]") || one.getBoundingClientRect().width === 0) continue;
      const label = one.labels && one.labels.length ? one.labels[0].textContent : "";
      const ids = (one.getAttribute("aria-labelledby") || "").split(" ").filter(Boolean);
      const by = ids.map((id) => document.getElementById(id)?.textContent || "").join("");
      const name = [one.getAttribute("aria-label"), by, label, one.alt, one.textContent]
        .find((text) => text && text.trim());
      if (!name) found.push(one.outerHTML.slice(0, 160));
    }
  };
  collect(document);
  return found;
}"""

_LEAD = ".ly-lead, .ly-figures"


@pytest.fixture(scope="session")
def browser():
    """A headless Chromium, or the reason why there is none."""
    opened = chromium()
    try:
        driven = opened.__enter__()
    except NoBrowserError as error:
        pytest.skip(f"NOT TESTED in a browser: {error}")
    try:
        yield driven
    finally:
        opened.__exit__(None, None, None)


@pytest.fixture(scope="session")
def data_folder(tmp_path_factory):
    """The folder of the server's logs."""
    return tmp_path_factory.mktemp("data")


@pytest.fixture(scope="session")
def address(browser, data_folder):
    """The address of the dashboard, served once for all tests, with logs of its own."""
    environment = {"LENSYARD_DATA_DIR": str(data_folder), GUEST_VARIABLE: GUEST}
    with served(environment=environment) as url:
        yield url


@pytest.fixture(scope="session")
def content():
    """What a card says of a field alike on both sides and from both ends.

    Every way of storing a table is used; no distances beyond 10 yd, which costs half as much.
    """
    platforms = [
        ClosedStretch(edge=edge, from_yd=20.0, to_yd=26.0, name="<i>platform</i>")
        for edge in (Edge.SIDELINE_A, Edge.SIDELINE_B)
    ]
    closed = (*platforms, *(one.turned() for one in platforms))
    request = PlanRequest(DEMO_KIT, standard_venue("pro", extra_closed=closed))
    return card_content(load_context(), request, longest_yd=10)


@pytest.fixture(scope="session")
def card_file(content, tmp_path_factory):
    """The card as a file."""
    path = tmp_path_factory.mktemp("card") / "card.html"
    path.write_text(card_html(content), encoding="utf-8")
    return path


class Dashboard:
    """A tab with the dashboard, and what a person does there."""

    def __init__(self, tab, address):
        self.tab = tab
        self.address = address
        self.crashes: list[str] = []
        tab.set_default_timeout(TIMEOUT_MS)
        tab.on("pageerror", lambda error: self.crashes.append(str(error)))

    def open(self, **query):
        """Open an address and wait for the field."""
        self.tab.goto(f"{self.address}/?{urlencode(query, doseq=True)}")
        self.tab.wait_for_selector(".drawing svg")
        self.settle()
        return self

    def settle(self):
        """Wait until the server has answered."""
        self.tab.wait_for_selector(
            '.stApp[data-test-script-state="notRunning"][data-test-connection-state="CONNECTED"]'
        )

    def pick(self, group, option):
        """Press one segment of a group."""
        row = self.tab.get_by_role("radiogroup", name=group, exact=True)
        row.get_by_role("radio", name=option, exact=True).click()

    def on_screen(self, *, x_yd, y_yd):
        """Return the pixel of a place in the play frame, scrolled into view."""
        layer = self.tab.locator("[data-affine]")
        x, y = layer.evaluate(TO_SCREEN, [x_yd, y_yd])
        height = self.tab.viewport_size["height"]
        if not height / 3 < y < height:  # what stays at the top covers the rest
            main = self.tab.locator("[data-testid=stMain]")
            main.evaluate("(main, by) => main.scrollBy(0, by)", y - height / 2)
            x, y = layer.evaluate(TO_SCREEN, [x_yd, y_yd])
        return x, y

    def tap(self, *, x_yd, y_yd):
        """Tap a place of the field, with a finger where there is a touch screen."""
        x, y = self.on_screen(x_yd=x_yd, y_yd=y_yd)
        touch = self.tab.evaluate("navigator.maxTouchPoints > 0")
        (self.tab.touchscreen.tap if touch else self.tab.mouse.click)(x, y)

    def small_targets(self):
        """Return what a thumb would miss, or what lies beyond the edge of the screen."""
        width = self.tab.viewport_size["width"]
        # Chromium lays out in 64ths of a pixel.
        return [
            target
            for target in self.tab.evaluate(_TARGETS)
            if min(target[1:3]) < LEAST_TARGET_PX - 1 / 32
            or target[3] < -1
            or target[4] > width + 1
        ]

    def unnamed(self):
        """Return the controls and pictures that a screen reader could not name."""
        found: list[str] = self.tab.evaluate(_UNNAMED)
        return found

    def expect(self, words):
        """Wait until the answer says something."""
        self.tab.locator(_LEAD).filter(has_text=words).first.wait_for()
        self.settle()

    def lead(self):
        """Return the answer at a glance: headline, sentences and figures."""
        text = "\n".join(self.tab.locator(_LEAD).all_inner_texts())
        return text.replace("\u00a0", " ")


def query(page):
    """Return what the address says."""
    return {name: values[-1] for name, values in parse_qs(urlparse(page.tab.url).query).items()}


@pytest.fixture(scope="session")
def contexts(browser):
    """One browser profile a size; tabs of one profile share what is loaded."""
    made = {}
    for name, (width, height) in {"laptop": LAPTOP, "phone": PHONE}.items():
        made[name] = browser.new_context(
            viewport={"width": width, "height": height},
            is_mobile=name == "phone",
            has_touch=name == "phone",
        )
    return made


@pytest.fixture(params=["laptop", "phone"])
def dashboard(request, contexts, address):
    """The dashboard on a laptop and on a phone."""
    yield from _in_a_tab(contexts[request.param], address)


@pytest.fixture
def own(contexts, tmp_path):
    """A dashboard on a phone, served for one test, with plays and a log of its own."""
    with served(environment={"LENSYARD_DATA_DIR": str(tmp_path)}) as url:
        yield from _in_a_tab(contexts["phone"], url)


@pytest.fixture
def guest(contexts, address):
    """The dashboard on a phone as a guest of the server sees it: with a log of their own."""
    yield from _in_a_tab(contexts["phone"], address, word=GUEST)


@pytest.fixture
def laptop(contexts, address):
    """The dashboard on a laptop only, where the size makes no difference."""
    yield from _in_a_tab(contexts["laptop"], address)


@pytest.fixture
def phone(contexts, address):
    """The dashboard on a phone only."""
    yield from _in_a_tab(contexts["phone"], address)


def _in_a_tab(context, address, *, word=OWNER):
    context.clear_cookies()  # nothing of the test before is remembered
    let_in(context, address, word=word)
    page = Dashboard(context.new_page(), address)
    yield page
    page.tab.close()
    assert page.crashes == []
