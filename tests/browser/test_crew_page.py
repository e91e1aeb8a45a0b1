"""The page "Crew" in a real browser: one play on the field, then a whole game."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from tests.benchmarks.served import served

pytestmark = pytest.mark.browser

PLAY = {"down": "3", "distance": "7", "ball": "opp35", "shooters": "3"}
FIRST_TIME_MS = 240_000


@pytest.fixture(scope="module")
def address(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The dashboard with folders of its own."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("DATA", "CACHE"):
            patch.setenv(f"LENSYARD_{name}_DIR", str(tmp_path_factory.mktemp(name.lower())))
        with served() as url:
            yield url


def opened(dashboard: Any, **query: str) -> Any:
    dashboard.tab.goto(f"{dashboard.address}/crew?{urlencode(query)}")
    dashboard.tab.locator(".ly-lead").wait_for()
    dashboard.tab.wait_for_selector(".drawing svg")
    dashboard.settle()
    return dashboard.tab


def marks(tab: Any) -> int:
    return int(tab.locator('.drawing [data-role="spot"]').count())


def test_the_spots_are_read_without_scrolling_and_seen_on_the_field(dashboard: Any) -> None:
    tab = opened(dashboard, **PLAY)
    lead = tab.locator(".ly-lead").bounding_box()
    assert 0 < lead["y"] + lead["height"] <= tab.viewport_size["height"]
    assert "At least one of 3 has" in dashboard.lead()
    assert marks(tab) == 3


def test_more_photographers_are_one_tap(dashboard: Any) -> None:
    tab = opened(dashboard, **PLAY)
    dashboard.pick("Photographers", "4")
    dashboard.expect("At least one of 4 has")
    assert marks(tab) == 4
    tab.wait_for_url("**shooters=4*")


def test_a_tap_on_the_field_sets_the_ball(dashboard: Any) -> None:
    opened(dashboard, **PLAY)
    dashboard.tap(x_yd=90.2, y_yd=26.6)
    dashboard.expect("3rd and 7 at the opponent's 20")
    dashboard.tab.wait_for_url("**ball=opp20*")


def test_who_carries_what_is_typed_a_kit_a_line(dashboard: Any) -> None:
    tab = opened(dashboard, **{**PLAY, "shooters": "2"})
    tab.get_by_text("Who carries what").click()
    area = tab.get_by_label("One kit a line: one for all, or one each")
    area.fill("400\n24-70 + 70-200\n300")
    area.blur()
    tab.get_by_role("alert").filter(has_text="3 kits for 2 photographers").wait_for()
    area.fill("400\n24-70 + 70-200")
    area.blur()
    tab.get_by_text("Photographer 2 carries 24-70 + 70-200").wait_for()


def test_nothing_is_wider_than_the_screen_and_every_target_is_large_enough(dashboard: Any) -> None:
    tab = opened(dashboard, **PLAY)
    wide = tab.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
    assert wide <= tab.viewport_size["width"]
    for target in tab.locator("[data-testid=stMain] :is(button, summary):visible").all():
        box = target.bounding_box()
        assert box["height"] >= 44, target.inner_text()


def test_the_spots_can_be_saved(dashboard: Any, tmp_path: Path) -> None:
    tab = opened(dashboard, **PLAY)
    with tab.expect_download() as saved:
        tab.get_by_role("button", name="Figures as CSV").click()
    saved.value.save_as(tmp_path / "crew.csv")
    rows = list(csv.DictReader((tmp_path / "crew.csv").read_text(encoding="utf-8").splitlines()))
    assert [row["photographer"] for row in rows] == ["1", "2", "3"]
    spot = rows[0]["spot"]
    assert spot in dashboard.lead()


def test_a_game_is_planned_once_and_shown_zone_by_zone(dashboard: Any) -> None:
    tab = opened(dashboard, lens="70-200", shooters="2")
    dashboard.pick("Plan for", "a whole game")
    tab.locator(".ly-lead", has_text="2 photographers bring").wait_for(timeout=FIRST_TIME_MS)
    dashboard.pick("Ball in", "inside the 5")
    tab.locator(".ly-figure figcaption", has_text="Ball in inside the 5").wait_for()
    tab.wait_for_url("**ball=opp3*")
    assert tab.locator(".ly-figure img:visible").count() == 1
    wide = tab.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth")
    assert wide <= tab.viewport_size["width"]
