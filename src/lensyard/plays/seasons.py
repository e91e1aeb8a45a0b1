"""Which seasons are meant, and whose plays an answer about them rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lensyard.errors import InvalidInputError
from lensyard.plays.bundled import provenance
from lensyard.plays.importing.catalog import BUNDLED, ImportedSeasons


@dataclass(frozen=True, slots=True)
class Attribution:
    """One source behind an answer: whom to name, under which license, for which seasons."""

    source: str
    title: str
    level: str
    license: str
    text: str
    seasons: tuple[int, ...]

    @property
    def line(self) -> str:
        """The text with its license, for people."""
        return f"{self.text} License: {self.license}"


def attributions_of(
    imported: ImportedSeasons, seasons: Sequence[int] | None = None, *, source: str | None = None
) -> tuple[Attribution, ...]:
    """Return whom to name for plays of these seasons, the bundled ones first.

    Parameters
    ----------
    imported
        The imported seasons.
    seasons, source
        As given to `lensyard.plays.store.load_plays`.

    Raises
    ------
    UnknownNameError
        If there is no such source.
    """
    imported.require(source=source, seasons=None)
    origin = provenance()
    bundled = frozenset(origin.seasons)
    wanted = None if seasons is None else {int(season) for season in seasons}
    found = []
    own = tuple(sorted(s for s in bundled if wanted is None or s in wanted))
    if own and source in (None, BUNDLED):
        found.append(
            Attribution(BUNDLED, origin.source, "pro", origin.license, origin.attribution, own)
        )
    entries = imported.catalog.answering(bundled) if source is None else imported.catalog.entries
    grouped: dict[tuple[str, str, str, str, str], list[int]] = {}
    for entry in entries:
        if source in (None, entry.source) and (wanted is None or entry.season in wanted):
            key = (entry.source, entry.title, entry.level, entry.license, entry.attribution)
            grouped.setdefault(key, []).append(entry.season)
    found += [Attribution(*key, tuple(sorted(of))) for key, of in sorted(grouped.items())]
    return tuple(found)


def parse_seasons(text: str) -> tuple[int, ...]:
    """Return seasons from text such as ``2009-2018`` or ``2016,2018``.

    Raises
    ------
    InvalidInputError
        If it is neither.

    Examples
    --------
    >>> parse_seasons("2016-2018"), parse_seasons("2016,2018")
    ((2016, 2017, 2018), (2016, 2018))
    """
    try:
        if "-" in text:
            first, last = (int(part) for part in text.split("-"))
            seasons = tuple(range(first, last + 1))
        else:
            seasons = tuple(int(part) for part in text.split(","))
    except ValueError:
        seasons = ()
    if not seasons or not all(1900 <= season <= 2200 for season in seasons):
        raise InvalidInputError(
            f"cannot read seasons from {text!r}; expected 2009-2018 or 2016,2018"
        )
    return seasons
