"""Whose plays an answer rests on: what every output that uses them has to say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lensyard.data.bundled import provenance
from lensyard.data.sources.catalog import BUNDLED
from lensyard.data.store import shared_store


@dataclass(frozen=True, slots=True)
class Attribution:
    """One source behind an answer: who to name, under which license, for which seasons."""

    source: str
    title: str
    level: str
    license: str
    text: str
    seasons: tuple[int, ...]


def attributions(
    seasons: Sequence[int] | None = None, *, source: str | None = None
) -> tuple[Attribution, ...]:
    """Return whom to name for plays of these seasons.

    Parameters
    ----------
    seasons : sequence of int, optional
        As given to `lensyard.data.store.load_plays`; all by default.
    source : str, optional
        As given there: by default each season comes from one source.

    Raises
    ------
    UnknownNameError
        If there is no such source.
    StoreError
        If the store cannot be opened.
    """
    attached = shared_store().attached
    attached.require(source=source, seasons=None)
    origin = provenance()
    bundled = frozenset(origin.seasons)
    wanted = None if seasons is None else {int(season) for season in seasons}
    found = []
    own = tuple(sorted(s for s in bundled if wanted is None or s in wanted))
    if own and source in (None, BUNDLED):
        found.append(
            Attribution(BUNDLED, origin.source, "pro", origin.license, origin.attribution, own)
        )
    entries = attached.catalog.answering(bundled) if source is None else attached.catalog.entries
    grouped: dict[tuple[str, str, str, str, str], list[int]] = {}
    for entry in entries:
        if source not in (None, entry.source) or (
            wanted is not None and entry.season not in wanted
        ):
            continue
        key = (entry.source, entry.title, entry.level, entry.license, entry.attribution)
        grouped.setdefault(key, []).append(entry.season)
    found += [Attribution(*key, tuple(sorted(of))) for key, of in sorted(grouped.items())]
    return tuple(found)
