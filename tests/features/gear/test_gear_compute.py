"""Kits side by side: what each brings, where it is blind, and what the next lens adds."""

import json

import pytest
from click.testing import CliRunner
from tests.features.gear.invented import three_kits

from lensyard.cli import group
from lensyard.domain.kit import Body, Lens, Mounted, parse_kit
from lensyard.errors import InvalidInputError, OutOfRangeError, ParseError
from lensyard.features.gear.compute import kits_from
from lensyard.render.text import document


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
def test_a_kit_is_read_as_it_is_written(text, mounted, bodies):
    kit = parse_kit(text)
    assert list(kit.mounted) == mounted
    assert kit.bodies == bodies
    assert parse_kit(kit.text).text == parse_kit(kit.line).text == kit.text


@pytest.mark.parametrize("text", ["", "long", "70-200 +", "70-200 + + 400", "70-200 x", "a + b"])
def test_what_is_no_kit_is_refused_with_the_form(text):
    with pytest.raises(ParseError, match="70-200 \\+ 400"):
        parse_kit(text)


def test_numbers_that_no_lens_has_are_refused():
    with pytest.raises(OutOfRangeError):
        parse_kit("70-200 x9")


def test_one_kit_is_compared_with_what_one_thinks_of_next():
    kits = kits_from(["70-200"])
    assert [len(kit.mounted) for kit in kits] == [1, 2, 2, 2, 1]
    assert kits[-1].mounted[0].converter == 1.4
    assert len(kits_from(["70-200", "400"])) == 2
    assert [k.text for k in kits_from(["70-200"], ["400"])][1].startswith("70-200 + 400 (2 bodies")
    with pytest.raises(InvalidInputError, match="at most"):
        kits_from([str(mm) for mm in range(100, 1000, 100)])
    with pytest.raises(InvalidInputError, match="at least one kit"):
        kits_from([])


def test_the_document_has_each_kit_with_its_gain_and_its_light():
    made = document(three_kits())
    assert {"schema_version", "model", "cautions", "kits", "evidence", "best"} <= set(made)
    assert made["best"] == 2
    assert made["kits"][2]["over_first"]["usable_per_game"] == pytest.approx(5.5)
    assert "20 footcandles" in made["kits"][0]["light"][0]
    assert "usable_by_game" not in made["kits"][0]


@pytest.fixture(scope="module")
def season():
    """Two kits over a season, as the command says it."""
    said = CliRunner().invoke(group, ["gear", "--kit", "400", "--kit", "70-200 + 400", "--json"])
    return json.loads(said.stdout)


@pytest.mark.slow
def test_a_long_prime_alone_has_its_gap_and_a_short_lens_fills_it(season):
    alone, both = season["kits"]
    # 400 x 0.915 / 36 m: half a player overflows the frame
    assert alone["coverage_gaps_yd"][0][1] == pytest.approx(400 * 0.915 / 36 / 0.9144)
    assert alone["gap_plays_per_game"] > 0
    assert both["coverage_gaps_yd"][0][1] < 3
    assert both["value_share"] > alone["value_share"]
    assert season["best"] == 1


@pytest.mark.slow
def test_zones_add_up_over_a_season_and_gains_are_differences(season):
    first, second = season["kits"]
    for kit in (first, second):
        for figure in ("usable_per_game", "value_per_game"):
            assert sum(zone[figure] for zone in kit["zones"]) == pytest.approx(kit[figure])
    assert set(first["over_first"].values()) == {0.0}
    gain = second["over_first"]
    for name in ("usable", "value"):
        more = second[f"{name}_per_game"] - first[f"{name}_per_game"]
        assert gain[f"{name}_per_game"] == pytest.approx(more)
        assert gain[f"{name}_low"] < more < gain[f"{name}_high"]
