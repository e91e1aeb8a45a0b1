"""How often a face names a closed place, or one out of reach, over many random questions.

    python -m tests.benchmarks.decisions [20000] [--setups 25] [--pages 20] [--seed 20000]

Bundled and invented venues, kits, tempos and teams that count; the same questions for every face:

- the library and what command and page print of it (one `Report`): the place is open, within the
  walk before the snap (or the named end of a crossing that starts behind closed ground), short and
  long report say the same, and every fourth is as good by the plan's values as every other walk;
- the field of the page: the mark of the answer and those of the habits stand on open ground;
- the card's whole table of one direction of attack: every choice from every station, and the best
  spots, open and within the walk; where a card has the question, it names the command's station;
- the drill: starts and what the plan and the rule card would do, open and within the walk;
- the page itself, as it runs, for ``--pages`` of them: it has the command's headline.

Prints what was decided, by action, and what was broken, by law. Beside it stands the baseline of
the same run: how often the best free spot of the play, which knows no walk, is out of reach.
"""

from __future__ import annotations

import argparse
import sys
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np
from tests.features.next_play.random_questions import Asked, asked, check, on_the_way
from tests.support.card_planes import answers_alone

from lensyard.domain.perimeter import Tempo, WalkTime
from lensyard.domain.situation import ball_text
from lensyard.errors import InvalidInputError
from lensyard.features.card.grid import CardGrid
from lensyard.features.card.tables import NO_SPOT
from lensyard.features.drill.compute import compared_stations
from lensyard.features.drill.series import DrillRequest, drill_series
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.features.next_play.page import next_picture
from lensyard.features.next_play.report import next_report
from lensyard.model.context import BASE_MODEL, RULE_MODELS, Context, load_context
from lensyard.planner.plans import PlanRequest, kept_plan
from lensyard.planner.usual_walks import walking_of
from lensyard.render.field.picture import SpotRole
from lensyard.settings.files import VENUES
from lensyard.spots.kicks import LEAST_TRIED, clear_of_the_kick

GRID = CardGrid.of(10)
APP = Path(__file__).resolve().parents[2] / "app.py"


@cache
def evaluated() -> Context:
    """The model whose seasons drills are drawn from."""
    return load_context(BASE_MODEL)


def plan_of(context: Context, request: NextRequest) -> Any:
    """The plan that a request is answered from."""
    walks = walking_of(request.kit, request.assignment, request.walk_time)
    plan = PlanRequest(request.kit, request.venue, request.assignment, walks)
    return kept_plan(context, plan)


def check_field(found: Any) -> None:
    """The marks on the page's field are where one may be, the first where the answer says."""
    marks = next_picture(found).spots
    stations = {int(s): i for i, s in enumerate(found.scorer.stations)}
    first = next(mark for mark in marks if mark.role is SpotRole.BEST)
    assert (first.x_yd, first.y_yd) == (found.answer.x_yd, found.answer.y_yd)
    assert all(found.scorer.open[stations[mark.station]] for mark in marks), "a mark is closed"


def check_card(table: dict[str, np.ndarray], found: Any) -> None:
    """The card names the station that the command names, where it has the question."""
    situation, request = found.request.situation, found.request
    if situation.distance_yd > GRID.longest_yd:
        return
    row = (situation.down - 1) * GRID.longest_yd + situation.distance_yd - 1
    row = row * 99 + situation.yardline_100 - 1
    station = found.spot.station_index
    if request.standing is None:
        assert table["best"][row, 0] in (station, NO_SPOT), "card and command: another best spot"
        return
    if not request.ball_changed_hands:
        chosen = int(table["choice"][row, found.standing_index])
        assert chosen == station, "card and command: another place"


def check_card_table(context: Context, request: NextRequest) -> tuple[dict[str, np.ndarray], int]:
    """Every choice of a card in one direction is open, within the walk or across closed ground."""
    solved = plan_of(context, request)
    scorer, walking = solved.scorer(request.direction), solved.request.walking
    answers = answers_alone(context, solved, GRID.longest_yd, request.direction)
    forecast = context.model.forecast(GRID.batch(3))
    tried = (GRID.down == 4) & (forecast.p_fourth_down_choice[:, 2] >= LEAST_TRIED)
    clear = scorer.open & clear_of_the_kick(scorer, request.venue.rules)
    count = 0
    far_yd = max(walking.change_limit_yd, walking.drive_limit_yd)
    for rows, table, limit in (
        (np.arange(len(GRID)), answers["choice"], walking.drive_limit_yd),
        (GRID.first_downs, answers["far"], far_yd),
    ):
        for may_stand, some in (
            (scorer.open, np.flatnonzero(~tried[rows])),
            (clear, np.flatnonzero(tried[rows])),
        ):
            chosen = table[some].astype(np.int64)
            count += chosen.size
            # Whoever has nowhere open to go may stay where they are.
            stays = chosen == np.arange(chosen.shape[1])
            assert (may_stand[chosen] | stays).all(), "a card's choice is closed"
            stuck = stays & ~may_stand[chosen]
            for standing in np.flatnonzero(stuck.any(axis=0)):
                near = scorer.walk_yd[standing] <= limit + 1e-6
                assert not (near & may_stand).any(), "a card lets one stay on closed ground"
            far = scorer.walk_yd[np.arange(chosen.shape[1]), chosen] > limit + 1e-6
            for standing in np.flatnonzero(far.any(axis=0)):
                for target in np.unique(chosen[far[:, standing], standing]):
                    assert on_the_way(scorer.walk_yd, may_stand, standing, target, limit)
    best = answers["best"][:, 0].astype(np.int64)
    best = np.where(best == NO_SPOT, int(clear.argmax()), best)
    assert np.where(tried, clear[best], scorer.open[best]).all(), "a card's best spot is closed"
    return answers, count


def check_drill(request: NextRequest, seed: int) -> int:
    """Starts and the places of plan and rule card are open, and within the walk or across."""
    context = evaluated()
    drill = DrillRequest(
        request.kit, request.venue, request.assignment, request.walk_time, length=30, seed=seed
    )
    series = drill_series(context, drill)
    for question in series.questions:
        scorer = series.scorer(question)
        assert scorer.open[question.start], "a drill starts on closed ground"
        for name, station in compared_stations(series, question).items():
            assert scorer.open[station], f"{name} of the drill is closed"
            walk = scorer.walk_yd[question.start, station]
            assert walk <= question.limit_yd + 1e-6 or on_the_way(
                scorer.walk_yd, scorer.open, question.start, station, question.limit_yd
            ), f"{name} of the drill is out of reach"
    return len(series.questions)


def check_page(found: Any) -> bool:
    """The page as it runs has the headline of the report; False where it has no such controls."""
    from html import unescape

    from streamlit.testing.v1 import AppTest

    request = found.request
    named = {VENUES.load(key).name: key for key in VENUES.names()}
    if request.venue.name not in named or request.walk_time != WalkTime.of(Tempo.USUAL):
        return False
    situation = request.situation
    app = AppTest.from_file(str(APP), default_timeout=120)
    query = {
        "venue": named[request.venue.name],
        "down": str(situation.down),
        "distance": str(situation.distance_yd),
        "ball": ball_text(situation.yardline_100),
        "lens": [mounted.lens.text for mounted in request.kit.mounted],
        "faces": request.assignment.faces.value,
        "attacking": "B" if request.direction == 1 else "A",
        "standing": request.standing or "",
        "hash": "" if situation.hash_mark is None else situation.hash_mark.value,
        "ball_changed_hands": "true" if request.ball_changed_hands else "",
    }
    for name, value in query.items():
        if value:
            app.query_params[name] = value
    shown = app.run()
    said = " ".join(unescape(part.body) for part in (*shown.get("html"), *shown.markdown))
    theirs = load_context(RULE_MODELS[request.venue.rules.name])  # what the page answers with
    headline = next_report(next_play(theirs, request, keep=True)).headline.rstrip(".")
    assert headline in " ".join(said.split()), f"the page says otherwise than: {headline}"
    return True


def law_of(error: AssertionError) -> str:
    """The law that broke: the assertion's own words, else its line."""
    frames = traceback.extract_tb(error.__traceback__)
    said = str(error).splitlines()
    if said and not said[0].startswith("NextRequest"):
        return said[0]
    return f"{frames[-1].name}: {frames[-1].line}"


class Run:
    """Counts of one run."""

    def __init__(self, context: Context, pages: int) -> None:
        self.context, self.pages = context, pages
        self.actions: Counter[str] = Counter()
        self.broken: Counter[str] = Counter()
        self.faces: Counter[str] = Counter()
        self.first: dict[str, str] = {}
        self.far = 0

    def note(self, error: AssertionError, request: NextRequest) -> None:
        """Count what broke, with the first example of each kind."""
        law = law_of(error)
        self.broken[law] += 1
        place = f"{request.venue.name} {[c.name for c in request.venue.closed]}"
        example = (
            f"{request.situation.text()}, {request.kit.text}, {place}, standing "
            f"{request.standing}, {request.direction.name}, {request.assignment.faces.value}, "
            f"limit {request.limit_yd:.0f}, changed {request.ball_changed_hands}"
        )
        self.first.setdefault(law, example)

    def setup(self, questions: list[Asked], seed: int) -> None:
        """Ask the questions of one kit, venue and team."""
        request, table = questions[0].request, None
        direction = request.direction
        try:
            table, count = check_card_table(self.context, request)
            self.faces["card table"] += count
        except AssertionError as error:
            self.note(error, request)
        except InvalidInputError:
            self.faces["refused card"] += 1
        try:
            if seed % 3 == 0:
                self.faces["drill"] += check_drill(request, seed)
        except AssertionError as error:
            self.note(error, request)
        except InvalidInputError:
            self.faces["refused drill"] += 1
        for question in questions:
            self.question(question, table if question.request.direction is direction else None)

    def question(self, question: Asked, table: dict[str, np.ndarray] | None) -> None:
        """Ask one question of every face."""
        request = question.request
        try:
            by_value = sum(self.actions.values()) % 4 == 0
            self.faces["plan's values"] += by_value
            action, found = check(self.context, question, by_value=by_value)
            self.actions[action] += 1
            if found is None:
                return
            check_field(found)
            self.faces["field"] += 1
            plain = request.situation.hash_mark is None
            if table is not None and plain:
                check_card(table, found)
                self.faces["card beside command"] += 1
            if self.pages > self.faces["page"] and sum(self.actions.values()) % 7 == 0:
                self.faces["page"] += check_page(found)
        except AssertionError as error:
            self.note(error, request)
            return
        if found.standing_index is not None and sum(self.actions.values()) % 20 == 0:
            free = next_play(self.context, replace(request, standing=None), keep=True).spot
            walk = found.scorer.walk_yd[found.standing_index, free.station_index]
            self.faces["free spots"] += 1
            self.far += bool(walk > request.limit_yd)


def setups(questions: Iterator[Asked]) -> Iterator[list[Asked]]:
    """Questions of one kit, venue and team together, in the order they come."""
    for _, group in groupby(questions, key=lambda q: (id(q.request.venue), id(q.request.kit))):
        yield list(group)


def main() -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("count", type=int, nargs="?", default=20_000)
    parser.add_argument("--setups", type=int, default=25)
    parser.add_argument("--pages", type=int, default=20)
    parser.add_argument("--seed", type=int, default=20_000)
    given = parser.parse_args()
    run, rng = Run(load_context(), given.pages), np.random.default_rng(given.seed)
    for seed, questions in enumerate(setups(asked(rng, given.count, setups=given.setups))):
        run.setup(questions, seed)
        asked_so_far = sum(run.actions.values()) + sum(run.broken.values())
        print(f"{seed + 1}: {asked_so_far}, {sum(run.broken.values())} broken", file=sys.stderr)
    print(f"{sum(run.actions.values()) + sum(run.broken.values())} questions")
    print("  decided:", ", ".join(f"{name} {n}" for name, n in sorted(run.actions.items())))
    print("  checked:", ", ".join(f"{name} {n:,}" for name, n in sorted(run.faces.items())))
    print(f"  the best free spot is out of reach in {run.far} of {run.faces['free spots']}")
    print(f"  broken: {sum(run.broken.values())}")
    for law, count in run.broken.most_common():
        print(f"    {count} x {law}\n        first: {run.first[law]}")


if __name__ == "__main__":
    main()
