"""What leads an answer: the decision as one sentence, and what is likely on fourth down."""

from __future__ import annotations

from lensyard.features.next_play.answer import Action, Answer
from lensyard.features.next_play.compute import PlayChoice
from lensyard.render.words import (
    ANSWER_WORDS,
    LIKELY,
    NAMED,
    at_place,
    fourth_down_lead,
    percent,
    ranked_choices,
    sentence,
)

MEMORY = "common practice, from memory"
PRACTICE = f"{MEMORY}; no plays are counted for it"
KEEP_CLEAR = (
    "Keep clear of the posts and the net, and of whoever catches the ball behind the goal: no "
    "place within 3 yd of an upright or between them is named."
)
FAKES = "Not every kick is kicked: fakes and blocks come back at the sideline, fast."
_FRAMES = {
    "field_goal": f"the kicker's face and a block at the line ({PRACTICE})",
    "punt": "the return, coming back at the kicking team, else the punter",
}

_FIELD_GOAL = "field goal frames (the kicker, a block)"


def headline(answer: Answer, choice: PlayChoice | None = None, *, usable: str = "") -> str:
    """Return the decision as one sentence; on fourth down it begins with what is likely.

    ``usable`` says what one has there; by default how many plays give a usable frame.
    """
    if choice is not None and choice.p_field_goal >= LIKELY:
        usable = ANSWER_WORDS.kicker
    said = _decision(answer, usable or f"{percent(answer.p_usable)} of plays give a usable frame")
    return sentence(said if choice is None else f"{_lead(choice)}: {said}")


def _lead(choice: PlayChoice) -> str:
    return fourth_down_lead(
        go=choice.p_go, punt=choice.p_punt, field_goal=choice.p_field_goal, borrowed=choice.borrowed
    )


def _decision(answer: Answer, usable: str) -> str:
    place, words = at_place(answer.label), ANSWER_WORDS
    if answer.action is Action.BEST:
        return f"stand {place}: {usable}"
    if answer.action is Action.STAY:
        return f"{words.stay}: {usable}"
    moved = f"{_walk_words(answer)} to {_the(answer.label)}"
    if answer.action is Action.WALK:
        return f"{moved}: {usable}"
    if answer.action is Action.CROSS:
        return f"{moved}: {_missed(answer)}; {words.keep_moving}"
    nothing = words.nothing.format(most=percent(answer.p_at_most))
    if answer.snaps_missed:
        return f"{nothing}: {moved}, {_missed(answer)}; {words.keep_moving}"
    if answer.moves:
        return f"{nothing}: {moved}, {words.for_later}"
    return f"{nothing}: {words.stay}" if answer.walk_yd is not None else nothing


def _walk_words(answer: Answer) -> str:
    template = ANSWER_WORDS.cross if answer.snaps_missed else ANSWER_WORDS.walk
    return template.format(yards=f"{answer.walk_yd or 0:.0f}", seconds=f"{answer.walk_s or 0:.0f}")


def _missed(answer: Answer) -> str:
    one = answer.snaps_missed == 1
    template = ANSWER_WORDS.snap_missed if one else ANSWER_WORDS.snaps_missed
    return template.format(snaps=answer.snaps_missed)


def _the(label: str) -> str:
    return label if label.startswith("behind ") else f"the {label}"


def fourth_down_frames(kicks: PlayChoice | None) -> str:
    """Return what each likely choice gives a frame of, without a full stop; elsewhere nothing."""
    if kicks is None:
        return ""
    ranked = ranked_choices(go=kicks.p_go, punt=kicks.p_punt, field_goal=kicks.p_field_goal)
    return "; ".join(
        f"{getattr(ANSWER_WORDS, name)} ({percent(p)}): {_FRAMES[name]}"
        for name, p in ranked
        if p >= NAMED and name in _FRAMES
    )


def brief_frames(choice: PlayChoice, *, p_in_reach: float) -> str:
    """Return the same in few words, beside a headline that says of a likely field goal what it is.

    ``p_in_reach``: of plays, if they go for it.
    """
    said = []
    if choice.p_field_goal >= NAMED:
        likely = choice.p_field_goal >= LIKELY
        said.append(f"{'its frames' if likely else _FIELD_GOAL} are {MEMORY}")
    if choice.p_punt >= NAMED:
        said.append("of a punt the return comes back at you, else the punter")
    if choice.p_go >= NAMED:
        said.append(f"if they go for it, {percent(p_in_reach)} of plays are in reach")
    return "; ".join(said)


def of_going(reason: str, kicks: PlayChoice | None) -> str:
    """Return why a spot is good, said of going for it on fourth down."""
    return reason if kicks is None else f"if they go for it ({percent(kicks.p_go)}): {reason}"


def fourth_down_cautions(kicks: PlayChoice | None) -> tuple[str, ...]:
    """Return the cautions that the likely kicks bring."""
    if kicks is None:
        return ()
    cautions = (FAKES,) if max(kicks.p_punt, kicks.p_field_goal) >= NAMED else ()
    return (*cautions, KEEP_CLEAR) if kicks.p_field_goal >= NAMED else cautions


def brief_caution(kicks: PlayChoice | None) -> str:
    """Return the one line of caution of a short answer, with what a likely kick adds."""
    words = ANSWER_WORDS
    if kicks is None or max(kicks.p_punt, kicks.p_field_goal) < NAMED:
        return words.caution
    clear = (words.clear,) if kicks.p_field_goal >= NAMED else ()
    return "; ".join((*clear, words.fakes, words.caution))
