"""The light on the next play from every position, and what the assignment thinks of it.

Imported only when a time is given. The action may be in many places, so each place counts by how
likely the play is usable there from the position; places are taken in blocks of some three yards,
far finer than the light changes.
"""

from __future__ import annotations

from dataclasses import field
from datetime import datetime

import numpy as np

from lensyard.arrays import FloatArray, NDArray
from lensyard.domain.assignment import LightPreference
from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, Direction
from lensyard.domain.venue import Venue
from lensyard.model.outcome_grid import X_YD, Y_YD
from lensyard.records import ArrayRecord, Record
from lensyard.spots.masses import Masses
from lensyard.spots.scorer import Scorer, flat
from lensyard.sun.direction import LightKind
from lensyard.sun.venue_light import light_at_spots

BLOCK_CELLS = 3
LIGHT_FACTORS = {
    LightPreference.IGNORE: dict.fromkeys(LightKind, 1.0),
    # Sun over the shoulder; side light models and is nearly as good; helmets put faces in shadow
    # under a high sun.
    LightPreference.AVOID_BACKLIGHT: {
        LightKind.FRONT: 1.0,
        LightKind.SIDE: 0.95,
        LightKind.BACK: 0.7,
        LightKind.SUN_IN_LENS: 0.5,
        LightKind.TOP: 0.9,
        LightKind.NO_SUN: 1.0,
    },
    # For silhouettes and rim light the sun stands behind the action, just outside the frame; in the
    # lens it flares.
    LightPreference.PREFER_BACKLIGHT: {
        LightKind.FRONT: 0.7,
        LightKind.SIDE: 0.85,
        LightKind.BACK: 1.0,
        LightKind.SUN_IN_LENS: 0.9,
        LightKind.TOP: 0.7,
        LightKind.NO_SUN: 1.0,
    },
}
"""What each kind of light does to a spot's rank: a soft preference, never a veto, (0, 1].

Common practice put into figures, not measured. It multiplies the value for the ranking only;
probabilities stay as they are. Without direct sun every spot is alike.
"""


class SpotLightFigures(Record):
    """The light from one position.

    - ``kind``: what most of the usable action is lit like: front, side, back, sun in the lens, top,
      or no direct sun
    - ``share``: for how much of the usable action that holds
    - ``p_sun_in_lens``: for how much of it the sun is in the lens
    - ``factor``: what the position's rank is multiplied with, [0.05, 1]
    """

    kind: str
    share: float
    p_sun_in_lens: float
    factor: float


class NextLight(ArrayRecord):
    """The light at the time of a play.

    - ``at``: the time on the venue's clock
    - ``preference``: what was asked for, or the assignment's own
    - ``factor``: for each position, shape (n,)
    - ``kind``, ``share``, ``p_sun_in_lens``: see `SpotLightFigures`, shape (n,) each; positions
      without a usable frame have the light on the middle of the action
    - ``sun_elevation_deg``, ``sun_azimuth_deg``: where the sun stands. [deg]
    - ``note``: what was assumed about the time
    """

    at: datetime
    preference: LightPreference
    factor: FloatArray = field(metadata={"json": None})
    kind: NDArray[np.object_] = field(metadata={"json": None})
    share: FloatArray = field(metadata={"json": None})
    p_sun_in_lens: FloatArray = field(metadata={"json": None})
    sun_elevation_deg: float
    sun_azimuth_deg: float
    note: str

    def spot(self, station_index: int) -> SpotLightFigures:
        """Return the light from one position."""
        return SpotLightFigures(
            kind=str(self.kind[station_index]),
            share=float(self.share[station_index]),
            p_sun_in_lens=float(self.p_sun_in_lens[station_index]),
            factor=float(self.factor[station_index]),
        )


def next_light(
    scorer: Scorer, masses: Masses, venue: Venue, *, at: datetime, preference: LightPreference
) -> NextLight:
    """Return the light on one play from every position.

    - ``at``: naive (the venue's clock) or aware

    Raises `InvalidInputError` as `lensyard.sun.venue_light.light_at_spots`.
    """
    weight, blocks = _blocks(scorer, masses)
    spots = _stadium(np.column_stack(scorer.xy_yd), scorer.direction)
    places = _stadium(blocks, scorer.direction)
    light = light_at_spots(
        venue,
        at,
        spot_xy_yd=np.repeat(spots, len(places), axis=0),
        action_xy_yd=np.tile(places, (len(spots), 1)),
    )
    kinds = light.kinds.reshape(len(spots), len(places))
    # A position without a usable frame has the light of the play wherever it goes.
    whole = weight.sum(axis=1, keepdims=True)
    weight = np.where(whole > 0, weight, weight.sum(axis=0, keepdims=True) + 1e-9)
    weight = weight / weight.sum(axis=1, keepdims=True)
    shares = {kind: np.where(kinds == kind, weight, 0.0).sum(axis=1) for kind in LightKind}
    table = np.stack(list(shares.values()))
    factors = np.array([LIGHT_FACTORS[preference][kind] for kind in shares])[:, np.newaxis]
    most = table.argmax(axis=0)
    return NextLight(
        at=light.when.at,
        preference=preference,
        factor=(factors * table).sum(axis=0) / table.sum(axis=0),
        kind=np.array([kind.value for kind in shares], dtype=object)[most],
        share=table.max(axis=0),
        p_sun_in_lens=shares[LightKind.SUN_IN_LENS],
        sun_elevation_deg=light.sun.elevation_deg,
        sun_azimuth_deg=light.sun.azimuth_deg,
        note=light.when.note,
    )


def _blocks(scorer: Scorer, masses: Masses) -> tuple[FloatArray, FloatArray]:
    """Usable ends from each position in blocks of cells (n, b), and their middles (b, 2)."""
    mass = flat(masses.ends)
    hand = scorer.expected_value_by_lens_set(masses.plain)[:, 0].argmax(axis=0)
    usable = np.stack([of.reach_from for of in scorer.paths])[hand, np.arange(hand.size)] * mass
    x, y = np.meshgrid(X_YD, Y_YD, indexing="ij")
    row, lane = np.indices(x.shape)
    block = ((row // BLOCK_CELLS) * Y_YD.size + lane // BLOCK_CELLS).ravel()
    filled = np.unique(block[mass > 0])
    index = np.searchsorted(filled, block)
    inside = (index < filled.size) & (filled[np.minimum(index, filled.size - 1)] == block)
    weight = np.zeros((hand.size, filled.size))
    for cell in np.flatnonzero(inside & (mass > 0)):
        weight[:, index[cell]] += usable[:, cell]
    count = np.bincount(index[inside], minlength=filled.size)
    middle = np.column_stack(
        [
            np.bincount(index[inside], axis.ravel()[inside], minlength=filled.size) / count
            for axis in (x, y)
        ]
    )
    return weight, middle


def _stadium(xy_yd: FloatArray, direction: Direction) -> FloatArray:
    if direction is Direction.TOWARD_B:
        return xy_yd
    turned: FloatArray = np.array([FIELD_LENGTH_YD, FIELD_WIDTH_YD]) - xy_yd
    return turned
