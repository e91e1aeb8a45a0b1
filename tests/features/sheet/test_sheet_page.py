"""The printed sheet: one page, black and white, nothing on top of anything, always the same."""

import re
from dataclasses import replace
from io import BytesIO
from itertools import combinations

import numpy as np
import pytest

from lensyard.errors import InvalidInputError, UnknownNameError
from lensyard.features.sheet.layout import sheet_file, sheet_page
from lensyard.render.paper import settings

MARGIN_IN = 0.5
PNG_DPI = 200

# Type at arm's length (some 60 cm): 8 points are common practice for the smallest text that is
# meant to be read, 7 for a foot line.
SMALLEST_PT = 6.5


def boxes(page):
    """Left, low, right and top of every line of text, in inches."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    page.figure.set_dpi(720)  # fine enough that whole pixels do not matter
    renderer = FigureCanvasAgg(page.figure).get_renderer()
    dpi = page.figure.dpi
    found = []
    for text in page.texts:
        if text.get_text():
            box = text.get_window_extent(renderer)
            found.append((text.get_text(), *(v / dpi for v in (box.x0, box.y0, box.x1, box.y1))))
    return found


@pytest.mark.slow
@pytest.mark.parametrize(("which", "paper"), [("sheet", "a4"), ("full_sheet", "letter")])
def test_no_text_lies_on_another_or_leaves_the_page(which, paper, request):
    nothing_covers_another(request.getfixturevalue(which), paper)


@pytest.mark.slow
@pytest.mark.parametrize(("side", "end"), [(0, "creek end"), (1, "road end")])
def test_both_sides_of_a_sheet_name_everything_that_is_closed(ends_sheet, side, end):
    assert len(ends_sheet) == 2
    page = nothing_covers_another(ends_sheet[side], "letter")
    said = [text.get_text() for text in page.texts]
    assert any((end in words and "attacking" in words) or words == end for words in said)
    venue = ends_sheet[side].field.venue
    (closed,) = ends_sheet[side].report.sections
    for key, mark in ends_sheet[side].field.closed:
        assert key in said or f"{key} {mark.label}" in said
        name = f"{mark.label[:1].upper()}{mark.label[1:]}"
        assert any(line.startswith(f"{key}  {name}") for line in closed.lines)
    assert len(ends_sheet[side].field.closed) == len(venue.closed)
    assert ends_sheet[side].report.headline.startswith(f"Toward the {end}: stand {25 + side} yd")
    # The shot list is ticked once, on the front.
    assert bool(ends_sheet[side].report.table("shots").rows) == (side == 0)


def nothing_covers_another(sheet, paper):
    with settings():
        page = sheet_page(sheet, paper=paper)
        found = boxes(page)
    # A line of text is measured from its own ink by the renderer and from the typeface by us:
    # a hundredth of an inch apart is nothing that an eye sees.
    slack = 0.012
    edge = MARGIN_IN - 0.14  # the foot line stands lower than the rest
    for words, left, low, right, top in found:
        assert left >= MARGIN_IN - slack, words
        assert right <= page.paper.width_in - MARGIN_IN + slack, words
        assert edge <= low, words
        assert top <= page.paper.height_in - MARGIN_IN + slack, words
    for one, other in combinations(found, 2):
        across = min(one[3], other[3]) - max(one[1], other[1])
        along = min(one[4], other[4]) - max(one[2], other[2])
        assert across <= slack or along <= slack, (one[0], other[0])
    return page


@pytest.mark.slow
def test_everything_is_on_the_page_and_large_enough(full_sheet):
    with settings():
        page = sheet_page(full_sheet, paper="a4")
    said = " ".join(text.get_text() for text in page.texts)
    report = full_sheet.report
    phases, shots = report.table("phases"), report.table("shots")
    for words in (
        *phases.column("where"),
        *phases.column("title"),
        "people decide",
        "18:31",
        report.sources[0],
    ):
        assert str(words) in said
    squeezed = said.replace(" ", "")
    for words in (*shots.column("title"), *shots.column("when")):
        assert str(words).replace(" ", "") in squeezed
    assert min(text.get_fontsize() for text in page.texts) >= SMALLEST_PT


@pytest.mark.slow
def test_the_same_sheet_gives_the_same_bytes(sheet):
    for form in ("pdf", "png"):
        assert sheet_file((sheet,), form=form) == sheet_file((sheet,), form=form)


# ISO 32000-1: user space is 1/72 inch. 8.5 by 11 in are 612 by 792; A4 is 595.28 by 841.89.
@pytest.mark.parametrize(("paper", "size"), [("letter", (612.0, 792.0)), ("a4", (595.28, 841.89))])
@pytest.mark.slow
def test_the_pdf_is_one_page_of_the_right_size_with_its_type(sheet, paper, size):
    pdf = sheet_file((sheet,), paper=paper)
    assert pdf.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type /Page\b", pdf)) == 1
    box = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", pdf)
    assert box is not None
    # Written to a hundredth of a point.
    assert [float(v) for v in box.groups()] == pytest.approx(size, abs=0.01)
    assert b"/FontFile2" in pdf  # TrueType outlines inside: the same on every printer
    assert b"/Type3" not in pdf
    assert b"CreationDate" not in pdf


@pytest.mark.slow
def test_the_picture_is_gray_all_over(sheet):
    from matplotlib.image import imread

    pixels = imread(BytesIO(sheet_file((sheet,), form="png")), format="png")
    assert pixels.shape[:2] == (11 * PNG_DPI, int(8.5 * PNG_DPI))
    red, green, blue = (pixels[..., i] for i in range(3))
    assert np.array_equal(red, green)
    assert np.array_equal(green, blue)
    assert 0.02 < (red < 0.5).mean() < 0.3  # ink, and paper


@pytest.mark.slow
def test_what_cannot_fit_is_refused_and_never_cut(sheet):
    many = tuple((f"frame number {i} of a long list", "any time", False) for i in range(90))
    tables = tuple(
        replace(one, rows=many) if one.key == "shots" else one for one in sheet.report.tables
    )
    with pytest.raises(InvalidInputError, match="does not fit on one page"):
        sheet_file((replace(sheet, report=replace(sheet.report, tables=tables)),))
    with pytest.raises(UnknownNameError):
        sheet_file((sheet,), form="docx")
