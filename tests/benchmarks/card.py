"""How fast the offline card opens and answers on a phone-sized screen, and how large it is.

``python -m tests.benchmarks.card [card.html]``; without a file the card of the demo kit is made,
which takes a minute. Baseline of the same run: an empty file in the same browser. Opening counts
from the request to the first answer, a tap from the finger's lifting to the frame that shows what
follows.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from tests.benchmarks.served import chromium

OPENINGS, TAPS = 5, 100
_TAPS = """async (n) => {
  const svg = document.querySelector("#picture svg"), box = svg.getBoundingClientRect();
  document.querySelector("#mode [data-value='true']").click();
  const found = [];
  for (let i = 0; i < n; i++) {
    const at = {bubbles: true, clientX: box.x + box.width * (0.3 + 0.4 * Math.random()),
      clientY: box.y + box.height / 2};
    svg.dispatchEvent(new PointerEvent("pointerdown", at));
    const start = performance.now();
    svg.dispatchEvent(new PointerEvent("pointerup", at));
    await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
    found.push(performance.now() - start);
  }
  return found;
}"""


def made(folder: Path) -> Path:
    """Write the card of the demo kit on any professional field."""
    from lensyard.domain.kit import DEMO_KIT
    from lensyard.domain.venue import standard_venue
    from lensyard.features.card.compute import card_content
    from lensyard.features.card.report import card_html
    from lensyard.model.context import load_context
    from lensyard.planner.plans import PlanRequest

    content = card_content(load_context(), PlanRequest(DEMO_KIT, standard_venue("pro")))
    path = folder / "card.html"
    path.write_text(card_html(content), encoding="utf-8")
    return path


def opening_s(tab: Any, path: Path, ready: str) -> float:
    """Return how long a file takes to open. [s]"""
    started = time.perf_counter()
    tab.goto(path.as_uri())
    tab.wait_for_selector(ready, state="attached")
    return time.perf_counter() - started


def main(path: Path | None) -> None:
    """Print size, opening and taps."""
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        card = path or made(Path(folder))
        empty = Path(folder) / "empty.html"
        empty.write_text("<!doctype html><p>", encoding="utf-8")
        context = browser.new_context(
            viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True, offline=True
        )
        tab = context.new_page()
        bare = sorted(opening_s(tab, empty, "p") for _ in range(OPENINGS))
        full = sorted(opening_s(tab, card, "html[data-ready]") for _ in range(OPENINGS))
        taps = sorted(tab.evaluate(_TAPS, TAPS))
        size = card.stat().st_size
    middle = OPENINGS // 2
    print(f"size {size / 1000:.0f} kB")
    print(f"opens in {full[middle]:.2f} s (median), an empty file in {bare[middle]:.2f} s")
    print(f"tap to what follows: median {taps[TAPS // 2]:.0f} ms, 95th {taps[TAPS * 19 // 20]:.0f}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
