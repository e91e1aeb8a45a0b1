"""Which plays make an action frame, and how likely the next play is one from each spot.

A frame is tickable from a spot if the play is of the right kind and the picture is usable there
(in reach, facing, clear: `lensyard.spots.scorer`):

======================  ==========================================================================
``drop-back``           the quarterback drops back; he is usable where he sets up, 7 yd behind the
                        line of scrimmage, with the camera ahead of him within the facing limit
``carrier``             a run, catch or scramble; usable on its path
``catch``               a completed pass; usable where the ball is caught
``touchdown``           a touchdown; usable where it is scored
``pylon-dive``          a touchdown just across the goal line within 3 yd of a sideline; usable
``defense-big-play``    a sack or an interception; the defense's faces are usable there
======================  ==========================================================================

How likely a frame is, is its expected quality. Where catches lie, given the gain, is counted
(`lensyard.model.cells`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from enum import StrEnum

import numpy as np

from lensyard.arrays import Float32Array, FloatArray, IntArray
from lensyard.domain.assignment import DROP_BACK_YD, Faces, OutcomeWeights
from lensyard.domain.field import FIELD_WIDTH_YD, OPPONENT_GOAL_LINE_X_YD, FieldRules
from lensyard.domain.situation import HASH_CODES, UNKNOWN_HASH, SituationBatch
from lensyard.model.cells import JointOutcome, masses_by_start
from lensyard.model.lateral import START_HASH_SHARES, LateralPrior
from lensyard.model.outcome_grid import (
    AIR_KINDS,
    COMPLETE,
    GAIN_KINDS,
    INTERCEPTION,
    RUN,
    SACK,
    SCRAMBLE,
    X_YD,
    Y_YD,
)
from lensyard.model.paths import PathMasses
from lensyard.records import Record
from lensyard.spots.scorer import Scorer
from lensyard.spots.visibility import geometry_of

# A dive is a dive at the pylon within an arm and a body of it.
PYLON_WITHIN_YD = 3.0
# What is carried in lies at x = 111 (`lensyard.model.cells`); deeper it is no dive.
DIVE_DEEPEST_YD = 1.5


class Place(StrEnum):
    """Where the picture of a play is."""

    PATH = "from where the play starts to where it ends"
    END = "where the play ends"
    CATCH = "where the ball is caught"
    DROP_BACK = "where the quarterback sets up"


class FrameEvent(Record):
    """Which plays make a frame of `lensyard.domain.assignment.FRAMES`.

    - ``outcomes``, ``kinds``: 1 for outcomes that count, else 0; kinds of play that count
      (positions in `LATERAL_KINDS`).
    - ``faces``, ``place``: whose faces, and where the picture is.
    - ``at_pylon``: whether only the two pylon lanes count.
    """

    key: str
    outcomes: OutcomeWeights
    kinds: tuple[int, ...]
    faces: Faces = Faces.OFFENSE
    place: Place = Place.END
    at_pylon: bool = False


def _only(*names: str) -> OutcomeWeights:
    fields = OutcomeWeights.__dataclass_fields__
    return OutcomeWeights(**{name: float(name in names) for name in fields})


_CARRIES = (RUN, COMPLETE, SCRAMBLE)
_ANY_CARRY = _only("touchdown", "gain20", "other")

EVENTS: dict[str, FrameEvent] = {
    event.key: event
    for event in (
        FrameEvent("drop-back", _only(), (), place=Place.DROP_BACK),
        FrameEvent("carrier", _ANY_CARRY, _CARRIES, place=Place.PATH),
        FrameEvent("catch", _ANY_CARRY, (COMPLETE,), place=Place.CATCH),
        FrameEvent("touchdown", _only("touchdown"), _CARRIES),
        FrameEvent("pylon-dive", _only("touchdown"), _CARRIES, at_pylon=True),
        FrameEvent(
            "defense-big-play", _only("sack", "interception"), (SACK, INTERCEPTION), Faces.DEFENSE
        ),
    )
}


def frame_mass(event: FrameEvent, outcome: JointOutcome, prior: LateralPrior) -> PathMasses:
    """Return P(the play makes the frame, and its picture is on such a path), for n situations.

    Not for an event that is photographed before the play starts. ``outcome`` is the model's answer
    for n situations; ends and starts each sum to the probability that the play is of the kind. A
    picture of one point starts where it ends.
    """
    counted = _of_kinds(outcome, event.kinds)
    by_start = masses_by_start(counted, prior, weights=(event.outcomes,))[0]
    if event.at_pylon:
        by_start *= _pylon_lanes()
    if event.place is Place.END:
        return PathMasses.of_points(by_start.sum(axis=1))
    paths = PathMasses.of(by_start, counted.yardline_100)
    return PathMasses.of_points(paths.by_x[:, 1]) if event.place is Place.CATCH else paths


def _of_kinds(outcome: JointOutcome, kinds: tuple[int, ...]) -> JointOutcome:
    by_gain = np.isin(GAIN_KINDS, kinds).astype(np.float32)
    by_air = np.isin(AIR_KINDS, kinds).astype(np.float32)
    return replace(
        outcome,
        gain=outcome.gain * by_gain[:, np.newaxis],
        touchdown=outcome.touchdown * by_gain,
        air=outcome.air * by_air[:, np.newaxis],
        deep=outcome.deep * by_air,
    )


def _pylon_lanes() -> Float32Array:
    x, y = np.meshgrid(X_YD, Y_YD, indexing="ij")
    lane = np.minimum(y, FIELD_WIDTH_YD - y) <= PYLON_WITHIN_YD
    return (lane & (x <= OPPONENT_GOAL_LINE_X_YD + DIVE_DEEPEST_YD)).astype(np.float32)


def face_scorers(scorer: Scorer) -> dict[Faces, Scorer]:
    """Return scorers of one venue, kit and direction for the offense's and the defense's faces."""
    return {faces: scorer.showing(faces) for faces in Faces}


def drop_back_visible(scorer: Scorer, batch: SituationBatch, rules: FieldRules) -> Float32Array:
    """Return P(the quarterback is usable, if he drops back) from each station, shape (m, n).

    He sets up `DROP_BACK_YD` behind the line of scrimmage, straight behind the ball (common
    practice), and looks downfield, so the offense's facing limit applies to him. Where the hash
    mark is unknown it is the mean over the hash marks that snaps lie at.
    """
    visible = _visible_behind(scorer, batch, batch.hash_code, rules)
    unknown = batch.hash_code == UNKNOWN_HASH
    if unknown.any():
        some = batch.take(np.flatnonzero(unknown))
        codes = (np.full(len(some), code) for code in range(len(START_HASH_SHARES)))
        from_each = np.stack([_visible_behind(scorer, some, code, rules) for code in codes])
        visible[unknown] = np.tensordot(
            np.asarray(START_HASH_SHARES, dtype=np.float32), from_each, axes=1
        )
    return visible


def _visible_behind(
    scorer: Scorer, batch: SituationBatch, hash_code: IntArray, rules: FieldRules
) -> Float32Array:
    hash_y = np.array([rules.ball_y_yd(hash_mark) for hash_mark in HASH_CODES])
    places, which = np.unique(batch.yardline_100 * len(HASH_CODES) + hash_code, return_inverse=True)
    line, code = np.divmod(places, len(HASH_CODES))
    geometry = geometry_of(
        scorer.perimeter,
        stations=scorer.stations,
        cell_x_yd=(OPPONENT_GOAL_LINE_X_YD - DROP_BACK_YD) - line.astype(np.float64),
        cell_y_yd=hash_y[code],
        direction=scorer.direction,
        faces=Faces.OFFENSE,
    )
    kit = scorer.kit
    seen = geometry.quality(kit, kit.mounted) * scorer.open[:, np.newaxis]
    visible: Float32Array = seen.T.astype(np.float32)[which]
    return visible


def frame_probabilities(
    keys: Iterable[str],
    scorers: Mapping[Faces, Scorer],
    batch: SituationBatch,
    outcome: JointOutcome,
    prior: LateralPrior,
    *,
    p_drop_back: FloatArray,
) -> dict[str, Float32Array]:
    """Return P(the next play makes each frame from each station), by key, shape (m, n) each.

    Frames without an event (one's own, from an assignment file) are left out: nobody can say how
    likely they are. ``outcome`` is the model's answer for the m situations, ``p_drop_back``
    P(the quarterback drops back: pass, sack or scramble), shape (m,).
    """
    found = {}
    for event in (EVENTS[key] for key in keys if key in EVENTS):
        scorer = scorers[event.faces]
        if event.place is Place.DROP_BACK:
            p = np.clip(p_drop_back, 0.0, 1.0).astype(np.float32)
            found[event.key] = p[:, np.newaxis] * drop_back_visible(scorer, batch, prior.rules)
        else:
            mass = frame_mass(event, outcome, prior)
            found[event.key] = np.clip(scorer.expected_value(mass), 0.0, 1.0)
    return found


def expected_plays(p_frame: FloatArray) -> float:
    """Return how many plays it takes on average until a frame can be ticked; infinity for never.

    ``p_frame`` is P(a play makes the frame) for each of the next plays in their order, the last of
    which goes on; shape (m,), m > 0. The sum over t of P(not in the first t plays); with constant p
    the mean of a geometric distribution, 1 / p.

    >>> expected_plays(np.array([0.25])), expected_plays(np.array([0.0, 1.0]))
    (4.0, 2.0)
    """
    not_yet = np.concatenate([[1.0], np.cumprod(1.0 - p_frame[:-1])])
    if not_yet[-1] > 0 and p_frame[-1] == 0:
        return float("inf")
    tail = not_yet[-1] / p_frame[-1] if p_frame[-1] > 0 else 0.0
    return float(not_yet[:-1].sum() + tail)
