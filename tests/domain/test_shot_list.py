"""The shot list over a game: breaks, what is missing, and weights once a frame is ticked."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.domain.assignment import (
    FRAMES,
    Assignment,
    Faces,
    FrameKind,
    MustHave,
    OutcomeWeights,
    Window,
    assignment_for,
    missing,
)
from lensyard.domain.shot_list import (
    breaks_of,
    missing_at_break,
    schedule,
    weights_after,
)
from lensyard.errors import InvalidInputError, OutOfRangeError, UnknownNameError

ALL = tuple(FRAMES.values())
LIFE = tuple(f for f in ALL if f.kind is FrameKind.LIFE)


# Halftime: NFL Official Playing Rules 2021 R4-1-3; NCAA Football Rules 2021 R3-2-1-b; NFHS R3-1
# (from memory).
@pytest.mark.parametrize(
    ("rules", "minutes"), [("pro", 13.0), ("college", 20.0), ("high-school", 15.0)]
)
def test_halftime_lasts_as_long_as_the_rules_say(rules, minutes):
    assert [b.minutes for b in breaks_of(rules) if b.window is Window.HALFTIME] == [minutes]


@pytest.mark.parametrize("rules", ["pro", "college", "high-school"])
def test_everything_around_the_game_has_a_break_and_costs_no_play(rules):
    placed = schedule(ALL, rules_name=rules)
    assert [p.frame for p in placed] == list(LIFE)
    assert all(p.slot is not None and p.slot.window in p.frame.windows for p in placed)
    assert sum(p.plays_lost for p in placed) == 0


def test_frames_go_where_there_is_time_for_them():
    slots = {p.frame.key: p.slot.name for p in schedule(ALL)}
    assert slots["warm-ups"] == slots["introductions"] == "before kickoff"
    assert slots["halftime"] == "halftime"
    assert slots["celebration"] == slots["handshake"] == "after the game"
    assert slots["coaches"] == slots["bench"] == "after the 1st quarter"


@given(
    have=st.sets(st.sampled_from(sorted(FRAMES))),
    quarter=st.integers(0, 4),
    rules=st.sampled_from(["pro", "college", "high-school"]),
)
def test_no_break_is_overfull_and_none_lies_in_the_past(have, quarter, rules):
    placed = schedule(ALL, have, quarter=quarter, rules_name=rules)
    assert [p.frame for p in placed] == [f for f in LIFE if f.key not in have]
    for b in breaks_of(rules):
        here = [p.frame for p in placed if p.slot == b]
        assert sum(f.minutes for f in here) <= b.minutes * b.times + 1e-9
        assert all(b.window in f.windows and f.minutes <= b.minutes for f in here)
        assert not here or b.last_quarter >= quarter
    for p in placed:
        # In a break, at a price, or gone: exactly one of the three.
        assert (p.slot is not None) + (p.plays_lost > 0) + p.gone == 1


def test_a_full_break_sends_the_next_frame_on_or_into_play():
    def frame(key, windows, minutes):
        return MustHave(key, key, "", FrameKind.LIFE, windows, minutes)

    first = frame("first", (Window.QUARTER_BREAK,), 1.5)
    second = frame("second", (Window.QUARTER_BREAK,), 1.5)
    third = frame("third", (Window.QUARTER_BREAK, Window.IN_PLAY), 1.5)
    long = frame("long", (Window.QUARTER_BREAK, Window.IN_PLAY), 5.0)
    placed = {p.frame.key: p for p in schedule([first, second, third, long])}
    assert placed["first"].slot.name == "after the 1st quarter"
    assert placed["second"].slot.name == "after the 3rd quarter"
    assert placed["third"].slot is None
    assert placed["third"].plays_lost > 0
    # By the minute.
    assert placed["long"].plays_lost / placed["third"].plays_lost == pytest.approx(5 / 1.5)
    assert not placed["long"].gone


def test_what_has_no_other_break_chooses_first():
    only = MustHave("only", "only", "", FrameKind.LIFE, (Window.HALFTIME,), 10.0)
    other = MustHave("other", "other", "", FrameKind.LIFE, (Window.HALFTIME, Window.AFTER), 10.0)
    slots = {p.frame.key: p.slot.name for p in schedule([other, only])}
    assert slots == {"other": "after the game", "only": "halftime"}


def test_at_each_break_the_missing_frames_are_named():
    before = missing_at_break(ALL, quarter=0)
    assert before.slot.name == "before kickoff"
    assert {f.key for f in before.last_chance} == {"warm-ups", "introductions"}
    half = missing_at_break(ALL, ["warm-ups", "introductions", "fans", "drop-back"], quarter=2)
    assert [f.key for f in half.now] == ["traditions", "halftime"]
    assert [f.key for f in half.last_chance] == ["halftime"]
    assert "drop-back" not in {f.key for f in half.action}
    assert "touchdown" in {f.key for f in half.action}
    end = missing_at_break(ALL, quarter=4)
    assert {f.key for f in end.last_chance} == {"celebration", "handshake"}
    assert {p.frame.key for p in end.later if p.gone} == {f.key for f in LIFE} - {
        "celebration",
        "handshake",
    }


@given(have=st.sets(st.sampled_from(sorted(FRAMES))), quarter=st.integers(0, 4))
def test_a_break_report_leaves_nothing_out(have, quarter):
    report = missing_at_break(ALL, have, quarter=quarter)
    named = [*report.now, *(p.frame for p in report.later), *report.action]
    assert sorted(f.key for f in named) == sorted(set(FRAMES) - have)
    assert set(report.last_chance) <= set(report.now)


def test_unknown_ticks_and_quarters_are_refused():
    with pytest.raises(UnknownNameError, match="Did you mean 'touchdown'"):
        missing(ALL, ["touchdwn"])
    with pytest.raises(OutOfRangeError, match="quarter"):
        schedule(ALL, quarter=5)
    with pytest.raises(UnknownNameError, match="rules"):
        breaks_of("indoor")


def test_a_frame_of_the_catalog_may_be_ticked_though_the_list_does_without_it():
    short = (FRAMES["fans"],)
    assert missing(short, ["touchdown"]) == short


# --- weights -----------------------------------------------------------------------------------

TASK = Assignment(must_have=ALL, weights=OutcomeWeights(10.0, 4.0, 0.5, 5.0, 3.0, 1.0))


def test_nothing_ticked_changes_nothing():
    assert weights_after(TASK, []) == TASK.weights
    assert weights_after(TASK, ["fans", "carrier", "drop-back"]) == TASK.weights


def test_a_ticked_touchdown_lets_its_bonus_fall_by_its_share_of_the_frames():
    # Two of the list's frames are touchdowns: each takes half of what may fall, 9 x 0.5.
    assert weights_after(TASK, ["touchdown"]).touchdown == pytest.approx(1 + 9 * 0.75)
    assert weights_after(TASK, ["touchdown", "pylon-dive"]).touchdown == pytest.approx(1 + 9 * 0.5)
    alone = Assignment(must_have=(FRAMES["touchdown"],), weights=TASK.weights)
    assert weights_after(alone, ["touchdown"]).touchdown == pytest.approx(1 + 9 * 0.5)
    without = Assignment(weights=TASK.weights)
    assert weights_after(without, ["touchdown"]) == TASK.weights


def test_the_defenses_big_play_lets_both_of_its_outcomes_fall():
    changed = weights_after(TASK, ["defense-big-play"])
    assert (changed.sack, changed.interception) == (pytest.approx(2.0), pytest.approx(3.0))
    assert (changed.touchdown, changed.gain20, changed.other) == (10.0, 4.0, 1.0)
    defense = Assignment(must_have=ALL, weights=assignment_for(Faces.DEFENSE).weights)
    # A touchdown is worth no more than any play to a defense: nothing to fall.
    assert weights_after(defense, ["touchdown"]) == defense.weights


@given(
    have=st.sets(st.sampled_from(sorted(FRAMES))), more=st.sampled_from(sorted(FRAMES)),
)  # fmt: skip
def test_ticking_never_raises_a_weight_and_never_drops_one_below_any_play(have, more):
    before, after = weights_after(TASK, have), weights_after(TASK, have | {more})
    for name in OutcomeWeights.__dataclass_fields__:
        assert getattr(after, name) <= getattr(before, name)
    assert after.touchdown > after.gain20 > after.other
    assert min(after.sack, after.interception) > after.other


# --- frames ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"key": "Two Words"}, "lower-case"),
        ({"windows": ()}, "no window"),
        ({"minutes": 0.0}, "how many minutes"),
        ({"minutes": 500.0}, "minutes"),
        ({"kind": FrameKind.ACTION}, "in play"),
    ],
)
def test_frames_that_nobody_could_get_are_refused(change, text):
    fields = {
        "key": "row-one",
        "title": "row one",
        "when": "halftime",
        "kind": FrameKind.LIFE,
        "windows": (Window.HALFTIME,),
        "minutes": 2.0,
    }
    assert MustHave(**fields).key == "row-one"
    with pytest.raises(InvalidInputError, match=text):
        MustHave(**{**fields, **change})


# --- assignments -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("faces", "weights"),
    [
        # A convention, not a fact: touchdown 10, gain of 20 or more 4, incompletion 0.5.
        (Faces.OFFENSE, OutcomeWeights(10.0, 4.0, 0.5, 1.0, 1.0, 1.0)),
        # A defense's story: the interception and the sack; a touchdown is the other team's.
        (Faces.DEFENSE, OutcomeWeights(1.0, 1.0, 1.0, 10.0, 6.0, 1.0)),
    ],
)
def test_the_plain_assignment_has_the_weights_of_its_faces(faces, weights):
    assert assignment_for(faces) == Assignment(faces.value, faces, weights)


@pytest.mark.parametrize("name", OutcomeWeights.__dataclass_fields__)
@pytest.mark.parametrize("bad", [-0.1, 101.0, math.nan, math.inf])
def test_a_weight_out_of_range_is_refused_by_name(name, bad):
    with pytest.raises(OutOfRangeError, match=f"^{name} must be between 0 and 100"):
        OutcomeWeights(**{name: bad})
