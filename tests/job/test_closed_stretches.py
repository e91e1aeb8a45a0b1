"""One closed stretch is closed everywhere: in next, plan, gear and crew, for spots and for walks.

What is closed is worked out here anew from the venue's own words (edge, from, to), and the ways
that are left are searched link by link, so nothing of the package judges itself.
"""

from collections import deque
from dataclasses import replace
from datetime import datetime
from functools import cache

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from tests.support.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD
from tests.support.part_of_season import part_of_season

from lensyard.domain.assignment import Assignment, LightPreference
from lensyard.domain.field import Direction
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import standing_text
from lensyard.domain.situation import Situation
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.errors import InvalidInputError
from lensyard.features.crew.compute import CrewRequest, crew_play
from lensyard.features.game_plan.phases import PHASES, best_rule
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.model.transition import TransitionModel
from lensyard.planner.decision import decide
from lensyard.planner.plans import PlanRequest, plan_for
from lensyard.planner.season import play_season
from lensyard.settings.files import load_venue

CONTEXT = load_context(BASE_MODEL)
# They depend on the model only, and take most of a plan's time.
_matrices = cache(TransitionModel.transition_matrices)
KIT = kit_of(["70-200", "400"])
LAW = settings(
    suppress_health_check=[
        HealthCheck.filter_too_much,
        HealthCheck.function_scoped_fixture,  # the same matrices for every example
    ]
)


@pytest.fixture(autouse=True)
def _matrices_once(monkeypatch):
    monkeypatch.setattr(TransitionModel, "transition_matrices", _matrices)


@st.composite
def stretches(draw):
    """A closed stretch anywhere on the four edges, around a corner too."""
    edge = draw(st.sampled_from(Edge))
    length = edge.length_yd
    low = draw(st.floats(-8.0, length - 2.0))
    high = min(low + draw(st.floats(1.0, 40.0)), length + 9.0)
    return ClosedStretch(edge, low, high, "closed", walk_behind=draw(st.booleans()))


@st.composite
def venues(draw):
    closed = tuple(draw(st.lists(stretches(), min_size=1, max_size=4)))
    venue = replace(standard_venue(walk_behind=draw(st.booleans())), name="drawn")
    venue = replace(venue, closed=(*venue.closed, *closed))
    try:
        perimeter_of(venue, step_yd=6.0)
    except InvalidInputError:
        assume(False)
    return venue


def on_edge(stretch, x, y, venue):
    side, end = venue.side_setback_yd, venue.end_setback_yd
    return {
        Edge.SIDELINE_A: abs(y + side) < 1e-6,
        Edge.SIDELINE_B: abs(y - FIELD_WIDTH_YD - side) < 1e-6,
        Edge.END_A: abs(x + end) < 1e-6,
        Edge.END_B: abs(x - FIELD_LENGTH_YD - end) < 1e-6,
    }[stretch.edge]


def inside(stretch, x, y, venue):
    """Whether a place of the strip (stadium frame) lies in a stretch, its ends left out."""
    along = x if stretch.edge.is_sideline else y
    between = stretch.from_yd + 1e-6 < along < stretch.to_yd - 1e-6
    return on_edge(stretch, x, y, venue) and between


def is_closed(venue, x, y):
    return any(inside(stretch, x, y, venue) for stretch in venue.closed)


def no_way(venue, perimeter, i, j):
    """Whether the straight link between two neighboring stations crosses what nobody may pass."""
    for t in np.linspace(0.0, 1.0, 21):
        x = (1 - t) * perimeter.x_yd[i] + t * perimeter.x_yd[j]
        y = (1 - t) * perimeter.y_yd[i] + t * perimeter.y_yd[j]
        if any(inside(s, float(x), float(y), venue) for s in venue.closed if not s.walk_behind):
            return True
    return False


def shut_links(venue, perimeter):
    """Which links from a station to the next may not be passed."""
    n = len(perimeter)
    return np.array([no_way(venue, perimeter, i, (i + 1) % n) for i in range(n)])


def shortest(perimeter, shut, start):
    """Shortest ways along links that may be passed, from one station to all; inf where none."""
    n = len(perimeter)
    way = np.full(n, np.inf)
    way[start] = 0.0
    queue = deque([start])
    while queue:
        here = queue.popleft()
        for there, link in (((here + 1) % n, here), ((here - 1) % n, (here - 1) % n)):
            if shut[link]:
                continue
            step = float(
                np.hypot(
                    perimeter.x_yd[here] - perimeter.x_yd[there],
                    perimeter.y_yd[here] - perimeter.y_yd[there],
                )
            )
            if way[here] + step < way[there] - 1e-9:
                way[there] = way[here] + step
                queue.append(there)
    return way


def only_where_nothing_is_usable(error):
    """Everything near the ball may be closed; any other refusal is a failure."""
    if "no play is usable" not in str(error):
        raise error


def stadium(x, y, direction):
    return (x, y) if direction is Direction.TOWARD_B else (FIELD_LENGTH_YD - x, FIELD_WIDTH_YD - y)


@settings(LAW, max_examples=4)
@given(
    venue=venues(),
    direction=st.sampled_from(Direction),
    yardline_100=st.integers(1, 99),
    start=st.integers(0, 10_000),
)
def test_next_names_no_closed_spot_and_no_walk_through_a_closed_stretch(
    venue, direction, yardline_100, start
):
    perimeter = perimeter_of(venue, step_yd=1.0)
    station = int(perimeter.spots[start % len(perimeter.spots)])
    x, y = (float(axis[station]) for axis in perimeter.play_xy_yd(direction))
    situation = Situation(1, min(10, yardline_100), yardline_100)
    request = NextRequest(
        situation,
        kit=KIT,
        venue=venue,
        direction=direction,
        standing=standing_text(x_yd=x, y_yd=y, venue=venue),
    )
    # The plan's word has its own test below; here only the ranking is asked.
    try:
        answer = next_play(CONTEXT, replace(request, standing=None))
    except InvalidInputError as error:
        only_where_nothing_is_usable(error)
        return
    way = shortest(perimeter, shut_links(venue, perimeter), station)
    walks = perimeter.walk_yd[station]
    # The package closes a link if either of its stations is in the stretch, bounds included, so it
    # may find no way where a hair's breadth is left, but never a shorter one.
    assert (walks >= way - 1e-6).all()
    for spot in (*answer.ranking.spots, *(h.spot for h in answer.ranking.habits)):
        assert not is_closed(venue, *stadium(spot.x_yd, spot.y_yd, direction))


@settings(LAW, max_examples=2)
@given(venue=venues(), direction=st.sampled_from(Direction), yardline_100=st.integers(1, 99))
def test_a_crew_stands_in_no_closed_stretch(venue, direction, yardline_100):
    request = CrewRequest((KIT, KIT), venue, Assignment(), direction)
    try:
        answer = crew_play(CONTEXT, request, Situation(1, min(10, yardline_100), yardline_100))
    except InvalidInputError as error:
        only_where_nothing_is_usable(error)
        return
    for spot in answer.crew.spots:
        assert not is_closed(venue, *stadium(spot.x_yd, spot.y_yd, direction))


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_plan_and_gear_use_no_closed_spot_and_walk_no_closed_way(seed, tmp_path, monkeypatch):
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path))
    rng = np.random.default_rng(seed)
    closed = []
    for edge in rng.permutation(np.array(list(Edge), dtype=object))[:3]:
        low = float(rng.uniform(-8.0, edge.length_yd - 12.0))
        high = low + float(rng.uniform(4.0, 30.0))
        closed.append(
            ClosedStretch(
                edge, low, min(high, edge.length_yd + 9.0), walk_behind=bool(rng.integers(2))
            )
        )
    venue = replace(standard_venue(), closed=(*standard_venue().closed, *closed))
    played = play_season(CONTEXT, PlanRequest(KIT, venue, step_yd=8.0), part_of_season(games=6))
    replay, perimeter = played.replay, played.solved.scorers[0].perimeter
    shut = [
        is_closed(venue, float(x), float(y))
        for x, y in zip(perimeter.x_yd, perimeter.y_yd, strict=True)
    ]
    stations = np.array(
        [
            played.solved.scorer(Direction(int(d))).stations[p]
            for d, p in zip(replay.direction, played.plan.station_index, strict=True)
        ]
    )
    # One may wait where others pass, but nothing is usable from there.
    quality = played.season_data.had(played.plan.station_index)
    assert not any(shut[station] for station in stations[quality > 0.0])
    links = shut_links(venue, perimeter)
    ways: dict[int, np.ndarray] = {}
    for i in range(1, len(replay)):
        if replay.game[i] != replay.game[i - 1] or played.season_data.limit_yd[i] > 1e5:
            continue
        start = int(stations[i - 1])
        if start not in ways:
            ways[start] = shortest(perimeter, links, start)
        assert ways[start][stations[i]] <= played.plan.walk_yd[i] + 1e-6
        assert played.plan.walk_yd[i] <= played.season_data.limit_yd[i] + 1e-6
    for phase in PHASES:
        rows = np.flatnonzero(phase.belongs(replay))
        line = best_rule(played, rows)
        for row, station_index in zip(rows, line.station_index, strict=True):
            station = played.solved.scorer(Direction(int(replay.direction[row]))).stations[
                station_index
            ]
            assert not shut[station]


# --- turning the stadium ------------------------------------------------------------------------


@settings(LAW, max_examples=3)
@given(venue=venues(), direction=st.sampled_from(Direction), yardline_100=st.integers(1, 99))
def test_swapping_the_ends_changes_names_but_no_probability(venue, direction, yardline_100):
    situation = Situation(1, min(10, yardline_100), yardline_100)
    requests = [
        NextRequest(situation, kit=KIT, venue=venue, direction=direction),
        NextRequest(situation, kit=KIT, venue=venue.turned(), direction=direction.reversed),
    ]
    try:
        here, there = (next_play(CONTEXT, request) for request in requests)
    except InvalidInputError as error:
        only_where_nothing_is_usable(error)
        return
    assert venue.turned().end_names == (venue.end_names[1], venue.end_names[0])
    assert [s.label for s in here.ranking.spots] == [s.label for s in there.ranking.spots]
    for one, other in zip(here.ranking.spots, there.ranking.spots, strict=True):
        # float32 sums in another order
        assert other.p_usable == pytest.approx(one.p_usable, abs=1e-5)
        assert other.value == pytest.approx(one.value, abs=1e-4)


@pytest.mark.slow
def test_swapping_the_ends_swaps_the_sides_of_the_plan(tmp_path, monkeypatch):
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path))
    band = ClosedStretch(Edge.END_B, 10.0, 30.0, "band", walk_behind=False)
    venue = replace(standard_venue(), closed=(*standard_venue().closed, band))
    solved = [plan_for(CONTEXT, PlanRequest(KIT, v, step_yd=10.0)) for v in (venue, venue.turned())]
    for yardline_100 in (70, 35, 8):
        situation = Situation(1, min(10, yardline_100), yardline_100)
        for direction in Direction:
            start = int(np.flatnonzero(solved[0].scorer(direction).open)[3])
            one, other = (
                decide(CONTEXT, s, situation, standing=start, direction=d)
                for s, d in zip(solved, (direction, direction.reversed), strict=True)
            )
            assert one.station == other.station
            # values of some 20 held as float32 and iterated to the plan's tolerance
            assert other.total == pytest.approx(one.total, abs=5e-3)


def test_turning_the_stadium_changes_the_light_but_no_probability():
    venue = replace(load_venue("tamarack-fork"), stand_height_m=(0.0, 0.0, 0.0, 0.0))
    turned = replace(venue, axis_bearing_deg=(venue.axis_bearing_deg + 180.0) % 360.0)
    answers = [
        next_play(
            CONTEXT,
            NextRequest(
                Situation(1, 10, 20),
                kit=KIT,
                venue=v,
                at=datetime(2026, 10, 9, 18, 15),
                light=LightPreference.IGNORE,
            ),
        )
        for v in (venue, turned)
    ]
    here, there = answers
    assert [s.label for s in here.ranking.spots] == [s.label for s in there.ranking.spots]
    assert [s.p_usable for s in here.ranking.spots] == [s.p_usable for s in there.ranking.spots]
    kinds = [[a.light_at(s).kind for s in a.ranking.spots] for a in answers]
    assert kinds[0] != kinds[1]
    # The field runs from west to east and the sun stands in the west: behind the end line toward
    # which the offense plays one has it either in the back or in the face.
    assert {kinds[0][0], kinds[1][0]} <= {"front", "back", "sun in the lens"}
