"""The plan of a game on one printed page: what it says, and the order in which it is set.

From the top: what, where and with what; the rule to remember; the field with numbered spots beside
the lines for each phase; the light; the shot list with boxes to tick; what is closed; the cautions;
and in the foot who says so. The field takes the room that the rest leaves.
"""

from __future__ import annotations

from dataclasses import dataclass

from lensyard.domain.field import FieldRules
from lensyard.render.field.picture import ClosedMark
from lensyard.render.paper import Page, paper_named, settings


@dataclass(frozen=True, slots=True)
class SheetLine:
    """Where to stand in one phase.

    Attributes
    ----------
    mark
        A letter, as on the field.
    title, where
        In words.
    share, habit
        What the plan and the usual habit get, as shown.
    """

    mark: str
    title: str
    where: str
    share: str
    habit: str


@dataclass(frozen=True, slots=True)
class ZoneBand:
    """One zone of the field.

    Attributes
    ----------
    mark
        A number, as on the field.
    title
        In words.
    from_x_yd, to_x_yd
        The lines of scrimmage of the zone, in the play frame. [yd]
    share, habit
        What the plan and the usual habit get, as shown.
    """

    mark: str
    title: str
    from_x_yd: float
    to_x_yd: float
    share: str
    habit: str


@dataclass(frozen=True, slots=True)
class SheetSpot:
    """A mark at the edge of the field, in the play frame. [yd]"""

    mark: str
    x_yd: float
    y_yd: float


@dataclass(frozen=True, slots=True)
class TickLine:
    """A frame to tick."""

    title: str
    when: str
    have: bool


@dataclass(frozen=True, slots=True)
class SheetGround:
    """The field under the marks, offense to the top, in the play frame. [yd]

    Attributes
    ----------
    rules
        The rule set on the ground.
    closed
        Closed stretches.
    side_setback_yd, end_setback_yd
        Where one stands.
    top, left, right
        Names of the end that is attacked and of the sidelines on both hands.
    """

    rules: FieldRules
    closed: tuple[ClosedMark, ...]
    side_setback_yd: float
    end_setback_yd: float
    top: str
    left: str
    right: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything that is printed, in words.

    Attributes
    ----------
    title, when
        The venue; date and kickoff, or empty.
    about
        Kit and assignment, one a line.
    rule, rule_earns
        The rule to remember and what it earns.
    ground, zones, spots, lines
        The field, its zones, the marks at its edge, and the phases.
    read
        How to read marks and shares.
    light_head, light_rows, light_note
        The light by quarter as a table of words, and what to know about it.
    ticks, ticks_title
        The shot list.
    closed, cautions
        In sentences.
    foot
        Model, data, attribution.
    """

    title: str
    when: str
    about: tuple[str, ...]
    rule: str
    rule_earns: str
    ground: SheetGround
    zones: tuple[ZoneBand, ...]
    spots: tuple[SheetSpot, ...]
    lines: tuple[SheetLine, ...]
    read: str
    light_head: tuple[str, ...]
    light_rows: tuple[tuple[str, ...], ...]
    light_note: str
    ticks_title: str
    ticks: tuple[TickLine, ...]
    closed: tuple[str, ...]
    cautions: tuple[str, ...]
    foot: str


def sheet_page(sheet: Sheet, *, paper: str = "letter") -> Page:
    """Return the page, set.

    Parameters
    ----------
    sheet
        What is printed.
    paper
        ``letter`` or ``a4``.

    Raises
    ------
    UnknownNameError
        If there is no such paper.
    InvalidInputError
        If it does not fit on one page.
    """
    from lensyard.features.sheet.blocks import compose

    page = Page(paper_named(paper))
    compose(page, sheet)
    return page


def sheet_file(sheet: Sheet, *, paper: str = "letter", form: str = "pdf") -> bytes:
    """Return the sheet as a PDF or PNG file; the same sheet gives the same bytes.

    Raises
    ------
    UnknownNameError, InvalidInputError
        See `sheet_page`; ``form`` is ``pdf`` or ``png``.
    """
    with settings():
        return sheet_page(sheet, paper=paper).saved(form, title=f"Sheet: {sheet.title}")
