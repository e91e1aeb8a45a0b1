"""Assignment files: what ships, what one may write, and what is said about mistakes."""

import pytest
from click.testing import CliRunner

from lensyard.cli import group
from lensyard.domain.assignment import (
    FRAMES,
    Coverage,
    Faces,
    FrameKind,
    LightPreference,
    OutcomeWeights,
    Window,
)
from lensyard.errors import InvalidInputError
from lensyard.settings.files import ASSIGNMENTS, load_assignment

BUNDLED = ("agency", "card-set", "newspaper", "student", "team")
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


@pytest.mark.parametrize("name", BUNDLED)
def test_the_bundled_assignments_are_complete(name):
    assignment = load_assignment(name)
    assert assignment.about
    assert assignment.action
    assert assignment.weights.touchdown >= assignment.weights.gain20 >= assignment.weights.other
    assert all(frame == FRAMES[frame.key] for frame in assignment.must_have)


def test_a_complete_set_of_life_and_action_ships():
    together = {f.key for name in BUNDLED for f in load_assignment(name).must_have}
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
    assignment = ASSIGNMENTS.parse(text)
    assert [f.key for f in assignment.must_have] == ["touchdown", "fans"]
    assert assignment.must_have[1].title == "the alumni in row one"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("touchdown = 10", "touchdwn = 10", ["weights.touchdwn: is no key", "'touchdown'"]),
        ("touchdown = 10", "touchdown = 300", ["weights.touchdown: got 300", "0 to 100"]),
        ("touchdown = 10", 'touchdown = "10"', ["weights.touchdown: got '10'; expected a number"]),
        ("touchdown = 10", "touchdown = true", ["weights.touchdown: got true; expected a number"]),
        ("touchdown = 10", "touchdown = nan", ["weights.touchdown: got nan"]),
        ("touchdown = 10", "touchdown = inf", ["weights.touchdown: got inf"]),
        ("sack = 1", "", ["weights.sack: is missing"]),
        ('faces = "offense"', 'fces = "offense"', ["faces: is missing", "fces: is no key"]),
        ('faces = "offense"', 'faces = "ofense"', ['"offense", "defense"', "mean 'offense'"]),
        ('coverage = "away"', 'coverage = "visitors"', ["coverage", '"both", "home", "away"']),
        ("schema_version = 1", "schema_version = 2", ["schema_version: got 2; expected 1"]),
        ('["touchdown", "fans"]', '["touchdwn"]', ["must_have[1]", "Did you mean 'touchdown'"]),
        ('["touchdown", "fans"]', '["fans", "fans"]', ["fans more than once"]),
        ('["touchdown", "fans"]', '"touchdown"', ["must_have: got 'touchdown'", "a list"]),
        ('["touchdown", "fans"]', '["../fans"]', ["must_have[1]", "lower-case words"]),
        ('name = "harbor weekly"', 'name = "', ["expected TOML", "quotes"]),
        ("[weights]", "weights = 3\n[other]", ["weights: got 3; expected a table", "other: is no"]),
    ],
)
def test_a_mistake_is_named_with_what_was_expected(old, new, said):
    assert old in PLAIN
    with pytest.raises(InvalidInputError) as caught:
        ASSIGNMENTS.parse(PLAIN.replace(old, new), source="mine.toml")
    for part in ["mine.toml", *said]:
        assert part in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('["halftime", "quarter-break"]', '["halftim"]', "mean 'halftime'"),
        ('["halftime", "quarter-break"]', "[]", "frame[1].windows: got []"),
        ("minutes = 1.5", "", "how many minutes"),
        ("minutes = 1.5", "minutes = -1", "frame[1].minutes"),
        ('title = "the alumni in row one"', 'titel = "x"', "mean 'title'"),
        ("minutes = 1.5", 'kind = "action"', "happens in play"),
    ],
)
def test_a_mistake_in_ones_own_frame_is_named(old, new, said):
    assert old in OWN_FRAME
    with pytest.raises(InvalidInputError) as caught:
        ASSIGNMENTS.parse(PLAIN + OWN_FRAME.replace(old, new))
    assert said in str(caught.value)


def test_a_frame_described_twice_is_refused():
    with pytest.raises(InvalidInputError, match="described twice"):
        ASSIGNMENTS.parse(PLAIN + OWN_FRAME + OWN_FRAME)


def test_all_mistakes_are_said_at_once_each_at_its_line():
    text = PLAIN.replace("sack = 1", "sack = -1").replace('coverage = "away"', "coverage = 3")
    with pytest.raises(InvalidInputError) as caught:
        ASSIGNMENTS.parse(text, source="mine.toml")
    assert [line.split(": ")[0] for line in str(caught.value).splitlines()[1:]] == [
        "  mine.toml, line 5",
        "  mine.toml, line 13",
    ]


def test_the_template_loads_as_it_is():
    assignment = ASSIGNMENTS.parse(
        CliRunner().invoke(group, ["assignment", "new", 'The "Harbor" weekly']).stdout
    )
    assert assignment.name == 'The "Harbor" weekly'
    assert assignment.weights == OutcomeWeights()
    assert assignment.must_have
