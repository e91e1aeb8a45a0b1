"""The functions that `import lensyard` offers: questions with plain arguments, typed answers.

Kits, spots of the ball, stations and names are written as on the command line: ``"70-200 + 400"``,
``"own20"``, ``"left:opp40"``, ``"brindle-prairie"``. What a user can do something about is raised
as `lensyard.errors.LensyardError`.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from lensyard.options.groups import AssignmentOptions, KitOptions, VenueOptions
from lensyard.options.situation import DirectionOptions, SituationOptions

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.domain.assignment import Faces
    from lensyard.domain.field import HashMark
    from lensyard.features.game_plan.result import GamePlan
    from lensyard.features.next_play.compute import NextAnswer
    from lensyard.planner.plans import PlanRequest
    from lensyard.planner.season import Backtest

DEMO_KIT_TEXT = "70-200 + 400"


def next_play(
    *,
    down: int,
    ball: str,
    distance_yd: int | None = None,
    hash_mark: HashMark | None = None,
    score_diff: int = 0,
    quarter: int = 2,
    clock: str = "15:00",
    kit: str = DEMO_KIT_TEXT,
    venue: str = "",
    rules: str = "pro",
    model: str = "",
    attacking: str = "B",
    assignment: str = "",
    faces: Faces | None = None,
    standing: str | None = None,
    top: int = 5,
) -> NextAnswer:
    """Return where to stand for the next play.

    - ``down``: 1 to 4.
    - ``ball``: where it is snapped: ``own20``, ``50``, ``opp35``.
    - ``distance_yd``: to the line to gain; ten yards, or the goal, where it is left out. [yd]
    - ``hash_mark``: as the offense sees it; None where it is not known.
    - ``score_diff``: offense's points less defense's.
    - ``quarter``, ``clock``: 1 to 4, 5 is overtime; left in the quarter, minutes and seconds.
    - ``kit``: lenses joined by ``+``; see `lensyard.domain.kit.parse_kit`.
    - ``venue``, ``rules``: a venue's name or the path of its file; else any field of a rule set.
    - ``model``: a model's id or the path of its file; else the chosen one, or the rule set's.
    - ``attacking``: the end of the venue that the offense plays toward.
    - ``assignment``, ``faces``: an assignment's name or the path of its file, and whose faces count
      in place of its own.
    - ``standing``: where one stands: ``left:opp40``, ``end:left12``. Then the plan says what to do
      from there.
    - ``top``: how many spots to name.

    Raises `InvalidInputError` if something cannot be read, or there is no such situation.

    >>> answer = next_play(down=3, distance_yd=7, ball="opp35")
    >>> best = answer.ranking.spots[0]
    >>> 0.7 < best.p_usable < 0.8, best.label.startswith("behind the end line")
    (True, True)
    """
    from lensyard.domain.situation import parse_ball
    from lensyard.features.next_play import compute
    from lensyard.model.context import load_context

    place = VenueOptions(venue, rules).venue()
    situation = SituationOptions(
        down, distance_yd or 0, parse_ball(ball), hash_mark, score_diff, quarter, clock
    )
    request = compute.NextRequest(
        situation=situation.situation(),
        kit=KitOptions(kit_text=kit).kit(),
        venue=place,
        assignment=AssignmentOptions(assignment, faces).assignment(),
        direction=DirectionOptions(attacking).direction(place),
        standing=standing,
        top=top,
    )
    return compute.next_play(load_context(model, rules=place.rules.name), request)


def plan(
    *,
    kit: str = DEMO_KIT_TEXT,
    venue: str = "",
    rules: str = "pro",
    model: str = "",
    assignment: str = "",
    have: Sequence[str] = (),
) -> GamePlan:
    """Return the plan for a game; the first one for a kit and a venue takes some seconds.

    - ``kit``, ``venue``, ``rules``, ``model``, ``assignment``: as for `next_play`.
    - ``have``: keys of frames of the shot list that are at hand already.
    """
    from lensyard.features.game_plan.compute import game_plan
    from lensyard.model.context import load_context
    from lensyard.planner.season_data import stored_season

    request = _request(kit, venue, rules, assignment)
    context = load_context(model, rules=request.venue.rules.name)
    return game_plan(context, request, stored_season(context), have=have)


def backtest(
    season: int,
    *,
    kit: str = DEMO_KIT_TEXT,
    venue: str = "",
    rules: str = "pro",
    model: str = "",
    assignment: str = "",
) -> Backtest:
    """Return what plan, habit and rules would have brought home in a season nobody fitted.

    - ``season``: a stored regular season that the model was not fitted on.
    - ``kit``, ``venue``, ``rules``, ``assignment``: as for `next_play`.
    - ``model``: the evidence's own model by default.
    """
    from lensyard.model.context import BASE_MODEL, load_context
    from lensyard.planner.season import backtest_season

    return backtest_season(
        load_context(model or BASE_MODEL), _request(kit, venue, rules, assignment), season=season
    )


def _request(kit: str, venue: str, rules: str, assignment: str) -> PlanRequest:
    from lensyard.planner.plans import PlanRequest

    return PlanRequest(
        kit=KitOptions(kit_text=kit).kit(),
        venue=VenueOptions(venue, rules).venue(),
        assignment=AssignmentOptions(assignment).assignment(),
    )


def load_plays(
    seasons: Sequence[int], *, columns: Sequence[str] | None = None, source: str | None = None
) -> pd.DataFrame:
    """Return the plays of regular seasons, one row a play; `lensyard.plays.schema` names columns.

    - ``seasons``: years.
    - ``columns``: which columns; all by default.
    - ``source``: an imported source; by default what a season is stored under.

    >>> plays = load_plays([2019], columns=["down", "yardline_100"])
    >>> bool(plays["yardline_100"].between(1, 99).all())
    True
    """
    from lensyard.plays.store import load_plays as load

    return load(columns, seasons=seasons, season_type="REG", source=source)


def fit_model(
    seasons: Sequence[int], *, model_id: str, folder: Path, source: str | None = None
) -> Path:
    """Fit an outcome model on stored regular seasons, save it, and return its file.

    - ``seasons``: years; a minute for ten of them.
    - ``model_id``: its name; the files are ``<id>.npz`` and ``<id>.json``.
    - ``folder``: where to.
    - ``source``: one source; by default each season's own.
    """
    from lensyard.features.models import compute

    sources = () if source is None else (source,)
    return compute.fit_model(seasons, model_id=model_id, folder=folder, sources=sources)
