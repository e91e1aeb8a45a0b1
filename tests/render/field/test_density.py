"""The bands hold what they say they hold."""

import itertools
import math
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from tests.support.field import FIELD_WIDTH_YD

from lensyard.domain.field import rules_named
from lensyard.render.field.draw import field_svg
from lensyard.render.field.picture import FieldPicture
from lensyard.render.theme import THEMES

SHARES = (0.95, 0.8, 0.5)


def bands_of(mass):
    """The loops of every band that is drawn, widest first, in yards; shape (points, 2) each."""
    picture = FieldPicture(rules_named("pro"), mass=mass, tappable=True)
    root = ET.fromstring(field_svg(picture, theme=THEMES["sunlight"], width_px=4000))
    groups = {node.get("data-role"): node for node in root.iter() if node.get("data-role")}
    a, _, c, _, e, f = map(float, (groups["tap-layer"].get("data-affine") or "").split())
    if "density" not in groups:
        return []
    drawn = [node for node in groups["density"].iter() if node.get("fill-rule")]
    found = []
    for node in drawn:
        loops = [re.findall(r"Q(\S+) (\S+)", loop) for loop in (node.get("d") or "").split("z")]
        pixels = [np.array(loop, dtype=float) for loop in loops if loop]
        found.append([np.column_stack([a * p[:, 0] + c, e * p[:, 1] + f]) for p in pixels])
    return found


def area(band):
    total = 0.0
    for points in band:
        x, y = points.T
        total += abs(float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
    return total


def test_bands_of_a_gaussian_are_the_known_ellipses(make_blob):
    # The smallest area that holds the share p of a two-dimensional normal distribution is an
    # ellipse with half axes sigma sqrt(-2 ln(1 - p)); smoothing adds variances (1.3 and 2.4 yd).
    wide_x, wide_y = 6.0, 5.0
    sigma_x, sigma_y = math.hypot(wide_x, 1.3), math.hypot(wide_y, 2.4)
    bands = bands_of(make_blob(60, FIELD_WIDTH_YD / 2, wide_x_yd=wide_x, wide_y_yd=wide_y))
    for band, share in zip(bands, SHARES, strict=True):
        factor = math.sqrt(-2 * math.log(1 - share))
        (loop,) = band
        x, y = loop.T
        # 3 %: levels come from cells of one square yard, and the widest band touches the field's
        # edge where the tail is mirrored.
        assert (x.max() - x.min()) / 2 == pytest.approx(factor * sigma_x, rel=0.03)
        assert (y.max() - y.min()) / 2 == pytest.approx(factor * sigma_y, rel=0.03)


def test_narrower_shares_lie_inside_wider_ones(make_blob):
    mass = make_blob(40, 20, wide_x_yd=4, wide_y_yd=6) + make_blob(90, 40, wide_x_yd=9, wide_y_yd=9)
    areas = [area(band) for band in bands_of(mass)]
    assert areas == sorted(areas, reverse=True)
    assert all(b < a for a, b in itertools.pairwise(areas))


def test_a_mirrored_mass_has_mirrored_bands(make_blob):
    mass = make_blob(80, 14, wide_x_yd=5, wide_y_yd=7)
    plain, mirrored = bands_of(mass), bands_of(mass[:, ::-1])
    for one, other in zip(plain, mirrored, strict=True):
        y, turned = one[0][:, 1], other[0][:, 1]
        # Every second point of an outline is drawn, and to a tenth of a pixel.
        assert turned.min() == pytest.approx(FIELD_WIDTH_YD - y.max(), abs=0.2)
        assert turned.max() == pytest.approx(FIELD_WIDTH_YD - y.min(), abs=0.2)


def test_scale_does_not_matter(make_blob):
    mass = make_blob(50, 25, wide_x_yd=6, wide_y_yd=9)
    for one, other in zip(bands_of(mass), bands_of(100 * mass), strict=True):
        assert one[0] == pytest.approx(other[0], abs=1e-6)


def test_a_mass_at_the_end_line_stays_there(make_blob):
    (*_, narrowest) = bands_of(make_blob(120, 26, wide_x_yd=2, wide_y_yd=6))
    x = narrowest[0][:, 0]
    assert x.max() > 120  # closes outside, so that the clipped picture shows no gap at the line
    assert x.min() > 112


def test_nothing_is_drawn_for_an_empty_mass():
    assert bands_of(np.zeros((121, 18))) == []


def test_a_single_cell_still_has_bands():
    mass = np.zeros((121, 18))
    mass[75, 9] = 1.0
    assert [len(band) for band in bands_of(mass)] == [1, 1, 1]
