"""The page's colors: everything that is read or pressed stands out in every look."""

from __future__ import annotations

import pytest

from lensyard.dashboard.figures import look_css, plain
from lensyard.render.theme import GRAPHIC_MINIMUM, LOOKS, TEXT_MINIMUM, Look, contrast_ratio


@pytest.mark.parametrize("look", LOOKS.values(), ids=list(LOOKS))
def test_text_on_the_page_keeps_its_contrast(look: Look) -> None:
    # WCAG 2.2, success criterion 1.4.3: what page.css puts on what.
    for front, back in (
        (look.ink, look.page),
        (look.ink, look.strip),
        (look.ink_soft, look.page),
        (look.ink_soft, look.strip),
        (look.page, look.ink),  # the chosen segment, the message of a lost server
        (look.accent, look.page),
        (look.ink, look.surround),  # a button under the pointer
    ):
        assert contrast_ratio(front, back) >= TEXT_MINIMUM


@pytest.mark.parametrize("look", LOOKS.values(), ids=list(LOOKS))
def test_frames_and_focus_keep_their_contrast(look: Look) -> None:
    # WCAG 2.2, success criteria 1.4.11 and 2.4.13.
    for front in (look.ink_soft, look.band_edge, look.accent):
        for back in (look.page, look.strip):
            assert contrast_ratio(front, back) >= GRAPHIC_MINIMUM


@pytest.mark.parametrize("look", LOOKS.values(), ids=list(LOOKS))
def test_every_color_of_a_look_is_a_property(look: Look) -> None:
    css = look_css(look)
    for role, color in look.colors().items():
        assert f"--ly-{role.replace('_', '-')}:{color}" in css


def test_the_sheet_uses_no_color_of_its_own() -> None:
    import re
    from importlib.resources import files

    sheet = (files("lensyard.dashboard") / "static" / "page.css").read_text(encoding="utf-8")
    bare = re.sub(r"/\*.*?\*/", "", sheet, flags=re.DOTALL)
    assert re.findall(r"#[0-9A-Fa-f]{3,8}\b|rgba?\(", bare) == []
    used = set(re.findall(r"var\(--ly-([a-z0-9-]+)\)", bare)) - {"hair"}
    assert used <= {role.replace("_", "-") for role in LOOKS["sunlight"].colors()}


def test_plain_text_has_no_links() -> None:
    assert plain("see https://example.invalid") != "see https://example.invalid"
    assert plain("12 yd, 8 s") == "12 yd, 8 s"
