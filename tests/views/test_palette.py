"""The looks are held to WCAG 2.2, to color-deficient eyes, to red light and to paper."""

from __future__ import annotations

import itertools
import re

import pytest

from lensyard.errors import InvalidInputError, UnknownNameError
from lensyard.render.field.marks import shape
from lensyard.render.field.picture import SpotRole
from lensyard.render.theme import (
    NIGHT,
    PRINT,
    SUNLIGHT,
    THEMES,
    Deficiency,
    Theme,
    color_distance,
    contrast_pairs,
    contrast_ratio,
    linear_rgb,
    relative_luminance,
    rgb,
    simulated,
    theme_named,
)

ALL_LOOKS = pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)


@ALL_LOOKS
def test_every_pair_reaches_its_level(theme: Theme) -> None:
    weak = {
        pair.what: contrast_ratio(pair.front, pair.back)
        for pair in contrast_pairs(theme)
        if contrast_ratio(pair.front, pair.back) < pair.minimum
    }
    assert not weak


@ALL_LOOKS
def test_levels_are_those_of_wcag(theme: Theme) -> None:
    # Success criteria 1.4.3 (4.5 for text) and 1.4.11 (3 for graphics), level AA.
    assert {pair.minimum for pair in contrast_pairs(theme)} == {4.5, 3.0}


@ALL_LOOKS
@pytest.mark.parametrize("deficiency", Deficiency)
def test_every_pair_holds_for_color_deficient_eyes(theme: Theme, deficiency: Deficiency) -> None:
    weak = {
        pair.what
        for pair in contrast_pairs(theme)
        if contrast_ratio(simulated(pair.front, deficiency), simulated(pair.back, deficiency))
        < pair.minimum
    }
    assert not weak


@ALL_LOOKS
def test_the_pairs_name_every_color(theme: Theme) -> None:
    named = {color for pair in contrast_pairs(theme) for color in (pair.front, pair.back)}
    assert set(theme.colors().values()) <= named


@pytest.mark.parametrize("theme", [SUNLIGHT, NIGHT], ids=["sunlight", "night"])
@pytest.mark.parametrize("deficiency", [None, *Deficiency])
def test_field_play_and_people_differ_in_color(theme: Theme, deficiency: Deficiency | None) -> None:
    # Ten times the least noticeable distance of 2.3 (Mahy et al. 1994), less a margin for marks
    # that are not side by side: 15. They differ in shape as well.
    def seen(color: str) -> str:
        return color if deficiency is None else simulated(color, deficiency)

    for one, other in itertools.combinations((theme.line, theme.band_edge, theme.accent), 2):
        assert color_distance(seen(one), seen(other)) >= 15


@ALL_LOOKS
def test_bands_get_stronger_inward(theme: Theme) -> None:
    strength = [contrast_ratio(band, theme.field) for band in theme.band]
    assert strength == sorted(strength)
    assert all(b / a > 1.1 for a, b in itertools.pairwise([1.0, *strength]))


@ALL_LOOKS
def test_every_role_has_a_shape_of_its_own(theme: Theme) -> None:
    def bare(role: SpotRole) -> str:
        drawn = shape(role, (50.0, 50.0), 10.0, theme)
        return re.sub(r' (fill|stroke)="[^"]*"', "", drawn)

    assert len({bare(role) for role in SpotRole}) == len(SpotRole)


def test_print_has_no_color() -> None:
    for color in PRINT.colors().values():
        red, green, blue = rgb(color)
        assert red == green == blue


def test_night_is_dim_and_spares_the_blue() -> None:
    for role, color in NIGHT.colors().items():
        red, _, blue = linear_rgb(color)
        assert blue <= 0.5 * red, role
        assert relative_luminance(color) <= 0.65, role
    for ground in (NIGHT.page, NIGHT.surround, NIGHT.strip, NIGHT.field, NIGHT.end_zone):
        assert relative_luminance(ground) <= 0.01


def test_night_reads_in_red_light_alone() -> None:
    # Only the red channel reaches the eye; the levels stay the same.
    for pair in contrast_pairs(NIGHT):
        low, high = sorted((linear_rgb(pair.front)[0], linear_rgb(pair.back)[0]))
        assert (high + 0.05) / (low + 0.05) >= pair.minimum, pair.what


def test_looks_are_found_by_name_and_others_refused() -> None:
    assert theme_named("night") is NIGHT
    with pytest.raises(UnknownNameError, match="Did you mean 'sunlight'"):
        theme_named("sunlite")


def test_a_look_with_a_broken_color_is_refused() -> None:
    values = {name: getattr(PRINT, name) for name in PRINT.__dataclass_fields__}
    values["ink"] = "black"
    with pytest.raises(InvalidInputError, match="#RRGGBB"):
        Theme(**values)
