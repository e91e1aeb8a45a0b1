"""The page "Gear" in a real browser: compared for the first time, cancelled, added to, saved."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from tests.benchmarks.served import served

pytestmark = pytest.mark.browser

FIRST_TIME_MS = 180_000
KITS = {"lens": "70-200", "kit": "400"}


@pytest.fixture(scope="module")
def address(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The dashboard with folders of its own: no kit has been looked at yet."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("DATA", "CACHE"):
            patch.setenv(f"LENSYARD_{name}_DIR", str(tmp_path_factory.mktemp(name.lower())))
        with served() as url:
            yield url


def opened(dashboard: Any, **query: str) -> Any:
    dashboard.tab.goto(f"{dashboard.address}/gear?{urlencode(query)}")
    return dashboard.tab


def compared(dashboard: Any) -> Any:
    """Open the comparison and wait for it, as long as the first time takes."""
    tab = opened(dashboard, **KITS)
    tab.locator(".ly-lead").wait_for(timeout=FIRST_TIME_MS)
    return tab


def test_the_first_comparison_shows_progress_and_can_be_cancelled(laptop: Any) -> None:
    tab = opened(laptop, **KITS)
    tab.get_by_text("Working on a plan for every kit").wait_for()
    tab.get_by_role("button", name="Cancel").click()
    tab.get_by_text("Cancelled: a plan for every kit.").wait_for()
    tab.get_by_role("button", name="Start again").click()
    tab.locator(".ly-lead").wait_for(timeout=FIRST_TIME_MS)


def test_the_answer_stands_on_the_first_screen(dashboard: Any) -> None:
    tab = compared(dashboard)
    lead = tab.locator(".ly-lead").bounding_box()
    assert 0 < lead["y"] + lead["height"] <= tab.viewport_size["height"]
    assert "usable plays a game" in tab.locator(".ly-lead").inner_text()


def test_nothing_is_wider_than_the_screen_and_every_target_is_large_enough(dashboard: Any) -> None:
    tab = compared(dashboard)
    wide = tab.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
    assert wide <= tab.viewport_size["width"]
    for button in tab.locator("[data-testid=stMain] button:visible").all():
        box = button.bounding_box()
        assert box["height"] >= 44, button.inner_text()
        assert box["width"] >= 44, button.inner_text()


def test_the_charts_have_words_and_the_figures_can_be_saved(dashboard: Any, tmp_path: Path) -> None:
    tab = compared(dashboard)
    charts = tab.locator("[data-testid=stVegaLiteChart][aria-label]")
    charts.nth(2).wait_for()
    assert charts.count() == 3
    for chart in charts.all():
        assert len(chart.get_attribute("aria-label")) > 40
        assert chart.bounding_box()["width"] <= tab.viewport_size["width"]
    with tab.expect_download() as saved:
        tab.get_by_role("button", name="Figures as CSV").nth(1).click()
    assert saved.value.suggested_filename == "lensyard-gear-usable_per_game.csv"
    saved.value.save_as(tmp_path / "zones.csv")
    rows = list(csv.DictReader((tmp_path / "zones.csv").read_text(encoding="utf-8").splitlines()))
    assert len(rows) == 6  # zones
    own = sum(float(row["A"]) for row in rows)
    shown = tab.locator(".ly-table tbody tr").first.locator("td").first.inner_text()
    assert shown == f"{own:.1f}"


def test_a_lens_is_added_with_a_tap_and_the_address_keeps_it(laptop: Any) -> None:
    tab = compared(laptop)
    tab.get_by_role("button", name="+ 24-70").click()
    tab.wait_for_url("**kit=70-200*24-70*")
    tab.locator(".ly-table th", has_text="C: 70-200 + 24-70").wait_for(timeout=FIRST_TIME_MS)
    tab.reload()
    tab.locator(".ly-table th", has_text="C: 70-200 + 24-70").wait_for()


def test_what_is_no_kit_is_a_sentence_in_place(dashboard: Any) -> None:
    tab = compared(dashboard)
    area = tab.get_by_label("Compare your kit with these, one a line")
    area.fill("wide angle")
    area.blur()
    tab.get_by_role("alert").filter(has_text="lenses joined by +").wait_for()
    area.fill("400")
    area.blur()
    tab.get_by_role("alert").wait_for(state="detached")
    tab.locator(".ly-lead").wait_for()
