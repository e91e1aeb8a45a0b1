"""Random questions on bundled and invented venues, and what every answer must be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lensyard.domain.assignment import Faces, assignment_for
from lensyard.domain.field import Direction, HashMark
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import Tempo, WalkTime, perimeter_of, require_open
from lensyard.domain.places import standing_text
from lensyard.domain.situation import Situation
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.errors import InvalidInputError
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.features.next_play.report import next_brief, next_report
from lensyard.planner.plans import PlanRequest, kept_plan
from lensyard.planner.usual_walks import walking_of
from lensyard.settings.files import VENUES

KITS = (
    ["70-200"],
    ["70-200", "300"],
    ["70-200", "400"],
    ["24-70", "70-200", "400"],
    ["100-400"],
    ["85"],
    ["70-200 on 1.5"],
    ["300", "500"],
    ["200-600"],
)
SETTLED = 1e-6


@dataclass(frozen=True)
class Asked:
    """One question."""

    request: NextRequest


def _venue(rng):
    """A bundled venue, or a rule set with stretches closed at random."""
    names = VENUES.names()
    if rng.random() < 0.4:
        return VENUES.load(str(rng.choice(sorted(names))))
    stretches = []
    for _ in range(int(rng.integers(0, 3))):
        edge = Edge(str(rng.choice([e.value for e in Edge])))
        longest = 120.0 if edge.is_sideline else 53.0
        low = float(rng.uniform(0.0, longest - 10.0))
        high = min(low + float(rng.uniform(4.0, 45.0)), longest)
        stretches.append(
            ClosedStretch(edge, low, high, "stand", walk_behind=bool(rng.random() < 0.6))
        )
    rules = str(rng.choice(["pro", "college", "high-school"]))
    return standard_venue(rules, extra_closed=tuple(stretches))


def _standing(venue, direction, rng):
    """A place to stand as people type it; closed ones are asked about too."""
    perimeter = perimeter_of(venue, step_yd=1.0)
    for _ in range(50):
        station = int(rng.integers(len(perimeter)))
        x, y = (float(axis[station]) for axis in perimeter.play_xy_yd(direction))
        try:
            require_open(perimeter, station, text="there")
        except InvalidInputError:
            continue
        return standing_text(x_yd=x, y_yd=y, venue=venue)
    return None


def asked(rng, count, *, setups):
    """Yield random questions, over so many pairs of kit and venue (a plan each)."""
    for _ in range(setups):
        venue, kit = _venue(rng), kit_of(KITS[int(rng.integers(len(KITS)))])
        assignment = assignment_for(Faces.DEFENSE if rng.random() < 0.2 else Faces.OFFENSE)
        tempo = Tempo.HURRY if rng.random() < 0.25 else Tempo.USUAL
        for _ in range(count // setups):
            yardline, direction = int(rng.integers(1, 100)), Direction(int(rng.choice([-1, 1])))
            hash_mark = None if rng.random() < 0.5 else HashMark(str(rng.choice(["left", "right"])))
            yield Asked(
                NextRequest(
                    Situation(
                        int(rng.integers(1, 5)),
                        min(int(rng.integers(1, 21)), yardline),
                        yardline,
                        hash_mark=hash_mark,
                    ),
                    kit=kit,
                    venue=venue,
                    assignment=assignment,
                    direction=direction,
                    standing=None if rng.random() < 0.1 else _standing(venue, direction, rng),
                    ball_changed_hands=bool(rng.random() < 0.2),
                    walk_time=WalkTime.of(tempo),
                )
            )


def check(context, question, *, by_value=True):
    """Check one answer; return its action with it, or ``refused`` where nobody may even pass.

    ``by_value``: whether it is also set beside the plan's values of every other walk.
    """
    request = question.request
    try:
        found = next_play(context, request, keep=True)
    except InvalidInputError:
        return "refused", None
    answer, scorer = found.answer, found.scorer
    where = found.spot.station_index
    assert scorer.open[where], request
    assert (answer.x_yd, answer.y_yd) == (found.spot.x_yd, found.spot.y_yd)
    for spot in found.ranking.spots:
        assert scorer.open[spot.station_index]
    if request.standing is None:
        assert answer.action in ("best", "nothing")
    else:
        _check_standing(context, found, by_value=by_value)
    # As whole percents say it.
    least = round(100.0 * answer.p_at_most) >= 100.0 * request.least_usable - 1e-9
    assert (answer.action == "nothing") == (not least), request
    assert answer.p_usable <= answer.p_at_most + SETTLED
    _check_words(found)
    return str(answer.action), found


def on_the_way(walk_yd, may_stand, standing, target, limit_yd):
    """Whether a walk to a target beyond the limit is behind closed ground where the limit ends.

    Along the ring from station to station, one way or the other; an own account of a crossing.
    """
    n = len(walk_yd)
    for step in (1, -1):
        here, way, last = standing, 0.0, standing
        while here != target:
            there = (here + step) % n
            if not np.isfinite(walk_yd[here, there]) or there == standing:
                break
            way += walk_yd[here, there]
            here = there
            if way <= limit_yd + 1e-6:
                last = here
        out = last == standing and not may_stand[standing]  # one step out of closed ground
        if here == target and (out or not may_stand[last]):
            return True
    return False


def _check_standing(context, found, *, by_value):
    """The decision is reachable, and by the plan's values as good as any other walk."""
    request, answer, scorer = found.request, found.answer, found.scorer
    here, where = found.standing_index, found.spot.station_index
    assert here is not None
    walk = scorer.walk_yd[here]
    may_stand = scorer.open if found.kicks is None else found.kicks.may_stand(scorer.open)
    within = (walk <= request.limit_yd + 1e-6) & may_stand
    assert answer.snaps_missed > 0 or within[where], request
    assert all(within[spot.station_index] for spot in found.ranking.spots)
    assert (answer.snaps_missed == 0) or not within[where]
    if answer.snaps_missed:
        assert on_the_way(scorer.walk_yd, may_stand, here, where, request.limit_yd), request
        assert answer.p_usable == 0.0
    if answer.snaps_missed or not by_value:
        return
    walks = walking_of(request.kit, request.assignment, request.walk_time)
    solved = kept_plan(context, PlanRequest(request.kit, request.venue, request.assignment, walks))
    values = plan_values(context, solved, found)
    total = values - walks.price_per_yd * np.where(within, walk, 0.0)
    tolerance = decision_error(context, solved, found) + 1e-4
    # Neighbors are one place to whoever may stay.
    index = np.arange(len(walk))
    neighbor = may_stand[here] & (np.abs((index - here + 1) % len(walk)) <= 2)
    far = np.where(within & ~neighbor, total, -np.inf).max()
    if where == here:
        assert total[here] >= far - tolerance, request
    else:
        assert total[where] >= far - 1e-4, request
        assert not neighbor[where], request
        assert not may_stand[here] or total[where] - values[here] > tolerance - 2e-4, request


def plan_values(context, solved, found):
    """The plan's value of every station: the play and what follows, written out here anew."""
    from lensyard.domain.situation import SituationBatch
    from lensyard.planner.plans import reward_of
    from lensyard.planner.sides import side_index, sides_of

    request = found.request
    scorer = solved.scorer(request.direction)
    batch = SituationBatch.of([request.situation])
    reward = reward_of(context, scorer, batch, request.remaining_assignment)[0].astype(float)
    sides = sides_of(scorer.perimeter, request.assignment)
    side = side_index(sides, direction=request.direction, ours=True)
    state = context.transition().grid.index_of(batch)[0]
    values: np.ndarray = reward + solved.plan.continuation[side, state]
    return values


def decision_error(context, solved, found):
    """How far the decision may be off: what `decide` says it is."""
    from lensyard.planner.decision import decide

    request = found.request
    return decide(
        context,
        solved,
        request.situation,
        standing=0,
        direction=request.direction,
        limit_yd=request.limit_yd,
        kicks=found.kicks,
    ).error


def _check_words(found):
    """Both reports have one headline, it names the place, and the short one is short."""
    report, brief = next_report(found), next_brief(found)
    answer = found.answer
    assert report.headline == brief.headline
    if answer.moves or answer.action == "best":
        assert answer.label in report.headline
    words = " ".join((brief.headline, *brief.sentences, *brief.cautions)).split()
    assert len(words) <= 89, (len(words), words)  # and the word "Caution:"
