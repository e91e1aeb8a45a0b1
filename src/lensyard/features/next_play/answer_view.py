"""The answer to "where next" in words: a view model of plain strings.

`answer_view` turns figures into strings once; the terminal
(`lensyard.features.next_play.answer_parts`) and the
dashboard (`lensyard.features.next_play.answer_parts`) only lay them out, so both say the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lensyard.domain.situation import Situation
from lensyard.errors import require_range
from lensyard.render.field.picture import SpotRole
from lensyard.render.words import at_place, percent, percent_range, sentence, walk_words

USUAL_CAUTION = (
    "Legal is not the same as clear: players leave the field at speed. Watch the play, be ready "
    "to move, and follow the venue, the officials and your credential first."
)


@dataclass(frozen=True, slots=True)
class SpotFigures:
    """What is known of one spot; the names are those of the JSON contract.

    Attributes
    ----------
    label
        The place as photographers say it.
    p_in_reach, p_facing, p_clear
        The three parts of usable.
    p_usable, p_usable_low, p_usable_high
        Probability that all three hold, and its range within the error.
    walk_yd, walk_s
        From where one stands; None when that is not known. [yd, s]
    run_out_exposure
        Probability that a play goes out of bounds within 5 yd of the spot.
    lens
        The lens that does most of the work.
    reason
        Why, as one clause or sentence.
    rank
        Its number among the spots; None takes the order in which they are given.
    light
        The light from there in a word or two; empty where nothing is asked about it.
    """

    label: str
    p_in_reach: float
    p_facing: float
    p_clear: float
    p_usable: float
    p_usable_low: float
    p_usable_high: float
    walk_yd: float | None = None
    walk_s: float | None = None
    run_out_exposure: float = 0.0
    lens: str = ""
    reason: str = ""
    rank: int | None = None
    light: str = ""

    def __post_init__(self) -> None:
        """Refuse what is no probability."""
        require_range(
            low=0,
            high=1,
            p_in_reach=self.p_in_reach,
            p_facing=self.p_facing,
            p_clear=self.p_clear,
            p_usable=self.p_usable,
            p_usable_low=self.p_usable_low,
            p_usable_high=self.p_usable_high,
            run_out_exposure=self.run_out_exposure,
        )


@dataclass(frozen=True, slots=True)
class OutcomeFigures:
    """What the play is likely to bring; the names are those of the JSON contract."""

    gain_p10_yd: float
    gain_p50_yd: float
    gain_p90_yd: float
    p_touchdown: float
    p_first_down: float
    p_turnover: float
    p_out_of_bounds: float
    p_pass: float
    p_drive_touchdown: float | None = None
    p_drive_field_goal: float | None = None


@dataclass(frozen=True, slots=True)
class SpotLine:
    """One spot in words.

    ``name`` is its number or a habit's letter, ``usable`` and ``usable_range`` are percentages,
    ``parts`` says what makes them up, ``run_out`` is the exposure, ``light`` the light from there;
    any may be empty but the first three.
    """

    name: str
    where: str
    usable: str
    usable_range: str
    walk: str
    parts: str
    run_out: str
    lens: str
    role: SpotRole
    light: str = ""


@dataclass(frozen=True, slots=True)
class AnswerView:
    """The answer in words, from the most needed to the least.

    Attributes
    ----------
    headline
        The sentence: where to stand, how likely, why.
    plan
        What the plan says to somebody who stands somewhere; may be empty.
    place, probability, reason
        The same in three pieces.
    parts
        What usable is made of, for the best spot.
    walk
        The walk to the best spot.
    equals
        Which spots are as good within the error; may be empty.
    gain_over_habit
        What the best spot is ahead of the best of the habits; may be empty.
    situation, kit
        What the answer holds for.
    outcome
        What the play is likely to bring, one line each.
    spots, habits
        The ranked spots and what usual habits would get.
    cautions
        At least one.
    attribution
        Where the numbers come from.
    notes
        What else to know about the order of the spots: light, the shot list.
    """

    headline: str
    plan: str
    place: str
    probability: str
    reason: str
    parts: str
    walk: str
    equals: str
    gain_over_habit: str
    situation: str
    kit: str
    outcome: tuple[str, ...]
    spots: tuple[SpotLine, ...]
    habits: tuple[SpotLine, ...]
    cautions: tuple[str, ...]
    attribution: str
    notes: tuple[str, ...] = ()


def answer_view(
    *,
    situation: Situation,
    kit: str,
    best: SpotFigures,
    equals: Sequence[SpotFigures] = (),
    others: Sequence[SpotFigures] = (),
    habits: Sequence[tuple[str, SpotFigures]] = (),
    outcome: OutcomeFigures,
    cautions: Sequence[str] = (),
    attribution: str = "",
    plan: str = "",
    notes: Sequence[str] = (),
) -> AnswerView:
    """Return the answer in words.

    Parameters
    ----------
    situation
        What it is asked for.
    kit
        The kit as people write it.
    best, equals, others
        The ranked spots: the best, those as good within the error, the next ones.
    habits
        What usual habits would get, each with its name ("20 yd ahead").
    outcome
        What the play is likely to bring.
    cautions
        Empty takes the usual one.
    attribution
        Where the numbers come from.
    plan
        What the plan says; empty when it is not known where one stands.
    notes
        Shown under the tables, a sentence each.
    """
    ranked = [(best, SpotRole.BEST)]
    ranked += [(spot, SpotRole.EQUAL) for spot in equals]
    ranked += [(spot, SpotRole.OTHER) for spot in others]
    if all(spot.rank is not None for spot, _ in ranked):
        # A spot that is as good can stand behind one that is not: errors differ pair by pair.
        ranked.sort(key=lambda pair: pair[0].rank or 0)
    lines = tuple(
        _line(spot, str(rank), spot.label, role) for rank, (spot, role) in enumerate(ranked, 1)
    )
    place = _place(best)
    why = best.reason.strip().rstrip(".")
    return AnswerView(
        headline=_headline(best, place, why),
        plan=sentence(plan),
        place=sentence(place),
        probability=_probability(best),
        reason=sentence(why),
        parts=f"Usable is all three: {lines[0].parts}.",
        walk=_walk(best),
        equals=_equals(lines),
        gain_over_habit=_gain_over_habit(best, habits),
        situation=situation.text(),
        kit=kit,
        outcome=_outcome(outcome, situation),
        spots=lines,
        habits=tuple(
            _line(spot, "ABCDEFGH"[i % 8], f"{name}: {spot.label}", SpotRole.HABIT)
            for i, (name, spot) in enumerate(habits)
        ),
        cautions=tuple(sentence(text) for text in cautions) or (USUAL_CAUTION,),
        attribution=sentence(attribution),
        notes=tuple(sentence(text) for text in notes),
    )


def _line(spot: SpotFigures, name: str, where: str, role: SpotRole) -> SpotLine:
    return SpotLine(
        name=name,
        where=where,
        usable=percent(spot.p_usable),
        usable_range=percent_range(p_low=spot.p_usable_low, p_high=spot.p_usable_high),
        walk=walk_words(walk_yd=spot.walk_yd, walk_s=spot.walk_s),
        parts=(
            f"in reach {percent(spot.p_in_reach)}, facing {percent(spot.p_facing)}, "
            f"clear {percent(spot.p_clear)}"
        ),
        run_out=percent(spot.run_out_exposure),
        lens=spot.lens,
        role=role,
        light=spot.light,
    )


def _place(best: SpotFigures) -> str:
    if best.p_usable <= 0.0:
        return "No open spot is usable with this kit"
    stays = best.walk_yd is not None and best.walk_yd < 1.0
    return f"{'Stay' if stays else 'Stand'} {at_place(best.label)}"


def _headline(best: SpotFigures, place: str, why: str) -> str:
    if best.p_usable <= 0.0:
        return (
            "No open spot has a usable frame for this play with this kit; "
            f"the least bad is {at_place(best.label)}."
        )
    because = f": {why}" if why else ""
    return f"{place} ({percent(best.p_usable)} usable){because}."


def _probability(best: SpotFigures) -> str:
    spread = percent_range(p_low=best.p_usable_low, p_high=best.p_usable_high)
    return f"{percent(best.p_usable)} of plays usable ({spread} within the error)"


def _walk(best: SpotFigures) -> str:
    words = walk_words(walk_yd=best.walk_yd, walk_s=best.walk_s)
    if not words:
        return ""
    if words == "no walk":
        return "You are there."
    return "There is no open way to it." if words == "no way there" else f"Walk: {words}."


def _equals(lines: Sequence[SpotLine]) -> str:
    same = [f"{line.name} ({line.usable})" for line in lines if line.role == SpotRole.EQUAL]
    if not same:
        return ""
    joined = same[0] if len(same) == 1 else f"{', '.join(same[:-1])} and {same[-1]}"
    return f"As good within the error: {joined}."


def _gain_over_habit(best: SpotFigures, habits: Sequence[tuple[str, SpotFigures]]) -> str:
    if not habits:
        return ""
    name, habit = max(habits, key=lambda pair: pair[1].p_usable)
    points = round(100 * best.p_usable) - round(100 * habit.p_usable)
    theirs = f'the habit "{name}" ({percent(habit.p_usable)})'
    if points > 0:
        return f"{points} {'point' if points == 1 else 'points'} more than {theirs}."
    return f"No more than {theirs}." if points == 0 else f"{-points} points less than {theirs}."


def _outcome(outcome: OutcomeFigures, situation: Situation) -> tuple[str, ...]:
    lines = [
        f"Gain: {outcome.gain_p50_yd:.0f} yd in the middle, 8 in 10 plays from "
        f"{outcome.gain_p10_yd:.0f} to {outcome.gain_p90_yd:.0f} yd; "
        f"a pass {percent(outcome.p_pass)}",
    ]
    chances = [f"Touchdown {percent(outcome.p_touchdown)}"]
    if not situation.goal_to_go:
        chances.append(f"first down {percent(outcome.p_first_down)}")
    chances.append(f"turnover {percent(outcome.p_turnover)}")
    chances.append(f"out of bounds {percent(outcome.p_out_of_bounds)}")
    lines.append(", ".join(chances))
    drive = []
    if outcome.p_drive_touchdown is not None:
        drive.append(f"touchdown {percent(outcome.p_drive_touchdown)}")
    if outcome.p_drive_field_goal is not None:
        drive.append(f"field goal {percent(outcome.p_drive_field_goal)}")
    if drive:
        lines.append(f"This drive ends in: {', '.join(drive)}")
    return tuple(lines)
