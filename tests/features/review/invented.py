"""Reviews of photographers whose habits are known, because they were made up."""

from __future__ import annotations

from typing import Any

import numpy as np
from tests.support.logs import GAME

from lensyard.domain.situation import Zone
from lensyard.features.review.compute import (
    BodyCaptures,
    CaptureSummary,
    OwnCurve,
    Review,
    ReviewedGame,
    reviewed_plays,
)
from lensyard.features.review.figures import PlayFacts, review_figures
from lensyard.game.entry import game_setup_of

ZONES = [zone.value for zone in Zone]
MODEL: dict[str, object] = {
    "id": "m",
    "level": "professional",
    "seasons": [2009, 2018],
    "plays": 1000,
    "attribution": "Plays: invented.",
}


def made_up(rng, *, keep_rate, plays=60):
    """Return the facts of a game by a photographer who keeps this share of usable plays.

    Where a third of the plays ended across the field is not known: usable is a probability then,
    and what was truly usable is drawn from it.
    """
    predicted = np.clip(rng.beta(2, 3, plays), 0.02, 0.98)
    certain = rng.random(plays) < 2 / 3
    usable = np.where(certain, rng.random(plays) < predicted, rng.beta(1.5, 1.5, plays))
    truly = rng.random(plays) < usable
    kept = truly & (rng.random(plays) < keep_rate)
    distance = rng.uniform(5, 40, plays)
    spot = rng.choice(["left:opp20", "end:left12"], plays)
    return PlayFacts(
        game=np.full(plays, "g"),
        number=np.arange(plays) + 1,
        zone=rng.choice(ZONES, plays),
        spot=spot,
        place=spot,
        predicted=predicted,
        predicted_reach=np.sqrt(predicted),
        in_reach=np.maximum(usable, rng.random(plays)),
        usable=usable.astype(float),
        sighted=np.ones(plays),
        distance_yd=distance,
        value=rng.choice([1.0, 4.0, 10.0], plays),
        shot=truly,
        kept=kept,
        shot_known=np.ones(plays, dtype=bool),
        kept_known=np.ones(plays, dtype=bool),
        plan=np.clip(usable + 0.2, 0, 1),
        habit=np.clip(usable - 0.2, 0, 1),
    )


def review_of(facts, *, own_reach=False, **changes):
    """Return a review of made-up facts."""
    figures = review_figures(facts, default_reach_yd=40.0)
    setup = game_setup_of(GAME)
    captures = CaptureSummary(100, 90, 30, 3.0, 120.0, (BodyCaptures("One", 100, 47.3),))
    values: dict[str, Any] = {
        "title": "Herons at Otters",
        "games": (
            ReviewedGame("g", "Herons at Otters", 60, 60, 30, 90, 40, 12, ("touchdown",), captures),
            ReviewedGame("h", "Otters at Herons", 0, 0, 0, 0, 0, 0, ()),
        ),
        "kit": setup.kit.text,
        "venue": setup.venue.name,
        "prior_plays": 2.0,
        "figures": figures,
        "own_reach_figures": figures if own_reach else None,
        "own_reach_lenses": ("70-190", "380"),
        "own_curve": OwnCurve(((0.75, 1.0), (1.5, 0.0)), 200, 60),
        "plays": reviewed_plays(facts),
        "model": MODEL,
        "warnings": ("The assignment cannot be read.",),
        "setup": setup,
        "habit": "20 yd ahead of the ball",
    }
    return Review(**{**values, **changes})


def a_review():
    """Return a review that counts with the own reach, too."""
    return review_of(made_up(np.random.default_rng(3), keep_rate=0.6), own_reach=True)
