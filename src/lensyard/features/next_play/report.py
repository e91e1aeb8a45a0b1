"""The answer "where next" as a report, in short, and as the document of ``lensyard next``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from lensyard.domain.assignment import pays
from lensyard.domain.field import CENTER_Y_YD
from lensyard.features.next_play.answer import Action, Answer
from lensyard.features.next_play.compute import NextAnswer, NextRequest
from lensyard.features.next_play.headline import (
    brief_caution,
    brief_frames,
    fourth_down_cautions,
    fourth_down_frames,
    headline,
    of_going,
)
from lensyard.model.context import RULE_MODELS
from lensyard.render.report import (
    Chart,
    ChartKind,
    Column,
    Fact,
    Format,
    Interval,
    Report,
    Section,
    Table,
    Value,
)
from lensyard.render.text import document, plain
from lensyard.render.words import (
    ANSWER_WORDS,
    LIKELY,
    attribution_of,
    joined,
    percent,
    sentence,
    walk_words,
)
from lensyard.spots.position_rule import closed_there, usual_habits
from lensyard.spots.ranking import Habit, SpotScore
from lensyard.sun.cautions import DEFERRAL, run_out_caution

if TYPE_CHECKING:
    from lensyard.features.next_play.light import NextLight

MOST_WORDS = 88
"""Of the short answer: ninety with the caution's own name."""
LEAST_SAID = 0.05
"""A gain below this has no number: it would round to nothing. [usable plays]"""

SHOWN_SHARE = 0.002
"""Yards where the play ends less often than this are left out at both ends of the chart."""

HABIT_MARKS = "ABCDEFGH"
"""Letters of the habits, in the tables and on the field."""


def next_report(answer: NextAnswer) -> Report:
    """Describe where to be: the decision, why, the other spots, habits and the play."""
    request, spot = answer.request, answer.spot
    gain, chart = _gain(answer)
    facts = [
        Fact("usable", "Usable", _usable(spot), Format.PERCENT),
        Fact("lens", "Lens", spot.lens),
        Fact("walk", "Walk", _walk_of(answer.answer)),
        Fact("run_out", "Run-out", _run_out(spot), Format.PERCENT),
        Fact("situation", "Situation", request.situation.text()),
        Fact("kit", "Kit", request.kit.text),
    ]
    texts = (
        fourth_down_frames(answer.choice),
        answer_reason(answer),
        _instead(answer.answer),
        _as_good(answer),
        _over_habit(answer),
    )
    return Report(
        headline=headline(answer.answer, answer.choice),
        sentences=tuple(sentence(text) for text in texts if text),
        facts=tuple(fact for fact in facts if fact.value is not None),
        tables=(_spots(answer), _habits(answer), gain),
        charts=(chart,),
        sections=(Section("What the play may bring", _outcome(answer)),),
        notes=_notes(answer),
        cautions=next_cautions(answer),
        sources=(attribution_of(answer.model),),
    )


def next_brief(answer: NextAnswer) -> Report:
    """Return the answer in at most 90 words: decision, reason, two next-best, one caution.

    A model that the rule set would not have chosen is named; one next-best makes room for it.
    """
    found, model = answer.answer, other_model(answer.model)
    least, here = answer.request.least_usable, answer.spot.station_index
    spots = (s for s in answer.ranking.spots if pays(s.p_usable, least))
    choice = answer.choice
    others = [s for s in spots if s.station_index != here]
    others = others[: 1 if model or choice is not None else 2]
    practice = choice is not None and choice.p_field_goal >= LIKELY
    named = [s.label if practice else f"{s.label} ({percent(s.p_usable)})" for s in others]
    # The plan may prefer a place that is not this play's best: then no other is "next".
    more_now = others and not practice and others[0].p_usable > answer.spot.p_usable
    then = f"{'for this play alone' if more_now else 'next best'}: {joined(named)}" if named else ""
    why = answer_reason(answer, brief=True)
    if choice is not None and not answer.standing_is_closed:
        why = brief_frames(choice, p_in_reach=answer.spot.p_in_reach)
    instead = _instead(found) if found.action is Action.NOTHING else ""
    lead, caution = headline(answer.answer, answer.choice), brief_caution(answer.choice)
    texts = [why, instead, then, model]
    # What matters least goes first where places have long names.
    for least_said in (2, 0):
        if len(" ".join((lead, *texts, caution)).split()) > MOST_WORDS:
            texts[least_said] = ""
    return Report(
        headline=lead,
        sentences=tuple(sentence(text) for text in texts if text),
        cautions=(caution,),
    )


def other_model(model: Mapping[str, Any]) -> str:
    """Return which model answers where it is not the rule set's own, from its facts; else nothing.

    >>> other_model({"id": "ours", "rules": "high-school", "plays": 150, "level": "high-school",
    ...              "prior": "college"})
    'model ours: 150 high-school plays, the rest as in college'
    """
    if model["id"] == RULE_MODELS[str(model["rules"])]:
        return ""
    rest = f", the rest as in {model['prior']}" if model["prior"] else ""
    return f"model {model['id']}: {model['plays']:,} {model['level']} plays{rest}"


def answer_reason(answer: NextAnswer, *, brief: bool = False) -> str:
    """Return why, in one sentence without its full stop."""
    found, spot = answer.answer, answer.spot
    if found.action is Action.BEST or (found.walk_yd is None):
        return of_going(spot.reason, answer.choice)
    if not found.moves:
        if found.action is Action.NOTHING:
            return f"no walk of {found.limit_yd:.0f} yd brings more than the error"
        why = f"no walk of {found.limit_yd:.0f} yd gains more than the error"
        return why if brief else f"{of_going(spot.reason, answer.choice)}; {why}"
    gain = max(found.value_over_staying or 0.0, 0.0)
    more = "a little" if gain < LEAST_SAID else f"{gain:.1f} usable plays"
    if answer.standing_is_closed:
        return "where you are is closed: nobody waits or shoots there"
    if found.for_this_play:
        points = f"{percent(found.p_usable)} of this play against {percent(found.p_staying or 0.0)}"
        return f"{points} from where you are"
    return f"for the plays after it is worth {more} more than staying"


def _instead(answer: Answer) -> str:
    """What else the snap is good for; nothing where there is nothing to say."""
    if answer.action is not Action.NOTHING:
        best = next(iter(answer.instead), None)
        if best is None:
            return ""
        walk = walk_words(walk_yd=best.walk_yd, walk_s=best.walk_s)
        return f"for this play alone: {best.label} ({percent(best.p or 0.0)}; {walk})"
    said = [
        f"the {one.label} ({percent(one.p or 0.0)})"
        if one.kind == "frame"
        else f"{one.label} ({one.minutes:.0f} min)"
        for one in answer.instead
        if one.kind in ("frame", "life")
    ]
    return f"{ANSWER_WORDS.snap_for} {' or '.join(said)}" if said else ""


def _walk_of(answer: Answer) -> str | None:
    """The walk in words; None where it is not known."""
    return walk_words(walk_yd=answer.walk_yd, walk_s=answer.walk_s) or None


def _as_good(answer: NextAnswer) -> str:
    same = [
        f"spot {rank} ({percent(spot.p_usable)})"
        for rank, spot in enumerate(answer.ranking.spots, 1)
        if spot.as_good and rank > 1
    ]
    return f"as good within the error: {joined(same)}" if same else ""


def _over_habit(answer: NextAnswer) -> str:
    habit = max(answer.ranking.habits, key=lambda habit: habit.spot.p_usable, default=None)
    if habit is None:
        return ""
    if answer.answer.snaps_missed:
        return ""
    points = round(100 * answer.spot.p_usable) - round(100 * habit.spot.p_usable)
    theirs = f'the habit "{habit.title}" ({percent(habit.spot.p_usable)})'
    if points > 0:
        return f"{points} {'point' if points == 1 else 'points'} more than {theirs}"
    return f"no more than {theirs}" if points == 0 else f"{-points} points less than {theirs}"


def _usable(spot: SpotScore) -> Interval:
    return Interval(spot.p_usable, spot.p_usable_low, spot.p_usable_high)


def _run_out(spot: SpotScore) -> float:
    return min(spot.run_out_exposure, 1.0)


def _walk(spot: SpotScore) -> str:
    """The walk in words; nothing where it is not known."""
    return walk_words(walk_yd=spot.walk_yd, walk_s=spot.walk_s)


def _spots(answer: NextAnswer) -> Table:
    spots = answer.ranking.spots
    within = "" if answer.standing_index is None else " within your walk"
    return Table(
        key="spots",
        title=f"Spots{within}, best first",
        columns=(Column("rank", "", Format.COUNT), *_spot_columns(answer)),
        rows=tuple((rank, *_spot_cells(answer, spot)) for rank, spot in enumerate(spots, 1)),
        note=(
            "A play counts by the best frame of its path. At the first spot: in reach "
            f"{percent(spots[0].p_in_reach)}, facing {percent(spots[0].p_facing)}, clear "
            f"{percent(spots[0].p_clear)}."
            if spots
            else ""
        ),
    )


def _habits(answer: NextAnswer) -> Table:
    return Table(
        key="habits",
        title="What usual habits would get",
        columns=(Column("mark", ""), Column("habit", "Habit"), *_spot_columns(answer)),
        rows=tuple(
            (
                HABIT_MARKS[i],
                habit.title + gives_way(answer, habit),
                *_spot_cells(answer, habit.spot),
            )
            for i, habit in enumerate(answer.ranking.habits)
        ),
    )


def gives_way(answer: NextAnswer, habit: Habit) -> str:
    """Why a habit does not stand where it says: what is closed there; nothing where it is open."""
    rules = {rule.name: rule for rule in usual_habits(answer.scorer.faces)}
    place, name = closed_there(
        rules[habit.name],
        answer.scorer,
        yardline_100=answer.request.situation.yardline_100,
        left_side=habit.spot.y_yd > CENTER_Y_YD,
    )
    return f"; {place} is closed there ({name})" if name else ""


def _spot_columns(answer: NextAnswer) -> tuple[Column, ...]:
    """The columns of spots and habits; walk and light only where they are known."""
    walk = (Column("walk", "Walk"),) if answer.standing_index is not None else ()
    light = (Column("light", "Light"), Column("factor", "Factor", Format.DECIMAL_2))
    return (
        Column("where", "Where"),
        Column("usable", "Usable", Format.PERCENT),
        *walk,
        *(light if answer.light is not None else ()),
        Column("run_out", "Run-out", Format.PERCENT),
    )


def _spot_cells(answer: NextAnswer, spot: SpotScore) -> tuple[Value, ...]:
    light = answer.light_at(spot)
    return (
        spot.label,
        _usable(spot),
        *((_walk(spot),) if answer.standing_index is not None else ()),
        *(() if light is None else (light.kind, light.factor)),
        _run_out(spot),
    )


def _gain(answer: NextAnswer) -> tuple[Table, Chart]:
    """Where the action ends along the field; a pass that falls counts where it came down."""
    situation, outcome = answer.request.situation, answer.outcome
    along = answer.masses.ends.sum(axis=1).astype(float)
    along = along / along.sum()
    start_yd = situation.line_of_scrimmage_x_yd
    to_gain_yd = situation.line_to_gain_x_yd - start_yd
    likely = np.flatnonzero(along >= SHOWN_SHARE)
    table = Table(
        key="gain",
        title="Where the action ends",
        columns=(
            Column("yards", "Yards from the ball", Format.COUNT),
            Column("p", "Ends there", Format.PERCENT_1),
        ),
        rows=tuple(
            (round(x - start_yd), round(float(along[x]), 6))
            for x in range(int(likely.min()), int(likely.max()) + 1)
        ),
        detail=True,
    )
    chart = Chart(
        key="gain",
        title=table.title,
        kind=ChartKind.LINE,
        table=table.key,
        x="yards",
        y="p",
        alt_text=(
            "Where the action ends, in yards from the ball, passes that fall where they come "
            f"down. Half of the plays gain {outcome.gain_p50_yd} yd or more; one in ten gains "
            f"{outcome.gain_p90_yd} or more, one in ten {outcome.gain_p10_yd} or less."
        ),
        rules=((0.0, "ball"), (to_gain_yd, "line to gain")),
    )
    return table, chart


def _outcome(answer: NextAnswer) -> tuple[str, ...]:
    outcome = answer.outcome
    chances = [f"Touchdown {percent(outcome.p_touchdown)}"]
    if not answer.request.situation.goal_to_go:
        chances.append(f"first down {percent(outcome.p_first_down)}")
    chances.append(f"turnover {percent(outcome.p_turnover)}")
    chances.append(f"out of bounds {percent(outcome.p_out_of_bounds)}")
    gain = ANSWER_WORDS.gain.format(
        low=outcome.gain_p10_yd, high=outcome.gain_p90_yd, middle=outcome.gain_p50_yd
    )
    return (
        f"{sentence(gain)[:-1]}; a pass {percent(outcome.p_pass)}",
        ", ".join(chances),
        f"This drive ends in: touchdown {percent(outcome.drive.p_touchdown)}, field goal "
        f"{percent(outcome.drive.p_field_goal)}, punt {percent(outcome.drive.p_punt)}, turnover "
        f"{percent(outcome.drive.p_turnover)}",
    )


def _notes(answer: NextAnswer) -> tuple[str, ...]:
    """What else to know about the order of the spots: the light, and the shot list."""
    notes = [] if answer.light is None else [sentence(light_text(answer.light))]
    assignment, have = answer.request.assignment, answer.request.have
    if assignment.must_have:
        from lensyard.domain.assignment import missing

        left = ", ".join(frame.title for frame in missing(assignment.action, have))
        what = f"still to get: {left}" if left else "every action frame is had"
        notes.append(sentence(f"For {assignment.name}: {what}"))
    return tuple(notes)


def light_text(light: NextLight) -> str:
    """Return where the sun is, and what that did to the order of the spots."""
    effect = {
        "ignore": "light does not change the order of the spots",
        "avoid-backlight": "backlit spots are moved down by their factor",
        "prefer-backlight": "front-lit spots are moved down by their factor",
    }[light.preference.value]
    sun = "the sun is down"
    if light.sun_elevation_deg > 0:
        sun = (
            f"the sun is {light.sun_elevation_deg:.0f} degrees up at "
            f"{light.sun_azimuth_deg:.0f} degrees"
        )
    note = f" ({light.note})" if light.note else ""
    return f"Light: at {light.at:%H:%M} {sun}{note}; {effect}, and no probability changes"


def next_cautions(answer: NextAnswer) -> tuple[str, ...]:
    """Return what hinders this answer, then the usual cautions; the last says who decides."""
    request, spot = answer.request, answer.spot
    found = []
    if answer.standing_is_closed and answer.standing_index is not None:
        here = answer.scorer.label(answer.standing_index)
        found.append(
            sentence(
                f"{here} lies behind a closed stretch: one may pass there, "
                "but not wait or shoot; the walk is counted from there"
            )
        )
    venue = request.venue
    behind_end = spot.x_yd < 0 or spot.x_yd > 120
    setback_yd = venue.end_setback_yd if behind_end else venue.side_setback_yd
    kicks = fourth_down_cautions(answer.choice)
    return (*found, *kicks, run_out_caution(setback_yd=setback_yd).sentence, DEFERRAL)


# --- JSON -------------------------------------------------------------------------------------


def next_document(answer: NextAnswer) -> dict[str, Any]:
    """Return the answer as one JSON document (the contract of ``lensyard next --json``)."""
    request = answer.request
    situation, light = request.situation, answer.light
    lit = {} if light is None else {"light": {**plain(light), "text": light_text(light)}}
    return document(
        {
            "situation": {**plain(situation), "text": situation.text()},
            "kit": request.kit.text,
            "venue": request.venue.name,
            "assignment": request.remaining_assignment.name,
            "answer": {**plain(answer.answer), "reason": sentence(answer_reason(answer))},
            "outcome": answer.outcome,
            "spots": [
                {"rank": rank, **_spot_document(answer, spot)}
                for rank, spot in enumerate(answer.ranking.spots, 1)
            ],
            "habits": [_habit_document(answer, habit) for habit in answer.ranking.habits],
            **lit,
            **_shot_list_document(request),
            "comparable_plays": round(answer.masses.comparable_plays),
        },
        model=answer.model,
        cautions=next_cautions(answer),
        schema_version=3,
    )


def _spot_document(answer: NextAnswer, spot: SpotScore) -> dict[str, Any]:
    found: dict[str, Any] = plain(spot)
    light = answer.light_at(spot)
    return found if light is None else {**found, "light": plain(light)}


def _habit_document(answer: NextAnswer, habit: Habit) -> dict[str, Any]:
    found = _spot_document(answer, habit.spot)
    del found["as_good"]
    return {"name": habit.name, "title": habit.title, **found}


def _shot_list_document(request: NextRequest) -> dict[str, Any]:
    """What is ticked and what is missing of a shot list; nothing where there is none."""
    assignment = request.assignment
    if not assignment.must_have and not request.have:
        return {}
    from lensyard.domain.assignment import missing

    return {
        "have": request.have,
        "missing": [frame.key for frame in missing(assignment.action, request.have)],
        "weights": plain(request.remaining_assignment.weights),
    }
