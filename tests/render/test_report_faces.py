"""What no report of a command shows: narrow terminals, wide tables, odd numbers, formulas."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.render.report import Column, Fact, Format, Interval, Report, Section, Table
from lensyard.render.text import csv_text, render_text
from lensyard.render.words import format_value

WIDE = Table(
    "kits",
    "Kits side by side",
    (
        Column("kit", "Kit"),
        Column("usable", "Usable plays a game", Format.DECIMAL),
        Column("p_usable", "Share", Format.PERCENT),
        Column("more", "More than A", Format.SIGNED),
    ),
    (
        ("a long name for a kit of two lenses and one converter", 44.34, 0.584, None),
        ("=B", 47.5, 0.004, Interval(3.14, 2.0, 4.2)),
    ),
    note="Over 256 games.",
)
REPORT = Report(
    headline="B brings the most.",
    sentences=("Three plays more.",),
    facts=(Fact("walk", "Walk", 27.2, Format.YARDS), Fact("who", "Who", "you")),
    tables=(WIDE, Table("more", "Detail", WIDE.columns, WIDE.rows[:1], detail=True)),
    sections=(Section("Light", ("Lamps allow 1/500 s.",)), Section("More", ("Deep.",), True)),
    notes=("Games drawn again.",),
    cautions=("Keep clear of the sideline.",),
    sources=("Plays: invented.",),
)


def test_a_brief_text_leaves_out_detail_and_keeps_cautions():
    text = render_text(REPORT, brief=True)
    assert "Deep." not in text
    assert "Detail" not in text
    assert "Caution: Keep clear of the sideline." in text


@pytest.mark.parametrize("width", [40, 60, 80, 200])
def test_no_line_is_wider_than_asked(width):
    assert max(len(line) for line in render_text(REPORT, width=width).splitlines()) <= width


def test_a_table_too_wide_continues_below_with_its_first_column():
    columns = (
        Column("zone", "Zone"),
        *(Column(f"k{i}", f"Kit{i}", Format.COUNT) for i in range(9)),
    )
    table = Table("t", "", columns, (("red zone", *(1_000_000 + i for i in range(9))),))
    _, *blocks = render_text(Report("Kits", tables=(table,)), width=50).split("\n\n")
    assert len(blocks) > 1
    assert all(block.startswith("Zone") and "red zone" in block for block in blocks)
    assert all(f"{1_000_000 + i:,}" in " ".join(blocks) for i in range(9))


@given(st.floats(0, 1), st.sampled_from([Format.PERCENT, Format.DECIMAL_3, Format.YARDS]))
def test_an_interval_is_written_as_its_three_numbers_are(value, form):
    written = format_value(Interval(value, value, value), form)
    assert written.startswith(format_value(value, form))
    assert written.count(format_value(value, form).split(" ")[0]) == 3


@pytest.mark.parametrize("form", list(Format))
def test_every_format_writes_a_number_and_nothing_for_unknown(form):
    assert format_value(0.25, form)
    assert format_value(None, form) == ""
    assert format_value(float("nan"), form) == ""
    assert format_value("word", form) == "word"


@pytest.mark.parametrize("bad", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx"])
def test_no_text_in_csv_is_a_formula(bad):
    # OWASP, "CSV Injection": =, +, -, @, tab and carriage return begin formulas; numbers stay.
    columns = (Column("text", "Text"), Column("yd", "Yards"))
    (row,) = csv.DictReader(
        io.StringIO(csv_text(Table("t", "", columns, ((bad, -3),))), newline="")
    )
    assert row == {"text": f"'{bad}", "yd": "-3"}
