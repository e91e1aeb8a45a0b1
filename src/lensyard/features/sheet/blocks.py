"""The blocks of the printed sheet, each measured before it is set."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from lensyard.features.sheet.field_drawing import Scale, draw_field, field_height_in
from lensyard.features.sheet.layout import Sheet, TickLine
from lensyard.render.paper import (
    MARGIN_IN,
    POINTS_PER_INCH,
    Page,
    line_in,
    require_room,
    shortened,
    width_pt,
    wrapped,
)

GAP_IN = 0.13
GUTTER_IN = 0.22
TICK_INDENT_IN = 0.24
LEAST_FIELD_IN = 4.3
HEAD_PT = 10.0
# Sizes tried for the text of the lower blocks and of the column beside the field, largest first.
SIZES_PT = (10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0)
FOOT_PT = 7.0
TITLE_PT = (19.0, 17.0, 15.0, 13.0)


@dataclass(frozen=True, slots=True)
class Block:
    """A piece of the page that knows its height and can be set from its top. [inch]"""

    height_in: float
    draw: Callable[[float], None]


def compose(page: Page, sheet: Sheet) -> None:
    """Set everything on the page.

    Raises
    ------
    InvalidInputError
        If it does not fit.
    """
    top = _title(page, sheet, page.paper.height_in - MARGIN_IN)
    top = _rule(page, sheet, top - 0.06) - GAP_IN
    foot_top = _foot(page, sheet)
    width = page.right_in - page.left_in
    for size in SIZES_PT:
        low = stacked(
            [
                tick_block(page, sheet, page.left_in, width, size),
                _notes_block(page, sheet, size - 0.5),
            ]
        )
        room = top - foot_top - low.height_in - GAP_IN
        tall = min(room, field_height_in(width_in=0.47 * width))
        scale = Scale.fitting(sheet, left_in=page.left_in, top_in=top, height_in=tall)
        side_in = scale.width_in + GUTTER_IN
        beside = _beside_block(page, sheet, page.left_in + side_in, width - side_in, size)
        if beside.height_in <= room and room >= LEAST_FIELD_IN:
            break
    else:
        require_room(room, max(beside.height_in, LEAST_FIELD_IN), what="the plan")
    draw_field(page, sheet, scale)
    beside.draw(top)
    low.draw(top - room - GAP_IN)


def _title(page: Page, sheet: Sheet, top_in: float) -> float:
    """Set the venue as large as it fits, the day, and kit and assignment."""
    room = (page.right_in - page.left_in) * POINTS_PER_INCH
    left = room - (width_pt(sheet.when, 11.0) if sheet.when else 0.0) - 14.0
    size = next((s for s in TITLE_PT if width_pt(sheet.title, s, "bold") <= left), TITLE_PT[-1])
    title = shortened(sheet.title, size_pt=size, room_pt=left, weight="bold")
    page.text(page.right_in, top_in - 0.2, sheet.when, size_pt=11.0, ha="right")
    page.text(page.left_in, top_in - 0.2, title, size_pt=size, weight="bold")
    lines = [wrapped(line, size_pt=10.0, room_pt=room) for line in sheet.about]
    return page.lines(
        page.left_in, top_in - 0.27, tuple(part for line in lines for part in line), size_pt=10.0
    )


def _rule(page: Page, sheet: Sheet, top_in: float) -> float:
    """Set the rule to remember in a heavy frame."""
    width = page.right_in - page.left_in
    room = (width - 0.24) * POINTS_PER_INCH
    rule = wrapped(sheet.rule, size_pt=15.0, room_pt=room, weight="bold")
    earns = wrapped(sheet.rule_earns, size_pt=10.0, room_pt=room)
    height = len(rule) * line_in(15.0) + len(earns) * line_in(10.0) + 0.15
    page.box(page.left_in, top_in - height, width, height, line_pt=2.2)
    below = page.lines(page.left_in + 0.12, top_in - 0.05, rule, size_pt=15.0, weight="bold")
    page.lines(page.left_in + 0.12, below, earns, size_pt=10.0)
    return top_in - height


def _foot(page: Page, sheet: Sheet) -> float:
    room = (page.right_in - page.left_in) * POINTS_PER_INCH
    lines = wrapped(sheet.foot, size_pt=FOOT_PT, room_pt=room)
    top = MARGIN_IN - 0.12 + len(lines) * line_in(FOOT_PT)
    page.lines(page.left_in, top, lines, size_pt=FOOT_PT, color="0.2")
    page.line((page.left_in, page.right_in), (top + 0.03, top + 0.03), line_pt=0.5)
    return top + 0.09


def _heading(page: Page, x_in: float, top_in: float, width_in: float, words: str) -> float:
    below = page.lines(x_in, top_in, (words.upper(),), size_pt=HEAD_PT - 1.0, weight="bold")
    page.line((x_in, x_in + width_in), (below + 0.01, below + 0.01), line_pt=0.8)
    return below - 0.03


def _heading_in() -> float:
    return line_in(HEAD_PT - 1.0) + 0.03


def _beside_block(page: Page, sheet: Sheet, x_in: float, width_in: float, size_pt: float) -> Block:
    """Return the phases and what is closed, beside the field."""
    return stacked(
        [
            phase_block(page, sheet, x_in, width_in, size_pt),
            text_block(page, "Closed", sheet.closed, x_in, width_in, size_pt - 1.0),
        ]
    )


def stacked(parts: list[Block]) -> Block:
    """Return blocks below each other as one."""
    height = sum(part.height_in for part in parts) + GAP_IN * (len(parts) - 1)

    def draw(top_in: float) -> None:
        for part in parts:
            part.draw(top_in)
            top_in -= part.height_in + GAP_IN

    return Block(height, draw)


def phase_block(page: Page, sheet: Sheet, x_in: float, width_in: float, size_pt: float) -> Block:
    """Return the lines for the phases of a game: letter, name, share, and where to stand."""
    indent = 0.27
    room = (width_in - indent) * POINTS_PER_INCH
    rows = [wrapped(one.where, size_pt=size_pt, room_pt=room) for one in sheet.lines]
    read = wrapped(sheet.read, size_pt=size_pt - 1.5, room_pt=width_in * POINTS_PER_INCH)
    each = [line_in(size_pt + 1.0) + len(row) * line_in(size_pt) + 0.05 for row in rows]
    height = _heading_in() + sum(each) + len(read) * line_in(size_pt - 1.5)

    def draw(top_in: float) -> None:
        at = _heading(page, x_in, top_in, width_in, "Where to stand")
        for one, row, tall in zip(sheet.lines, rows, each, strict=True):
            middle = at - 0.55 * line_in(size_pt + 1.0)
            page.box(x_in, middle - 0.085, 0.17, 0.17, line_pt=1.0)
            page.text(
                x_in + 0.085, middle, one.mark, size_pt=9.0, weight="bold", ha="center",
                va="center_baseline",
            )  # fmt: skip
            share = f"{one.share} (habit {one.habit})"
            taken = width_pt(share, size_pt) + 8.0
            title = shortened(one.title, size_pt=size_pt + 1.0, room_pt=room - taken, weight="bold")
            base = at - 0.78 * line_in(size_pt + 1.0)
            page.text(x_in + indent, base, title, size_pt=size_pt + 1.0, weight="bold")
            page.text(x_in + width_in, base, share, size_pt=size_pt, ha="right")
            page.lines(x_in + indent, at - line_in(size_pt + 1.0), row, size_pt=size_pt)
            at -= tall
        page.lines(x_in, at, read, size_pt=size_pt - 1.5, color="0.2")

    return Block(height, draw)


def light_block(page: Page, sheet: Sheet, x_in: float, width_in: float, size_pt: float) -> Block:
    """Return the light by quarter as a table."""
    table = (sheet.light_head, *sheet.light_rows)
    room = width_in * POINTS_PER_INCH
    columns = _column_pt(table, size_pt, room)
    cells = [
        [
            wrapped(cell, size_pt=size_pt, room_pt=pt - 4.0, weight="bold" if i == 0 else "normal")
            for cell, pt in zip(row, columns, strict=True)
        ]
        for i, row in enumerate(table)
    ]
    tall = [max(len(cell) for cell in row) * line_in(size_pt) + 0.02 for row in cells]
    note = wrapped(sheet.light_note, size_pt=size_pt, room_pt=room)
    height = _heading_in() + sum(tall) + len(note) * line_in(size_pt)

    def draw(top_in: float) -> None:
        at = _heading(page, x_in, top_in, width_in, "Light")
        for i, (row, one_tall) in enumerate(zip(cells, tall, strict=True)):
            x = x_in
            for cell, pt in zip(row, columns, strict=True):
                page.lines(x, at, cell, size_pt=size_pt, weight="bold" if i == 0 else "normal")
                x += pt / POINTS_PER_INCH
            at -= one_tall
        page.lines(x_in, at, note, size_pt=size_pt)

    return Block(height, draw)


def _column_pt(table: tuple[tuple[str, ...], ...], size_pt: float, room_pt: float) -> list[float]:
    """Return the widths of columns: the longest word at least, the rest by what they hold."""
    columns = list(zip(*table, strict=True))
    whole = [max(width_pt(cell, size_pt, "bold") for cell in column) + 6.0 for column in columns]
    if sum(whole) <= room_pt:
        spare = (room_pt - sum(whole)) / len(whole)
        return [pt + spare for pt in whole]
    least = [
        max(width_pt(word, size_pt, "bold") for cell in column for word in (cell.split() or [""]))
        + 6.0
        for column in columns
    ]
    if sum(least) >= room_pt:
        return [pt * room_pt / sum(least) for pt in least]
    share = (room_pt - sum(least)) / (sum(whole) - sum(least))
    return [low + (high - low) * share for low, high in zip(least, whole, strict=True)]


def tick_block(page: Page, sheet: Sheet, x_in: float, width_in: float, size_pt: float) -> Block:
    """Return the shot list: boxes to tick, in two columns, each frame with when it comes."""
    column_in = (width_in - GUTTER_IN) / 2
    room = (column_in - TICK_INDENT_IN) * POINTS_PER_INCH
    set_ticks = [_SetTick.of(tick, room, size_pt) for tick in sheet.ticks]
    tall = [one.height_in for one in set_ticks]
    split = _halves(tall)
    height = _heading_in() + max(sum(tall[:split]), sum(tall[split:])) + 0.03

    def draw(top_in: float) -> None:
        start = _heading(page, x_in, top_in, width_in, sheet.ticks_title) - 0.03
        at = start
        for i, one in enumerate(set_ticks):
            x = x_in + (column_in + GUTTER_IN if i >= split else 0.0)
            at = start if i == split else at
            one.draw(page, x, at)
            at -= tall[i]

    return Block(height, draw)


def _halves(tall: list[float]) -> int:
    """Return where to break a list in two columns so that the taller one is as low as it can be."""
    return min(
        range(1, len(tall) + 1),
        key=lambda i: (round(max(sum(tall[:i]), sum(tall[i:])), 6), -i),
        default=0,
    )


@dataclass(frozen=True, slots=True)
class _SetTick:
    """One frame to tick, broken into lines: its name, and when it comes behind or below it."""

    title: tuple[str, ...]
    when: tuple[str, ...]
    is_beside: bool
    have: bool
    size_pt: float

    @staticmethod
    def of(tick: TickLine, room_pt: float, size_pt: float) -> _SetTick:
        small = size_pt - 1.5
        title = wrapped(tick.title, size_pt=size_pt, room_pt=room_pt, weight="bold")
        taken = width_pt(title[-1], size_pt, "bold") + 5.0
        beside = taken + width_pt(tick.when, small) <= room_pt
        when = wrapped(tick.when, size_pt=small, room_pt=room_pt)
        return _SetTick(title, when, beside, tick.have, size_pt)

    @property
    def height_in(self) -> float:
        below = 0 if self.is_beside else len(self.when)
        return len(self.title) * line_in(self.size_pt) + below * line_in(self.size_pt - 1.5) + 0.04

    def draw(self, page: Page, x_in: float, at_in: float) -> None:
        page.box(x_in, at_in - 0.155, 0.14, 0.14, line_pt=1.1)
        if self.have:
            hook = (x_in + 0.03, x_in + 0.06, x_in + 0.15)
            page.line(hook, (at_in - 0.09, at_in - 0.13, at_in), line_pt=2)
        left = x_in + TICK_INDENT_IN
        below = page.lines(left, at_in, self.title, size_pt=self.size_pt, weight="bold")
        if not self.is_beside:
            page.lines(left, below, self.when, size_pt=self.size_pt - 1.5)
        elif self.when:
            after = (width_pt(self.title[-1], self.size_pt, "bold") + 5.0) / POINTS_PER_INCH
            base = below + 0.25 * line_in(self.size_pt)
            page.text(left + after, base, " ".join(self.when), size_pt=self.size_pt - 1.5)


def _notes_block(page: Page, sheet: Sheet, size_pt: float) -> Block:
    """Return the cautions, beside the table of light where there is one."""
    width = page.right_in - page.left_in
    if not sheet.light_rows:
        notes = [text_block(page, "Cautions", sheet.cautions, page.left_in, width, size_pt)]
        if sheet.light_note:
            notes.insert(
                0, text_block(page, "Light", (sheet.light_note,), page.left_in, width, size_pt)
            )
        return stacked(notes)
    left_in = 0.56 * (width - GUTTER_IN)
    right = page.left_in + left_in + GUTTER_IN
    light = light_block(page, sheet, page.left_in, left_in, size_pt)
    cautions = text_block(page, "Cautions", sheet.cautions, right, page.right_in - right, size_pt)

    def draw(top_in: float) -> None:
        light.draw(top_in)
        cautions.draw(top_in)

    return Block(max(light.height_in, cautions.height_in), draw)


def text_block(
    page: Page,
    heading: str,
    sentences: tuple[str, ...],
    x_in: float,
    width_in: float,
    size_pt: float,
) -> Block:
    """Return sentences under a heading, each with a dash before it."""
    indent = 0.11
    room = (width_in - indent) * POINTS_PER_INCH
    rows = [wrapped(text, size_pt=size_pt, room_pt=room) for text in sentences]
    height = _heading_in() + sum(len(row) * line_in(size_pt) + 0.015 for row in rows)

    def draw(top_in: float) -> None:
        at = _heading(page, x_in, top_in, width_in, heading)
        for row in rows:
            page.text(x_in, at - 0.75 * line_in(size_pt), "–", size_pt=size_pt)
            at = page.lines(x_in + indent, at, row, size_pt=size_pt) - 0.015

    return Block(height, draw)
