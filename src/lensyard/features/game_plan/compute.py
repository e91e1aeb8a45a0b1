"""The plan for a game: where to stand by phase and zone, the rule card, the shot list, the breaks.

Everything is measured on a season played again with the plan (`lensyard.planner.season`). What
takes more than a moment is stored in the user's cache.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, replace
from datetime import datetime
from typing import Any

import numpy as np

from lensyard.domain.assignment import (
    DEFENSE_WEIGHTS,
    OFFENSE_WEIGHTS,
    Assignment,
    Coverage,
    Faces,
    known_keys,
)
from lensyard.domain.field import Direction
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import walk_s
from lensyard.domain.shot_list import weights_after
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.domain.venue import Edge, Venue
from lensyard.features.game_plan.filing import filing_of
from lensyard.features.game_plan.phases import PHASES, ZONES, Phase, kick_rows
from lensyard.features.game_plan.result import (
    EndRule,
    GamePlan,
    KickRow,
    MustHaveRow,
    PlanRow,
    RuleCardFigures,
    WalkingFigures,
)
from lensyard.features.game_plan.rows import as_placed, plan_rows
from lensyard.features.game_plan.shot_list import break_rows, must_have_rows, with_ticks
from lensyard.files import cached, hash_of
from lensyard.model.context import Context
from lensyard.planner.decision import play_worth
from lensyard.planner.plans import PlanRequest, plan_for
from lensyard.planner.season import (
    EvaluationSample,
    PlayedSeason,
    Progress,
    RuleCard,
    fit_rule_card,
    fit_rule_cards,
    play_season,
    silent,
    training_data,
)
from lensyard.planner.season_data import SeasonPlays
from lensyard.planner.sides import side_index
from lensyard.planner.simulate import (
    PolicyFigures,
    PolicyTrace,
    figures_of,
    simulate_rules,
)
from lensyard.planner.usual_walks import usual_walking
from lensyard.render.light import assumed_text, floodlight_text
from lensyard.running import beside, in_shares
from lensyard.spots.position_rule import PositionRule
from lensyard.spots.ranking import among_the_best
from lensyard.spots.scorer import Scorer
from lensyard.sun.cautions import cautions_for
from lensyard.sun.exposure import (
    ACTION_SHUTTER_S,
    USUAL_MAX_ISO,
    KitFinding,
    ev100_from_lux,
    kit_exposure,
)

# Raised whenever the same inputs would give other figures.
REPORT_VERSION = 7
# Nearer than this nobody stands to a play in any case. [yd]
NOTABLE_GAP_YD = 5.0


def game_plan(
    context: Context,
    request: PlanRequest,
    plays: SeasonPlays,
    *,
    have: Iterable[str] = (),
    max_iso: float = USUAL_MAX_ISO,
    kickoff: datetime | None = None,
    progress: Progress = silent,
    meanwhile: Callable[[], object] = bool,
) -> GamePlan:
    """Return the plan for a game; ``progress`` is told what takes a while.

    ``meanwhile`` is done where a second process would be waited for.

    - ``plays``: the season that is played again with the plan, see `lensyard.planner.season_data`.
    - ``have``: keys of frames that are ticked: the weights change, and the plan with them.
    - ``max_iso``: the highest ISO that the photographer accepts, for what the lamps allow.
    - ``kickoff``: when the game begins, on the venue's clock, for deadlines at a time of day.

    Raises `InvalidInputError` if a ticked key is on no list, or no plan can answer a deadline; see
    `filing_of`.
    """
    venue, ticked = request.venue, ticked_keys(request, have)
    assignment, request = request.assignment, after_ticks(request, ticked)
    filing = filing_of(context, request, plays, kickoff=kickoff)
    found = cached(
        _cache_key(context, request, plays),
        lambda: _figures(context, request, plays, progress, meanwhile),
    )
    must_have = tuple(MustHaveRow(**row) for row in found["must_have"])
    return GamePlan(
        request=request,
        setup=request.names,
        weights=request.assignment.weights,
        have=ticked,
        phases=tuple(PlanRow(**row) for row in found["phases"]),
        zones=tuple(PlanRow(**row) for row in found["zones"]),
        kicks=tuple(KickRow(**row) for row in found["kicks"]),
        must_have=with_ticks(must_have, assignment.must_have, ticked, rules_name=venue.rules.name),
        breaks=break_rows(assignment.must_have, ticked, rules_name=venue.rules.name),
        rule_card=_rule_card_of(found["rule_card"]),
        walking=WalkingFigures(**found["walking"]),
        evaluation_sample=EvaluationSample(**found["evidence"]),
        light=light_sentences(request.kit, venue, max_iso=max_iso),
        gaps=gaps_of(
            request.kit,
            held_out=plays.held_out,
            rules_name=venue.rules.name,
            level=context.model.manifest.level,
        ),
        key=request.key(context.model.manifest.arrays_sha256),
        model=context.model_facts(),
        cautions=tuple(c.sentence for c in cautions_for(venue)),
        filing=filing,
    )


def ticked_keys(request: PlanRequest, have: Iterable[str]) -> tuple[str, ...]:
    """Return the keys of frames that are ticked, in order.

    Raises `InvalidInputError` if one is on no list.
    """
    return tuple(sorted(known_keys(request.assignment.must_have, have)))


def after_ticks(request: PlanRequest, ticked: tuple[str, ...]) -> PlanRequest:
    """Return a request with the weights that are left after ticked frames."""
    if not ticked:
        return request
    weights = weights_after(request.assignment, ticked)
    return replace(request, assignment=replace(request.assignment, weights=weights))


FIRST_LOOK = (75, 50, 8)
"""Where the ball lies, on first and ten or goal to go, in the first look at a plan. [yd line]"""


def first_look(context: Context, request: PlanRequest) -> tuple[tuple[int, str], ...]:
    """Return where the plan would have one for the balls of `FIRST_LOOK`: line and place.

    Before a season is played again: the open spot with the most value of the play and of what
    follows, toward end B.
    """
    solved = plan_for(context, request)
    scorer, grid = solved.scorer(Direction.TOWARD_B), context.transition().grid
    side = side_index(solved.sides, direction=Direction.TOWARD_B, ours=True)
    found = []
    for line in FIRST_LOOK:
        situation = Situation(1, min(10, line), line)
        worth = play_worth(context, solved, situation)
        state = grid.index_of(SituationBatch.of([situation]))
        total = worth.reward + solved.plan.continuation[side, state]
        best = int(among_the_best(np.where(worth.may_stand, total[0], -np.inf)).argmax())
        found.append((line, scorer.label(best)))
    return tuple(found)


def _cache_key(context: Context, request: PlanRequest, plays: SeasonPlays) -> str:
    """Hash of everything that the figures depend on; names of sidelines are in the words."""
    return hash_of(
        {
            "version": REPORT_VERSION,
            "plan": request.key(context.model.manifest.arrays_sha256),
            "data": context.model.manifest.data_sha256,
            "season": plays.key,
            "names": (request.venue.sideline_names, request.venue.end_names),
            "must_have": [asdict(frame) for frame in request.assignment.must_have],
        }
    )


# Of all work, when each step of `_figures` begins (as measured).
_SHARES_DONE = (0.0, 0.75, 0.9)


def _figures(
    context: Context,
    request: PlanRequest,
    plays: SeasonPlays,
    progress: Progress,
    meanwhile: Callable[[], object],
) -> dict[str, Any]:
    """Everything that has to be computed, as plain values."""
    step = in_shares(progress, *_SHARES_DONE)
    step("playing a season again with the plan")
    plan_for(context, request)  # by two threads, so a second process begins only now
    plays.replay()

    def of_others() -> tuple[Any, ...]:
        cards = _fitted_cards(request, plays)
        other = [asdict(row) for row in _other_side(context, request, plays)]
        return cards, other, open_end_line_value_share(context, request, plays)

    with beside(of_others) as second:
        played = play_season(context, request, plays)
        phases = [asdict(row) for row in plan_rows(played, PHASES)]
        zones, kicks = plan_rows(played, ZONES), kick_rows(context, played)
        step("how long each frame of the shot list takes")
        must_have = must_have_rows(context, played)
        step("the rule card, and the other side's faces")
        meanwhile()
        fitted, other, open_end_line = second()
    cards = tuple(RuleCard.of(card) for card in fitted)
    card = rule_card_figures(played, cards, fitted_on=plays.fitted_on())
    walking = replace(walking_figures(played), open_end_line_value_share=open_end_line)
    return {
        "phases": phases + other,
        "zones": [asdict(row) for row in zones],
        "kicks": [asdict(row) for row in kicks],
        "must_have": [asdict(row) for row in must_have],
        "rule_card": asdict(card),
        "walking": asdict(walking),
        "evidence": asdict(played.evaluation_sample),
    }


def _rule_card_of(found: dict[str, Any]) -> RuleCardFigures:
    policies = {name: PolicyFigures(**found[name]) for name in ("rule", "inside", "plan", "habit")}
    ends = tuple(EndRule(**end) for end in found["ends"])
    fitted_on = tuple(found["fitted_on"])
    return RuleCardFigures(**{**found, **policies, "ends": ends, "fitted_on": fitted_on})


def opposite(assignment: Assignment) -> Assignment:
    """Return the assignment for the same people's other unit: their defense, or their offense.

    With one team, its defense plays while the other team has the ball.
    """
    defense = assignment.faces is Faces.OFFENSE
    coverage = {
        Coverage.BOTH: Coverage.BOTH,
        Coverage.HOME: Coverage.AWAY,
        Coverage.AWAY: Coverage.HOME,
    }[assignment.coverage]
    return Assignment(
        name=f"{assignment.name}, {'defense' if defense else 'offense'}",
        faces=Faces.DEFENSE if defense else Faces.OFFENSE,
        weights=DEFENSE_WEIGHTS if defense else OFFENSE_WEIGHTS,
        coverage=coverage,
    )


def _other_side(context: Context, request: PlanRequest, plays: SeasonPlays) -> tuple[PlanRow, ...]:
    assignment = opposite(request.assignment)
    walks = replace(
        usual_walking(request.kit, assignment),
        drive_limit_yd=request.walking.drive_limit_yd,
        change_limit_yd=request.walking.change_limit_yd,
    )
    other = replace(request, assignment=assignment, walks=walks)
    played = play_season(context, other, plays)
    defense = other.assignment.faces is Faces.DEFENSE
    unit = "defense" if defense else "offense"
    phase = Phase(
        unit,
        unit,
        lambda replay: np.ones(len(replay), dtype=bool),
        f"for the {unit}'s faces, all plays; a plan of its own",
    )
    return plan_rows(played, (phase,))


def _fitted_cards(request: PlanRequest, plays: SeasonPlays) -> list[dict[str, Any]]:
    """Return the rule fitted on earlier seasons; one toward each end where the ends differ."""
    training = training_data(request, plays)
    cards = (fit_rule_card(training),) if request.venue.alike else fit_rule_cards(training)
    return [asdict(card) for card in cards]


def rule_card_figures(
    played: PlayedSeason, cards: tuple[RuleCard, ...], *, fitted_on: tuple[int, ...]
) -> RuleCardFigures:
    """Return the rule fitted on earlier seasons, and what it brought on the one played again."""
    season_data = played.season_data

    def figures(trace: PolicyTrace, name: str, title: str) -> PolicyFigures:
        return figures_of(season_data, trace, name=name, title=title)

    by_card, farther_in = simulate_rules(
        season_data,
        (cards[0].rule, cards[0].inside),
        toward_a=(cards[-1].rule, cards[-1].inside),
    )
    plan = figures(played.plan, "plan", "the plan")
    habit = figures(played.habit, played.habit_rule.name, played.habit_rule.title)
    rule = figures(by_card, "rule", "the rule card")
    inside = figures(farther_in, "inside", "the rule card, farther in")
    best = max(rule.value_share, inside.value_share, 1e-9)
    return RuleCardFigures(
        ends=_end_rules(cards, season_data.scorers),
        rule=rule,
        inside=inside,
        plan=plan,
        habit=habit,
        plan_over_rule=plan.value_share / best,
        plan_over_habit=plan.value_share / max(habit.value_share, 1e-9),
        fitted_on=fitted_on,
    )


def _end_rules(cards: Sequence[RuleCard], scorers: tuple[Scorer, Scorer]) -> tuple[EndRule, ...]:
    """The rule toward each end; one for both where it is the same."""
    found = [
        EndRule(
            toward=scorer.perimeter.venue.end_names[scorer.direction is Direction.TOWARD_B],
            text=card.rule.words,
            inside_text=_placed_words(card.inside, scorer),
            ahead_yd=card.rule.ahead_yd,
            end_line_from=card.rule.end_line_from,
            in_from_pylon_yd=card.inside.in_from_pylon_yd,
        )
        for card, scorer in zip(cards, scorers, strict=False)
    ]
    if len({replace(end, toward="") for end in found}) == 1:
        return (replace(found[0], toward=""),)
    return tuple(found)


def _placed_words(rule: PositionRule, scorer: Scorer) -> str:
    """A rule's words with the places behind the end line that it leads to on both halves."""
    if rule.end_line_from == 0:
        return rule.words
    at_a, at_b = (as_placed(rule, scorer, on_sideline_a=side) for side in (True, False))
    if at_a == at_b:
        return at_a.words
    name_a, name_b = scorer.perimeter.venue.sideline_names
    other, name = (at_a, name_a) if at_b == rule else (at_b, name_b)
    first = at_b if at_b == rule else at_a
    in_yd = other.in_from_pylon_yd
    place = "the corner" if in_yd is None else f"{in_yd:g} yd in"
    return f"{first.words} (half of the {name}: {place})"


def walking_figures(played: PlayedSeason) -> WalkingFigures:
    """Return how much the plan walks in a game."""
    walk, games = played.plan.walk_yd, played.replay.games
    walking = played.request.walking
    moved = walk[walk > 0]
    yd_per_game = float(walk.sum() / games)
    return WalkingFigures(
        drive_limit_yd=walking.drive_limit_yd,
        change_limit_yd=walking.change_limit_yd,
        price_per_yd=walking.price_per_yd,
        yd_per_game=yd_per_game,
        minutes_per_game=walk_s(yd_per_game) / 60.0,
        walks_per_game=float(moved.size / games),
        longest_usual_yd=float(np.quantile(moved, 0.9)) if moved.size else 0.0,
        habit_yd_per_game=float(played.habit.walk_yd.sum() / games),
    )


def open_end_line_value_share(
    context: Context, request: PlanRequest, plays: SeasonPlays
) -> float | None:
    """Return the plan's share of the value if nothing of the end lines were closed.

    None where nothing is.
    """
    venue = request.venue
    closed = tuple(one for one in venue.closed if one.edge not in (Edge.END_A, Edge.END_B))
    if closed == venue.closed:
        return None
    played = play_season(context, replace(request, venue=replace(venue, closed=closed)), plays)
    return played.season_data.value_share(played.plan.station_index)


def lamps_finding(kit: Kit, venue: Venue, *, max_iso: float) -> KitFinding | None:
    """Return what a kit can do under the venue's floodlights; None where none are said."""
    if venue.illuminance_lx <= 0:
        return None
    return kit_exposure(
        kit,
        ev100=ev100_from_lux(venue.illuminance_lx),
        max_iso=max_iso,
        shutter_s=ACTION_SHUTTER_S,
    )


def light_sentences(kit: Kit, venue: Venue, *, max_iso: float = USUAL_MAX_ISO) -> tuple[str, ...]:
    """Return what the venue's floodlights do not allow a kit, in sentences; empty when all is well.

    Only what the venue file says about its lamps is judged; the sun is `lensyard light`'s business.
    """
    finding = lamps_finding(kit, venue, max_iso=max_iso)
    if finding is None or finding.all_possible:
        return ()
    level = floodlight_text(venue.illuminance_lx)
    said = f"Under the floodlights alone, {level}: {finding.sentence} {assumed_text(kit)}"
    return (said.strip(),)


def gaps_of(kit: Kit, *, held_out: bool, rules_name: str, level: str) -> tuple[str, ...]:
    """Return what the kit leaves out, and what the plan does not know.

    The model has not seen the season behind the figures where it is held out; ``level`` is that of
    the plays that it was fitted on.
    """
    found = []
    for low, high in kit.coverage_gaps_yd():
        if high < NOTABLE_GAP_YD:
            continue
        if low == 0.0:
            found.append(
                f"Under {high:.0f} yd no lens of the kit works: half a player overfills it."
            )
        else:
            found.append(f"From {low:.0f} to {high:.0f} yd no lens of the kit works.")
    found.append(
        "Nobody can foresee whether a play goes left or right; where two sidelines are equal, take "
        "the one that you can reach."
    )
    if not level.startswith(rules_name):
        found.append(
            f"The field is a {rules_name} one, but the plays behind the figures are {level}: "
            "distances, hash marks and team areas follow the field, what teams do does not."
        )
    if not held_out:
        found.append(
            "The season behind the figures is one that the model was fitted on; expect a little "
            "less."
        )
    return tuple(found)
