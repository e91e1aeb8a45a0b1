"""Invented results of the plays: what every report is made of."""

from __future__ import annotations

from typing import Any

from lensyard.features.plays.compute import (
    ImportedSeason,
    MeasureChange,
    SeasonComparison,
    StoredPlays,
    StoredSeason,
)
from lensyard.plays.bundled import Attribution, provenance
from lensyard.plays.importing.catalog import Entry, Part, Tally
from lensyard.plays.importing.guess import GuessedMapping
from lensyard.plays.importing.stage import ImportReport, Reject

OTTERS = Attribution(
    "otters", "Otter charting", "college", "private", "Plays of the Otters.", (2031,)
)
HERONS = Attribution("herons", "Heron charting", "pro", "private", "Plays of the Herons.", (2030,))


def a_report() -> ImportReport:
    """What an import of an invented chart did."""
    return ImportReport(
        file="week 3.csv",
        source="otters",
        title="Otter charting",
        level="college",
        license="private",
        attribution="Plays of the Otters.",
        seasons=(2031,),
        rows=14,
        kept=12,
        games=1,
        passed_over=(Tally("a time-out", 1, 4),),
        repaired=(Tally("no clock", 12, 2),),
        rejected=(Tally("no down from 1 to 4", 1, 9),),
        notes=("separated by ';'",),
        rejects=(Reject("otters", 2031, "week 3.csv", 9, "g1", "DN", "7", "no down from 1 to 4"),),
        changed=True,
        stored=12,
    )


def imported() -> dict[str, Any]:
    """An import of two files."""
    return {"files": (a_report(), a_report()), "failed": None}


def stored() -> StoredPlays:
    """A bundled season, an imported one that is hidden by it, and one that is damaged."""
    entry = Entry(
        source="otters", season=2031, title="Otter charting", level="college", license="private",
        attribution="Plays of the Otters.", plays=12, games=1, season_types=("REG",),
        parts=(Part("otters-2031.parquet", 900, "0" * 64, 12),),
        rejects=(Part("otters-2031-rejects.parquet", 400, "1" * 64, 1),), files=(), changed_at="",
    )  # fmt: skip
    reject = {"file": "week 3.csv", "line": 9, "reason": "no down", "column_name": "DN", "value": 7}
    return StoredPlays(
        source=provenance(),
        seasons=(StoredSeason(2031, "REG", 1, 12),),
        imported=(ImportedSeason(entry, entry.name, answers=True),),
        damaged={"herons/2030": "herons-2030.parquet is missing"},
        attributions=(OTTERS,),
        rejects=(reject,),
    )


def a_mapping() -> GuessedMapping:
    """A mapping that reads."""
    play = {
        "quarter": 1, "offense": "OTT", "down": 3, "distance_yd": 7, "yardline_100": 35,
        "kind": "complete", "gain_yd": 12, "side": "left", "touchdown": False, "turnover": False,
        "kick_result": "", "hash_mark": None,
    }  # fmt: skip
    return GuessedMapping("week 3.csv", {"down": "DN"}, "", ("look twice",), (play,), a_report())


def a_comparison() -> SeasonComparison:
    """Two seasons of different levels and sources, with a measure that has nothing to count."""
    changes = (
        MeasureChange("pass_share", "passes", "share", 0.5, 0.6, 90, 80, 0.1, 0.02, 0.18, True),
        MeasureChange("air_yards", "air yards", "yd", 8.0, 8.25, 90, 80, 0.25, -0.5, 1.0, False),
        MeasureChange("punts", "punts", "a game", None, 4.0, 0, 80),
    )
    return SeasonComparison((2030, 2031), "REG", (16, 17), changes, (HERONS, OTTERS))
