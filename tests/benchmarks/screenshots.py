"""``python -m tests.benchmarks.screenshots OUTDIR``: every page, both sizes, all looks, as PNG."""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import urlencode

from tests.benchmarks.served import chromium, let_in, served

from lensyard.errors import LensyardError
from lensyard.features.game_log.compute import install_demo
from lensyard.game.logbook import open_log
from lensyard.render.theme import THEMES

DATA_VARIABLE = "LENSYARD_DATA_DIR"

SIZES = {"laptop": (1280, 800), "phone": (390, 844)}
SITUATION = {
    "down": "3",
    "distance": "7",
    "ball": "opp35",
    "hash": "left",
    "standing": "left:opp40",
}
GAME = {
    "venue": "brindle-prairie",
    "assignment": "newspaper",
    "kickoff": "2026-10-03T15:30",
}
# page -> (path, query, what must be there); the situation, venue and game are invented.
PAGES: dict[str, tuple[str, dict[str, str], str]] = {
    "first-visit": ("", {}, ".ly-welcome"),
    "next-play": ("", SITUATION, ".drawing svg"),
    "game-plan": ("plan", GAME, ".ly-table"),
    "field-zones": ("zones", {}, ".ly-table"),
    "gear": ("gear", {}, ".ly-table"),
    "crew": ("crew", SITUATION, ".drawing svg"),
    "drill": ("drill", {}, ".drawing svg"),
    "review": ("review", {}, ".ly-figure"),
    "plays": ("plays", {}, ".ly-table"),
    "evidence": ("evidence", {}, ".ly-table"),
}
LONG_MS = 240_000
_READY = ".ly-lead"
_MAIN = "[data-testid=stMain]"


def take(out: Path) -> list[Path]:
    """Write the screenshots into a folder and return their paths.

    Each page comes as it opens, and once more as long as it is (``-whole``).

    Raises `LensyardError` if there is no browser, or the server does not start.
    """
    out.mkdir(parents=True, exist_ok=True)
    written = []
    with (
        TemporaryDirectory() as data,
        served(environment={DATA_VARIABLE: data}) as address,
        chromium() as browser,
    ):
        with open_log(Path(data)) as book:
            install_demo(book)
        for size, (width, height) in SIZES.items():
            for theme in THEMES:
                for page, (path, query, ready) in PAGES.items():
                    # A first visit has a bare address, so it comes in the usual look only.
                    if not query and not path and theme != next(iter(THEMES)):
                        continue
                    asked = {**query, "theme": theme} if query or path else {}
                    url = f"{address}/{path}?{urlencode(asked)}"
                    name = f"{page}-{size}-{theme}"
                    written += _shots(browser, url, out / name, ready, size=(width, height))
    return written


def _shots(browser: Any, url: str, stem: Path, ready: str, *, size: tuple[int, int]) -> list[Path]:
    width, height = size
    phone = width < 600
    tab = browser.new_page(
        viewport={"width": width, "height": height},
        device_scale_factor=2 if phone else 1,
        is_mobile=phone,
        has_touch=phone,
    )
    try:
        let_in(tab.context, url[: url.index("/", len("http://"))])
        tab.goto(url)
        tab.wait_for_selector(_READY, timeout=LONG_MS)
        tab.wait_for_selector(ready, timeout=LONG_MS, state="attached")  # or folded
        tab.wait_for_load_state("networkidle")
        opened, whole = stem.with_suffix(".png"), stem.with_name(f"{stem.name}-whole.png")
        tab.screenshot(path=opened)
        long = tab.eval_on_selector(_MAIN, "main => main.scrollHeight")
        tab.set_viewport_size({"width": width, "height": int(long)})
        tab.screenshot(path=whole)
        return [opened, whole]
    finally:
        tab.close()


def main() -> None:
    """Take the screenshots that the command line asks for."""
    if len(sys.argv) != 2 or sys.argv[1].startswith("-"):
        sys.exit("usage: python -m tests.benchmarks.screenshots OUTDIR")
    try:
        for path in take(Path(sys.argv[1])):
            print(path)
    except LensyardError as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main()
