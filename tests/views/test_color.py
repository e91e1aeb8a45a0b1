"""Color arithmetic against published values."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.errors import InvalidInputError
from lensyard.render.theme import (
    Deficiency,
    color_distance,
    contrast_ratio,
    relative_luminance,
    rgb,
    simulated,
)

COLORS = st.integers(0, 0xFFFFFF).map(lambda value: f"#{value:06X}")


def test_contrast_spans_1_to_21() -> None:
    # WCAG 2.2, definition of contrast ratio: "contrast ratios can range from 1 to 21".
    assert contrast_ratio("#000000", "#FFFFFF") == pytest.approx(21.0, abs=1e-9)
    assert contrast_ratio("#4C5955", "#4C5955") == 1.0


def test_contrast_of_the_gray_that_fails_by_a_hair() -> None:
    # #777777 on white is 4.48:1: W3C's thread "Rounding and Color contrast" (w3c/wcag, 2016).
    # Published with two decimals, hence half a unit of the last.
    assert contrast_ratio("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize(
    ("color", "weight"), [("#FF0000", 0.2126), ("#00FF00", 0.7152), ("#0000FF", 0.0722)]
)
def test_primaries_have_the_weights_of_the_definition(color: str, weight: float) -> None:
    # WCAG 2.2, definition of relative luminance.
    assert relative_luminance(color) == pytest.approx(weight, abs=1e-12)


@given(one=COLORS, other=COLORS)
def test_contrast_is_symmetric_and_in_range(one: str, other: str) -> None:
    ratio = contrast_ratio(one, other)
    assert ratio == contrast_ratio(other, one)
    assert 1.0 <= ratio <= 21.0 + 1e-9


@pytest.mark.parametrize(
    ("deficiency", "color", "seen"),
    [
        # colorspacious 1.1.2, cspace_convert from "sRGB1+CVD" with severity 100 to "sRGB1",
        # clipped to [0, 1] and rounded to 8 bits; an implementation by other people.
        (Deficiency.PROTANOPIA, "#FF0000", "#6D5F00"),
        (Deficiency.PROTANOPIA, "#2E8B57", "#8B8054"),
        (Deficiency.DEUTERANOPIA, "#FF0000", "#A39000"),
        (Deficiency.DEUTERANOPIA, "#2E8B57", "#7F775A"),
        (Deficiency.TRITANOPIA, "#FF0000", "#FF000F"),
        (Deficiency.TRITANOPIA, "#1F3F82", "#004F5A"),
    ],
)
def test_simulation_agrees_with_another_implementation(
    deficiency: Deficiency, color: str, seen: str
) -> None:
    # One step of 255: both sides round, and their sRGB curves differ in the seventh digit.
    assert rgb(simulated(color, deficiency)) == pytest.approx(rgb(seen), abs=1.01 / 255)


@given(level=st.integers(0, 255), deficiency=st.sampled_from(Deficiency))
def test_grays_look_the_same_to_every_eye(level: int, deficiency: Deficiency) -> None:
    gray = f"#{level:02X}{level:02X}{level:02X}"
    # The published rows sum to 1 within 1e-6, which can move a rounding by one step.
    assert rgb(simulated(gray, deficiency)) == pytest.approx(rgb(gray), abs=1.01 / 255)


def test_distance_of_black_and_red_matches_published_lab() -> None:
    # sRGB red is L*a*b* (53.23, 80.11, 67.22) (colorspacious 1.1.2, D65), so 117.4 from black.
    # 0.1: four-digit primaries here, more digits there.
    expected = (53.231**2 + 80.114**2 + 67.220**2) ** 0.5
    assert color_distance("#000000", "#FF0000") == pytest.approx(expected, abs=0.1)
    assert color_distance("#000000", "#FFFFFF") == pytest.approx(100.0, abs=1e-6)


@pytest.mark.parametrize("bad", ["#FFF", "FFFFFF", "#GGGGGG", "red", "#FFFFFF "])
def test_what_is_no_color_is_refused_with_an_example(bad: str) -> None:
    with pytest.raises(InvalidInputError, match="#RRGGBB"):
        rgb(bad)
