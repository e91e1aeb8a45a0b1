"""The printed sheet: a report set on one page, each block measured before it is set.

From the top: what, where and with what; the rule to remember; the field with its marks beside the
lines for each phase and what is closed; the shot list with boxes to tick; the light and the
cautions; and in the foot who says so. The field takes the room that the rest leaves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from lensyard.features.sheet.compute import SheetContent
from lensyard.features.sheet.field import (
    Scale,
    SheetField,
    draw_field,
    field_height_in,
    sheet_field,
)
from lensyard.features.sheet.report import sheet_report
from lensyard.records import Record
from lensyard.render.paper import (
    MARGIN_IN,
    POINTS_PER_INCH,
    Page,
    line_in,
    paper_named,
    require_room,
    saved_pages,
    settings,
    shortened,
    width_pt,
    wrapped,
)
from lensyard.render.report import Report
from lensyard.render.words import percent

GAP_IN = 0.13
GUTTER_IN = 0.22
TICK_INDENT_IN = 0.24
LEAST_FIELD_IN = 4.3
HEAD_PT = 10.0
# Sizes tried for the text of the lower blocks and of the column beside the field, largest first.
SIZES_PT = (10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0)
FOOT_PT = 7.0
TITLE_PT = (19.0, 17.0, 15.0, 13.0)
SMALLEST_PT = 6.5


def smaller_pt(size_pt: float, by_pt: float) -> float:
    """Return a smaller size of type, as long as it can be read. [pt]"""
    return max(size_pt - by_pt, SMALLEST_PT)


class Sheet(Record):
    """One side of the paper: the report, and the field beside it."""

    report: Report
    field: SheetField

    @staticmethod
    def of(content: SheetContent) -> tuple[Sheet, ...]:
        """Return the sheet of a plan: one side, or one for each end where the plan differs."""
        reports = [(side, sheet_report(content, side)) for side in content.sides]
        return tuple(
            Sheet(report, sheet_field(content, side, report.table("zones")))
            for side, report in reports
        )

    def fact(self, key: str) -> str:
        """Return a fact of the report as text; empty where it has none."""
        return next((str(fact.value) for fact in self.report.facts if fact.key == key), "")


def sheet_page(sheet: Sheet, *, paper: str = "letter") -> Page:
    """Return the page, set.

    - ``paper``: ``letter`` or ``a4``

    Raises `UnknownNameError` if there is no such paper; `InvalidInputError` if it does not fit on
    one page.
    """
    page = Page(paper_named(paper))
    _compose(page, sheet)
    return page


def sheet_file(sides: Sequence[Sheet], *, paper: str = "letter", form: str = "pdf") -> bytes:
    """Return the sheet as a PDF or PNG file; the same sheet gives the same bytes.

    A PDF has a page a side; in a PNG they stand next to each other. Raises as `sheet_page`;
    ``form`` is ``pdf`` or ``png``.
    """
    with settings():
        pages = [sheet_page(side, paper=paper) for side in sides]
        return saved_pages(pages, form, title=f"Sheet: {sides[0].fact('venue')}")


class Block(Record):
    """A piece of the page that knows its height and can be set from its top. [inch]"""

    height_in: float
    draw: Callable[[float], None]


def _compose(page: Page, sheet: Sheet) -> None:
    """Set everything on the page, in the largest size in which it fits."""
    report = sheet.report
    (closed,) = report.sections
    top = _title(page, sheet, page.paper.height_in - MARGIN_IN)
    top = _rule(page, report, top - 0.06) - GAP_IN
    foot_top = _foot(page, report)
    width = page.right_in - page.left_in
    for size in SIZES_PT:
        low = stacked(
            [
                _shots_block(page, report, page.left_in, width, size),
                _notes_block(page, report, smaller_pt(size, 0.5)),
            ]
        )
        room = top - foot_top - low.height_in - GAP_IN
        tall = min(room, field_height_in(width_in=0.47 * width))
        scale = Scale.fitting(sheet.field, left_in=page.left_in, top_in=top, height_in=tall)
        side_in = scale.width_in + GUTTER_IN
        x_in, width_in = page.left_in + side_in, width - side_in
        beside = stacked(
            [
                _phase_block(page, report, x_in, width_in, size),
                text_block(page, closed.title, closed.lines, x_in, width_in, smaller_pt(size, 1.0)),
            ]
        )
        if beside.height_in <= room and room >= LEAST_FIELD_IN:
            break
    else:
        require_room(room, max(beside.height_in, LEAST_FIELD_IN), what="the plan")
    draw_field(page, sheet.field, scale)
    beside.draw(top)
    low.draw(top - room - GAP_IN)


def _title(page: Page, sheet: Sheet, top_in: float) -> float:
    """Set the venue as large as it fits, the day, and kit and assignment."""
    room = (page.right_in - page.left_in) * POINTS_PER_INCH
    venue, when = sheet.fact("venue"), sheet.fact("when")
    left = room - (width_pt(when, 11.0) if when else 0.0) - 14.0
    size = next((s for s in TITLE_PT if width_pt(venue, s, "bold") <= left), TITLE_PT[-1])
    title = shortened(venue, size_pt=size, room_pt=left, weight="bold")
    page.text(page.right_in, top_in - 0.2, when, size_pt=11.0, ha="right")
    page.text(page.left_in, top_in - 0.2, title, size_pt=size, weight="bold")
    about = wrapped(sheet.fact("about"), size_pt=10.0, room_pt=room)
    return page.lines(page.left_in, top_in - 0.27, about, size_pt=10.0)


def _rule(page: Page, report: Report, top_in: float) -> float:
    """Set the rule to remember in a heavy border."""
    width = page.right_in - page.left_in
    room = (width - 0.24) * POINTS_PER_INCH
    rule = wrapped(report.headline, size_pt=15.0, room_pt=room, weight="bold")
    value = wrapped(report.sentences[0], size_pt=10.0, room_pt=room)
    height = len(rule) * line_in(15.0) + len(value) * line_in(10.0) + 0.15
    page.box(page.left_in, top_in - height, width, height, line_pt=2.2)
    below = page.lines(page.left_in + 0.12, top_in - 0.05, rule, size_pt=15.0, weight="bold")
    page.lines(page.left_in + 0.12, below, value, size_pt=10.0)
    return top_in - height


def _foot(page: Page, report: Report) -> float:
    room = (page.right_in - page.left_in) * POINTS_PER_INCH
    lines = wrapped(report.sources[0], size_pt=FOOT_PT, room_pt=room)
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


def stacked(parts: list[Block]) -> Block:
    """Return blocks below each other as one."""
    height = sum(part.height_in for part in parts) + GAP_IN * (len(parts) - 1)

    def draw(top_in: float) -> None:
        for part in parts:
            part.draw(top_in)
            top_in -= part.height_in + GAP_IN

    return Block(height, draw)


def _phase_block(page: Page, report: Report, x_in: float, width_in: float, size_pt: float) -> Block:
    """Return the lines for the phases of a game: letter, name, share, and where to stand."""
    table = report.table("phases")
    indent = 0.27
    room = (width_in - indent) * POINTS_PER_INCH
    rows = [wrapped(str(w), size_pt=size_pt, room_pt=room) for w in table.column("where")]
    read = wrapped(table.note, size_pt=smaller_pt(size_pt, 1.5), room_pt=width_in * POINTS_PER_INCH)
    each = [line_in(size_pt + 1.0) + len(row) * line_in(size_pt) + 0.05 for row in rows]
    height = _heading_in() + sum(each) + len(read) * line_in(smaller_pt(size_pt, 1.5))

    def draw(top_in: float) -> None:
        at = _heading(page, x_in, top_in, width_in, table.title)
        for cells, row, tall in zip(table.rows, rows, each, strict=True):
            mark, name, _, usable, habit = cells
            middle = at - 0.55 * line_in(size_pt + 1.0)
            page.box(x_in, middle - 0.085, 0.17, 0.17, line_pt=1.0)
            page.text(
                x_in + 0.085, middle, str(mark), size_pt=9.0, weight="bold", ha="center",
                va="center_baseline",
            )  # fmt: skip
            plan, usual = (percent(s) if isinstance(s, float) else "" for s in (usable, habit))
            share = f"{plan} (habit {usual})"
            taken = width_pt(share, size_pt) + 8.0
            title = shortened(str(name), size_pt=size_pt + 1.0, room_pt=room - taken, weight="bold")
            base = at - 0.78 * line_in(size_pt + 1.0)
            page.text(x_in + indent, base, title, size_pt=size_pt + 1.0, weight="bold")
            page.text(x_in + width_in, base, share, size_pt=size_pt, ha="right")
            page.lines(x_in + indent, at - line_in(size_pt + 1.0), row, size_pt=size_pt)
            at -= tall
        page.lines(x_in, at, read, size_pt=smaller_pt(size_pt, 1.5), color="0.2")

    return Block(height, draw)


def _light_block(page: Page, report: Report, x_in: float, width_in: float, size_pt: float) -> Block:
    """Return the light by quarter as a table."""
    light = report.table("light")
    table = (
        tuple(column.label for column in light.columns),
        *(tuple("" if cell is None else str(cell) for cell in row) for row in light.rows),
    )
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
    note = wrapped(" ".join(report.notes), size_pt=size_pt, room_pt=room)
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


def _shots_block(page: Page, report: Report, x_in: float, width_in: float, size_pt: float) -> Block:
    """Return the shot list: boxes to tick, in two columns, each frame with when it comes."""
    table = report.table("shots")
    column_in = (width_in - GUTTER_IN) / 2
    room = (column_in - TICK_INDENT_IN) * POINTS_PER_INCH
    set_shots = [
        _SetShot.of(str(title), str(when), bool(have), room, size_pt)
        for title, when, have in table.rows
    ]
    tall = [one.height_in for one in set_shots]
    split = _halves(tall)
    height = _heading_in() + max(sum(tall[:split]), sum(tall[split:])) + 0.03

    def draw(top_in: float) -> None:
        start = _heading(page, x_in, top_in, width_in, table.title) - 0.03
        at = start
        for i, one in enumerate(set_shots):
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


class _SetShot(Record):
    """One frame to tick, broken into lines: its name, and when it comes behind or below it."""

    title: tuple[str, ...]
    when: tuple[str, ...]
    is_beside: bool
    have: bool
    size_pt: float

    @staticmethod
    def of(title: str, when: str, have: bool, room_pt: float, size_pt: float) -> _SetShot:
        small = smaller_pt(size_pt, 1.5)
        lines = wrapped(title, size_pt=size_pt, room_pt=room_pt, weight="bold")
        taken = width_pt(lines[-1], size_pt, "bold") + 5.0
        beside = taken + width_pt(when, small) <= room_pt
        return _SetShot(lines, wrapped(when, size_pt=small, room_pt=room_pt), beside, have, size_pt)

    @property
    def height_in(self) -> float:
        below = 0 if self.is_beside else len(self.when)
        return (
            len(self.title) * line_in(self.size_pt)
            + below * line_in(smaller_pt(self.size_pt, 1.5))
            + 0.04
        )

    def draw(self, page: Page, x_in: float, at_in: float) -> None:
        page.box(x_in, at_in - 0.155, 0.14, 0.14, line_pt=1.1)
        if self.have:
            hook = (x_in + 0.03, x_in + 0.06, x_in + 0.15)
            page.line(hook, (at_in - 0.09, at_in - 0.13, at_in), line_pt=2)
        left = x_in + TICK_INDENT_IN
        below = page.lines(left, at_in, self.title, size_pt=self.size_pt, weight="bold")
        if not self.is_beside:
            page.lines(left, below, self.when, size_pt=smaller_pt(self.size_pt, 1.5))
        elif self.when:
            after = (width_pt(self.title[-1], self.size_pt, "bold") + 5.0) / POINTS_PER_INCH
            base = below + 0.25 * line_in(self.size_pt)
            page.text(
                left + after, base, " ".join(self.when), size_pt=smaller_pt(self.size_pt, 1.5)
            )


def _notes_block(page: Page, report: Report, size_pt: float) -> Block:
    """Return the cautions, beside the table of light where there is one."""
    width = page.right_in - page.left_in
    if not report.table("light").rows:
        notes = [text_block(page, "Cautions", report.cautions, page.left_in, width, size_pt)]
        if report.notes:
            notes.insert(0, text_block(page, "Light", report.notes, page.left_in, width, size_pt))
        return stacked(notes)
    left_in = 0.56 * (width - GUTTER_IN)
    right = page.left_in + left_in + GUTTER_IN
    light = _light_block(page, report, page.left_in, left_in, size_pt)
    cautions = text_block(page, "Cautions", report.cautions, right, page.right_in - right, size_pt)

    def draw(top_in: float) -> None:
        light.draw(top_in)
        cautions.draw(top_in)

    return Block(max(light.height_in, cautions.height_in), draw)


def text_block(
    page: Page,
    heading: str,
    sentences: Sequence[str],
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
