"""The field on the printed sheet: upright, offense to the top, zones in bands, spots outside."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import Any

from lensyard.domain.field import (
    CENTER_Y_YD,
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    Direction,
)
from lensyard.domain.venue import Venue
from lensyard.features.game_plan.result import PlanRow
from lensyard.features.sheet.compute import SheetContent, SheetSide
from lensyard.features.sheet.report import PHASE_MARKS, closed_key, zone_marks
from lensyard.records import Record
from lensyard.render.field.ground import (
    GOALS_X_YD,
    NUMBERED_LINES_X_YD,
    YARD_LINES_X_YD,
    yard_line_number,
)
from lensyard.render.field.picture import ClosedMark, closed_marks
from lensyard.render.paper import POINTS_PER_INCH, Page, shortened, width_pt
from lensyard.render.report import Table
from lensyard.render.words import percent

TOP_YD, BOTTOM_YD = 13.0, 4.5
LEAST_SIDE_YD = 10.5
# From a spot outward: its dot and two boxed marks.
MARKS_IN = 0.42
MARK_PT = 8.5
# So many marks stand next to each other in one box beside a sideline; behind an end line they
# stand in two rows.
MARKS_SIDE, ROWS_END = 2, 2
# Where along a sideline its name may stand, best first. [yd]
NAME_X_YD = (16.0, 104.0, 60.0, 32.0, 88.0)
ZONE_GRAYS = ("0.93", "1.0")


class SheetMark(Record):
    """A mark at the edge of the field, in play coordinates. [yd]"""

    mark: str
    x_yd: float
    y_yd: float


class SheetField(Record):
    """What is drawn of a venue, offense to the top.

    - ``zones``: table of the zones with their lines of scrimmage (see
      `lensyard.features.sheet.report`)
    - ``closed``: the closed stretches with their letters in the list
    """

    venue: Venue
    direction: Direction
    zones: Table
    marks: tuple[SheetMark, ...]
    closed: tuple[tuple[str, ClosedMark], ...]


def sheet_field(content: SheetContent, side: SheetSide, zones: Table) -> SheetField:
    """Return the field of one side of a sheet: zones marked by number, phases by letter."""
    numbers = zone_marks()
    marked = [(numbers[row.title], row) for row in side.zones if row.title in numbers]
    marked += list(zip(PHASE_MARKS, side.phases, strict=False))
    venue = content.request.venue
    keys = [closed_key(stretch, venue) for stretch in venue.closed]
    return SheetField(
        venue=venue,
        direction=side.direction,
        zones=zones,
        marks=tuple(place for mark, row in marked for place in _on_both_sides(mark, row, venue)),
        closed=tuple(zip(keys, closed_marks(venue, side.direction), strict=True)),
    )


def _on_both_sides(mark: str, row: PlanRow, venue: Venue) -> tuple[SheetMark, ...]:
    """Return the mark of a row, on both sides where they are equal."""
    here = SheetMark(mark, row.x_yd, row.y_yd)
    if row.side in venue.sideline_names:
        return (here,)
    return here, SheetMark(mark, row.x_yd, FIELD_WIDTH_YD - row.y_yd)


class Scale(Record):
    """From play coordinates to the page: y to the left, x to the top."""

    left_in: float
    bottom_in: float
    in_per_yd: float
    side_yd: float

    @staticmethod
    def fitting(field: SheetField, *, left_in: float, top_in: float, height_in: float) -> Scale:
        """Return the scale that fills a height."""
        in_per_yd = height_in / (FIELD_LENGTH_YD + TOP_YD + BOTTOM_YD)
        side = max(LEAST_SIDE_YD, field.venue.side_setback_yd + MARKS_IN / in_per_yd)
        return Scale(left_in, top_in - height_in, in_per_yd, side)

    @property
    def width_in(self) -> float:
        """How wide the drawing is. [inch]"""
        return (FIELD_WIDTH_YD + 2 * self.side_yd) * self.in_per_yd

    def at(self, x_yd: float, y_yd: float) -> tuple[float, float]:
        """Return a place on the page. [inch]"""
        across = (FIELD_WIDTH_YD + self.side_yd - y_yd) * self.in_per_yd
        return self.left_in + across, self.bottom_in + (x_yd + BOTTOM_YD) * self.in_per_yd


def field_height_in(*, width_in: float) -> float:
    """Return how high the drawing is at most at a width. [inch]"""
    return width_in * (FIELD_LENGTH_YD + TOP_YD + BOTTOM_YD) / (FIELD_WIDTH_YD + 2 * LEAST_SIDE_YD)


def draw_field(page: Page, field: SheetField, scale: Scale) -> None:
    """Draw the field with its zones, closed stretches and spots; no label covers another."""
    bands = [ZoneBand.of(row) for row in field.zones.rows]
    _zones(page, bands, scale)
    _lines(page, field, scale)
    for _, mark in field.closed:
        _closed(page, mark, scale)
    for zone in bands:
        _zone_words(page, zone, scale)
    taken = []
    for spot in field.marks:
        across, along = scale.at(spot.x_yd, spot.y_yd)
        page.disk(across, along, 0.04, fill="black")
        taken.append((across - 0.04, along - 0.04, 0.08, 0.08))
    for group in grouped(field.marks, scale):
        taken.append(_draw_group(page, group, scale))
    for key, mark in field.closed:
        taken.append(_closed_name(page, key, mark, scale, taken))
    _names(page, field, scale, taken)


Box = tuple[float, float, float, float]
"""Left, low, width and height. [inch]"""


def _is_free(box: Box, taken: Sequence[Box]) -> bool:
    """Whether a box lies on none of the others."""
    left, low, wide, tall = box
    return not any(
        left < x + w and x < left + wide and low < y + h and y < low + tall for x, y, w, h in taken
    )


def _rectangle(
    scale: Scale, x_from_yd: float, x_to_yd: float, y_from_yd: float, y_to_yd: float
) -> tuple[float, float, float, float]:
    left, low = scale.at(x_from_yd, y_to_yd)
    right, high = scale.at(x_to_yd, y_from_yd)
    return left, low, right - left, high - low


class ZoneBand(Record):
    """A zone of the field as it is drawn; see the table of zones."""

    mark: str
    title: str
    from_x_yd: float
    to_x_yd: float
    share: str
    habit: str

    @staticmethod
    def of(row: tuple[Any, ...]) -> ZoneBand:
        """Return the band of a row of the table."""
        mark, title, from_x_yd, to_x_yd, usable, habit = row
        return ZoneBand(mark, title, from_x_yd, to_x_yd, percent(usable), percent(habit))


def _zones(page: Page, zones: Sequence[ZoneBand], scale: Scale) -> None:
    for i, zone in enumerate(zones):
        page.box(
            *_rectangle(scale, zone.from_x_yd, zone.to_x_yd, 0.0, FIELD_WIDTH_YD),
            fill=ZONE_GRAYS[i % 2],
            edge="none",
            layer=1.0,
        )


def _lines(page: Page, field: SheetField, scale: Scale) -> None:
    for x in YARD_LINES_X_YD:
        (a, y), (b, _) = scale.at(x, FIELD_WIDTH_YD), scale.at(x, 0.0)
        page.line((a, b), (y, y), line_pt=0.4, color="0.55", layer=1.5)
    for x in NUMBERED_LINES_X_YD:
        yard = yard_line_number(x)
        for hand in (FIELD_WIDTH_YD - 3.2, 3.2):
            across, along = scale.at(x, hand)
            page.text(
                across, along, yard, size_pt=7.0, color="0.25", ha="center", va="center_baseline"
            )
    for goal_x in GOALS_X_YD:
        (a, y), (b, _) = scale.at(goal_x, FIELD_WIDTH_YD), scale.at(goal_x, 0.0)
        page.line((a, b), (y, y), line_pt=1.6)
    page.box(*_rectangle(scale, 0.0, FIELD_LENGTH_YD, 0.0, FIELD_WIDTH_YD), line_pt=1.6)
    half = field.venue.rules.goal_width_yd / 2
    for end_x in (0.0, FIELD_LENGTH_YD):
        (a, y), (b, _) = scale.at(end_x, CENTER_Y_YD + half), scale.at(end_x, CENTER_Y_YD - half)
        page.line((a, b), (y, y), line_pt=3.5)


def _clipped(mark: ClosedMark, scale: Scale) -> Box | None:
    """A closed stretch as far as it is drawn; None where that is nothing."""
    low_x, high_x = max(mark.x_min_yd, -BOTTOM_YD), min(mark.x_max_yd, FIELD_LENGTH_YD + TOP_YD)
    low_y, high_y = (
        max(mark.y_min_yd, -scale.side_yd),
        min(mark.y_max_yd, FIELD_WIDTH_YD + scale.side_yd),
    )
    if low_x >= high_x or low_y >= high_y:
        return None
    return _rectangle(scale, low_x, high_x, low_y, high_y)


def _closed(page: Page, mark: ClosedMark, scale: Scale) -> None:
    box = _clipped(mark, scale)
    if box is not None:
        page.box(*box, fill="white", edge="0.35", line_pt=0.7, hatch="////")


def _closed_name(page: Page, key: str, mark: ClosedMark, scale: Scale, taken: Sequence[Box]) -> Box:
    """Write the letter of a closed stretch, and its name where there is room, on a plate in it."""
    box = _clipped(mark, scale) or (*scale.at(mark.x_min_yd, mark.y_min_yd), 0.01, 0.01)
    left, low, wide, tall = box
    upright, length, tries = tall > wide, max(wide, tall), []
    for words, asides in (
        (f"{key} {mark.label}", (0.5, 0.25, 0.75)),
        (key, (0.5, 0.2, 0.8)),
        (key, (-0.3, 1.3)),
    ):
        long_in = width_pt(words, 7.5) / POINTS_PER_INCH + 0.05
        if words != key and long_in > length:
            continue
        half = 0.0 if words == key else long_in / length / 2
        size = (0.14, long_in) if upright else (long_in, 0.14)
        for aside, share in product(asides, (0.5, 0.3, 0.7, 0.15, 0.85, half, 1.0 - half)):
            if half <= share <= 1.0 - half:
                along, across = (share, aside) if upright else (aside, share)
                plate = (
                    left + across * wide - size[0] / 2,
                    low + along * tall - size[1] / 2,
                    *size,
                )
                tries.append((words, plate))
    words, plate = next((t for t in tries if _is_free(t[1], taken)), tries[-1])
    page.box(*plate, fill="white", edge="none", layer=2.5)
    page.text(
        plate[0] + plate[2] / 2, plate[1] + plate[3] / 2, words, size_pt=7.5, ha="center",
        va="center_baseline", rotation_deg=90.0 if upright else 0.0,
    )  # fmt: skip
    return plate


def _names(page: Page, field: SheetField, scale: Scale, taken: Sequence[Box]) -> None:
    """Write the names of the end and the sidelines, and the arrow of attack."""
    venue = field.venue
    toward_b = field.direction is Direction.TOWARD_B
    attacked = venue.end_names[toward_b]
    room = (FIELD_WIDTH_YD - 4) * scale.in_per_yd * POINTS_PER_INCH
    across, along = scale.at(FIELD_LENGTH_YD - 5.0, CENTER_Y_YD)
    words = f"attacking {attacked}"
    if width_pt(words, 9.0, "bold") > room - 24:
        words = shortened(attacked, size_pt=9.0, room_pt=room - 24, weight="bold")
    page.text(across, along, words, size_pt=9.0, weight="bold", ha="center", va="center_baseline")
    aside = width_pt(words, 9.0, "bold") / POINTS_PER_INCH / 2 + 0.1
    for sign in (-1, 1):
        page.arrow(across + sign * aside, along - 0.05, 0.1)
    right, left = venue.sideline_names if toward_b else venue.sideline_names[::-1]
    out = scale.side_yd - 1.6
    for name, y in ((left, FIELD_WIDTH_YD + out), (right, -out)):
        words = shortened(name, size_pt=8.0, room_pt=28 * scale.in_per_yd * POINTS_PER_INCH)
        long_in = width_pt(words, 8.0) / POINTS_PER_INCH + 0.05
        for x in (*NAME_X_YD, *range(8, 113, 4)):
            middle = scale.at(x, y)
            plate = (middle[0] - 0.07, middle[1] - long_in / 2, 0.14, long_in)
            if _is_free(plate, taken):
                page.box(*plate, fill="white", edge="none", layer=2.5)
                page.text(
                    *middle, words, size_pt=8.0, ha="center", va="center_baseline",
                    rotation_deg=90.0,
                )  # fmt: skip
                break


def _zone_words(page: Page, zone: ZoneBand, scale: Scale) -> None:
    """Write a zone's number, name and shares into its band."""
    middle = (zone.from_x_yd + zone.to_x_yd) / 2
    tall_pt = abs(zone.to_x_yd - zone.from_x_yd) * scale.in_per_yd * POINTS_PER_INCH
    share = f"{zone.share} (habit {zone.habit})"
    across, along = scale.at(middle, CENTER_Y_YD)
    room = (FIELD_WIDTH_YD - 14) * scale.in_per_yd * POINTS_PER_INCH
    if tall_pt >= 34:
        _in_disk(page, zone.mark, across, along + 0.13)
        for words, down, size in ((zone.title, -0.07, 9.0), (share, -0.21, 8.5)):
            _plated(page, across, along + down, words, size, room)
        return
    size = min(8.5, max(tall_pt - 4.0, 6.5))
    room = (FIELD_WIDTH_YD - 2) * scale.in_per_yd * POINTS_PER_INCH - 22.0
    words = f"{zone.title}: {share}"
    if width_pt(words, size) > room:
        words = share
    left = across - width_pt(words, size) / POINTS_PER_INCH / 2
    _plated(page, across + 0.09, along, words, size, room)
    _in_disk(page, zone.mark, left - 0.06, along)


def _plated(
    page: Page, across_in: float, along_in: float, words: str, size_pt: float, room_pt: float
) -> None:
    fit = shortened(words, size_pt=size_pt, room_pt=room_pt)
    wide, tall = width_pt(fit, size_pt) / POINTS_PER_INCH + 0.05, 1.15 * size_pt / POINTS_PER_INCH
    page.box(
        across_in - wide / 2, along_in - tall / 2, wide, tall, fill="white", edge="none", layer=2.5
    )
    page.text(across_in, along_in, fit, size_pt=size_pt, ha="center", va="center_baseline")


def _in_disk(page: Page, mark: str, across_in: float, along_in: float) -> None:
    page.disk(across_in, along_in, 0.095, fill="black")
    page.text(
        across_in, along_in, mark, size_pt=MARK_PT, weight="bold", color="white", ha="center",
        va="center_baseline",
    )  # fmt: skip


class SpotGroup(Record):
    """Marks that share a place. [yd]"""

    marks: tuple[str, ...]
    x_yd: float
    y_yd: float

    @property
    def behind_end_line(self) -> bool:
        """Whether it lies behind one of the end lines."""
        return not 0.0 <= self.x_yd <= FIELD_LENGTH_YD


def grouped(spots: Sequence[SheetMark], scale: Scale) -> tuple[SpotGroup, ...]:
    """Return the spots of each edge, near neighbors as one, and those whose boxes would meet."""

    def edge(spot: SheetMark) -> int:
        behind = spot.x_yd > FIELD_LENGTH_YD, spot.x_yd < 0.0
        return 0 if behind[0] else 1 if behind[1] else 2 if spot.y_yd > CENTER_Y_YD else 3

    found: list[SpotGroup] = []
    for number in range(4):
        along = sorted(
            (s for s in spots if edge(s) == number),
            key=lambda s: s.y_yd if number < 2 else s.x_yd,
        )
        groups = [[spot] for spot in along]
        i = 0
        while i + 1 < len(groups):
            here, after = _group(groups[i]), _group(groups[i + 1])
            if _is_free(_group_box(here, scale), [_group_box(after, scale)]):
                i += 1
                continue
            groups[i : i + 2] = [groups[i] + groups[i + 1]]
            i = max(i - 1, 0)
        found += [_group(group) for group in groups]
    return tuple(found)


def _group(spots: Sequence[SheetMark]) -> SpotGroup:
    return SpotGroup(
        tuple(sorted({s.mark for s in spots})),
        (min(s.x_yd for s in spots) + max(s.x_yd for s in spots)) / 2,
        (min(s.y_yd for s in spots) + max(s.y_yd for s in spots)) / 2,
    )


def _group_rows(group: SpotGroup) -> list[str]:
    per_line = -(-len(group.marks) // ROWS_END) if group.behind_end_line else MARKS_SIDE
    rows = [group.marks[i : i + per_line] for i in range(0, len(group.marks), per_line)]
    return [" ".join(row) for row in rows]


def _group_box(group: SpotGroup, scale: Scale) -> Box:
    """The box of the marks of one place, outside of it."""
    across, along = scale.at(group.x_yd, group.y_yd)
    words = _group_rows(group)
    wide = max(width_pt(row, MARK_PT, "bold") for row in words) / POINTS_PER_INCH + 0.09
    tall = 0.14 * len(words) + 0.025
    if group.behind_end_line:
        return across - wide / 2, along + (0.06 if group.x_yd > 0 else -0.06 - tall), wide, tall
    left = across - 0.06 - wide if group.y_yd > CENTER_Y_YD else across + 0.06
    return left, along - tall / 2, wide, tall


def _draw_group(page: Page, group: SpotGroup, scale: Scale) -> Box:
    """Draw the marks of one place outside of it."""
    box = left, low, wide, tall = _group_box(group, scale)
    page.box(*box, fill="white", line_pt=1.1, layer=5.0)
    for i, row in enumerate(_group_rows(group)):
        page.text(
            left + wide / 2, low + tall - 0.0125 - (i + 0.5) * 0.14, row, size_pt=MARK_PT,
            weight="bold", ha="center", va="center_baseline",
        )  # fmt: skip
    return box
