"""What a venue file closes is closed: for standing, for walking, and whichever way it is turned."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import shortest_path
from tests.support.places import nearest_station

from lensyard.domain.field import RULES
from lensyard.domain.perimeter import Perimeter, perimeter_of
from lensyard.domain.venue import Edge, Venue
from lensyard.errors import InvalidInputError
from lensyard.settings.files import VENUES
from lensyard.settings.schema import KIND_DEFAULTS

LAW = settings(derandomize=True, deadline=None, max_examples=60)
SLOW_LAW = settings(derandomize=True, deadline=None, max_examples=12)
# Sums of a few hundred lengths.
ROUNDING_YD = 1e-6


@st.composite
def venue_files(draw: st.DrawFn, *, most: int = 4) -> str:
    """A venue file with some closed stretches, inside the corners of its perimeter."""
    side, end = draw(st.floats(1.0, 6.0)), draw(st.floats(1.0, 6.0))
    lines = [
        'name = "Drawn"',
        f'rules = "{draw(st.sampled_from(sorted(RULES)))}"',
        f"side_setback_yd = {side}",
        f"end_setback_yd = {end}",
        "[team_areas]",
        f"from_yard_line = {draw(st.sampled_from(['20', '32', '50', chr(34) + 'none' + chr(34)]))}",
        f"walk_behind = {str(draw(st.booleans())).lower()}",
    ]
    for _ in range(draw(st.integers(1, most))):
        edge = draw(st.sampled_from(Edge))
        past = end if edge.is_sideline else side
        corner = edge.length_yd + past
        low = draw(st.just(-past) | st.floats(-past, corner - 0.5))
        high = draw(st.floats(low + 0.4, min(low + 35, corner)))
        if draw(st.integers(0, 4)) == 0:
            low, high = max(corner - 10, low), corner
        lines += [
            "[[closed]]",
            f'edge = "{edge}"',
            f"from = {low}",
            f"to = {high}",
            f'kind = "{draw(st.sampled_from(sorted(KIND_DEFAULTS)))}"',
            f"front_yd = {draw(st.floats(0, 6))}",
            f"walk_behind = {str(draw(st.booleans())).lower()}",
        ]
    return "\n".join(lines) + "\n"


def drawn(text: str) -> Venue | None:
    """The venue of a file, or None when it happens to close every spot."""
    try:
        return VENUES.parse(text)
    except InvalidInputError as error:
        if "open at least one stretch" in str(error):
            return None
        raise


@LAW
@given(text=venue_files(), step=st.floats(0.5, 6.0))
def test_no_open_station_is_inside_any_closed_stretch(text: str, step: float) -> None:
    venue = drawn(text)
    if venue is None:
        return
    try:
        perimeter = perimeter_of(venue, step_yd=step)
    except InvalidInputError:
        return  # coarse steps can miss the open remainder
    x, y, is_open = perimeter.x_yd, perimeter.y_yd, perimeter.open
    lines = {
        Edge.SIDELINE_A: np.isclose(y, y.min()),
        Edge.SIDELINE_B: np.isclose(y, y.max()),
        Edge.END_A: np.isclose(x, x.min()),
        Edge.END_B: np.isclose(x, x.max()),
    }
    for stretch in venue.closed:
        # By its ground: strictly inside the rectangle, on whichever edge the station counts.
        x0, x1, y0, y1 = stretch.rectangle_yd()
        ground = (x > x0) & (x < x1) & (y > y0) & (y < y1)
        assert not (ground & is_open).any()
        # By its place along the edge, corners included, at whatever depth it lies.
        along = x if stretch.edge.is_sideline else y
        beside = lines[stretch.edge] & (along >= stretch.from_yd) & (along <= stretch.to_yd)
        assert not (beside & is_open).any()


def walked_by_graph(perimeter: Perimeter) -> np.ndarray:
    """Shortest ways by a graph library: neighbors are linked where no shut stretch lies between."""
    n = len(perimeter)
    after = (np.arange(n) + 1) % n
    gap = np.hypot(perimeter.x_yd - perimeter.x_yd[after], perimeter.y_yd - perimeter.y_yd[after])
    shut = np.zeros(n, dtype=bool)
    side_y = (perimeter.y_yd.min(), perimeter.y_yd.max())
    end_x = (perimeter.x_yd.min(), perimeter.x_yd.max())
    for stretch in perimeter.venue.closed:
        if stretch.walk_behind:
            continue
        for i in range(n):
            j = int(after[i])
            xs = sorted((perimeter.x_yd[i], perimeter.x_yd[j]))
            ys = sorted((perimeter.y_yd[i], perimeter.y_yd[j]))
            line_y = side_y[0] if stretch.edge is Edge.SIDELINE_A else side_y[1]
            line_x = end_x[0] if stretch.edge is Edge.END_A else end_x[1]
            if stretch.edge.is_sideline:
                # The link touches the stretch's line, along it or with one end at its corner.
                on_line = np.isclose(ys[0], line_y) or np.isclose(ys[1], line_y)
                meets = xs[0] <= stretch.to_yd + 1e-9 and xs[1] >= stretch.from_yd - 1e-9
            else:
                on_line = np.isclose(xs[0], line_x) or np.isclose(xs[1], line_x)
                meets = ys[0] <= stretch.to_yd + 1e-9 and ys[1] >= stretch.from_yd - 1e-9
            shut[i] |= bool(on_line and meets)
    keep = np.flatnonzero(~shut)
    links = coo_array((gap[keep], (keep, after[keep])), shape=(n, n))
    return shortest_path(links.tocsr(), directed=False)


@SLOW_LAW
@given(text=venue_files())
def test_walks_go_round_every_stretch_without_a_way_behind_it(text: str) -> None:
    venue = drawn(text)
    if venue is None:
        return
    perimeter = perimeter_of(venue, step_yd=4.0)
    np.testing.assert_allclose(perimeter.walk_yd, walked_by_graph(perimeter), atol=ROUNDING_YD)


def test_a_wall_on_an_end_makes_the_way_longer_and_a_band_does_not() -> None:
    base = 'name = "x"\nrules = "pro"\n'
    across = '[[closed]]\nedge = "end A"\nfrom = 20\nto = 30\nkind = "{}"\n'
    free, band, wall = (
        perimeter_of(VENUES.parse(text))
        for text in (base, base + across.format("band"), base + across.format("wall"))
    )
    near, far = nearest_station(free, x_yd=-4, y_yd=10), nearest_station(free, x_yd=-4, y_yd=40)
    direct = free.walk_yd[near, far]
    assert direct == pytest.approx(30, abs=1.01)  # stations are a yard apart
    assert band.walk_yd[near, far] == direct
    assert wall.walk_yd[near, far] == pytest.approx(free.length_yd - direct, abs=ROUNDING_YD)
