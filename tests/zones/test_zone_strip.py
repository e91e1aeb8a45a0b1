"""The heat strip as a picture and as digits."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest

from lensyard.errors import InvalidInputError
from lensyard.features.zones.chart import StripBar, ZonePanel, ZoneStrip, text_strip, zone_strip_svg
from lensyard.render.theme import THEMES

SVG = "{http://www.w3.org/2000/svg}"


def bar(p: float, edge: str = "sideline", side: str = "both", best: bool = False) -> StripBar:
    return StripBar(f"{edge} {p}", edge, side, 10.0, 15.0, p, p / 2, best)


def strip(*bars: StripBar, panels: int = 1) -> ZoneStrip:
    panel = ZonePanel("Red zone", "120 plays", 90.0, 104.0, bars)
    return ZoneStrip("Which spots <pay> off", (panel,) * panels, notes=("A & B",))


@pytest.mark.parametrize("theme", THEMES.values(), ids=lambda theme: theme.name)
@pytest.mark.parametrize("edge", ["sideline", "end", "own end", "corner", "own corner"])
def test_a_bar_grows_with_its_share(theme, edge: str) -> None:  # type: ignore[no-untyped-def]
    root = ET.fromstring(zone_strip_svg(strip(bar(0.4, edge), bar(0.8, edge)), theme=theme))
    lengths: dict[str, set[float]] = {}
    for rect in root.iter(f"{SVG}rect"):
        title = rect.find(f"{SVG}title")
        if title is not None:
            which = "height" if edge == "sideline" else "width"
            lengths.setdefault(title.text or "", set()).add(float(rect.attrib[which]))
    short, long = (max(values) for _, values in sorted(lengths.items()))
    assert long == pytest.approx(2 * short, rel=0.02)  # coordinates have one decimal


def test_narrow_pictures_have_one_column_and_the_same_text_twice_the_same_bytes() -> None:
    two = strip(bar(0.5, best=True), panels=2)
    theme = THEMES["sunlight"]
    narrow = ET.fromstring(zone_strip_svg(two, theme=theme, width_px=380))
    wide = ET.fromstring(zone_strip_svg(two, theme=theme, width_px=1000))
    assert float(narrow.attrib["height"]) > float(narrow.attrib["width"])
    assert float(wide.attrib["height"]) < float(wide.attrib["width"])
    assert zone_strip_svg(two, theme=theme) == zone_strip_svg(two, theme=theme)
    words = "".join(wide.find(f"{SVG}desc").itertext())  # type: ignore[union-attr]
    assert "50% observed, 25% expected" in words


def test_the_digits_are_tenths_from_behind_the_offense_to_the_far_end() -> None:
    bars = [
        bar(0.0, "own end"),
        bar(0.1, "own corner"),
        bar(0.26),
        bar(0.44),
        bar(0.7, "corner"),
        bar(0.97, "end"),
    ]
    assert text_strip(bars) == "0|1|34|7|*"
    assert text_strip([bar(0.2, side="left"), bar(0.3, side="right")]) == "left  2\nright 3"


def test_a_bar_without_a_place_is_refused() -> None:
    with pytest.raises(InvalidInputError, match="own corner"):
        bar(0.3, "roof")
    with pytest.raises(InvalidInputError, match="between 0 and 1"):
        bar(1.3)
