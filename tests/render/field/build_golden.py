"""Writes field_picture.svg beside this file: ``python tests/render/field/build_golden.py``.

Run it after a change of the drawing that is wanted, and look at the picture before committing it.
"""

from pathlib import Path

from tests.support.field import FIELD_WIDTH_YD

from lensyard.domain.field import PlayPoint, rules_named
from lensyard.render.field.draw import field_svg
from lensyard.render.field.picture import ClosedMark, FieldPicture, ReachRing, SpotMark, SpotRole
from lensyard.render.theme import THEMES

GOLDEN = Path(__file__).with_name("field_picture.svg")
FIRST_LINE = "<!-- Built by tests/render/field/build_golden.py -->\n"


def golden_text():
    """Return the golden file's text: one element a line, so that changes are easy to read."""
    left, right = FIELD_WIDTH_YD + 2.0, -2.0
    picture = FieldPicture(
        rules=rules_named("high-school"),
        ball=PlayPoint(75.0, 35.5),
        line_to_gain_x_yd=82.0,
        spots=(
            SpotMark(92.0, left, 1, "left sideline <18>", 0.58, SpotRole.BEST),
            SpotMark(98.0, right, 2, "right sideline & 12", 0.57, SpotRole.EQUAL),
            SpotMark(95.0, right, None, "20 ahead", 0.47, SpotRole.HABIT),
        ),
        rings=(ReachRing("400", 40.0, 11.1),),
        closed=(ClosedMark(35.0, 85.0, left, left + 6.0, "team area"),),
        standing=PlayPoint(110.0, left),
        path=(PlayPoint(110.0, left), PlayPoint(92.0, left)),
        walk_text="18 yd, 12 s",
    )
    svg = field_svg(picture, theme=THEMES["sunlight"], orientation="vertical", width_px=360)
    return FIRST_LINE + svg.replace("><", ">\n<") + "\n"


if __name__ == "__main__":
    GOLDEN.write_text(golden_text(), encoding="utf-8")
