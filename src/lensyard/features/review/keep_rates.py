r"""Rates from few plays: what was kept, by distance too, and how far one reaches.

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

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lensyard.errors import InvalidInputError, require_range

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

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


@dataclass(frozen=True, slots=True)
class Rate:
    """A share of plays with its 95 % interval.

    Attributes
    ----------
    plays, hits
        ``n`` and ``k``; expectations where ends are partly unknown.
    prior
        The prior mean.
    p, p_low, p_high
        Posterior mean and interval.
    """

    plays: float
    hits: float
    prior: float
    p: float
    p_low: float
    p_high: float


def rate_of(*, hits: float, plays: float, prior: float, strength: float = PRIOR_PLAYS) -> Rate:
    """Return a rate with its interval.

    Parameters
    ----------
    hits, plays
        How many of how many; 0 <= hits <= plays.
    prior
        The mean before, strictly between 0 and 1 after clipping to [.01, .99].
    strength
        How many plays it is worth.

    Raises
    ------
    OutOfRangeError
        If the numbers are no counts.

    Examples
    --------
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

    Notes
    -----
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


@dataclass(frozen=True, slots=True)
class DistanceRate:
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
    pools: list[tuple[float, float, int]] = []
    for v, w in zip(value.tolist(), weight.tolist(), strict=True):
        pools.append((v, w, 1))
        while len(pools) > 1 and pools[-2][0] < pools[-1][0]:
            (v1, w1, n1), (v2, w2, n2) = pools[-2], pools[-1]
            pools[-2:] = [((v1 * w1 + v2 * w2) / (w1 + w2), w1 + w2, n1 + n2)]
    return np.array([v for v, _, n in pools for _ in range(n)], dtype=np.float64)


@dataclass(frozen=True, slots=True)
class OwnReach:
    """How far the photographer's own keepers reach, as a factor on the usual 10 yd per 100 mm.

    Attributes
    ----------
    factor, low, high
        Posterior mean, shrunk toward 1, and 95 % interval.
    plays
        How many plays it comes from.
    reach_yd, default_yd
        Of the longest lens, own and usual. [yd]
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

    Parameters
    ----------
    distance_yd
        To where each play ended, shape (n,); NaN is left out. [yd]
    kept
        Whether a frame of it was kept, shape (n,).
    default_yd
        The usual reach of the kit. [yd]
    nearest_yd
        Nearer plays are left out: there the lens is too long. [yd]

    Notes
    -----
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
