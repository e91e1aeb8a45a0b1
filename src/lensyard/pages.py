"""The pages of the dashboard, one line each, and the script that the server runs."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from importlib import import_module
from urllib.parse import parse_qs

from lensyard.dashboard.controls import from_address, from_memory
from lensyard.dashboard.gate import guest_cookie
from lensyard.dashboard.guard import KIT_COOKIE, read_memory
from lensyard.dashboard.shell import WIDE, PageEntry, first_html, run_pages
from lensyard.errors import LensyardError
from lensyard.render.theme import THEMES

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


def first_answer(query: str, cookies: Mapping[str, str]) -> str:
    """Return what the first page says first to an address, as HTML.

    - ``query``: of the address.
    - ``cookies``: of the browser, which remembers its kit.

    What cannot be answered is left to the page, which says why; so are guests, whose own game may
    have a say.
    """
    if any(name.startswith(guest_cookie("")) for name in cookies):
        return ""
    usual = from_memory(read_memory(cookies.get(KIT_COOKIE, "")))
    address = from_address(parse_qs(query), usual=usual)
    with suppress(LensyardError, ValueError):
        body = import_module(PAGES[0].module).first_answer(address.controls)
        if body and not address.issues:
            return first_html(THEMES[address.controls.theme], body)
    return ""


def run() -> None:
    """Run the page that the address asks for."""
    run_pages(PAGES)


if __name__ == "__main__":
    run()
