"""The page "Review" in a real browser: from an empty log to the demo's review and its files."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.benchmarks.served import served

pytestmark = pytest.mark.browser

FIRST_TIME_MS = 180_000


@pytest.fixture(scope="module")
def address(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The dashboard with folders of its own: nothing is logged yet."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("DATA", "CACHE"):
            patch.setenv(f"LENSYARD_{name}_DIR", str(tmp_path_factory.mktemp(name.lower())))
        with served() as url:
            yield url


@pytest.fixture
def reviewed(dashboard: Any) -> Any:
    """The demo's review; the first to come installs it from the page."""
    tab = dashboard.tab
    tab.goto(f"{dashboard.address}/review")
    tab.locator(".ly-lead, .ly-working").first.wait_for()
    dashboard.settle()
    offer = tab.get_by_role("button", name="Try the demo game")
    if offer.count():
        assert "No game is in your log yet" in dashboard.lead()
        offer.click()
        offer.wait_for(state="detached")
    tab.locator(".ly-lead", has_text="plays usable").wait_for(timeout=FIRST_TIME_MS)
    dashboard.settle()
    return dashboard


def test_from_an_empty_log_to_a_review(reviewed: Any) -> None:
    tab = reviewed.tab
    lead = tab.locator(".ly-lead").bounding_box()
    assert 0 < lead["y"] + lead["height"] <= tab.viewport_size["height"]
    assert "the plan would have had" in reviewed.lead()
    assert tab.locator(".ly-section", has_text="Must-haves").count() == 1


def test_nothing_is_wider_than_the_screen_and_every_target_is_large_enough(reviewed: Any) -> None:
    tab = reviewed.tab
    wide = tab.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
    assert wide <= tab.viewport_size["width"]
    for target in tab.locator("[data-testid=stMain] button:visible").all():
        box = target.bounding_box()
        assert box["height"] >= 42, target.inner_text()


def test_every_picture_has_its_words(reviewed: Any) -> None:
    (field,) = reviewed.tab.locator(".ly-figure img:visible").all()
    assert len(field.get_attribute("alt")) > 40
    charts = reviewed.tab.locator("[data-testid=stVegaLiteChart][aria-label]")
    assert charts.count() == 3
    for chart in charts.all():
        assert len(chart.get_attribute("aria-label")) > 40


def test_the_review_is_taken_along_as_pdf_and_csv(reviewed: Any, tmp_path: Path) -> None:
    tab = reviewed.tab
    with tab.expect_download() as saved:
        tab.get_by_role("button", name="Review as PDF").click()
    assert saved.value.suggested_filename == "lensyard-review.pdf"
    saved.value.save_as(tmp_path / "review.pdf")
    assert (tmp_path / "review.pdf").read_bytes().startswith(b"%PDF-")
    with tab.expect_download() as saved:
        tab.locator(".st-key-ly_csv_review_plays button").click()
    saved.value.save_as(tmp_path / "plays.csv")
    rows = list(csv.DictReader((tmp_path / "plays.csv").read_text(encoding="utf-8").splitlines()))
    assert f"of {sum(bool(row['spot']) for row in rows)} plays usable" in reviewed.lead()


def test_a_season_and_the_own_reach_are_one_choice_each(reviewed: Any) -> None:
    tab = reviewed.tab
    tab.get_by_role("combobox", name="Review of").click()
    tab.get_by_role("option", name="Season 2026, 1 game").click()
    tab.locator(".ly-lead", has_text="season 2026").wait_for(timeout=FIRST_TIME_MS)
    tab.wait_for_url("**season=2026*")
    reviewed.pick("Reach", "your own reach too")
    tab.locator(".ly-table th", has_text="With your own reach").first.wait_for(
        state="attached", timeout=FIRST_TIME_MS
    )
    tab.reload()
    tab.locator(".ly-lead", has_text="season 2026").wait_for(timeout=FIRST_TIME_MS)


def test_a_link_to_a_game_that_is_not_there_can_be_mended(reviewed: Any) -> None:
    tab = reviewed.tab
    tab.goto(f"{reviewed.address}/review?game=nowhere")
    tab.get_by_role("alert").filter(has_text="nowhere").wait_for(timeout=FIRST_TIME_MS)
    tab.get_by_role("combobox", name="Review of").click()
    tab.get_by_role("option").first.click()
    tab.locator(".ly-lead", has_text="plays usable").wait_for(timeout=FIRST_TIME_MS)
    tab.wait_for_url("**game=demo*")
