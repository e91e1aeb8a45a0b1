"""What a venue comes to, and what in its file may be a slip."""

from __future__ import annotations

from lensyard.features.venues.compute import summarize_venue
from lensyard.features.venues.report import (
    remarks,
    venue_summary_document,
    venue_summary_report,
)
from lensyard.settings.venue_file import VENUES, load_venue

HEAD = 'name = "Field"\nrules = "college"\n'


def said(text: str) -> str:
    """The remarks on a file."""
    return " ".join(remarks(summarize_venue(VENUES.parse(text))))


def test_a_longitude_with_the_wrong_sign_is_remarked() -> None:
    place = 'axis_bearing_deg = 0\nlatitude_deg = 40\ntime_zone = "America/Chicago"\n'
    assert "Greenwich" not in said(f"{HEAD}{place}longitude_deg = -88\n")
    assert "Greenwich" in said(f"{HEAD}{place}longitude_deg = 88\n")


def test_a_perimeter_cut_in_two_is_remarked() -> None:
    wall = '[[closed]]\nedge = "{}"\nfrom = 10\nto = 30\nkind = "wall"\n'
    assert "in two" not in said(HEAD + wall.format("end A"))
    assert "in two" in said(HEAD + wall.format("end A") + wall.format("end B"))


def test_the_demo_venues_have_no_slip() -> None:
    for name in ("brindle-prairie", "tamarack-fork"):
        found = " ".join(remarks(summarize_venue(load_venue(name))))
        assert "does not fit longitude" not in found
        assert "cannot be reached" not in found


def test_who_decides_comes_last_and_the_published_zone_is_warned_of() -> None:
    # 95 % of excursions stayed within 18 ft: Collins, Garrick and Requa 1977.
    for name in ("brindle-prairie", "tamarack-fork"):
        summary = summarize_venue(load_venue(name))
        cautions = venue_summary_report(summary).cautions
        assert "inside that zone" in cautions[0]
        assert "Local rules" in cautions[-1]
        assert venue_summary_document(summary)["cautions"] == list(cautions)


def test_every_closed_stretch_is_said_in_the_words_of_the_stadium() -> None:
    venue = load_venue("tamarack-fork")
    report = venue_summary_report(summarize_venue(venue))
    closed = next(section for section in report.sections if section.title == "Closed")
    assert len(closed.lines) == len(venue.closed)
    assert any("road end's" in line for line in closed.lines)
