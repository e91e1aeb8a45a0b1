"""Assignments as files: what ships, what one may write, and what is said about mistakes."""

from __future__ import annotations

import subprocess
import sys

import pytest

from lensyard.domain.assignment import Assignment, Coverage, Faces, LightPreference, OutcomeWeights
from lensyard.domain.shots import FRAMES, FrameKind, Window
from lensyard.errors import InvalidInputError, ParseError, UnknownNameError
from lensyard.features.assignments.file import (
    LARGEST_BYTES,
    assignment_from_file,
    bundled_assignments,
    load_assignment,
    named_assignment,
    parse_assignment,
)

PLAIN = """
schema_version = 1
name = "harbor weekly"
faces = "offense"
coverage = "away"
must_have = ["touchdown", "fans"]

[weights]
touchdown = 10
gain20 = 4
incompletion = 0.5
interception = 2
sack = 1
other = 1
"""
OWN_FRAME = """
[[frame]]
key = "alumni-row"
title = "the alumni in row one"
windows = ["halftime", "quarter-break"]
minutes = 1.5
"""


@pytest.mark.parametrize("name", ["team", "newspaper", "agency", "card-set", "student"])
def test_the_bundled_assignments_are_complete(name):
    assignment = named_assignment(name)
    assert assignment.about
    assert assignment.action
    assert assignment.weights.touchdown >= assignment.weights.gain20 >= assignment.weights.other
    assert all(frame == FRAMES[frame.key] for frame in assignment.must_have)
    assert name in bundled_assignments()


def test_a_complete_set_of_life_and_action_ships():
    together = {f.key for name in bundled_assignments() for f in named_assignment(name).must_have}
    assert together == set(FRAMES)


def test_a_file_says_everything_an_assignment_says(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text('light = "prefer-backlight"\n' + PLAIN + OWN_FRAME, encoding="utf-8")
    assignment = load_assignment(path)
    assert assignment == load_assignment(str(path))
    assert (assignment.name, assignment.faces) == ("harbor weekly", Faces.OFFENSE)
    assert assignment.coverage is Coverage.AWAY
    assert assignment.light is LightPreference.PREFER_BACKLIGHT
    assert assignment.weights == OutcomeWeights(10, 4, 0.5, 2, 1, 1)
    assert [f.key for f in assignment.must_have] == ["touchdown", "fans", "alumni-row"]
    own = assignment.must_have[-1]
    assert (own.kind, own.minutes) == (FrameKind.LIFE, 1.5)
    assert own.windows == (Window.HALFTIME, Window.QUARTER_BREAK)
    assert own.when == "halftime, quarter-break"


def test_ones_own_take_on_a_known_frame_wins():
    text = PLAIN + OWN_FRAME.replace("alumni-row", "fans")
    assignment = parse_assignment(text)
    assert [f.key for f in assignment.must_have] == ["touchdown", "fans"]
    assert assignment.must_have[1].title == "the alumni in row one"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("touchdown = 10", "touchdwn = 10", ["weights.touchdwn: unknown key", "'touchdown'"]),
        ("touchdown = 10", "touchdown = 300", ["weights.touchdown", "100", "300"]),
        ("touchdown = 10", 'touchdown = "10"', ["weights.touchdown: must be a number"]),
        ("touchdown = 10", "touchdown = true", ["weights.touchdown: must be a number"]),
        ("touchdown = 10", "touchdown = nan", ["weights.touchdown", "finite"]),
        ("touchdown = 10", "touchdown = inf", ["weights.touchdown"]),
        ("sack = 1", "", ["weights.sack: is missing"]),
        ('faces = "offense"', 'fces = "offense"', ["faces: is missing", "fces: unknown key"]),
        ('faces = "offense"', 'faces = "ofense"', ["'offense' or 'defense'", "mean 'offense'"]),
        ('coverage = "away"', 'coverage = "visitors"', ["coverage", "'both', 'home' or 'away'"]),
        ("schema_version = 1", "schema_version = 2", ["schema_version: must be 1; got 2"]),
        ('["touchdown", "fans"]', '["touchdwn"]', ["must_have", "Did you mean 'touchdown'"]),
        ('["touchdown", "fans"]', '["fans", "fans"]', ["fans more than once"]),
        ('["touchdown", "fans"]', '"touchdown"', ["must_have: must be a list in brackets"]),
        ('["touchdown", "fans"]', '["../fans"]', ["must_have[1]", "lower-case words"]),
        ('name = "harbor weekly"', 'name = "', ["not TOML", "quotes"]),
        ("[weights]", "weights = 3\n[other]", ["weights: must be a table", "other: unknown key"]),
    ],
)
def test_a_mistake_is_named_with_what_was_expected(old, new, said):
    assert old in PLAIN
    with pytest.raises(InvalidInputError) as caught:
        parse_assignment(PLAIN.replace(old, new), where="mine.toml")
    for part in ["mine.toml", *said]:
        assert part in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('["halftime", "quarter-break"]', '["halftim"]', "mean 'halftime'"),
        ('["halftime", "quarter-break"]', "[]", "frame[1].windows"),
        ("minutes = 1.5", "", "how many minutes"),
        ("minutes = 1.5", "minutes = -1", "frame[1].minutes"),
        ('title = "the alumni in row one"', 'titel = "x"', "mean 'title'"),
        ("minutes = 1.5", 'kind = "action"', "happens in play"),
    ],
)
def test_a_mistake_in_ones_own_frame_is_named(old, new, said):
    assert old in OWN_FRAME
    with pytest.raises(InvalidInputError) as caught:
        parse_assignment(PLAIN + OWN_FRAME.replace(old, new))
    assert said in str(caught.value)


def test_a_frame_described_twice_is_refused():
    with pytest.raises(InvalidInputError, match="described twice"):
        parse_assignment(PLAIN + OWN_FRAME + OWN_FRAME)


def test_all_mistakes_are_said_at_once():
    text = PLAIN.replace("sack = 1", "sack = -1").replace('coverage = "away"', "coverage = 3")
    with pytest.raises(InvalidInputError, match="2 to correct"):
        parse_assignment(text)


@pytest.mark.parametrize(
    "name",
    ["../newspaper", "/etc/passwd", "newspaper.toml/..", "", ".", "NEWSPAPER", "news\0paper"],
)
def test_a_name_never_leaves_the_bundled_folder(name):
    with pytest.raises(UnknownNameError, match="agency, card-set"):
        named_assignment(name)


def test_a_near_name_is_suggested():
    with pytest.raises(UnknownNameError, match="Did you mean 'newspaper'"):
        load_assignment("newspapr")


def test_files_that_are_no_assignment_are_refused(tmp_path):
    with pytest.raises(InvalidInputError, match="cannot read"):
        load_assignment(str(tmp_path / "missing.toml"))
    folder = tmp_path / "folder.toml"
    folder.mkdir()
    with pytest.raises(InvalidInputError, match="cannot read"):
        assignment_from_file(folder)
    other = tmp_path / "notes.txt"
    other.write_text(PLAIN, encoding="utf-8")
    with pytest.raises(ParseError, match=r"ends in \.toml"):
        assignment_from_file(other)
    binary = tmp_path / "picture.toml"
    binary.write_bytes(b"\xff\xd8\xff\xe0")
    with pytest.raises(InvalidInputError, match="UTF-8"):
        assignment_from_file(binary)
    large = tmp_path / "large.toml"
    large.write_text("#" * (LARGEST_BYTES + 1), encoding="utf-8")
    with pytest.raises(InvalidInputError, match="larger than"):
        assignment_from_file(large)


def test_pydantic_is_imported_only_when_a_file_is_read():
    code = (
        "import sys, lensyard.features.assignments.file as f; before = 'pydantic' in sys.modules;"
        "f.named_assignment('team'); print(before, 'pydantic' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.split() == ["False", "True"]


def test_plain_assignments_still_stand_alone():
    assert Assignment().must_have == ()
    assert Assignment(must_have=(FRAMES["fans"], FRAMES["catch"])).action == (FRAMES["catch"],)
