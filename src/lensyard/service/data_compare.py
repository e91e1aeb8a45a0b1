"""How two seasons differ: what has drifted since the model was fitted, with errors by game."""

from __future__ import annotations

from math import hypot
from typing import Any, Final

from lensyard.service.context import SCHEMA_VERSION

Z_95: Final = 1.959963984540054
"""Two-sided 95 % point of the normal distribution."""


def compare_document(
    first: int, second: int, *, source: str | None = None, season_type: str = "REG"
) -> dict[str, Any]:
    """Return the measures of two stored seasons side by side, with their differences.

    Parameters
    ----------
    first, second
        The seasons.
    source
        Name of a source; by default each season comes from one source.
    season_type
        "REG" or "POST".

    Raises
    ------
    DataError
        If a season has no plays.
    """
    from lensyard.data.season_measures import MEASURES, measure_season
    from lensyard.data.store import shared_store
    from lensyard.service.imports import attributions_document

    store = shared_store()
    before = measure_season(store, first, source=source, season_type=season_type)
    after = measure_season(store, second, source=source, season_type=season_type)
    rows = []
    for measure, old, new in zip(MEASURES, before, after, strict=True):
        row: dict[str, Any] = {
            "name": measure.name,
            "meaning": measure.meaning,
            "unit": measure.unit,
            "first": old.value,
            "second": new.value,
            "first_base": old.base,
            "second_base": new.base,
            "difference": None,
            "low": None,
            "high": None,
            "differs": None,
        }
        if old.value is not None and new.value is not None:
            row["difference"] = difference = new.value - old.value
            if old.error is not None and new.error is not None:
                margin = Z_95 * hypot(old.error, new.error)
                row |= {"low": difference - margin, "high": difference + margin}
                row["differs"] = abs(difference) > margin
        rows.append(row)
    return {
        "schema_version": SCHEMA_VERSION,
        "seasons": [first, second],
        "season_type": season_type,
        "games": [before[0].games, after[0].games],
        "measures": rows,
        "attributions": attributions_document([first, second], source=source),
        "cautions": [
            f"one in twenty of these {len(rows)} measures would stand out by chance alone",
            *_level_cautions(first, second, source),
        ],
    }


def _level_cautions(first: int, second: int, source: str | None) -> list[str]:
    """Return a caution where the two seasons are of different levels or sources."""
    from lensyard.data.attribution import attributions

    found = {a.level for season in (first, second) for a in attributions([season], source=source)}
    sources = {a.source for s in (first, second) for a in attributions([s], source=source)}
    cautions = []
    if len(found) > 1:
        cautions.append(f"the two seasons are of different levels: {', '.join(sorted(found))}")
    if len(sources) > 1:
        cautions.append(
            f"the two seasons come from different sources ({', '.join(sorted(sources))}); what "
            "scorers call deep, or a return, may differ"
        )
    return cautions
