"""What the model says of one situation: figures for people, and the mass that spots earn from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lensyard.domain.assignment import USABLE_WEIGHTS, Assignment, OutcomeWeights
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.domain.venue import Venue
from lensyard.model.cells import OutcomeArrays, cell_masses
from lensyard.model.outcome import GAINS_YD, OutcomeModel
from lensyard.recommend.ranking import Masses
from lensyard.service.context import Context


@dataclass(frozen=True, slots=True)
class Outcome:
    """What is likely to happen, in the units of the contract (yards and probabilities)."""

    gain_p10_yd: int
    gain_p50_yd: int
    gain_p90_yd: int
    p_touchdown: float
    p_first_down: float
    p_turnover: float
    p_out_of_bounds: float
    p_pass: float
    drive_p_touchdown: float
    drive_p_field_goal: float


def outcome_of(model: OutcomeModel, batch: SituationBatch) -> Outcome:
    """Return the outcome of the first situation of a batch."""
    cumulative = np.cumsum(model.gain_pmf(batch)[0])
    p10, p50, p90 = (
        int(GAINS_YD[min(int(np.searchsorted(cumulative, p - 1e-9)), GAINS_YD.size - 1)])
        for p in (0.1, 0.5, 0.9)
    )
    drive = model.drive_end(batch)[0]
    return Outcome(
        gain_p10_yd=p10,
        gain_p50_yd=p50,
        gain_p90_yd=p90,
        p_touchdown=float(model.p_touchdown(batch)[0]),
        p_first_down=float(model.p_first_down(batch)[0]),
        p_turnover=float(model.p_turnover(batch)[0]),
        p_out_of_bounds=float(model.p_out_of_bounds(batch)[0]),
        p_pass=float(model.p_pass(batch)[0]),
        drive_p_touchdown=float(drive[0]),
        drive_p_field_goal=float(drive[1]),
    )


def masses_of(
    context: Context, situation: Situation, venue: Venue, assignment: Assignment
) -> Masses:
    """Return the outcome mass of one situation: plain, weighted, and weighted by the square."""
    batch = SituationBatch.of([situation])
    weights = assignment.weights
    squared = OutcomeWeights(
        **{name: getattr(weights, name) ** 2 for name in weights.__dataclass_fields__}
    )
    plain, worth, worth_sq = cell_masses(
        OutcomeArrays.of(context.model, batch),
        context.prior(venue.rules),
        weights=(USABLE_WEIGHTS, weights, squared),
    )
    return Masses(plain[0], worth[0], worth_sq[0], comparable_plays(context.model, batch))


def comparable_plays(model: OutcomeModel, batch: SituationBatch) -> float:
    """Return how many fitted plays stand behind the first situation's estimate (at least 1)."""
    return max(float(model.comparable_plays(batch)[0]), 1.0)
