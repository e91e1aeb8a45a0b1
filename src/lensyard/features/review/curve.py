r"""One's own keep rate by distance, in place of the slope that reach fades with.

Distances are counted in multiples of the kit's reach, so that one curve serves every lens. Of the
plays that came toward the camera with a clear line, ``k`` of ``n`` in a band were kept, and near at
hand, where reach is no matter, a share ``r``. The quality of a frame in the band is

.. math:: q = \frac{k + s\, r\, m}{(n + s)\, r},

with ``m`` the slope's quality there and ``s`` = `SLOPE_PLAYS` how many plays the slope is worth:
few plays leave it as it is, many take its place. The curve through the bands never rises
(`lensyard.features.review.figures.falling_curve`).
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np

from lensyard.arrays import BoolArray, FloatArray
from lensyard.domain.keep_curve import KeepCurve, curve_text
from lensyard.domain.kit import CROP_MARGIN
from lensyard.features.review.figures import NO_IDEA, PRIOR_PLAYS, falling_curve
from lensyard.records import Record

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
    """Return the own curve from plays that came toward the camera with a clear line.

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
