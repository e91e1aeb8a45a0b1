"""What the page "Gear" compares: one's own kit, and kits named a line each."""

from __future__ import annotations

from dataclasses import dataclass, replace

from lensyard.domain.assignment import Assignment
from lensyard.domain.optics import Kit
from lensyard.domain.venue import Venue
from lensyard.service.gear import GearReport, gear_report, kits_from, with_converter, with_lens
from lensyard.service.kit_text import parse_kit
from lensyard.ui import session, work
from lensyard.ui.context import context
from lensyard.ui.controls import Controls, lines_of

# What one asks oneself about next (common practice), beside a converter on the longest lens.
ADDED = ("24-70", "300", "400", "600")
CONVERTER = "x1.4"


@dataclass(frozen=True, slots=True)
class GearRequest:
    """Kits to compare, the own one first; where, and what counts."""

    kits: tuple[Kit, ...]
    venue: Venue
    assignment: Assignment


def request_of(controls: Controls) -> GearRequest:
    """Return what is compared.

    Raises
    ------
    InvalidInputError
        If a line is no kit, there are too many, or the kit or the ground cannot be.
    """
    kits = kits_from([controls.kit().text, *lines_of(controls.kits)])
    return GearRequest(kits, controls.ground(), controls.task())


def compare(request: GearRequest, progress: work.Progress) -> GearReport:
    """Return the comparison; it takes some seconds a kit the first time."""
    return gear_report(
        context(),
        request.kits,
        venue=request.venue,
        assignment=request.assignment,
        progress=progress,
    )


def add(what: str) -> None:
    """Add a kit to compare: the own one with one more lens, or with a converter; a callback."""
    session.replace_controls(lambda controls: replace(controls, kits=with_added(controls, what)))


def with_added(controls: Controls, what: str) -> str:
    """Return the lines with the own kit and one thing more; a line that is there stays once.

    >>> with_added(Controls(), "300")
    '70-200 + 400 + 300 (3 bodies)'
    """
    own = controls.kit()
    kit = with_converter(own) if what == CONVERTER else with_lens(own, parse_kit(what))
    line = kit.text.split(", reach")[0] + ")"
    lines = lines_of(controls.kits)
    return "\n".join(lines if line in lines else [*lines, line])


def clear() -> None:
    """Compare with what one usually thinks of next; a callback."""
    session.set_choices({"kits": ""})
