"""Kits side by side: what each brings, where it is blind, and what the next lens adds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lensyard.domain.assignment import Assignment
from lensyard.domain.floodlights import LUX_PER_FOOTCANDLE
from lensyard.domain.kit import Body, Lens, Mounted, parse_kit
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError, OutOfRangeError, ParseError
from lensyard.features.gear.charts import save_gear_plot
from lensyard.features.gear.compare import (
    GearReport,
    gains_over_first,
    gear_document,
    gear_report,
    kits_from,
    with_converter,
)
from lensyard.features.gear.report import gear_plot, gear_text
from lensyard.model.context import load_context

CONTEXT = load_context()


@pytest.fixture
def report() -> GearReport:
    return gear_report(
        CONTEXT,
        kits_from(["400", "70-200 + 400"]),
        venue=standard_venue(),
        assignment=Assignment(),
    )


@pytest.mark.parametrize(
    ("text", "mounted", "bodies"),
    [
        ("70-200", [Mounted(Lens(70, 200, 2.8, 1.2))], 1),
        ("70-200 + 400", [Mounted(Lens(70, 200, 2.8, 1.2)), Mounted(Lens(400, 400, 2.8, 2.7))], 2),
        ("300 x1.4", [Mounted(Lens(300, 300, 2.8, 2.2), converter=1.4)], 1),
        ("300/4 X2 on 1.5", [Mounted(Lens(300, 300, 4.0, 2.2), Body(1.5), 2.0)], 1),
        ("70-200@1.5", [Mounted(Lens(70, 200, 2.8, 1.2), Body(1.5))], 1),
        ("70-200 + 400, 1 body",
         [Mounted(Lens(70, 200, 2.8, 1.2)), Mounted(Lens(400, 400, 2.8, 2.7))], 1),
    ],
)  # fmt: skip
def test_a_kit_is_read_as_it_is_written(text: str, mounted: list[Mounted], bodies: int) -> None:
    kit = parse_kit(text)
    assert list(kit.mounted) == mounted
    assert kit.bodies == bodies
    again = parse_kit(kit.text)
    assert again.text == kit.text


@pytest.mark.parametrize("text", ["", "long", "70-200 +", "70-200 + + 400", "70-200 x", "a + b"])
def test_what_is_no_kit_is_refused_with_the_form(text: str) -> None:
    with pytest.raises(ParseError, match="70-200 \\+ 400"):
        parse_kit(text)


def test_numbers_that_no_lens_has_are_refused() -> None:
    with pytest.raises(OutOfRangeError):
        parse_kit("70-200 x9")


def test_one_kit_is_compared_with_what_one_thinks_of_next() -> None:
    kits = kits_from(["70-200"])
    assert [len(kit.mounted) for kit in kits] == [1, 2, 2, 2, 1]
    assert kits[-1].mounted[0].converter == 1.4
    assert len(kits_from(["70-200", "400"])) == 2
    assert [k.text for k in kits_from(["70-200"], ["400"])][1].startswith("70-200 + 400 (2 bodies")
    assert with_converter(with_converter(kits[0])) == with_converter(kits[0])
    with pytest.raises(InvalidInputError, match="at most"):
        kits_from([str(mm) for mm in range(100, 1000, 100)])


def test_a_long_prime_alone_has_its_hole_and_a_short_lens_fills_it(report: GearReport) -> None:
    alone, both = report.kits
    # 400 x 0.915 / 36 m: half a player overflows the frame
    assert alone.coverage_gaps_yd[0][1] == pytest.approx(400 * 0.915 / 36 / 0.9144)
    assert alone.gap_plays_per_game > 0
    assert both.coverage_gaps_yd[0][1] < 3
    assert both.value_share > alone.value_share
    assert "Hole, A: under 11 yd" in gear_text(report)
    assert report.best == 1


def test_zones_add_up_and_the_gain_is_the_difference(report: GearReport) -> None:
    for kit in report.kits:
        assert sum(z.usable_per_game for z in kit.zones) == pytest.approx(kit.usable_per_game)
        assert sum(z.value_per_game for z in kit.zones) == pytest.approx(kit.value_per_game)
        assert np.mean(kit.usable_by_game) == pytest.approx(kit.usable_per_game)
    none, gain = report.gains
    assert (none.usable_per_game, none.usable_low, none.usable_high) == (0.0, 0.0, 0.0)
    difference = report.kits[1].usable_per_game - report.kits[0].usable_per_game
    assert gain.usable_per_game == pytest.approx(difference)
    assert gain.usable_low <= gain.usable_per_game <= gain.usable_high
    assert gain.usable_low < gain.usable_high


def test_intervals_have_the_width_that_the_central_limit_gives(report: GearReport) -> None:
    gain = gains_over_first(report.kits)[1]
    first, second = (np.array(kit.usable_by_game) for kit in report.kits)
    error = (second - first).std(ddof=1) / np.sqrt(first.size)
    # 2,000 draws of 40 games; the bootstrap's own noise and its n for n - 1 are within 15 %
    assert gain.usable_high - gain.usable_low == pytest.approx(2 * 1.96 * error, rel=0.15)


def test_the_picture_is_the_same_bytes_each_time(report: GearReport, tmp_path: Path) -> None:
    for name in ("a.svg", "b.svg"):
        save_gear_plot(gear_plot(report), tmp_path / name)
    first, second = ((tmp_path / name).read_bytes() for name in ("a.svg", "b.svg"))
    assert first == second
    assert b"<svg" in first
    with pytest.raises(InvalidInputError, match="png"):
        save_gear_plot(gear_plot(report), tmp_path / "a.gif")


def test_the_document_and_the_lamps(report: GearReport) -> None:
    document = gear_document(report)
    assert {"schema_version", "model", "cautions", "kits", "evidence"} <= set(document)
    assert document["kits"][0]["light"] == []
    # The lamps of the lowest published class, 20 footcandles, on the same ground.
    lit = replace(standard_venue(), illuminance_lx=20 * LUX_PER_FOOTCANDLE)
    dark = gear_report(
        CONTEXT, kits_from(["400", "70-200 + 400"]), venue=lit, assignment=Assignment()
    )
    assert all("20 footcandles" in sentences[0] for sentences in dark.light)
    assert "20 footcandles" in " ".join(gear_text(dark).split("\n\n")[1].split())
    assert gear_document(dark)["kits"][0]["light"]
