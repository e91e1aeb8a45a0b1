"""The pages of the dashboard, one line each, and the script that the server runs."""

from __future__ import annotations

from lensyard.dashboard.shell import WIDE, PageEntry, run_pages

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


def run() -> None:
    """Run the page that the address asks for."""
    run_pages(PAGES)


if __name__ == "__main__":
    run()
