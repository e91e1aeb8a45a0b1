"""From a spot to a cell of the field: in reach, facing, clear, and so the quality of a frame.

The geometry does not know football. A camera stands at a place, the action is at another; the
frame is

``in reach``
    as far as a lens at hand covers the distance, from 0 to 1 (`lensyard.domain.kit.reach_quality`);
``facing``
    if the angle at the action between the wanted direction (the offense's direction of attack, or
    its opposite for the defense's faces) and the line to the camera is at most the limit;
``clear``
    if the line of sight passes through no goal-post support and no closed stretch that blocks the
    view;
``usable``
    as far as it is in reach, if it is facing and clear: its quality.

Everything is in the play frame of one direction of attack. [yd]
"""

from __future__ import annotations

import math

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.domain.assignment import Faces
from lensyard.domain.field import CENTER_Y_YD, FIELD_LENGTH_YD, FIELD_WIDTH_YD, Direction
from lensyard.domain.kit import Kit, Mounted
from lensyard.domain.perimeter import Perimeter
from lensyard.domain.venue import Venue
from lensyard.errors import require_range
from lensyard.records import ArrayRecord

FACING_LIMIT_DEG = 75.0


class Geometry(ArrayRecord):
    """What does not depend on the lens, for m stations and c cells.

    - ``distance_yd``: from station to cell, shape (m, c). [yd]
    - ``facing``, ``clear``: shape (m, c).
    """

    distance_yd: FloatArray
    facing: BoolArray
    clear: BoolArray

    def quality(self, kit: Kit, lens_set: tuple[Mounted, ...]) -> FloatArray:
        """Return the quality of a frame with some of a kit's lenses at hand, 0 to 1, (m, c)."""
        seen = self.distance_yd <= kit.farthest_yd(lens_set)
        seen &= self.facing
        seen &= self.clear
        found = np.zeros(seen.shape)
        found[seen] = kit.quality(self.distance_yd[seen], lens_set)
        return found


def geometry_of(
    perimeter: Perimeter,
    *,
    stations: IntArray,
    cell_x_yd: FloatArray,
    cell_y_yd: FloatArray,
    direction: Direction = Direction.TOWARD_B,
    faces: Faces = Faces.OFFENSE,
    facing_limit_deg: float = FACING_LIMIT_DEG,
) -> Geometry:
    """Return distance, facing and clear lines from stations to cells.

    - ``perimeter``: the stations.
    - ``stations``: which of them, shape (m,).
    - ``cell_x_yd``, ``cell_y_yd``: places of the action in the play frame, both of shape (c,), or
      (r, 1) and (1, k) for a grid of r rows of k cells each, in this order. [yd]
    - ``direction``: the direction of attack; it decides how the stadium looks from the play frame.
    - ``faces``: whose faces.
    - ``facing_limit_deg``: largest angle between the wanted direction and the camera, 0 to 180; it
      counts itself. [deg]

    Raises `OutOfRangeError` if the limit is no such angle.
    """
    require_range(low=0, high=180, facing_limit_deg=facing_limit_deg)
    ones = (1,) * cell_x_yd.ndim
    x, y = (of[stations].reshape(-1, *ones) for of in perimeter.play_xy_yd(direction))
    dx, dy = x - cell_x_yd, y - cell_y_yd
    distance = dx * dx + dy * dy
    np.sqrt(distance, out=distance)
    ahead = dx if faces is Faces.OFFENSE else -dx
    # cos(angle) = ahead / distance. The small number lets the limit itself count in spite of
    # rounding (level with the ball is exactly 90 degrees).
    facing = np.cos(np.radians(facing_limit_deg)) * distance <= ahead + 1e-9
    clear = ~_post_in_the_way(perimeter.venue, x, y, dx, dy, cell_x_yd)
    for box in _rectangles(perimeter.venue, direction):
        clear &= ~_crosses(x, y, dx, dy, box)
    shape = len(stations), math.prod(distance.shape[1:])
    return Geometry(distance.reshape(shape), facing.reshape(shape), clear.reshape(shape))


BESIDE_POST_YD = 3.0


def crowded_by_a_post(perimeter: Perimeter, *, stations: IntArray) -> BoolArray:
    """Return whether a goal-post support stands in the way of the job at each station, shape (m,).

    It does where it hides a goal-line pylon, and within 3 yd beside it, where it hides whoever
    comes straight on. Common practice keeps out of both, the middle of the end line above all: the
    dive at the pylon is one of the frames that must come home.
    """
    pylon_x = np.array([10.0, 10.0, 110.0, 110.0])
    pylon_y = np.array([0.0, FIELD_WIDTH_YD, 0.0, FIELD_WIDTH_YD])
    x, y = perimeter.x_yd[stations][:, None], perimeter.y_yd[stations][:, None]
    dx, dy = x - pylon_x[None, :], y - pylon_y[None, :]
    hidden = _post_in_the_way(perimeter.venue, x, y, dx, dy, pylon_x)
    # From behind an end line only the near goal line matters: the other is out of any lens's reach.
    near = np.abs(dx) < FIELD_LENGTH_YD / 2
    crowded = (hidden & near).any(axis=1)
    behind = (x[:, 0] < 0) | (x[:, 0] > FIELD_LENGTH_YD)
    for post in perimeter.venue.posts:
        beside = np.abs(y[:, 0] - (CENTER_Y_YD + post.off_center_yd)) < BESIDE_POST_YD
        crowded = crowded | (behind & beside)
    return np.asarray(crowded, dtype=bool)


def _post_in_the_way(
    venue: Venue,
    x: FloatArray,
    y: FloatArray,
    dx: FloatArray,
    dy: FloatArray,
    cell_x: FloatArray,
) -> BoolArray:
    """Whether the segment from camera to action passes within a support's radius."""
    blocked = np.zeros(np.broadcast_shapes(dx.shape, dy.shape), dtype=bool)
    stations, cells = x.ravel(), cell_x.ravel()
    for post in venue.posts:
        for post_x in (-post.behind_end_line_yd, FIELD_LENGTH_YD + post.behind_end_line_yd):
            # A line of sight whose ends are both short of the support misses it.
            outward = 1.0 if post_x > 0 else -1.0
            short_yd = outward * post_x - post.radius_yd
            beyond = outward * stations > short_yd
            px, py = post_x - x, CENTER_Y_YD + post.off_center_yd - y
            for rows, of in (
                (np.flatnonzero(beyond), np.arange(len(cells))),
                (np.flatnonzero(~beyond), np.flatnonzero(outward * cells > short_yd)),
            ):
                if not rows.size or not of.size:
                    continue
                to_x, to_y = (d[rows] if d.shape[1] == 1 else d[rows][:, of] for d in (dx, dy))
                at_x, at_y = px[rows], py[rows]
                length_sq = np.maximum(to_x * to_x + to_y * to_y, 1e-12)
                # Parameter of the foot of the perpendicular from the support on camera -> action.
                t = -(at_x * to_x + at_y * to_y) / length_sq
                off = np.abs(at_x * to_y - at_y * to_x) / np.sqrt(length_sq)
                blocked[np.ix_(rows, of)] |= (t > 0) & (t < 1) & (off < post.radius_yd)
            # A camera that would stand in the padding sees nothing.
            blocked |= np.hypot(px, py) < post.radius_yd
    return blocked


def _rectangles(venue: Venue, direction: Direction) -> list[tuple[float, float, float, float]]:
    boxes = [s.rectangle_yd() for s in venue.closed if s.blocks_view]
    if direction == Direction.TOWARD_B:
        return boxes
    return [
        (FIELD_LENGTH_YD - x1, FIELD_LENGTH_YD - x0, FIELD_WIDTH_YD - y1, FIELD_WIDTH_YD - y0)
        for x0, x1, y0, y1 in boxes
    ]


def _crosses(
    x: FloatArray,
    y: FloatArray,
    dx: FloatArray,
    dy: FloatArray,
    box: tuple[float, float, float, float],
) -> BoolArray:
    """Whether the segment from camera to action has more than a touch of the box inside it."""
    x_min, x_max, y_min, y_max = box
    # Only cameras on the box's side of the field can look through it.
    margin = 1e-9
    outside = (
        ((y_max <= 0) & (y < 0))
        | ((y_min >= FIELD_WIDTH_YD) & (y > FIELD_WIDTH_YD))
        | ((x_max <= 0) & (x < 0))
        | ((x_min >= FIELD_LENGTH_YD) & (x > FIELD_LENGTH_YD))
    )
    result = np.zeros(np.broadcast_shapes(dx.shape, dy.shape), dtype=bool)
    rows = np.flatnonzero(outside)
    if rows.size == 0:
        return result
    # Slab test on camera + t * (action - camera), t in [0, 1]; -dx is toward the action. 0/0 is a
    # line along a side of the box: fmin and fmax skip it, which leaves one infinity for both ends.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        tx0, tx1 = (x_min - x[rows]) / -dx[rows], (x_max - x[rows]) / -dx[rows]
        ty0, ty1 = (y_min - y[rows]) / -dy[rows], (y_max - y[rows]) / -dy[rows]
    enter = np.fmax(np.fmin(tx0, tx1), np.fmax(np.fmin(ty0, ty1), 0.0))
    leave = np.fmin(np.fmax(tx0, tx1) - margin, np.fmin(np.fmax(ty0, ty1), 1.0) - margin)
    result[rows] = enter < leave
    return result
