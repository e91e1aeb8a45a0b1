"""An invented level of play: the model with known shifts of its logits, to try out shrinkage on.

The shifts are invented. They point where a lower level differs: more runs, fewer and less sure
passes, longer runs, bolder fourth downs.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from lensyard.model.outcome import OutcomeModel
from lensyard.model.transition import TransitionModel

HALF_S = 1800.0

KIND_TILT: Final = (0.7, -0.25, 0.0, -0.2, 0.3, 0.4)
"""Added to the logits of run, complete, incomplete, sack, scramble and interception."""
HAZARD_TILT: Final[Mapping[str, float]] = {"run": -0.12, "complete": 0.12}
"""Added to the logit of a play's end at each yard."""
CHOICE_TILT: Final = (0.8, 0.0, -0.5)
"""Added to the logits of going, punting and kicking."""


class SteadyClock:
    """A clock on which snaps follow each other evenly until the half is over.

    It stands in for `lensyard.model.drives.SnapClock`.
    """

    def __init__(self, between_s: float) -> None:
        self._between_s = between_s
        self.opening_s = np.array([HALF_S])
        self.touchdown_points = 7.0

    def p_early_kick(self, *, left_s: np.ndarray, **_: object) -> np.ndarray:
        return np.zeros(left_s.shape[0])

    def draw_s(self, _rng: np.random.Generator, *, left_s: np.ndarray, **_: object) -> np.ndarray:
        return np.where(left_s <= self._between_s, np.inf, self._between_s)


def synthetic_population(model: OutcomeModel, *, strength: float = 1.0) -> TransitionModel:
    """Return the transitions of the invented level.

    - ``model``: the model that is tilted.
    - ``strength``: how far: 0 is the model's own world, 1 the tilts as they stand.
    """
    arrays = {name: np.asarray(array) for name, array in model.arrays.items()}

    def tilt(part: str, by: object) -> None:
        # The tables of a part are added up: tilting one of them tilts the sum.
        name = min(name for name in arrays if name.startswith(f"{part}:"))
        arrays[name] = arrays[name].astype(np.float64) + strength * np.asarray(by)

    tilt("next_kind", KIND_TILT)
    tilt("next_choice", CHOICE_TILT)
    for kind, by in HAZARD_TILT.items():
        tilt(f"gain_{kind}", by)
    return TransitionModel(OutcomeModel(arrays, model.manifest))
