"""The pages of the dashboard, one line each, and the script that the server runs."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from importlib import import_module
from urllib.parse import parse_qs

from lensyard.dashboard.controls import from_address, from_memory
from lensyard.dashboard.guard import KIT_COOKIE, read_memory
from lensyard.dashboard.shell import WIDE, PageEntry, run_pages
from lensyard.errors import LensyardError

PAGES = (
    PageEntry("Next play", "", "lensyard.features.next_play.page", frame=WIDE),
    PageEntry(
        "Game plan",
        "plan",
        "lensyard.features.game_plan.page",
        parts=("lensyard.features.sheet.page", "lensyard.features.card.page"),
        ticked="lensyard.features.game_log.panel",
    ),
    PageEntry("Field zones", "zones", "lensyard.features.zones.page"),
    PageEntry("Gear", "gear", "lensyard.features.gear.page"),
    PageEntry("Crew", "crew", "lensyard.features.crew.page", frame=WIDE),
    PageEntry("Drill", "drill", "lensyard.features.drill.page"),
    PageEntry("Review", "review", "lensyard.features.review.page"),
    PageEntry(
        "Plays", "plays", "lensyard.features.plays.page", parts=("lensyard.features.models.page",)
    ),
    PageEntry("Evidence", "evidence", "lensyard.features.evidence.page"),
)


def prepare(query: str, cookies: Mapping[str, str]) -> None:
    """Make the first answer to an address, with what the browser remembers, and drop it.

    What cannot be answered is left to the page, which says why.
    """
    usual = from_memory(read_memory(cookies.get(KIT_COOKIE, "")))
    controls = from_address(parse_qs(query), usual=usual).controls
    with suppress(LensyardError, ValueError):
        import_module(PAGES[0].module).prepare(controls)


def run() -> None:
    """Run the page that the address asks for."""
    run_pages(PAGES)


if __name__ == "__main__":
    run()
