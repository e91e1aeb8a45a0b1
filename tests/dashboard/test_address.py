"""The state in the address: there and back, and what a bad address brings."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from lensyard.config import bundled_dir
from lensyard.dashboard.address import from_address, to_address
from lensyard.dashboard.controls import Controls
from lensyard.domain.assignment import Faces
from lensyard.domain.field import RULES, HashMark
from lensyard.domain.places import named_stations
from lensyard.features.next_play.page import request_of
from lensyard.render.theme import THEMES

STANDING = [station.text for station in named_stations(side_setback_yd=4.0, end_setback_yd=4.0)][
    ::7
]


@st.composite
def controls(draw: st.DrawFn) -> Controls:
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
    )


@settings(deadline=None)
@given(controls())
@example(Controls())
def test_an_address_leads_back(chosen: Controls) -> None:
    address = from_address(to_address(chosen))
    assert address.controls == chosen
    assert address.issues == ()


def test_an_empty_address_is_the_usual() -> None:
    assert from_address({}).controls == Controls()


def test_the_usual_is_left_out() -> None:
    assert to_address(Controls()) == {"down": ["1"], "distance": ["10"], "ball": ["own25"]}


def test_the_names_are_those_of_the_command_line() -> None:
    from lensyard.features.next_play.cli import next_command

    options = {name.lstrip("-") for param in next_command.params for name in param.opts}
    ours = set(to_address(replace(Controls(), **_all_unusual())))
    assert {name.replace("_", "-") for name in ours - {"theme"}} <= options


def _all_unusual() -> dict[str, object]:
    return {
        "hash_mark": HashMark.LEFT,
        "score_diff": 3,
        "quarter": 4,
        "clock": "2:00",
        "lenses": "300",
        "crop_factors": "1.5",
        "bodies": 1,
        "converter": 1.4,
        "rules": "college",
        "team_area": 20,
        "faces": Faces.DEFENSE,
        "standing": "left:opp40",
        "theme": "night",
    }


def test_lenses_come_repeated_as_on_the_command_line() -> None:
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
        ({"distance": ["0"]}, "Distance must be between 1 and 99"),
        ({"distance": ["1e3"]}, "a whole number"),
        ({"distance": ["12"], "ball": ["opp5"]}, "goal line is only 5 yd away"),
        ({"hash": ["center"]}, "Hash must be one of left, middle, right"),
        ({"lens": ["0"]}, "Wide_mm must be between"),
        ({"lens": ["wide"]}, "Cannot read lens"),
        ({"lens": [","]}, "at least one lens"),
        ({"body": ["big"]}, "1 for full frame"),
        ({"body": ["9"]}, "Crop_factor must be between"),
        ({"converter": ["nan"]}, "Converter must be between"),
        ({"converter": ["7"]}, "Converter must be between"),
        ({"bodies": ["0"]}, "Bodies must be between"),
        ({"rules": ["proo"]}, "Did you mean 'pro'"),
        ({"team_area": ["51"]}, "Team_area must be between"),
        ({"faces": ["fans"]}, "Faces must be one of"),
        ({"standing": ["on the roof"]}, "Cannot read standing"),
        ({"score": ["100"]}, "Score must be between"),
        ({"quarter": ["6"]}, "Quarter must be between"),
        ({"clock": ["16:00"]}, "minutes and seconds"),
        ({"theme": ["neon"]}, "Theme must be one of"),
        ({"dwon": ["3"]}, "Did you mean 'down'"),
        ({"ball": ["9" * 500]}, "longer than 200"),
    ],
)
def test_a_bad_address_is_told_and_the_usual_stands_in(
    query: dict[str, list[str]], said: str
) -> None:
    address = from_address({"quarter": ["3"], **query})
    assert said in " ".join(address.issues)
    assert len(address.issues) == 1
    request_of(address.controls)
    if "quarter" not in query:
        assert address.controls.quarter == 3  # what can be read counts


@given(
    st.dictionaries(
        st.sampled_from(sorted(to_address(replace(Controls(), **_all_unusual())))),
        st.lists(st.text(max_size=12), max_size=3),
        max_size=5,
    )
)
def test_no_address_breaks_the_page(query: dict[str, list[str]]) -> None:
    request_of(from_address(query).controls)


def test_what_the_server_reads_is_no_problem() -> None:
    assert from_address({"embed": ["true"]}).issues == ()


def test_stored_addresses_with_an_older_name_still_open() -> None:
    address = from_address({"look": ["night"]})
    assert address.issues == ()
    assert address.controls.theme == "night"


def test_the_usual_faces_chosen_beside_an_assignment_survive_the_address(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path))
    bundled = (bundled_dir("data") / "assignments" / "student.toml").read_text(encoding="utf-8")
    own = tmp_path / "assignments" / "stops.toml"
    own.parent.mkdir()
    own.write_text(bundled.replace('faces = "offense"', 'faces = "defense"'), encoding="utf-8")
    controls = Controls().chosen("assignment_name", "stops")
    assert controls.assignment().faces is Faces.DEFENSE
    controls = controls.chosen("faces", Faces.OFFENSE)
    assert from_address(to_address(controls)).controls.assignment().faces is Faces.OFFENSE


def test_what_the_browser_remembers_can_be_left_out_again() -> None:
    remembered = replace(Controls(), venue_name="brindle-prairie", bodies=2, faces=Faces.DEFENSE)
    query = to_address(Controls(), usual=remembered)
    assert query["venue"] == query["bodies"] == query["faces"] == ["usual"]
    assert from_address(query, usual=remembered).controls == Controls()


@given(
    kits=st.lists(st.sampled_from(["400", "70-200 + 300 x1.4", "70-200 on 1.5"]), max_size=4),
    carried=st.lists(st.sampled_from(["24-70 + 70-200", "600, 1 body"]), max_size=3),
    shooters=st.integers(2, 6),
    whole_game=st.booleans(),
    game=st.sampled_from(["", "demo", "2026-10-03-kites-marmots"]),
    season=st.none() | st.integers(1920, 2100),
    own_reach=st.booleans(),
)
def test_an_address_leads_back_to_these_pages(
    kits: list[str], carried: list[str], **chosen: Any
) -> None:
    controls = Controls(kits="\n".join(kits), carried="\n".join(carried), **chosen)
    address = from_address(to_address(controls))
    assert address.controls == controls
    assert address.issues == ()


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ({"shooters": ["0"]}, "Shooters must be between 1 and 12"),
        ({"crew": ["match"]}, "Crew must be one of play, game"),
        ({"season": ["soon"]}, "a whole number from 1900 to 2200"),
        ({"reach": ["long"]}, "Reach must be one of usual, own"),
        ({"kit": ["wide"]}, "lenses joined by +"),
        ({"carried": ["4000000"]}, "must be between"),
    ],
)
def test_a_bad_address_of_these_pages_is_told(query: dict[str, list[str]], told: str) -> None:
    address = from_address(query)
    assert told in " ".join(address.issues)
    assert address.controls == Controls()
