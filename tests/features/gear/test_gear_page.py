"""The page "Gear": what is compared, and how kits are added."""

from dataclasses import replace

import pytest

from lensyard.dashboard.controls import Controls
from lensyard.domain.kit import parse_kit
from lensyard.features.gear import page as gear_page


@pytest.mark.parametrize(
    "controls",
    [
        Controls(),
        Controls(lenses="70-200, 300", converter=1.4),
        Controls(lenses="70-200, 400", crop_factors="1, 1.5"),
        Controls(lenses="24-70, 70-200, 400", bodies=2),
    ],
)
def test_the_first_kit_is_the_own_one(controls):
    first = gear_page.request_of(replace(controls, kits="600")).kits[0]
    own = controls.kit()
    assert (first.text, first.bodies) == (own.text, own.bodies)
    assert first.coverage_gaps_yd() == own.coverage_gaps_yd()


@pytest.mark.parametrize("what", [*gear_page.ADDED, gear_page.CONVERTER])
def test_what_is_added_with_a_tap_is_a_kit_that_can_be_read(what):
    line = gear_page.with_added(Controls(lenses="70-200", kits="400"), what).splitlines()[1]
    own = Controls(lenses="70-200").kit()
    more = parse_kit(line)
    assert len(more.mounted) - len(own.mounted) == (what != gear_page.CONVERTER)
    assert more.bodies == len(more.mounted)
    assert gear_page.with_added(Controls(lenses="70-200", kits=line), what) == line


@pytest.mark.slow
def test_the_page_compares_adds_with_a_tap_and_clears(open_page, finished, said):
    app = finished(open_page("gear", lens="135", kit="200", rules="college"))
    assert not app.exception
    assert "200 (1 body, reach 20 yd)" in said(app)
    assert "any college field" in said(app)
    app = finished(app.button(key="ly_add_400").click().run())
    assert "C: 135 + 400 (2 bodies, reach 40 yd)" in said(app)
    assert "135 + 400 (2 bodies)" in app.query_params["kit"]
    app = app.button(key="ly_gear_clear").click().run()
    assert "kit" not in app.query_params


@pytest.mark.slow
@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("wide", "Cannot read"),
        ("\n".join(str(mm) for mm in range(100, 1000, 100)), "at most 8 kits"),
    ],
)
def test_what_is_no_kit_is_a_sentence_in_place(open_page, lines, told):
    app = open_page("gear", lens="50", kit=lines.split("\n"))
    assert not app.exception
    said = " ".join(element.value for element in (*app.error, *app.warning))
    assert told.lower() in said.replace("\\", "").lower()
