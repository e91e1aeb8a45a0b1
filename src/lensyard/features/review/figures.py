"""What a game or a season brought, counted from the facts of its plays.

The facts are numbers by play. Where they come from (geometry, model, plan) is left to
`lensyard.features.review.facts`, so everything here can be tested with plays of a known truth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.zones import Zone
from lensyard.errors import InvalidInputError
from lensyard.features.review.keep_rates import (
    DistanceRate,
    OwnReach,
    Rate,
    distance_rates,
    keep_rate,
    own_reach,
    rate_of,
)
from lensyard.stats import interval_95

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

DRAWS: Final = 2000


@dataclass(frozen=True, slots=True, eq=False)
class PlayFacts:
    """What is known of m plays, as arrays of shape (m,).

    Attributes
    ----------
    game, number
        Which game (its id), and which play of it.
    zone, spot
        Zone of the field, and where one stood; "" where that was not noted.
    predicted, predicted_reach
        P(usable) and P(in reach) from there before the snap, by the model. NaN without a spot.
    in_reach, usable, sighted
        P(in reach), P(usable) and P(facing and clear) given where the play ended, as far as that
        is known. NaN without a spot.
    distance_yd
        From the spot to where the play ended; NaN where not known. [yd]
    value
        Of a usable frame, by the assignment.
    shot, kept
        Whether frames were shot and kept; meaningless where not noted.
    shot_known, kept_known
        Whether that was noted.
    plan, habit
        P(usable) given the same from where the plan and the usual habit would have stood.
    """

    game: NDArray[np.str_]
    number: NDArray[np.int64]
    zone: NDArray[np.str_]
    spot: NDArray[np.str_]
    predicted: FloatArray
    predicted_reach: FloatArray
    in_reach: FloatArray
    usable: FloatArray
    sighted: FloatArray
    distance_yd: FloatArray
    value: FloatArray
    shot: BoolArray
    kept: BoolArray
    shot_known: BoolArray
    kept_known: BoolArray
    plan: FloatArray
    habit: FloatArray

    def __post_init__(self) -> None:
        """Refuse arrays of different lengths."""
        lengths = {len(getattr(self, f.name)) for f in fields(self)}
        if len(lengths) != 1:
            raise InvalidInputError(f"facts need arrays of one length; got {sorted(lengths)}")

    def __len__(self) -> int:
        """The number of plays."""
        return int(self.number.shape[0])

    def take(self, some: BoolArray) -> PlayFacts:
        """Return some of the plays."""
        return PlayFacts(*(getattr(self, f.name)[some] for f in fields(self)))

    @staticmethod
    def joined(parts: Sequence[PlayFacts]) -> PlayFacts:
        """Return the plays of several games one after the other."""
        return PlayFacts(
            *(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(PlayFacts))
        )


@dataclass(frozen=True, slots=True)
class GroupRates:
    """What plays of one zone or spot brought, of those with a spot.

    ``predicted`` is P(usable) before the snaps, on average, and the prior of the shares; ``kept``
    is the share with a keeper, of those where that was noted.
    """

    name: str
    plays: int
    predicted: float
    in_reach: Rate
    usable: Rate
    kept: Rate


@dataclass(frozen=True, slots=True)
class PolicyShare:
    """What somebody had, or would have had, of the plays with a known spot.

    ``p_usable`` with its 95 % interval (bootstrap over plays) and the share of the value.
    """

    name: str
    p_usable: float
    p_usable_low: float
    p_usable_high: float
    value_share: float


@dataclass(frozen=True, slots=True)
class ReviewFigures:
    """The numbers of a review.

    Attributes
    ----------
    plays, placed, kept_known
        Plays that count, those with a spot, and those of them where keepers were noted.
    policies
        You, the plan, the habit.
    plan_over_you
        Usable plays more per 100 with the plan, with its 95 % interval.
    keep, by_distance, reach
        Share of usable plays that were kept, the same by distance, and the own reach; None or empty
        where keepers were never noted.
    """

    plays: int
    placed: int
    kept_known: int
    overall: GroupRates
    zones: tuple[GroupRates, ...]
    spots: tuple[GroupRates, ...]
    policies: tuple[PolicyShare, ...]
    plan_over_you: tuple[float, float, float]
    keep: Rate | None
    by_distance: tuple[DistanceRate, ...]
    reach: OwnReach | None


def group_rates(name: str, facts: PlayFacts) -> GroupRates:
    """Return the rates of plays that all have a spot; at least one."""
    predicted = float(facts.predicted.mean())
    reach = float(facts.predicted_reach.mean())
    known = facts.kept_known
    kept = float((facts.kept & known).sum())
    prior = float(facts.predicted[known].mean()) if known.any() else predicted
    return GroupRates(
        name=name,
        plays=len(facts),
        predicted=predicted,
        in_reach=rate_of(hits=float(facts.in_reach.sum()), plays=len(facts), prior=reach),
        usable=rate_of(hits=float(facts.usable.sum()), plays=len(facts), prior=predicted),
        kept=rate_of(hits=kept, plays=float(known.sum()), prior=prior),
    )


def review_figures(
    facts: PlayFacts, *, default_reach_yd: float, nearest_yd: float = 0.0, seed: int = 5
) -> ReviewFigures:
    """Return the numbers of a review of all plays that count.

    ``default_reach_yd`` and ``nearest_yd`` are the kit's, ``seed`` is the bootstrap's. [yd]

    Raises
    ------
    InvalidInputError
        If no play has a spot.
    """
    here = facts.take(facts.spot != "")
    if len(here) == 0:
        raise InvalidInputError(
            "no play says where you stood, so there is nothing to review; log plays with --spot, "
            "or `lensyard log edit NUMBER --spot left:opp20`"
        )
    noted = here.take(here.kept_known)
    counts = {spot: int((here.spot == spot).sum()) for spot in np.unique(here.spot).tolist()}
    by_count = sorted(counts, key=lambda spot: (-counts[spot], spot))
    reach = None
    if len(noted):
        sighted = noted.take(noted.sighted >= 0.5)
        reach = own_reach(
            sighted.distance_yd, sighted.kept, default_yd=default_reach_yd, nearest_yd=nearest_yd
        )
    more = 100.0 * (here.plan - here.usable)
    return ReviewFigures(
        plays=len(facts),
        placed=len(here),
        kept_known=len(noted),
        overall=group_rates("all", here),
        zones=tuple(
            group_rates(zone, here.take(here.zone == zone))
            for zone in Zone
            if (here.zone == zone).any()
        ),
        spots=tuple(group_rates(spot, here.take(here.spot == spot)) for spot in by_count),
        policies=tuple(
            _policy(name, share, here.value, seed)
            for name, share in (("you", here.usable), ("plan", here.plan), ("habit", here.habit))
        ),
        plan_over_you=(float(more.mean()), *_interval(more, low=-100.0, high=100.0, seed=seed)),
        keep=keep_rate(noted.usable, noted.kept) if len(noted) else None,
        by_distance=distance_rates(noted.distance_yd, noted.usable, noted.kept),
        reach=reach,
    )


def _policy(name: str, share: FloatArray, value: FloatArray, seed: int) -> PolicyShare:
    low, high = _interval(share, low=0.0, high=1.0, seed=seed)
    return PolicyShare(
        name=name,
        p_usable=float(share.mean()),
        p_usable_low=low,
        p_usable_high=high,
        value_share=float((share * value).sum() / max(value.sum(), 1e-12)),
    )


def _interval(values: FloatArray, *, low: float, high: float, seed: int) -> tuple[float, float]:
    """Return the 95 % interval of a mean: Bayesian bootstrap over plays.

    One play at each bound is added (values lie between ``low`` and ``high``), which makes shares of
    0 and 1 the Beta posterior under an even prior, and five plays no certainty.
    """
    known = np.concatenate([values, [low, high]])
    draws = np.random.default_rng(seed).dirichlet(np.ones(known.size), size=DRAWS) @ known
    mean = float(values.mean())
    below, above = interval_95(draws)
    return min(below, mean), max(above, mean)
