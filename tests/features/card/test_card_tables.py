"""The tables of a card, before any browser: the library's answers, packed and taken apart again."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.card_planes import answers_alone, unpack

from lensyard.domain.assignment import Assignment, Coverage
from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT, kit_of
from lensyard.domain.places import standing_text
from lensyard.domain.situation import Situation
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.errors import InvalidInputError
from lensyard.features.card.compute import card_content, card_document
from lensyard.features.card.grid import CardGrid, percent_codes
from lensyard.features.card.packing import Plane, pack
from lensyard.features.card.planes import card_kicks
from lensyard.features.card.report import percent_texts
from lensyard.features.card.tables import NO_SPOT
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.features.next_play.kicks import KickRequest, kick_play
from lensyard.model.context import load_context
from lensyard.planner.decision import decide
from lensyard.planner.plans import PlanRequest, plan_for
from lensyard.render.words import percent
from lensyard.spots.kicks import kicks_of
from lensyard.spots.masses import Masses
from lensyard.spots.ranking import rank

UNKNOWN_HASH = 3

# Few distances and stations far apart: the same code, a fraction of the work.
SHORT_YD, STEP_YD = 2, 6.0
HASHES = ("left", "middle", "right", "any")
LETTERS = {Direction.TOWARD_A: "A", Direction.TOWARD_B: "B"}


@pytest.fixture(scope="module")
def context():
    return load_context()


@pytest.fixture(scope="module")
def content(context):
    """Two unlike ends, one body for two lenses, and one team's plays only."""
    tunnel = ClosedStretch(
        edge=Edge.END_A, from_yd=20.0, to_yd=33.0, name="tunnel", walk_behind=False
    )
    request = PlanRequest(
        kit_of(["70-200", "300"], bodies=1),
        standard_venue("college", extra_closed=(tunnel,)),
        Assignment("home", coverage=Coverage.HOME),
        step_yd=STEP_YD,
    )
    return card_content(context, request, longest_yd=SHORT_YD)


@pytest.mark.slow
def test_a_card_holds_what_the_plan_decides(content, context):
    planes = unpack(content.packed, content.mirror)
    grid, solved = content.grid, content.solved
    n = len(solved.scorers[0].perimeter)
    rng = np.random.default_rng(11)
    for _ in range(150):
        row, standing = int(rng.integers(len(grid))), int(rng.integers(n))
        code = int(rng.choice(content.hash_codes))
        direction = Direction(int(rng.choice([-1, 1])))
        ours = bool(rng.integers(2))
        decision = decide(
            context,
            solved,
            grid.situation(row, code),
            standing=standing,
            direction=direction,
            ours=ours,
        )
        team, mark = ("ours", HASHES[code]) if ours else ("theirs", "any")
        name = f"choice:{LETTERS[direction]}:{mark}:{team}"
        assert planes[name][row, standing] == decision.station, (row, standing, name)
        assert decision.stay or solved.scorer(direction).open[decision.station]


@pytest.mark.slow
def test_the_lens_of_a_card_is_that_of_the_spot_the_library_names(context):
    """The card's stations are two yards apart, and the nearest one may lie in a team area."""
    request = PlanRequest(DEMO_KIT)
    solved, grid = plan_for(context, request), CardGrid.of(10)
    lens = answers_alone(context, solved, 10, Direction.TOWARD_B)["lens"]
    x, y = solved.scorer(Direction.TOWARD_B).xy_yd
    for yardline_100 in (80, 75, 60, 45, 30, 8):
        row = (min(10, yardline_100) - 1) * 99 + yardline_100 - 1
        best = next_play(context, NextRequest(grid.situation(row, UNKNOWN_HASH))).spot
        nearest = int(np.hypot(x - best.x_yd, y - best.y_yd).argmin())
        assert request.kit.mounted[lens[row, nearest]].text == best.lens


@pytest.mark.slow
def test_a_card_holds_what_the_library_names_first(content, context):
    planes = unpack(content.packed, content.mirror)
    grid, request = content.grid, content.request
    rng = np.random.default_rng(12)
    for _ in range(30):
        row, code = int(rng.integers(len(grid))), int(rng.choice(content.hash_codes))
        direction = Direction(int(rng.choice([-1, 1])))
        situation = grid.situation(row, code)
        prior = context.prior(request.venue.rules)
        forecast, scorer = context.forecast(situation), content.solved.scorer(direction)
        masses = Masses.of(forecast, prior, request.assignment.weights)
        kicks = kicks_of(context, forecast, scorer)
        spot = rank(scorer, masses, situation, top=1, kicks=kicks).spots[0]
        best, p = planes[f"best:{LETTERS[direction]}:{HASHES[code]}"][row]
        assert int(best) == spot.station_index
        assert p == percent_codes(np.array([spot.p_usable]))[0]


@pytest.mark.slow
def test_a_card_says_of_kicks_what_next_says(context):
    """Kickoff, free kick and try, and what is likely on fourth down; stations as the answer's."""
    request = PlanRequest(kit_of(["70-200", "300"]), standard_venue("high-school"))
    content = card_content(context, request, longest_yd=1)
    planes, rng = unpack(content.packed, content.mirror), np.random.default_rng(13)
    x, y = content.solved.scorers[0].xy_yd
    waits = np.flatnonzero(content.solved.scorers[0].open)
    for row, kick in enumerate(card_kicks(request.venue.rules)):
        asked = KickRequest(kick, kit=request.kit, venue=request.venue)
        found = kick_play(context, asked).answer
        best = planes["kick-best:B"][row, 0]
        assert (x[best], y[best]) == (found.x_yd, found.y_yd)
        assert planes["kick:B"][row, best] == percent_codes(np.array([found.p_usable]))[0]
        for here in rng.choice(waits, 20).tolist():
            standing = standing_text(x_yd=float(x[here]), y_yd=float(y[here]))
            found = kick_play(context, replace(asked, standing=standing)).answer
            go = planes["kick-choice:B"][row, here]
            assert (x[go], y[go]) == (found.x_yd, found.y_yd), (kick, standing)
    for yardline in (1, 22, 45, 80):
        chances = context.forecast(Situation(4, 1, yardline)).p_fourth_down_choice[0]
        assert (planes["fourth:usual"][yardline - 1] == percent_codes(chances)).all()


@pytest.mark.slow
def test_a_card_never_sends_anybody_where_it_is_closed(content):
    planes = unpack(content.packed, content.mirror)
    waits = content.solved.scorers[0].perimeter
    passable = np.isfinite(waits.walk_yd).sum(axis=1) > 1
    for direction in Direction:
        scorer = content.solved.scorer(direction)
        from_here = passable[scorer.stations]
        named = [
            plane
            for name, plane in planes.items()
            if name.split(":")[0] in ("choice", "far") and name.split(":")[1] == LETTERS[direction]
        ]
        assert named
        for plane in named:
            assert scorer.open[plane[:, from_here]].all()


@pytest.mark.slow
def test_the_card_says_what_it_tells_apart(content):
    document = card_document(content)
    assert document["directions"] == ["B", "A"]
    assert document["teams"] == ["ours", "theirs"]
    assert document["hashes"] == ["left", "right", "any"]
    assert document["key"] == content.solved.key
    stations = document["stations"]
    assert "1" in stations["shut"]  # nobody passes behind the tunnel
    assert "0" in stations["wait"]
    assert len(content.frames) == 15  # the usual ones, where the assignment names none


@pytest.mark.slow
def test_a_kit_that_reaches_nothing_has_no_spot_anywhere(context):
    request = PlanRequest(kit_of(["8"]), standard_venue("pro"), step_yd=STEP_YD)
    content = card_content(context, request, longest_yd=1)
    planes = unpack(content.packed, content.mirror)
    none = planes["best:B:any"][:, 0] == NO_SPOT
    assert none.any()
    row = int(np.flatnonzero(none)[0])
    asked = NextRequest(content.grid.situation(row, UNKNOWN_HASH), kit=request.kit)
    with pytest.raises(InvalidInputError, match="no play is usable"):
        next_play(context, asked)


def test_more_stations_than_a_byte_can_count_are_refused(context):
    request = PlanRequest(DEMO_KIT, standard_venue("pro"), step_yd=1.0)
    with pytest.raises(InvalidInputError, match="at most 255"):
        card_content(context, request)


@given(p=st.floats(0.0, 1.0))
def test_codes_say_the_percent_that_is_shown_elsewhere(p):
    assert percent_texts()[int(percent_codes(np.array([p]))[0])] == percent(p)


@settings(max_examples=30)
@given(seed=st.integers(0, 2**32 - 1), mirrored=st.booleans(), smooth=st.booleans())
def test_what_is_packed_comes_out_again(seed, mirrored, smooth):
    rng = np.random.default_rng(seed)
    n, block = 12, 2 * 99
    mirror = np.arange(n)[::-1].copy()
    values = rng.integers(0, 256, (4 * block, n), dtype=np.uint8)
    if smooth:
        values[:, :] = np.arange(n, dtype=np.uint8)
    if mirrored:
        values[:, n // 2 :] = values[:, n // 2 - 1 :: -1]
    places = rng.integers(0, n, (4 * block, n), dtype=np.uint8)
    across = mirror[places[:, mirror]].astype(np.uint8)
    planes = [
        Plane("usable:B:left", values),
        Plane("usable:B:right", values[:, mirror].copy()),
        Plane("choice:B:left:ours", places),
        Plane("choice:B:right:ours", across),
        Plane("best:B:left", values[:, :3].copy()),
    ]
    packed = pack(planes, mirror, most_bytes=10**6)
    out = unpack(packed, mirror)
    for plane in planes:
        assert np.array_equal(out[plane.name], plane.values)
    # A mirror image of what is there costs next to nothing.
    alone = pack(planes[:1], mirror, most_bytes=10**6)
    both = pack(planes[:2], mirror, most_bytes=10**6)
    assert len(both.payload) - len(alone.payload) < 100
