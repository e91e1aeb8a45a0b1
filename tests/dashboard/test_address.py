"""The state in the address: there and back, and what a bad address brings."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from lensyard.dashboard.controls import CHOICES, Controls, from_address, to_address
from lensyard.domain.assignment import Faces
from lensyard.domain.field import RULES, HashMark
from lensyard.domain.places import named_stations
from lensyard.features.next_play.first import request_of
from lensyard.render.theme import THEMES

STANDING = [station.text for station in named_stations(side_setback_yd=4.0, end_setback_yd=4.0)][
    ::7
]

KITS = ["400", "70-200 + 300 x1.4", "70-200 on 1.5", "600 + 300, 1 body"]


@st.composite
def controls(draw):
    """Any controls that the widgets can bring about."""
    yardline = draw(st.integers(1, 99))
    minutes, seconds = draw(st.integers(0, 14)), draw(st.integers(0, 59))
    return Controls(
        down=draw(st.integers(1, 4)),
        distance_yd=draw(st.integers(1, yardline)),
        yardline_100=yardline,
        hash_mark=draw(st.sampled_from(HashMark)),
        score_diff=draw(st.integers(-99, 99)),
        quarter=draw(st.integers(1, 5)),
        clock=f"{minutes}:{seconds:02}",
        lenses=draw(st.sampled_from(["70-200, 400", "600", "24-70/2.8, 70-200, 300"])),
        crop_factors=draw(st.sampled_from(["1", "1.5", "1.6"])),
        bodies=draw(st.sampled_from([None, 1, 2])),
        converter=draw(st.sampled_from([1.0, 1.4, 2.0])),
        rules=draw(st.sampled_from(list(RULES))),
        team_area=draw(st.sampled_from([None, 20, 35, 50])),
        faces=draw(st.sampled_from(Faces)),
        standing=draw(st.sampled_from(["", *STANDING])),
        theme=draw(st.sampled_from(list(THEMES))),
        kits="\n".join(draw(st.lists(st.sampled_from(KITS), max_size=3))),
        carried="\n".join(draw(st.lists(st.sampled_from(KITS), max_size=3))),
        shooters=draw(st.sampled_from([None, 2, 6])),
        whole_game=draw(st.booleans()),
        game=draw(st.sampled_from(["", "2026-10-03-kites-marmots"])),
        season=draw(st.none() | st.integers(1920, 2100)),
        own_reach=draw(st.booleans()),
        zone_down=draw(st.sampled_from([None, 3])),
    )


@pytest.mark.slow
@given(controls())
@example(Controls())
def test_an_address_leads_back(chosen):
    address = from_address(to_address(chosen))
    assert address.controls == chosen
    assert address.issues == ()


def test_an_empty_address_is_the_usual():
    assert from_address({}).controls == Controls()


def test_the_usual_is_left_out():
    assert to_address(Controls()) == {"down": ["1"], "distance": ["10"], "ball": ["own25"]}


def test_lenses_come_repeated_as_on_the_command_line():
    query = to_address(replace(Controls(), lenses="70-200, 600"))
    assert query["lens"] == ["70-200", "600"]
    assert from_address({"lens": ["70-200,600"]}).controls.lenses == "70-200, 600"


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"down": ["5"]}, "Down must be between 1 and 4"),
        ({"down": ["third"]}, "a whole number from 1 to 4"),
        ({"down": [""]}, "Cannot read down"),
        ({"ball": ["opp70"]}, "own1 to own49"),
        ({"distance": ["1e3"]}, "a whole number"),
        ({"distance": ["12"], "ball": ["opp5"]}, "goal line is only 5 yd away"),
        ({"hash": ["center"]}, "Hash must be one of left, middle, right"),
        ({"lens": ["0"]}, "Wide_mm must be between"),
        ({"lens": ["wide"]}, "Cannot read lens"),
        ({"lens": [","]}, "at least one lens"),
        ({"body": ["big"]}, "1 for full frame"),
        ({"body": ["9"]}, "Crop_factor must be between"),
        ({"rules": ["proo"]}, "Did you mean 'pro'"),
        ({"standing": ["on the roof"]}, "Cannot read standing"),
        ({"clock": ["16:00"]}, "minutes and seconds"),
        ({"kit": ["wide"]}, "lenses joined by +"),
        ({"carried": ["4000000"]}, "must be between"),
        ({"dwon": ["3"]}, "Did you mean 'down'"),
        ({"ball": ["9" * 500]}, "longer than 200"),
    ],
)
def test_a_bad_address_is_told_and_the_usual_stands_in(query, said):
    address = from_address({"quarter": ["3"], **query})
    assert said in " ".join(address.issues)
    assert len(address.issues) == 1
    request_of(address.controls)
    if "quarter" not in query:
        assert address.controls.quarter == 3  # what can be read counts


@given(
    st.dictionaries(
        st.sampled_from([what.address for what in CHOICES.values()]),
        st.lists(st.text(max_size=12), max_size=3),
        max_size=5,
    )
)
def test_no_address_breaks_the_page(query):
    request_of(from_address(query).controls)


def test_what_the_server_reads_is_no_problem():
    assert from_address({"embed": ["true"]}).issues == ()


def test_stored_addresses_with_an_older_name_still_open():
    address = from_address({"look": ["night"]})
    assert address.issues == ()
    assert address.controls.theme == "night"


def test_the_usual_faces_chosen_beside_an_assignment_survive_the_address(tmp_path, monkeypatch):
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path))
    student = Path(__file__).parents[2] / "data" / "assignments" / "student.toml"
    bundled = student.read_text(encoding="utf-8")
    own = tmp_path / "assignments" / "stops.toml"
    own.parent.mkdir()
    own.write_text(bundled.replace('faces = "offense"', 'faces = "defense"'), encoding="utf-8")
    controls = Controls().chosen("assignment_name", "stops")
    assert controls.assignment().faces is Faces.DEFENSE
    controls = controls.chosen("faces", Faces.OFFENSE)
    assert from_address(to_address(controls)).controls.assignment().faces is Faces.OFFENSE


def test_what_the_browser_remembers_can_be_left_out_again():
    remembered = replace(Controls(), venue_name="brindle-prairie", bodies=2, faces=Faces.DEFENSE)
    query = to_address(Controls(), usual=remembered)
    assert query["venue"] == query["bodies"] == query["faces"] == ["usual"]
    assert from_address(query, usual=remembered).controls == Controls()
