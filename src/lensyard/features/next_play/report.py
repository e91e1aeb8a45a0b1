"""The usable shares of an answer's spots and habits, for bars beside the words.

The answer "where next" as words and as a picture.
"""

from __future__ import annotations

import numpy as np

from lensyard.domain.field import PlayPoint
from lensyard.domain.shots import missing
from lensyard.features.next_play.answer import Advice, NextAnswer
from lensyard.features.next_play.answer_parts import Share
from lensyard.features.next_play.answer_view import (
    AnswerView,
    OutcomeFigures,
    SpotFigures,
    answer_view,
)
from lensyard.render.field.picture import (
    FieldPicture,
    SpotMark,
    SpotRole,
    closed_marks,
    reach_rings,
    station_marks,
    walk_path,
)
from lensyard.render.words import attribution_of
from lensyard.spots.ranking import SpotScore


def shares_of(answer: NextAnswer) -> tuple[Share, ...]:
    """Return the usable share of every spot by its number, then of every habit."""
    spots = [*answer.ranking.spots, *(habit.spot for habit in answer.ranking.habits)]
    return tuple(Share(spot.p_usable, spot.p_usable_low, spot.p_usable_high) for spot in spots)


def spot_figures(spot: SpotScore, rank: int | None = None, *, light: str = "") -> SpotFigures:
    """Return the figures of one spot for the words, with its number and light if it has them."""
    finite = spot.walk_yd is not None and np.isfinite(spot.walk_yd)
    return SpotFigures(
        label=spot.label,
        p_in_reach=spot.p_in_reach,
        p_facing=spot.p_facing,
        p_clear=spot.p_clear,
        p_usable=spot.p_usable,
        p_usable_low=spot.p_usable_low,
        p_usable_high=spot.p_usable_high,
        walk_yd=spot.walk_yd if finite else None,
        walk_s=spot.walk_s if finite else None,
        run_out_exposure=min(spot.run_out_exposure, 1.0),
        lens=spot.lens,
        reason=spot.reason,
        rank=rank,
        light=light,
    )


def light_words(answer: NextAnswer, spot: SpotScore) -> str:
    """Return the light from a spot with its factor; nothing where no time was given."""
    light = answer.light_at(spot)
    return "" if light is None else light.text


# Below this, in usable plays, a gain has no number: it would round to nothing.
LEAST_SAID = 0.05


def advice_text(advice: Advice) -> str:
    """Return the plan's word as one sentence."""
    if advice.action == "stay":
        return (
            f"stay where you are ({advice.label}); no walk of {advice.limit_yd:.0f} yd earns more."
        )
    gain = f"{advice.value_over_staying:.1f} usable plays"
    if advice.value_over_staying < LEAST_SAID:
        gain = "a little"
    return (
        f"walk {advice.walk_yd:.0f} yd ({advice.walk_s:.0f} s) to {advice.label}; that is worth "
        f"{gain} more than staying, mostly for {advice.serves}."
    )


def words_of(answer: NextAnswer) -> AnswerView:
    """Return the answer in words."""
    outcome = answer.outcome
    ranked = [
        (spot_figures(s, i, light=light_words(answer, s)), s.as_good)
        for i, s in enumerate(answer.ranking.spots, 1)
    ]
    (best, _), *rest = ranked
    return answer_view(
        situation=answer.request.situation,
        kit=answer.request.kit.text,
        best=best,
        equals=tuple(figures for figures, as_good in rest if as_good),
        others=tuple(figures for figures, as_good in rest if not as_good),
        habits=tuple(
            (h.title, spot_figures(h.spot, light=light_words(answer, h.spot)))
            for h in answer.ranking.habits
        ),
        outcome=OutcomeFigures(
            gain_p10_yd=outcome.gain_p10_yd,
            gain_p50_yd=outcome.gain_p50_yd,
            gain_p90_yd=outcome.gain_p90_yd,
            p_touchdown=outcome.p_touchdown,
            p_first_down=outcome.p_first_down,
            p_turnover=outcome.p_turnover,
            p_out_of_bounds=outcome.p_out_of_bounds,
            p_pass=outcome.p_pass,
            p_drive_touchdown=outcome.drive_p_touchdown,
            p_drive_field_goal=outcome.drive_p_field_goal,
        ),
        cautions=answer.cautions,
        attribution=attribution_of(answer.model),
        plan="" if answer.advice is None else advice_text(answer.advice),
        notes=notes_of(answer),
    )


def notes_of(answer: NextAnswer) -> tuple[str, ...]:
    """Return what else to know about the order: the light, and the shot list."""
    found = [] if answer.light is None else [answer.light.text]
    assignment, have = answer.request.chosen_assignment, answer.request.have
    if assignment.must_have:
        left = ", ".join(frame.title for frame in missing(assignment.action, have))
        what = f"still to get: {left}" if left else "every action frame is had"
        found.append(f"For {assignment.name}: {what}")
    return tuple(found)


def picture_of(answer: NextAnswer, *, tappable: bool = False) -> FieldPicture:
    """Return the answer as a picture of the field."""
    request = answer.request
    perimeter, scorer = answer.scorer.perimeter, answer.scorer
    situation, venue, direction = request.situation, request.chosen_venue, request.direction
    marks = []
    for number, spot in enumerate(answer.ranking.spots):
        role = SpotRole.BEST if number == 0 else SpotRole.EQUAL if spot.as_good else SpotRole.OTHER
        station = int(scorer.stations[spot.station_index])
        marks.append(
            SpotMark(spot.x_yd, spot.y_yd, number + 1, spot.label, spot.p_usable, role, station)
        )
    for habit in answer.ranking.habits:
        spot = habit.spot
        station = int(scorer.stations[spot.station_index])
        marks.append(
            SpotMark(
                spot.x_yd, spot.y_yd, None, habit.title, spot.p_usable, SpotRole.HABIT, station
            )
        )
    standing: PlayPoint | None = None
    path: tuple[PlayPoint, ...] = ()
    walk_text = ""
    if answer.standing_index is not None:
        x, y = scorer.xy_yd
        here = answer.standing_index
        standing = PlayPoint(float(x[here]), float(y[here]))
        best = answer.ranking.spots[0]
        if best.walk_yd is not None and np.isfinite(best.walk_yd) and best.walk_yd > 0:
            path = walk_path(
                perimeter,
                start=int(scorer.stations[here]),
                stop=int(scorer.stations[best.station_index]),
                direction=direction,
            )
            walk_text = f"{best.walk_yd:.0f} yd"
    return FieldPicture(
        rules=venue.rules,
        ball=PlayPoint(
            situation.line_of_scrimmage_x_yd, venue.rules.ball_y_yd(situation.hash_mark)
        ),
        line_to_gain_x_yd=situation.line_to_gain_x_yd,
        mass=answer.masses.plain.astype(np.float64),
        spots=tuple(marks),
        rings=reach_rings(request.kit),
        closed=closed_marks(venue, direction),
        standing=standing,
        path=path,
        walk_text=walk_text,
        stations=station_marks(perimeter, direction) if tappable else (),
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        direction=direction,
        end_names=venue.end_names,
        sideline_names=venue.sideline_names,
        title=f"Where to stand: {situation.text()}",
        tappable=tappable,
    )
