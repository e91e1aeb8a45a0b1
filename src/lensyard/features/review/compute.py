"""The review of a game or a season: what was had, what would have been, and what to change."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import field, replace
from itertools import pairwise
from math import isnan
from statistics import median
from typing import Final

import numpy as np

from lensyard.arrays import BoolArray, FloatArray
from lensyard.domain.assignment import FRAMES, missing
from lensyard.domain.kit import CROP_MARGIN, KeepCurve, Kit, curve_text
from lensyard.domain.perimeter import STEP_YD
from lensyard.errors import InvalidInputError
from lensyard.features.game_log.merge import CrewTake, crew_take
from lensyard.features.review.facts import facts_of, kit_reaching, scrimmage_plays
from lensyard.features.review.figures import (
    NO_IDEA,
    PRIOR_PLAYS,
    OwnReach,
    PlayFacts,
    ReviewFigures,
    falling_curve,
    review_figures,
)
from lensyard.game.document import GameLog
from lensyard.game.entry import Capture, Game, GameSetup, current_game
from lensyard.model.context import Context
from lensyard.records import Record
from lensyard.spots.position_rule import habit_for


class BodyCaptures(Record):
    """One camera: its captures, and by how much its clock was corrected. [s]"""

    body: str
    captures: int
    offset_s: float


class CaptureSummary(Record):
    """The matched captures of a game: how many over which time, in plays, and by camera."""

    captures: int
    in_plays: int
    plays: int
    frames_median: float
    minutes: float
    bodies: tuple[BodyCaptures, ...]


class ReviewedGame(Record):
    """One game of a review: its title, its plays, and the must-haves that did not come home."""

    game_id: str
    title: str
    plays: int
    placed: int
    plays_with_frames: int
    frames: int
    keepers: int
    must_haves: int
    missing: tuple[str, ...]
    captures: CaptureSummary | None = field(default=None, metadata={"json": None})
    crew: CrewTake | None = None


class ReviewedPlay(Record):
    """One play of a review: probabilities to four decimals, the distance to one; None unknown."""

    game_id: str
    number: int
    zone: str
    spot: str
    place: str = field(metadata={"json": None})
    p_usable_before: float | None
    p_in_reach: float | None
    p_usable: float | None
    distance_yd: float | None
    shot: bool | None
    kept: bool | None
    p_usable_plan: float | None
    p_usable_habit: float | None


class Review(Record):
    """A review.

    - ``title``: the game, or the season.
    - ``kit``, ``venue``, ``setup``: what the last game was played with, in words and as objects.
    - ``own_reach_figures``: the figures with the own reach in place of the usual one; None unless
      asked for.
    - ``own_reach_lenses``: what to type after ``--lens`` to have every command use the own reach;
      may be empty.
    - ``habit``: the usual habit for whose faces were wanted, in words.
    """

    title: str
    games: tuple[ReviewedGame, ...]
    kit: str
    venue: str
    prior_plays: float
    figures: ReviewFigures
    own_reach_figures: ReviewFigures | None
    own_reach_lenses: tuple[str, ...]
    own_curve: OwnCurve
    plays: tuple[ReviewedPlay, ...]
    model: dict[str, object]
    warnings: tuple[str, ...] = field(metadata={"json": "cautions"})
    setup: GameSetup = field(metadata={"json": None})
    habit: str = field(metadata={"json": None})


def chosen_games(
    games: Sequence[Game], *, game_id: str = "", season: int | None = None
) -> tuple[str, tuple[str, ...]]:
    """Return the title of a review and the ids of its games: one, or all of a season.

    ``games``: all games of the log, the oldest first. ``game_id``, ``season``: which; neither is
    the game going on, else the last.

    Raises `InvalidInputError` if both are given, or there is no such game.
    """
    if game_id and season is not None:
        raise InvalidInputError("review a game or a season, not both at once")
    if season is None:
        game = current_game(games, game_id=game_id)
        return game.title, (game.game_id,)
    ids = tuple(game.game_id for game in games if game.season == season)
    if not ids:
        known = sorted({game.season for game in games})
        raise InvalidInputError(
            f"there is no game of season {season} in the log; it has "
            f"{', '.join(map(str, known)) or 'none'}"
        )
    return f"season {season}", ids


def review_games(
    context: Context,
    games: Sequence[tuple[GameLog, GameSetup]],
    *,
    title: str,
    own_reach: bool = False,
    step_yd: float = STEP_YD,
) -> Review:
    """Return the review of some games.

    ``games``, ``title``: the games with what they were played with, and what they are together.
    ``own_reach``: count again with the photographer's own reach. ``step_yd``: spacing of the
    stations that plan and habit stand on. [yd]

    Raises `InvalidInputError` if there is no play with a down, or none that says where one stood,
    or an own reach is asked for and no keepers were noted.
    """
    some = [(log, setup) for log, setup in games if scrimmage_plays(log)]
    if not some:
        raise InvalidInputError(
            "no play with a down has been logged, so there is nothing to review; "
            "`lensyard log add` adds plays"
        )

    def counted(factor: float) -> tuple[PlayFacts, ReviewFigures]:
        parts = []
        for log, setup in some:
            kit = setup.kit if factor == 1.0 else kit_reaching(setup.kit, factor)
            parts.append(facts_of(context, log, replace(setup, kit=kit), step_yd=step_yd))
        facts = PlayFacts.joined(parts)
        return facts, review_figures(
            facts, default_reach_yd=kit.reach_yd, nearest_yd=kit.nearest_yd
        )

    facts, figures = counted(1.0)
    own = None
    if own_reach:
        if figures.reach is None:
            raise InvalidInputError(
                "an own reach needs plays with keepers noted; log them with --keepers, or rate "
                "frames in the camera and `lensyard capture` them"
            )
        own = counted(figures.reach.factor)[1]
    setups = [setup for _, setup in some]
    last = setups[-1]
    habits = dict.fromkeys(habit_for(setup.assignment.faces).title for setup in setups)
    return Review(
        title=title,
        games=tuple(reviewed_game(log, setup) for log, setup in some),
        kit=last.kit.text,
        venue=last.venue.name,
        prior_plays=PRIOR_PLAYS,
        figures=figures,
        own_reach_figures=own,
        own_reach_lenses=_own_lenses(last, figures.reach),
        own_curve=_own_curve(facts, last.kit),
        plays=reviewed_plays(facts),
        model=context.model_facts(),
        warnings=tuple(dict.fromkeys(s.warning for s in setups if s.warning)),
        setup=last,
        habit="; ".join(habits),
    )


def _own_curve(facts: PlayFacts, kit: Kit) -> OwnCurve:
    """The curve of the plays that came toward the camera with a clear line, keepers noted."""
    some = facts.kept_known & (np.nan_to_num(facts.sighted) >= 0.5)
    return own_curve_of(
        facts.distance_yd[some],
        facts.kept[some],
        reach_yd=kit.reach_yd,
        nearest_yd=kit.nearest_yd,
        crop_margin=kit.crop_margin,
    )


def _own_lenses(setup: GameSetup, reach: OwnReach | None) -> tuple[str, ...]:
    if reach is None:
        return ()
    lenses = (mounted.lens for mounted in kit_reaching(setup.kit, reach.factor).mounted)
    return tuple(
        f"{lens.long_mm:.0f}"
        if lens.wide_mm == lens.long_mm
        else f"{lens.wide_mm:.0f}-{lens.long_mm:.0f}"
        for lens in lenses
    )


def reviewed_game(log: GameLog, setup: GameSetup) -> ReviewedGame:
    """Return a game's plays, frames and must-haves."""
    frames = setup.assignment.must_have
    known = {*FRAMES, *(frame.key for frame in frames)}
    have = [key for key in log.ticked if key in known]
    plays = scrimmage_plays(log)
    take = crew_take(log.plays)
    return ReviewedGame(
        game_id=log.game.game_id,
        title=log.game.title,
        plays=len(plays),
        placed=sum(bool(play.spot) for play in plays),
        plays_with_frames=sum(bool(play.frames) for play in log.plays),
        frames=sum(play.frames or 0 for play in log.plays),
        keepers=sum(play.keepers or 0 for play in log.plays),
        must_haves=len(frames),
        missing=tuple(frame.key for frame in missing(frames, have)),
        captures=_captures(log.captures),
        crew=take if take.members else None,
    )


def _captures(captures: Sequence[Capture]) -> CaptureSummary | None:
    if not captures:
        return None
    by_play = Counter(c.play for c in captures if c.play is not None)
    corrections: dict[str, list[float]] = {}
    for c in captures:
        off_s = (c.corrected_at - c.captured_at).total_seconds()
        corrections.setdefault(c.body, []).append(off_s)
    lasted = captures[-1].corrected_at - captures[0].corrected_at
    return CaptureSummary(
        captures=len(captures),
        in_plays=by_play.total(),
        plays=len(by_play),
        frames_median=float(median(by_play.values())) if by_play else 0.0,
        minutes=lasted.total_seconds() / 60,
        bodies=tuple(
            BodyCaptures(body, len(off), median(off)) for body, off in sorted(corrections.items())
        ),
    )


def reviewed_plays(facts: PlayFacts) -> tuple[ReviewedPlay, ...]:
    """Return the facts play by play."""
    return tuple(
        ReviewedPlay(
            game_id=str(facts.game[i]),
            number=int(facts.number[i]),
            zone=str(facts.zone[i]),
            spot=str(facts.spot[i]),
            place=str(facts.place[i]),
            p_usable_before=_known(facts.predicted[i], 4),
            p_in_reach=_known(facts.in_reach[i], 4),
            p_usable=_known(facts.usable[i], 4),
            distance_yd=_known(facts.distance_yd[i], 1),
            shot=bool(facts.shot[i]) if facts.shot_known[i] else None,
            kept=bool(facts.kept[i]) if facts.kept_known[i] else None,
            p_usable_plan=_known(facts.plan[i], 4),
            p_usable_habit=_known(facts.habit[i], 4),
        )
        for i in range(len(facts))
    )


def _known(value: float, digits: int) -> float | None:
    return None if isnan(value) else round(float(value), digits)


BANDS: Final = (0.75, 1.0, 1.125, 1.25, 1.375, 1.5, 1.75, 2.0)
"""Edges of the bands, in multiples of the reach; nearer than the first, reach is no matter."""


LEAST_NEAR: Final = 20


LEAST_PAST: Final = 20
"""So many plays near at hand, and past the reach, are enough for a curve."""


SLOPE_PLAYS: Final = 10.0


class OwnCurve(Record):
    """The photographer's own curve, and from how many plays it comes.

    ``knots`` are empty where there are too few plays; ``near``, ``past``: plays near at hand and
    past the reach. ``text``: the curve as one types it.
    """

    knots: KeepCurve
    near: int
    past: int

    @property
    def text(self) -> str:
        """What to type after ``--keep-curve``."""
        return curve_text(self.knots)


def own_curve_of(
    distance_yd: FloatArray,
    kept: BoolArray,
    *,
    reach_yd: float,
    nearest_yd: float = 0.0,
    crop_margin: float = CROP_MARGIN,
) -> OwnCurve:
    r"""Return the own curve from plays that came toward the camera with a clear line.

    Distances are counted in multiples of the reach, so that one curve serves every lens. ``k`` of
    ``n`` plays in a band were kept, and near at hand a share ``r``. The quality of a frame there is

    .. math:: q = \frac{k + s\, r\, m}{(n + s)\, r},

    with ``m`` the slope's quality and ``s`` = `SLOPE_PLAYS` how many plays the slope is worth: few
    plays leave it as it is, many take its place. The curve through the bands never rises.

    ``distance_yd``: to where each play ended, shape (n,); NaN and nearer than ``nearest_yd`` are
    left out. [yd] ``kept``: whether a frame of it was kept, shape (n,). ``reach_yd``: of the kit's
    longest lens. ``crop_margin``: of the slope that the curve is shrunk toward.
    """
    some = np.isfinite(distance_yd) & (distance_yd >= nearest_yd)
    at, hit = distance_yd[some] / reach_yd, kept[some]
    near, past = at < BANDS[0], at > 1.0
    counts = int(near.sum()), int(past.sum())
    if counts[0] < LEAST_NEAR or counts[1] < LEAST_PAST or not hit[near].any():
        return OwnCurve((), *counts)
    rate = (hit[near].sum() + PRIOR_PLAYS * NO_IDEA) / (near.sum() + PRIOR_PLAYS)
    middle = np.array([(low + high) / 2 for low, high in pairwise(BANDS)])
    slope = np.clip((crop_margin - middle) / max(crop_margin - 1.0, 1e-9), 0.0, 1.0)
    inside = [(at >= low) & (at < high) for low, high in pairwise(BANDS)]
    plays = np.array([band.sum() for band in inside])
    keepers = np.array([hit[band].sum() for band in inside])
    quality = (keepers + SLOPE_PLAYS * rate * slope) / ((plays + SLOPE_PLAYS) * rate)
    fitted = np.clip(falling_curve(quality, plays + SLOPE_PLAYS), 0.0, 1.0)
    knots = ((BANDS[0], 1.0), *zip(middle.tolist(), fitted.round(3).tolist(), strict=True))
    last = next((i for i, (_, q) in enumerate(knots) if q == 0.0), len(knots))
    return OwnCurve((*knots[:last], *(knots[last : last + 1] or ((BANDS[-1], 0.0),))), *counts)
