"""One report as text, JSON and CSV: the same sentences and cells, cautions never left out."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.errors import InvalidInputError
from lensyard.render.report import Column, Fact, Format, Interval, Report, Section, Table
from lensyard.render.text import csv_text, document, json_text, render_text
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


def test_text_begins_with_the_headline_and_has_every_part():
    text = render_text(REPORT)
    assert text.startswith("B brings the most.\n")
    for part in ("Three plays more.", "Walk  27 yd", "Who   you", "Kits side by side", "44.3",
                 "58%", "<1%", "+3.1 (+2.0 to +4.2)", "Over 256 games.", "Light:\n  Lamps allow",
                 "Caution: Keep clear", "Games drawn again.", "Plays: invented."):  # fmt: skip
        assert part in text


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


class Side(StrEnum):
    LEFT = "left"


@dataclass(frozen=True, slots=True)
class Inner:
    p: float
    games: tuple[int, ...] = field(default=(1, 2), metadata={"json": None})


@dataclass(frozen=True, slots=True)
class Result:
    side: Side
    sample: Inner = field(metadata={"json": "evidence"})
    among: Inner = field(metadata={"json": "*"})
    counts: object = None


def test_a_document_takes_names_from_the_fields_and_their_metadata():
    made = document(
        Result(Side.LEFT, Inner(0.5), Inner(float("inf")), np.array([1, 2])),
        model={"id": "pro"},
        cautions=("Look up.",),
    )
    assert json.loads(json_text(made)) == {
        "schema_version": 2,
        "side": "left",
        "evidence": {"p": 0.5},
        "p": None,
        "counts": [1, 2],
        "model": {"id": "pro"},
        "cautions": ["Look up."],
    }


def test_what_has_no_form_in_json_is_refused():
    with pytest.raises(InvalidInputError, match="no form in JSON"):
        document({"a": object()})
    with pytest.raises(InvalidInputError, match="dataclass or a mapping"):
        document([1])


def test_csv_has_raw_values_three_columns_for_an_interval_and_no_formula():
    rows = list(csv.reader(csv_text(WIDE).splitlines()))
    assert rows[0] == ["kit", "usable", "p_usable", "more", "more_low", "more_high"]
    assert rows[1][1:] == ["44.34", "0.584", "", "", ""]
    assert rows[2] == ["'=B", "47.5", "0.004", "3.14", "2.0", "4.2"]


@pytest.mark.parametrize("bad", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx"])
def test_no_text_in_csv_is_a_formula(bad):
    # OWASP, "CSV Injection": =, +, -, @, tab and carriage return begin formulas; numbers stay.
    columns = (Column("text", "Text"), Column("yd", "Yards"))
    (row,) = csv.DictReader(
        io.StringIO(csv_text(Table("t", "", columns, ((bad, -3),))), newline="")
    )
    assert row == {"text": f"'{bad}", "yd": "-3"}
