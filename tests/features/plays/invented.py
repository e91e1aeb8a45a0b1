"""Results of the plays from an invented chart: what every report is made of."""

from dataclasses import replace
from functools import cache
from pathlib import Path

from lensyard.features.plays import compute
from lensyard.plays.bundled import provenance
from lensyard.plays.importing.guess import guess_mapping
from lensyard.plays.store import shared_store

CHART = Path(__file__).parents[2] / "plays" / "importing" / "files" / "chart.csv"


@cache
def a_mapping():
    """A mapping that reads, with doubts."""
    guessed = guess_mapping(CHART, {}, us="RIV", season=2031)
    return replace(guessed, doubts=(*guessed.doubts, "look twice"))


def imported():
    """An import of two files."""
    report = a_mapping().report
    assert report is not None
    return {"files": (report, replace(report, changed=True, stored=12)), "failed": None}


def stored():
    """The bundled seasons, a damaged one, and a rejected row."""
    reject = {"file": "week 3.csv", "line": 9, "reason": "no down", "column_name": "DN", "value": 7}
    return replace(
        compute.stored_plays(shared_store(), provenance()),
        damaged={"herons/2030": "herons-2030.parquet is missing"},
        rejects=(reject,),
    )


@cache
def a_comparison():
    """Two bundled seasons."""
    return compute.compare_seasons(shared_store(), 2018, 2019)
