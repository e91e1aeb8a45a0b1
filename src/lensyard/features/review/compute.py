"""The review of a game or a season: what was had, what would have been, and what to change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from math import isnan
from pathlib import Path
from typing import Any

from lensyard.domain.shots import FRAMES, missing
from lensyard.domain.zones import Zone
from lensyard.errors import InvalidInputError
from lensyard.features.review.facts import (
    facts_of,
    kit_reaching,
    scrimmage_plays,
)
from lensyard.features.review.keep_rates import PRIOR_PLAYS, OwnReach
from lensyard.features.review.rates import PlayFacts, ReviewFigures, review_figures
from lensyard.game.document import GameLog
from lensyard.game.logbook import open_log
from lensyard.game.setup import GameSetup, game_setup_of
from lensyard.game.store import WAIT_S
from lensyard.model.context import SCHEMA_VERSION, Context


@dataclass(frozen=True, slots=True)
class ReviewedGame:
    """One game of a review: its title, its plays, and the must-haves that did not come home."""

    game_id: str
    title: str
    plays: int
    placed: int
    frames: int
    keepers: int
    must_haves: int
    missing: tuple[str, ...]


@dataclass(frozen=True)
class Review:
    """A review.

    Attributes
    ----------
    title
        The game, or the season.
    games
        What it is of.
    kit, venue
        In words; of the last game.
    facts, figures
        By play, and counted.
    own
        The figures with the own reach in place of the usual one; None unless asked for.
    own_lenses
        What to type after ``--lens`` to have every command use the own reach; empty where there is
        no own reach.
    warnings
        What could not be read.
    model
        Facts about the model.
    """

    title: str
    games: tuple[ReviewedGame, ...]
    kit: str
    venue: str
    facts: PlayFacts
    figures: ReviewFigures
    own: ReviewFigures | None
    own_lenses: tuple[str, ...]
    warnings: tuple[str, ...]
    model: dict[str, object]


def review_game(
    context: Context,
    *,
    game_id: str | None = None,
    season: int | None = None,
    own_reach: bool = False,
    folder: Path | None = None,
    wait_s: float = WAIT_S,
) -> Review:
    """Return the review of a game, or of all games of a season.

    Parameters
    ----------
    context
        The model.
    game_id, season
        Which; neither is the game going on, else the last.
    own_reach
        Count again with the photographer's own reach.
    folder, wait_s
        Where the log is, and how long to wait for it. [s]

    Raises
    ------
    InvalidInputError
        If both are given, there is no such game, or no play says where one stood.
    """
    if game_id is not None and season is not None:
        raise InvalidInputError("review a game or a season, not both at once")
    logs = _logs(game_id=game_id, season=season, folder=folder, wait_s=wait_s)
    title = logs[0].game.title if season is None else f"season {season}"
    return review_logs(context, logs, title=title, own_reach=own_reach)


def _logs(
    *, game_id: str | None, season: int | None, folder: Path | None, wait_s: float
) -> tuple[GameLog, ...]:
    with open_log(folder, wait_s=wait_s) as book:
        if season is None:
            return (book.log(game_id),)
        games = [game for game in book.games() if game.season == season]
        if not games:
            known = sorted({game.season for game in book.games()})
            raise InvalidInputError(
                f"there is no game of season {season} in the log; it has "
                f"{', '.join(map(str, known)) or 'none'}"
            )
        return tuple(book.log(game.game_id) for game in games)


def review_logs(
    context: Context, logs: Sequence[GameLog], *, title: str, own_reach: bool = False
) -> Review:
    """Return the review of some games; see `review_game`."""
    some = [log for log in logs if scrimmage_plays(log)]
    if not some:
        raise InvalidInputError(
            "no play with a down has been logged, so there is nothing to review; "
            "`lensyard log add` adds plays"
        )
    grounds = [game_setup_of(log.game) for log in some]
    facts = PlayFacts.joined(
        [facts_of(context, log, ground) for log, ground in zip(some, grounds, strict=True)]
    )
    figures = _figures(facts, grounds)
    factor = figures.reach.factor if figures.reach is not None else 1.0
    own = None
    if own_reach:
        if figures.reach is None:
            raise InvalidInputError(
                "an own reach needs plays with keepers noted; log them with --keepers, or rate "
                "frames in the camera and `lensyard capture` them"
            )
        reaching = [
            GameSetup(g.venue, kit_reaching(g.kit, factor), g.assignment, g.warning)
            for g in grounds
        ]
        again = [facts_of(context, log, ground) for log, ground in zip(some, reaching, strict=True)]
        own = _figures(PlayFacts.joined(again), reaching)
    last = grounds[-1]
    return Review(
        title=title,
        games=tuple(_reviewed(log, ground) for log, ground in zip(some, grounds, strict=True)),
        kit=last.kit.text,
        venue=last.venue.name,
        facts=facts,
        figures=figures,
        own=own,
        own_lenses=_own_lenses(last, figures.reach),
        warnings=tuple(dict.fromkeys(g.warning for g in grounds if g.warning)),
        model=context.model_facts(),
    )


def _figures(facts: PlayFacts, grounds: Sequence[GameSetup]) -> ReviewFigures:
    kit = grounds[-1].kit
    return review_figures(
        facts,
        zones=[zone.value for zone in Zone],
        default_reach_yd=kit.reach_yd,
        nearest_yd=kit.nearest_yd,
    )


def _own_lenses(ground: GameSetup, reach: OwnReach | None) -> tuple[str, ...]:
    if reach is None:
        return ()
    lenses = (mounted.lens for mounted in kit_reaching(ground.kit, reach.factor).mounted)
    return tuple(
        f"{lens.long_mm:.0f}"
        if lens.wide_mm == lens.long_mm
        else f"{lens.wide_mm:.0f}-{lens.long_mm:.0f}"
        for lens in lenses
    )


def _reviewed(log: GameLog, ground: GameSetup) -> ReviewedGame:
    frames = ground.assignment.must_have
    known = {*FRAMES, *(frame.key for frame in frames)}
    have = [key for key in log.ticked if key in known]
    plays = scrimmage_plays(log)
    return ReviewedGame(
        game_id=log.game.game_id,
        title=log.game.title,
        plays=len(plays),
        placed=sum(bool(play.spot) for play in plays),
        frames=sum(play.frames or 0 for play in log.plays),
        keepers=sum(play.keepers or 0 for play in log.plays),
        must_haves=len(frames),
        missing=tuple(frame.key for frame in missing(frames, have)),
    )


def review_document(review: Review) -> dict[str, Any]:
    """Return a review as one JSON document (the contract of ``lensyard review --json``)."""
    return {
        "schema_version": SCHEMA_VERSION,
        "title": review.title,
        "games": [asdict(game) for game in review.games],
        "kit": review.kit,
        "venue": review.venue,
        "prior_plays": PRIOR_PLAYS,
        "figures": asdict(review.figures),
        "own_reach_figures": None if review.own is None else asdict(review.own),
        "own_reach_lenses": list(review.own_lenses),
        "plays": _plays(review.facts),
        "model": review.model,
        "cautions": list(review.warnings),
    }


def _plays(facts: PlayFacts) -> list[dict[str, Any]]:
    found = []
    for i in range(len(facts)):
        placed = bool(facts.spot[i] != "")
        distance = float(facts.distance_yd[i])
        found.append(
            {
                "game_id": str(facts.game[i]),
                "number": int(facts.number[i]),
                "zone": str(facts.zone[i]),
                "spot": str(facts.spot[i]),
                "p_usable_before": round(float(facts.predicted[i]), 4) if placed else None,
                "p_in_reach": round(float(facts.in_reach[i]), 4) if placed else None,
                "p_usable": round(float(facts.usable[i]), 4) if placed else None,
                "distance_yd": None if isnan(distance) else round(distance, 1),
                "shot": bool(facts.shot[i]) if facts.shot_known[i] else None,
                "kept": bool(facts.kept[i]) if facts.kept_known[i] else None,
                "p_usable_plan": round(float(facts.plan[i]), 4),
                "p_usable_habit": round(float(facts.habit[i]), 4),
            }
        )
    return found
