"""The game in the field picture: the play, where it is likely to end, and the walk.

Where one stands is a surveyor's mark, a circle with two filled quarters, unlike any spot's shape.

The bands are highest-density areas: the smallest areas that hold a given share of the probability,
so "half of the plays end in the innermost area" is literally what is drawn.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise
from typing import cast

import numpy as np
from contourpy import contour_generator
from numpy.typing import NDArray

from lensyard.arrays import FloatArray
from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.records import Record
from lensyard.render.field.canvas import CENTERED, GAP_PX, Canvas, text_box
from lensyard.render.field.picture import MASS_SHAPE, FieldPicture, ReachRing, SpotMark, SpotRole
from lensyard.render.field.spots import leader, mark_radius_px
from lensyard.render.html import (
    Attributes,
    Point,
    element,
    group,
    number,
    path_data,
    polyline,
    text,
    text_width_px,
)

_BALL_LENGTH_YD = 2.4  # not to scale: a ball of 11 in would vanish
_CHEVRONS_BEHIND_YD = (4.0, 6.0, 8.0)
_LEAST_RING_PX = 16.0


def bands(shapes: tuple[Band, ...], canvas: Canvas) -> str:
    """Return the areas where the play is likely to end; to be clipped to the field."""
    drawn = []
    for i, band in enumerate(shapes):
        data = "".join(_smooth(loop, canvas) for loop in band.loops)
        if data:
            width = (0.9, 1.1, 1.5)[i]
            dash = ("1.5 3", "5 3", None)[i]
            path = element("path", d=data, fill=canvas.theme.band[i], fill_rule="evenodd")
            edge = element("path", d=data, fill="none", stroke_width=width, stroke_dasharray=dash)
            drawn.append(path + edge)
    return group(drawn, stroke=canvas.theme.band_edge, stroke_width="0", stroke_linejoin="round")


def _smooth(loop: Loop, canvas: Canvas) -> str:
    """Return a closed curve: every second point of the loop is the handle between midpoints."""
    points = [canvas.scale.at(x, y) for x, y in (loop[::2] if len(loop) > 11 else loop)]
    middles = [
        ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        for a, b in zip(points, [*points[1:], points[0]], strict=True)
    ]
    places = [middles[-1]]
    for handle, stop in zip(points, middles, strict=True):
        places += (handle, stop)
    steps = "M%.1f %.1f" + "Q%.1f %.1f %.1f %.1f" * len(points) + "z"
    return path_data(steps, [pixel for place in places for pixel in place])


def start(picture: FieldPicture, canvas: Canvas) -> str:
    """Return line of scrimmage, line to gain, direction of attack and ball; no label covers one."""
    scale, ball = canvas.scale, picture.ball
    parts = []
    width = max(0.3 * scale.px_per_yd, 1.8)
    if picture.line_to_gain_x_yd is not None:
        dash = f"{number(width * 4)} {number(width * 2.2)}"
        data = scale.line(
            (picture.line_to_gain_x_yd, 0.0), (picture.line_to_gain_x_yd, FIELD_WIDTH_YD)
        )
        parts.append(canvas.stroke(data, width_px=width, halo_px=3.0, dash=dash))
    if ball is not None:
        data = scale.line((ball.x_yd, 0.0), (ball.x_yd, FIELD_WIDTH_YD))
        parts.append(canvas.stroke(data, width_px=width, halo_px=3.0))
        parts.append(_chevrons(scale.place(ball), ball.x_yd, canvas))
        parts.append(_ball(scale.place(ball), canvas))
        for behind in (0.0, 3.0, 6.0, 8.0):
            place = scale.at(ball.x_yd - behind, ball.y_yd)
            canvas.take_circle(place, max(1.4 * scale.px_per_yd, 7.0))
    return "".join(parts)


def take_lines(picture: FieldPicture, canvas: Canvas) -> None:
    """Take the places of line of scrimmage and line to gain."""
    for x in (picture.line_to_gain_x_yd, picture.ball.x_yd if picture.ball else None):
        if x is not None:
            canvas.take_rectangle(canvas.scale.box(x_min_yd=x - 0.3, x_max_yd=x + 0.3))


def _chevrons(ball: Point, ball_x_yd: float, canvas: Canvas) -> str:
    """Three open angles behind the ball that point where the offense goes."""
    px = canvas.scale.px_per_yd
    reach = max(1.1 * px, 5.0)
    angle = math.radians(canvas.scale.attack_deg)
    data = []
    for behind in _CHEVRONS_BEHIND_YD:
        if ball_x_yd - behind < 1.0:
            continue
        tip = _moved(ball, angle, 0.6 * reach - behind * px)
        wings = [_moved(tip, angle + math.radians(turn), 1.2 * reach) for turn in (140, -140)]
        data.append(polyline([wings[0], tip, wings[1]]))
    if not data:
        return ""
    drawn = canvas.stroke("".join(data), width_px=1.9, halo_px=2.7)
    return group([drawn], fill="none", stroke_linecap="round", stroke_linejoin="round")


def _moved(at: Point, angle: float, length_px: float) -> Point:
    return at[0] + math.cos(angle) * length_px, at[1] + math.sin(angle) * length_px


def _ball(at: Point, canvas: Canvas) -> str:
    theme, scale = canvas.theme, canvas.scale
    long = max(_BALL_LENGTH_YD * scale.px_per_yd, 13.0) / 2
    short = long * 0.58
    # Two arcs that meet in points, as a ball does.
    radius = number((long * long + short * short) / (2 * short))
    y, left, right = number(at[1]), number(at[0] - long), number(at[0] + long)
    arc = f"A{radius} {radius} 0 0 1"
    data = f"M{left} {y}{arc} {right} {y}{arc} {left} {y}z"
    body = element("path", d=data, fill=theme.ink, stroke=theme.halo, stroke_width=1.6)
    seam = f"M{number(at[0] - long * 0.4)} {y}h{number(long * 0.8)}"
    lace = element("path", d=seam, stroke=theme.halo, stroke_width=1.1)
    turn = f"rotate({number(scale.attack_deg)} {number(at[0])} {y})"
    return element("g", body + lace, transform=turn, data_role="ball")


def rings(picture: FieldPicture, canvas: Canvas) -> str:
    """Return reach (solid) and nearest distance (dashed) of each lens around the best spot."""
    best = picture.best
    if best is None:
        return ""
    parts = []
    for ring in picture.rings:
        parts.append(_circle(best, ring.reach_yd, canvas, dash=None))
        if ring.nearest_yd * canvas.scale.px_per_yd > _LEAST_RING_PX:
            parts.append(_circle(best, ring.nearest_yd, canvas, dash="2 4"))
    return group(parts, fill="none", data_role="reach")


def _circle(best: SpotMark, radius_yd: float, canvas: Canvas, *, dash: str | None) -> str:
    x, y = canvas.scale.at(best.x_yd, best.y_yd)
    where = {"cx": x, "cy": y, "r": radius_yd * canvas.scale.px_per_yd}
    halo = element("circle", **where, stroke=canvas.theme.halo, stroke_width=4.0, opacity="0.8")
    line: Attributes = {
        "stroke": canvas.theme.accent,
        "stroke_width": 1.7,
        "stroke_dasharray": dash,
    }
    return halo + element("circle", **where, **line)


def ring_labels(picture: FieldPicture, canvas: Canvas) -> str:
    """Return the lenses' names on their rings, inside the field, where there is room."""
    best, font = picture.best, canvas.scale.font_px
    if best is None:
        return ""
    parts = []
    for ring in picture.rings:
        content = f"{ring.label}: {ring.reach_yd:.0f} yd"
        at = canvas.room_for(content, font, _ring_places(best, ring, canvas, content))
        if at is not None:
            left, top, right, bottom = text_box(content, at, font)
            wide, high = right - left, bottom - top
            parts.append(
                element(
                    "rect", x=left, y=top, width=wide, height=high, rx=high / 2,
                    fill=canvas.theme.halo,
                )
                + text(content, at, fill=canvas.theme.accent)
            )  # fmt: skip
    return group(parts, font_size=font, font_weight="600", **CENTERED)


def _ring_places(best: SpotMark, ring: ReachRing, canvas: Canvas, content: str) -> list[Point]:
    """Middles for a label on a ring that keep it on the field, the rearmost ones first.

    Behind the line of scrimmage there is the least to cover.
    """
    scale = canvas.scale
    angles = np.radians(np.arange(0.0, 360.0, 4.0))
    x = best.x_yd + ring.reach_yd * np.cos(angles)
    y = best.y_yd + ring.reach_yd * np.sin(angles)
    left, top, right, bottom = text_box(content, (0.0, 0.0), scale.font_px)
    half_w, half_h = (right - left) / 2 / scale.px_per_yd, (bottom - top) / 2 / scale.px_per_yd
    along, across = (half_h, half_w) if scale.is_vertical else (half_w, half_h)
    inside = (x > along) & (x < FIELD_LENGTH_YD - along)
    inside &= (y > across) & (y < FIELD_WIDTH_YD - across)
    order = np.argsort(x[inside], kind="stable")
    places = zip(x[inside][order].tolist(), y[inside][order].tolist(), strict=True)
    return [scale.at(a, b) for a, b in places]


def walk(picture: FieldPicture, canvas: Canvas) -> str:
    """Return the way from where one stands, dashed, with an arrow before the best spot's mark."""
    points = [canvas.scale.place(point) for point in picture.path]
    if len(points) < 2:
        return ""
    data = polyline(points)
    line = canvas.stroke(data, width_px=2.2, halo_px=2.8, dash="7 4", halo_opacity="0.9")
    size = 6.0
    tip, angle = _on_the_way(points, mark_radius_px(SpotRole.BEST, canvas.scale) + size + 2.0)
    turns = (math.radians(145), 0.0, math.radians(-145))
    arrow = element(
        "path",
        d=polyline([_moved(tip, angle + turn, size) for turn in turns], closed=True),
        fill=canvas.theme.ink,
        stroke=canvas.theme.halo,
        stroke_width=1.2,
    )
    return group([line, arrow], fill="none", stroke_linejoin="round", data_role="walk")


def _on_the_way(points: list[Point], before_px: float) -> tuple[Point, float]:
    """The place so far before the end of a way, and the heading there in radians."""
    left = before_px
    legs = list(pairwise(points))
    for a, b in reversed(legs):
        length = math.dist(a, b)
        if left <= length and length > 0:
            share = left / length
            at = (b[0] + share * (a[0] - b[0]), b[1] + share * (a[1] - b[1]))
            return at, math.atan2(b[1] - a[1], b[0] - a[0])
        left -= length
    a, b = legs[0]
    return points[0], math.atan2(b[1] - a[1], b[0] - a[0])


def walk_label(picture: FieldPicture, canvas: Canvas) -> str:
    """Return how long the walk is, beside the middle of the way."""
    points = [canvas.scale.place(point) for point in picture.path]
    if len(points) < 2 or not picture.walk_text:
        return ""
    length = sum(math.dist(a, b) for a, b in pairwise(points))
    (x, y), _ = _on_the_way(points, length / 2)
    half_w = text_width_px(picture.walk_text, canvas.scale.font_px) / 2 + 7
    half_h = canvas.scale.font_px
    beside = ((0, -1.1), (0, 1.1), (1, 0), (-1, 0), (0, -2.4), (0, 2.4))
    return canvas.words(
        picture.walk_text, [(x + ox * half_w, y + oy * half_h) for ox, oy in beside]
    )


def standing(picture: FieldPicture, at: Point | None, canvas: Canvas) -> str:
    """Return the mark of where one stands, with the word "you"."""
    if picture.standing is None or at is None:
        return ""
    theme, font = canvas.theme, canvas.scale.font_px
    x, y = at
    radius = mark_radius_px(SpotRole.OTHER, canvas.scale) * 0.95
    middle, r = f"M{number(x)} {number(y)}", number(radius)
    quarters = (
        f"{middle}v-{r}A{r} {r} 0 0 1 {number(x + radius)} {number(y)}z"
        f"{middle}v{r}A{r} {r} 0 0 1 {number(x - radius)} {number(y)}z"
    )
    disk = {"cx": x, "cy": y, "r": radius, "stroke_width": 1.8}
    mark = element("circle", **disk, fill=theme.paper, stroke=theme.ink)
    mark += element("path", d=quarters, fill=theme.ink)
    far = radius + 5
    half_w, half_h = text_width_px("you", font) / 2 + GAP_PX, font * 0.4
    beside = [
        (x, y - far - half_h),
        (x, y + far + half_h),
        (x + far + half_w, y),
        (x - far - half_w, y),
    ]
    true = leader(canvas.scale.place(picture.standing), at, theme)
    return element("g", true + mark + canvas.words("you", beside), data_role="standing")


Loop = list[tuple[float, float]]
SHARES = (0.95, 0.80, 0.50)  # from the widest area to the narrowest
_SMOOTH_X_YD = 1.3
_SMOOTH_Y_YD = 2.4
_GRID_YD = 1.0
_OUTSIDE_YD = 2.0  # the grid reaches past the field, so that outlines close outside of it
_LEAST_AREA_YD2 = 4.0


class Band(Record):
    """The smallest area that holds a share of the probability; loops of (x_yd, y_yd) points."""

    share: float
    loops: tuple[Loop, ...]


def bands_of(mass: FloatArray) -> tuple[Band, ...]:
    """Return the bands of a mass, from the widest to the narrowest.

    - ``mass``: shape (121, 18), see `FieldPicture`. All zero gives no bands.

    The mass is smoothed with a Gaussian kernel (mirrored at the field's edges, so nothing leaks
    out) before the outlines are drawn; islands under 4 square yards are left out.
    """
    return _bands_of(np.asarray(mass, dtype=np.float64).tobytes())


@lru_cache(maxsize=2)
def _bands_of(data: bytes) -> tuple[Band, ...]:
    mass = np.frombuffer(data).reshape(MASS_SHAPE)
    total = float(mass.sum())
    if total <= 0.0:
        return ()
    x_grid, y_grid, along, across = _kernels()
    density = along @ (mass / total) @ across.T
    inside = density[np.ix_(_within(x_grid, FIELD_LENGTH_YD), _within(y_grid, FIELD_WIDTH_YD))]
    falling = np.sort(inside.ravel())[::-1]
    held = np.cumsum(falling) / falling.sum()
    # A rim of nothing around the grid, so that every outline closes.
    x_rim, y_rim = (
        np.pad(grid, 1, mode="reflect", reflect_type="odd") for grid in (x_grid, y_grid)
    )
    contours = contour_generator(x_rim, y_rim, np.pad(density, 1).T)
    bands = []
    for share in SHARES:
        level = float(falling[int(np.searchsorted(held, share))])
        outlines = [line[:-1] for line in cast(list[FloatArray], contours.lines(level))]
        large = [line for line in outlines if _area_yd2(line) >= _LEAST_AREA_YD2]
        bands.append(Band(share, tuple([(x, y) for x, y in line.tolist()] for line in large)))
    return tuple(bands)


def _within(grid: FloatArray, length_yd: float) -> NDArray[np.int64]:
    return np.flatnonzero((grid >= 0) & (grid <= length_yd))


@lru_cache(maxsize=1)
def _kernels() -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """The grid and the smoothing from cells to the grid, along and across the field."""
    rows, columns = MASS_SHAPE
    x_cells = np.arange(rows) * FIELD_LENGTH_YD / (rows - 1)
    y_cells = (np.arange(columns) + 0.5) * FIELD_WIDTH_YD / columns
    x_grid = np.arange(-_OUTSIDE_YD, FIELD_LENGTH_YD + _OUTSIDE_YD + 0.5, _GRID_YD)
    y_grid = np.linspace(-_OUTSIDE_YD, FIELD_WIDTH_YD + _OUTSIDE_YD, 58)
    along = _kernel(x_grid, x_cells, FIELD_LENGTH_YD, _SMOOTH_X_YD)
    across = _kernel(y_grid, y_cells, FIELD_WIDTH_YD, _SMOOTH_Y_YD)
    return x_grid, y_grid, along, across


def _kernel(grid: FloatArray, cells: FloatArray, length_yd: float, smooth_yd: float) -> FloatArray:
    inside = np.clip(grid, 0.0, length_yd)[:, None]
    images = (cells, -cells, 2 * length_yd - cells)
    return np.asarray(
        sum(np.exp(-0.5 * ((inside - image[None, :]) / smooth_yd) ** 2) for image in images)
    )


def _area_yd2(outline: FloatArray) -> float:
    x, y = outline.T
    return abs(float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
