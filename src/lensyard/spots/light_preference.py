"""What the light from a spot does to its rank: a soft preference, never a veto.

An assignment may avoid backlight (faces in shadow, flare) or prefer it (silhouettes, rim light,
breath and dust). The factor multiplies a spot's value for the ranking only. Probabilities stay as
they are, and a table shows the light in a column of its own, so the preference is never hidden.

The numbers are common practice put into figures, not measured: a backlit spot has to be worth 1.4
times a front-lit one to be named before it, one that looks into the sun twice as much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.domain.assignment import LightPreference
from lensyard.errors import UnknownNameError, require_range
from lensyard.sun.direction import LightKind


@dataclass(frozen=True, slots=True)
class LightFactors:
    """The factor of each kind of light, [0.05, 1]; 1 is the most welcome.

    Without direct sun every spot is alike, so all have the same factor.
    """

    front: float = 1.0
    side: float = 1.0
    back: float = 1.0
    sun_in_lens: float = 1.0
    top: float = 1.0
    no_sun: float = 1.0

    def __post_init__(self) -> None:
        """Refuse a veto, and more than full marks."""
        require_range(
            low=0.05,
            high=1,
            **{name: getattr(self, name) for name in self.__dataclass_fields__},
        )

    def of(self, kind: LightKind) -> float:
        """Return the factor of one kind."""
        factor: float = getattr(self, _FIELDS[kind])
        return factor


_FIELDS = {
    LightKind.FRONT: "front",
    LightKind.SIDE: "side",
    LightKind.BACK: "back",
    LightKind.SUN_IN_LENS: "sun_in_lens",
    LightKind.TOP: "top",
    LightKind.NO_SUN: "no_sun",
}

LIGHT_FACTORS: dict[LightPreference, LightFactors] = {
    LightPreference.IGNORE: LightFactors(),
    # Common practice: sun over the shoulder; side light models and is nearly as good; helmets put
    # faces in shadow under a high sun.
    LightPreference.AVOID_BACKLIGHT: LightFactors(
        front=1.0, side=0.95, back=0.7, sun_in_lens=0.5, top=0.9, no_sun=1.0
    ),
    # Common practice: for silhouettes and rim light the sun stands behind the action, just outside
    # the frame; in the lens it flares.
    LightPreference.PREFER_BACKLIGHT: LightFactors(
        front=0.7, side=0.85, back=1.0, sun_in_lens=0.9, top=0.7, no_sun=1.0
    ),
}
"""The factors of each preference."""


def light_factor(
    kinds: ArrayLike, preference: LightPreference, *, factors: LightFactors | None = None
) -> NDArray[np.float64]:
    """Return what to multiply each spot's value by for the ranking.

    - ``kinds``: the light at each spot, any shape; from `lensyard.sun.venue_light.light_at_spots`.
    - ``preference``: what the assignment thinks of light. IGNORE gives 1.0 everywhere, whatever
      ``factors`` say.
    - ``factors``: in place of the usual ones.

    The result: same shape, in [0.05, 1].

    Raises `UnknownNameError` if an entry is no kind of light.

    >>> kinds = [LightKind.FRONT, LightKind.BACK]
    >>> [float(f) for f in light_factor(kinds, LightPreference.AVOID_BACKLIGHT)]
    [1.0, 0.7]
    >>> [float(f) for f in light_factor(kinds, LightPreference.IGNORE)]
    [1.0, 1.0]
    """
    known = np.asarray(kinds, dtype=object)
    result = np.ones(known.shape)
    chosen = factors or LIGHT_FACTORS[preference]
    understood = np.zeros(known.shape, dtype=bool)
    for kind in LightKind:
        here = known == kind
        understood |= here
        if preference is not LightPreference.IGNORE:
            result[here] = chosen.of(kind)
    if not understood.all():
        stranger = known[~understood].ravel()[0]
        raise UnknownNameError(
            name="light", value=str(stranger), known=[k.value for k in LightKind]
        )
    return result


def expected_light_factor(
    kinds: ArrayLike, weights: ArrayLike, preference: LightPreference
) -> NDArray[np.float64]:
    """Return one factor a spot when the action may be in several places.

    - ``kinds``: the light from m spots on c places.
    - ``weights``: how much each place counts, 0 or more: the outcome mass that is usable from the
      spot.
    - ``preference``: as in `light_factor`.

    The result: the weighted mean of the factors; 1.0 for a spot with no weight at all.
    """
    factor = light_factor(kinds, preference)
    weight = np.broadcast_to(np.asarray(weights, float), factor.shape)
    total = weight.sum(axis=1)
    mean = (factor * weight).sum(axis=1) / np.where(total > 0, total, 1.0)
    return np.where(total > 0, mean, 1.0)
