r"""What a game or a season brought, counted from the facts of its plays, which are numbers by play.

Where the facts come from (geometry, model, plan) is left to `lensyard.features.review.facts`, so
everything here can be tested with plays of a known truth.

A rate is the mean of a Beta posterior with its equal-tailed 95 % interval,

.. math:: r \mid k, n \sim \mathrm{Beta}(s m + k,\; s (1 - m) + n - k),

where ``k`` of ``n`` plays count, ``m`` is the prior mean (for usable and kept plays what the model
had predicted) and ``s`` its strength in plays. `PRIOR_PLAYS` is 2: weak enough that with 25 to 60
plays the interval covers any rate from .2 to .9 in 94 to 96 of 100 games, wherever the model's
prediction lies (tested by simulation), and strong enough that one play is no certainty.

Where it is not known where a play ended across the field, usable is a probability ``u``. A play
that was kept was usable; of the others a share ``u (1 - r) / (1 - u r)`` was (`usable_trials`). The
share of usable plays that were kept takes that into account (`keep_rate`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import BoolArray, FloatArray
from lensyard.domain.situation import Zone
from lensyard.errors import InvalidInputError, require_range
from lensyard.records import ArrayRecord, Record
from lensyard.stats import interval_95

PRIOR_PLAYS: Final = 2.0
"""Strength of a prior, in plays."""
NO_IDEA: Final = 0.5
"""Prior mean of the share of usable plays that are kept: nobody has measured it."""
DISTANCE_EDGES_YD: Final = (0.0, 10.0, 20.0, 30.0, 40.0, 60.0)
_TAIL: Final = 0.025
_GRID: Final = 500

# Own reach: a factor on the usual 10 yd per 100 mm. The prior is centered on the usual reach.
REACH_PRIOR_SD: Final = 0.15
REACH_LOW: Final = 0.5
REACH_HIGH: Final = 1.5
_FADE_SHARE: Final = 0.08


class Rate(Record):
    """A share of plays with its 95 % interval.

    ``plays``, ``hits``: ``n`` and ``k``; expectations where ends are partly unknown. ``p``,
    ``p_low``, ``p_high``: posterior mean and interval.
    """

    plays: float
    hits: float
    prior: float
    p: float
    p_low: float
    p_high: float


def rate_of(*, hits: float, plays: float, prior: float, strength: float = PRIOR_PLAYS) -> Rate:
    """Return a rate with its interval.

    ``hits``, ``plays``: how many of how many; 0 <= hits <= plays. ``prior``: the mean before,
    strictly between 0 and 1 after clipping to [.01, .99]. ``strength``: how many plays it is worth.

    Raises `OutOfRangeError` if the numbers are no counts.

    >>> rate = rate_of(hits=3, plays=4, prior=0.5)
    >>> round(rate.p, 3), round(rate.p_low, 2), round(rate.p_high, 2)
    (0.667, 0.28, 0.95)
    """
    from scipy.special import betaincinv

    require_range(low=0, high=1e9, plays=plays)
    require_range(low=0, high=plays + 1e-9, hits=hits)
    mean = min(max(prior, 0.01), 0.99)
    a = strength * mean + hits
    b = strength * (1 - mean) + max(plays - hits, 0.0)
    low, high = (float(betaincinv(a, b, q)) for q in (_TAIL, 1 - _TAIL))
    return Rate(plays, hits, mean, a / (a + b), low, high)


def usable_trials(p_usable: FloatArray, kept: BoolArray, *, rounds: int = 30) -> FloatArray:
    """Return for each play P(it was usable | whether it was kept), shape (n,).

    ``p_usable`` is P(usable | where the play ended, as far as that is known), ``kept`` whether a
    frame of it was kept, shape (n,) each; ``rounds`` are those of the keep rate's fixed point.
    """
    u = np.clip(p_usable, 0.0, 1.0)
    trials = np.where(kept, 1.0, u)
    for _ in range(rounds):
        r = min((kept.sum() + 0.5) / (trials.sum() + 1.0), 0.999)
        trials = np.where(kept, 1.0, u * (1 - r) / (1 - u * r))
    return trials


def keep_rate(p_usable: FloatArray, kept: BoolArray) -> Rate:
    r"""Return the share of usable plays that were kept; arguments as in `usable_trials`.

    ``plays`` of the rate is the expected number of usable plays.

    The posterior is exact, on a grid: a play that was kept has likelihood :math:`u r`, any other
    :math:`1 - u r`. Where all ends are known it is the Beta posterior of `rate_of`.
    """
    u = np.clip(p_usable, 0.0, 1.0)
    hits = int(kept.sum())
    r = (np.arange(_GRID) + 0.5) / _GRID
    a, b = PRIOR_PLAYS * NO_IDEA, PRIOR_PLAYS * (1 - NO_IDEA)
    score = (hits + a - 1) * np.log(r) + (b - 1) * np.log1p(-r)
    score += np.log1p(-u[~kept][:, None] * r[None, :]).sum(axis=0)
    weight = np.exp(score - score.max())
    weight /= weight.sum()
    edges = np.arange(_GRID + 1) / _GRID
    below = np.concatenate([[0.0], np.cumsum(weight)])
    low, high = (float(np.interp(q, below, edges)) for q in (_TAIL, 1 - _TAIL))
    trials = float(usable_trials(u, kept).sum())
    return Rate(trials, float(hits), NO_IDEA, float(r @ weight), low, high)


class DistanceRate(Record):
    """The keep rate of usable plays in a band of distances.

    ``rate`` stands for itself; ``p_monotone`` is the closest curve that never rises with distance,
    or None where the frames speak against such a curve.
    """

    from_yd: float
    to_yd: float
    rate: Rate
    p_monotone: float | None


def distance_rates(
    distance_yd: FloatArray, p_usable: FloatArray, kept: BoolArray
) -> tuple[DistanceRate, ...]:
    """Return the keep rate by distance; empty bands are left out.

    A longer distance makes a harder picture, so a curve that never rises is fitted through the
    bands (pool adjacent violators, weighted by plays). Where a nearer band is worse than a farther
    one beyond both their intervals, near plays are the harder ones, and no such curve is shown.
    """
    trials = usable_trials(p_usable, kept)
    known = np.isfinite(distance_yd)
    bands: list[tuple[float, float, Rate]] = []
    for low, high in pairwise(DISTANCE_EDGES_YD):
        some = known & (distance_yd >= low) & (distance_yd < high)
        if trials[some].sum() >= 0.5:
            bands.append((low, high, keep_rate(p_usable[some], kept[some])))
    against = any(
        near.p_high < far.p_low
        for i, (_, _, near) in enumerate(bands)
        for _, _, far in bands[i + 1 :]
    )
    curve = falling_curve(
        np.array([rate.p for _, _, rate in bands]),
        np.array([rate.plays + PRIOR_PLAYS for _, _, rate in bands]),
    )
    return tuple(
        DistanceRate(low, high, rate, None if against else float(p))
        for (low, high, rate), p in zip(bands, curve, strict=True)
    )


def falling_curve(value: FloatArray, weight: FloatArray) -> FloatArray:
    """Return the closest curve that never rises, by least squares (pool adjacent violators).

    >>> falling_curve(np.array([0.9, 0.5, 0.7]), np.array([1.0, 1.0, 3.0])).round(3).tolist()
    [0.9, 0.65, 0.65]
    """
    from scipy.optimize import isotonic_regression

    if value.size == 0:
        return value
    fitted = isotonic_regression(value, weights=weight, increasing=False)
    return np.asarray(fitted.x, dtype=np.float64)


class OwnReach(Record):
    """How far the photographer's own keepers reach, as a factor on the usual 10 yd per 100 mm.

    ``factor``, ``low``, ``high``: posterior mean, shrunk toward 1, and 95 % interval. ``plays``:
    how many plays it comes from. ``reach_yd``, ``default_yd``: of the longest lens, own and usual.
    [yd]
    """

    factor: float
    low: float
    high: float
    plays: int
    reach_yd: float
    default_yd: float


def own_reach(
    distance_yd: FloatArray, kept: BoolArray, *, default_yd: float, nearest_yd: float = 0.0
) -> OwnReach:
    r"""Return the own reach from plays that came toward the camera with a clear line.

    ``distance_yd``: to where each play ended, shape (n,); NaN is left out. [yd] ``kept``: whether a
    frame of it was kept, shape (n,). ``default_yd``: the usual reach of the kit. [yd]
    ``nearest_yd``: nearer plays are left out: there the lens is too long. [yd]

    The chance to keep a play at distance d is :math:`k_0 / (1 + \exp((d - \rho R) / (0.08 R)))`:
    even up to the own reach :math:`\rho R`, then fading. The prior of :math:`\rho` is normal around
    1 with `REACH_PRIOR_SD`, so few plays move it little; that of :math:`k_0` is even. Both are
    summed over on a grid.
    """
    if default_yd <= 0:
        raise InvalidInputError(f"the usual reach must be more than 0 yd; got {default_yd!r}")
    some = np.isfinite(distance_yd) & (distance_yd >= nearest_yd)
    d, hit = distance_yd[some], kept[some]
    factor = np.linspace(REACH_LOW, REACH_HIGH, 101)
    level = np.linspace(0.02, 0.98, 25)
    fade = (d[None, :] - factor[:, None] * default_yd) / (_FADE_SHARE * default_yd)
    near = 1.0 / (1.0 + np.exp(np.clip(fade, -40.0, 40.0)))
    p = np.clip(level[None, :, None] * near[:, None, :], 1e-6, 1 - 1e-6)
    score = np.where(hit, np.log(p), np.log1p(-p)).sum(axis=2)
    score += (-0.5 * ((factor - 1.0) / REACH_PRIOR_SD) ** 2)[:, None]
    weight = np.exp(score - score.max()).sum(axis=1)
    weight /= weight.sum()
    mean = float(factor @ weight)
    low, high = (
        float(factor[min(int(np.searchsorted(np.cumsum(weight), q)), factor.size - 1)])
        for q in (_TAIL, 1 - _TAIL)
    )
    return OwnReach(mean, low, high, int(d.size), mean * default_yd, default_yd)


DRAWS: Final = 2000


class PlayFacts(ArrayRecord):
    """What is known of m plays, as arrays of shape (m,).

    - ``game``, ``number``: which game (its id), and which play of it.
    - ``zone``, ``spot``, ``place``: zone of the field, and where one stood, as it was typed and as
      the venue calls it; "" where that was not noted.
    - ``predicted``, ``predicted_reach``: P(usable) and P(in reach) from there before the snap, by
      the model. NaN without a spot.
    - ``in_reach``, ``usable``, ``sighted``: P(in reach), P(usable) and P(facing and clear) given
      where the play ended, as far as that is known. NaN without a spot.
    - ``distance_yd``: from the spot to where the play ended; NaN where not known. [yd]
    - ``value``: of a usable frame, by the assignment.
    - ``shot``, ``kept``: whether frames were shot and kept; meaningless where not noted.
    - ``shot_known``, ``kept_known``: whether that was noted.
    - ``plan``, ``habit``: P(usable) given the same from where the plan and the usual habit would
      have stood.
    """

    game: NDArray[np.str_]
    number: NDArray[np.int64]
    zone: NDArray[np.str_]
    spot: NDArray[np.str_]
    place: NDArray[np.str_]
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


class GroupRates(Record):
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


class PolicyShare(Record):
    """What somebody had, or would have had, of the plays with a known spot.

    ``p_usable`` with its 95 % interval (bootstrap over plays) and the share of the value.
    """

    name: str
    p_usable: float
    p_usable_low: float
    p_usable_high: float
    value_share: float


class ReviewFigures(Record):
    """The numbers of a review.

    ``plays``, ``placed``, ``kept_known``: plays that count, those with a spot, and those of them
    where keepers were noted. ``policies``: you, the plan, the habit. ``plan_over_you``: usable
    plays more per 100 with the plan, with its 95 % interval. ``keep``, ``by_distance``, ``reach``:
    share of usable plays that were kept, the same by distance, and the own reach; None or empty
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

    Raises `InvalidInputError` if no play has a spot.
    """
    here = facts.take(facts.spot != "")
    if len(here) == 0:
        raise InvalidInputError(
            "no play says where you stood, so there is nothing to review; log plays with --spot, "
            "or `lensyard log edit NUMBER --spot left:opp20`"
        )
    noted = here.take(here.kept_known)
    counts = dict(zip(*np.unique(here.place, return_counts=True), strict=True))
    by_count = sorted(counts, key=lambda place: (-counts[place], place))
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
        spots=tuple(group_rates(str(one), here.take(here.place == one)) for one in by_count),
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
