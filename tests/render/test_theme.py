"""The themes are held to WCAG 2.2, to color-deficient eyes, to red light and to paper.

Color arithmetic itself is held to published values first.
"""

import itertools
from dataclasses import replace

import pytest
from tests.support.colors import (
    Deficiency,
    color_distance,
    contrast_pairs,
    contrast_ratio,
    linear_rgb,
    relative_luminance,
    rgb,
    simulated,
)

from lensyard.errors import InvalidInputError
from lensyard.render.theme import THEMES

SUNLIGHT, NIGHT, PRINT = (THEMES[name] for name in ("sunlight", "night", "print"))


def test_contrast_spans_1_to_21():
    # WCAG 2.2, definition of contrast ratio: "contrast ratios can range from 1 to 21".
    assert contrast_ratio("#000000", "#FFFFFF") == pytest.approx(21.0, abs=1e-9)
    assert contrast_ratio("#4C5955", "#4C5955") == 1.0


def test_contrast_of_the_gray_that_fails_by_a_hair():
    # #777777 on white is 4.48:1: W3C's thread "Rounding and Color contrast" (w3c/wcag, 2016).
    # Published with two decimals, hence half a unit of the last.
    assert contrast_ratio("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize(
    ("color", "weight"), [("#FF0000", 0.2126), ("#00FF00", 0.7152), ("#0000FF", 0.0722)]
)
def test_primaries_have_the_weights_of_the_definition(color, weight):
    # WCAG 2.2, definition of relative luminance.
    assert relative_luminance(color) == pytest.approx(weight, abs=1e-12)


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
def test_simulation_agrees_with_another_implementation(deficiency, color, seen):
    # One step of 255: both sides round, and their sRGB curves differ in the seventh digit.
    assert rgb(simulated(color, deficiency)) == pytest.approx(rgb(seen), abs=1.01 / 255)


def test_distance_of_black_and_red_matches_published_lab():
    # sRGB red is L*a*b* (53.23, 80.11, 67.22) (colorspacious 1.1.2, D65), so 117.4 from black.
    # 0.1: four-digit primaries here, more digits there.
    expected = (53.231**2 + 80.114**2 + 67.220**2) ** 0.5
    assert color_distance("#000000", "#FF0000") == pytest.approx(expected, abs=0.1)
    assert color_distance("#000000", "#FFFFFF") == pytest.approx(100.0, abs=1e-6)


ALL_THEMES = pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)


@ALL_THEMES
def test_every_pair_reaches_its_level(theme):
    weak = {
        pair.what: contrast_ratio(pair.front, pair.back)
        for pair in contrast_pairs(theme)
        if contrast_ratio(pair.front, pair.back) < pair.minimum
    }
    assert not weak


@ALL_THEMES
@pytest.mark.parametrize("deficiency", Deficiency)
def test_every_pair_holds_for_color_deficient_eyes(theme, deficiency):
    weak = {
        pair.what
        for pair in contrast_pairs(theme)
        if contrast_ratio(simulated(pair.front, deficiency), simulated(pair.back, deficiency))
        < pair.minimum
    }
    assert not weak


@ALL_THEMES
def test_the_pairs_name_every_color(theme):
    named = {color for pair in contrast_pairs(theme) for color in (pair.front, pair.back)}
    assert set(theme.colors().values()) <= named


@pytest.mark.parametrize("theme", [SUNLIGHT, NIGHT], ids=["sunlight", "night"])
@pytest.mark.parametrize("deficiency", [None, *Deficiency])
def test_field_play_and_people_differ_in_color(theme, deficiency):
    # Ten times the least noticeable distance of 2.3 (Mahy et al. 1994), less a margin for marks
    # that are not side by side: 15. They differ in shape as well.
    def seen(color):
        return color if deficiency is None else simulated(color, deficiency)

    for one, other in itertools.combinations((theme.line, theme.band_edge, theme.accent), 2):
        assert color_distance(seen(one), seen(other)) >= 15


@ALL_THEMES
def test_bands_get_stronger_inward(theme):
    strength = [contrast_ratio(band, theme.field) for band in theme.band]
    assert strength == sorted(strength)
    assert all(b / a > 1.1 for a, b in itertools.pairwise([1.0, *strength]))


def test_print_has_no_color():
    for color in PRINT.colors().values():
        red, green, blue = rgb(color)
        assert red == green == blue


def test_night_is_dim_and_spares_the_blue():
    for role, color in NIGHT.colors().items():
        red, _, blue = linear_rgb(color)
        assert blue <= 0.5 * red, role
        assert relative_luminance(color) <= 0.65, role
    for ground in (NIGHT.page, NIGHT.surround, NIGHT.strip, NIGHT.field, NIGHT.end_zone):
        assert relative_luminance(ground) <= 0.01


def test_night_reads_in_red_light_alone():
    # Only the red channel reaches the eye; the levels stay the same.
    for pair in contrast_pairs(NIGHT):
        low, high = sorted((linear_rgb(pair.front)[0], linear_rgb(pair.back)[0]))
        assert (high + 0.05) / (low + 0.05) >= pair.minimum, pair.what


@pytest.mark.parametrize("bad", ["#FFF", "FFFFFF", "#GGGGGG", "red", "#FFFFFF "])
def test_a_theme_with_a_broken_color_is_refused_with_an_example(bad):
    with pytest.raises(InvalidInputError, match="#RRGGBB"):
        replace(PRINT, ink=bad)
