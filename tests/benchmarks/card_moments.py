"""``python -m tests.benchmarks.card_moments``: how far the card's moments are from each play's own.

Over plays of 2019, a season that the bundled model has not seen, each with its own score and clock:
by how many points P(usable) of the spot that the card names is off, and by how many points a better
spot would have been better; with the usual moment alone (the baseline) and with the moment that the
card chooses. The hash mark is in neither. Found on 2,000 plays (``--plays 2000``): off by 1.28
points with the usual moment alone, .83 with the card's; .10 and .04 points
worse than the best spot.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import USABLE_WEIGHTS
from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.venue import standard_venue
from lensyard.features.card.grid import MOMENTS, USUAL
from lensyard.model.context import load_context
from lensyard.model.plays import batch_of, live_plays
from lensyard.plays.store import shared_store
from lensyard.spots.scorer import Scorer

STEP_YD = 2.0

BLOCK = 1000
FloatArray = NDArray[np.float64]


def usable(context, scorer: Scorer, batch) -> FloatArray:
    """Return P(usable) of situations from every open station, -1 elsewhere, (m, n)."""
    prior, parts = context.prior(standard_venue("pro").rules), []
    for start in range(0, len(batch), BLOCK):
        rows = np.arange(start, min(start + BLOCK, len(batch)))
        mass = context.model.forecast(batch.take(rows)).cells(prior, USABLE_WEIGHTS)[0]
        parts.append(np.clip(scorer.expected_value(mass), 0.0, 1.0))
    return np.where(scorer.open, np.concatenate(parts), -1.0)


def at(batch, moment):
    """Return situations with a moment's score and clock."""
    return replace(
        batch,
        score_diff=np.full_like(batch.score_diff, moment.score_diff),
        quarter=np.full_like(batch.quarter, moment.quarter),
        half_s=np.full_like(batch.half_s, moment.clock_s),
    )


def chosen(batch) -> NDArray[np.int64]:
    """Return which moment the card takes, as a position in (USUAL, *MOMENTS), shape (m,)."""
    fourth, late = batch.quarter >= 4, (batch.half_s <= 120) & np.isin(batch.quarter, (2, 4, 5))
    ahead, behind = fourth & (batch.score_diff > 0), fourth & (batch.score_diff < 0)
    names = [moment.name for moment in (USUAL, *MOMENTS)]
    found = np.zeros(len(batch), dtype=np.int64)
    for name, where in (
        ("ahead", ahead),
        ("behind", behind),
        ("hurry", late & ~ahead),
        ("runout", late & ahead),
    ):
        found[where] = names.index(name)
    return found


def main(plays: int) -> None:
    """Print the errors, all plays and by moment."""
    context = load_context()
    season = "SELECT * FROM plays WHERE season = 2019 AND season_type = 'REG'"
    table = live_plays(shared_store().query(season))
    batch = batch_of(table.sample(min(plays, len(table)), random_state=1))
    scorer = Scorer(perimeter_of(standard_venue("pro"), step_yd=STEP_YD), DEMO_KIT,
                    Direction.TOWARD_B)  # fmt: skip
    rows, exact, moment = np.arange(len(batch)), usable(context, scorer, batch), chosen(batch)
    tables = np.stack([usable(context, scorer, at(batch, one)) for one in (USUAL, *MOMENTS)])
    print(f"{'moment':10}{'share':>7}   usual alone: off, worse   the card's: off, worse  (points)")
    for k, name in ((-1, "all"), *enumerate(one.name for one in (USUAL, *MOMENTS))):
        some = rows if k < 0 else np.flatnonzero(moment == k)
        said = f"{name:10}{some.size / rows.size:7.1%}"
        for of in (np.zeros_like(moment), moment):
            there = tables[of[some], some].argmax(axis=1)
            off = np.abs(tables[of[some], some, there] - exact[some, there])
            worse = exact[some].max(axis=1) - exact[some, there]
            said += f"{100 * off.mean():18.2f}{100 * worse.mean():7.2f}"
        print(said)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="how far the card's moments are from each play")
    parser.add_argument("--plays", type=int, default=6000)
    main(parser.parse_args().plays)
