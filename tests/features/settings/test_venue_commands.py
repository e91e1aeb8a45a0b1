"""``lensyard venue``, and --venue where a spot is asked for."""

import json

import pytest
from click.testing import CliRunner

from lensyard.cli import group
from lensyard.errors import InvalidInputError, UnknownNameError
from lensyard.settings.files import load_venue


@pytest.fixture(autouse=True)
def _own_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))


def run(*arguments):
    result = CliRunner().invoke(group, arguments)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


# --- venue --------------------------------------------------------------------------------------


def test_a_new_venue_can_be_written_checked_and_shown(tmp_path):
    path = tmp_path / "ours.toml"
    assert (
        run("venue", "new", "Our field", "--rules", "high-school", "--out", str(path)).exit_code
        == 0
    )
    checked = run("venue", "check", str(path))
    assert checked.exit_code == 0
    assert "is a usable venue" in checked.stdout
    shown = run("venue", "show", str(path))
    assert "Our field: high-school rules, 2 goal-post supports" in shown.stdout
    assert "Caution: Local rules" in shown.stdout


def test_a_saved_venue_has_a_plain_name_and_is_not_overwritten():
    assert run("venue", "new", "Our field!", "--save").exit_code == 0
    assert load_venue("our-field").name == "Our field!"
    with pytest.raises(InvalidInputError, match="--force"):
        run("venue", "new", "Our field!", "--save")
    assert run("venue", "new", "Our field!", "--save", "--force").exit_code == 0
    assert run("venue", "list").stdout.splitlines()[0].startswith("our-field\t")


def test_without_a_file_the_template_goes_to_standard_output():
    result = run("venue", "new", "Our field")
    assert result.stdout.startswith("# A venue for lensyard.")
    assert result.stderr == ""


def test_a_faulty_file_has_exit_code_2_and_its_lines(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text('name = "x"\nrules = "pro"\n\n[team_area]\n', encoding="utf-8")
    result = run("venue", "check", str(path))
    assert result.exit_code == 2
    assert f"{path}, line 4: team_area: is no key" in result.stderr
    assert "did you mean 'team_areas'?" in result.stderr
    document = json.loads(run("venue", "check", str(path), "--json").stdout)
    assert document["is_usable"] is False
    assert document["problems"][0]["line"] == 4


def test_show_as_json_is_one_document():
    document = json.loads(run("venue", "show", "tamarack-fork", "--json").stdout)
    assert document["schema_version"] == 2
    assert document["venue"]["rules"] == "high-school"
    assert document["symmetric"] is False
    assert "Local rules" in document["cautions"][-1]


# --- what a file comes to -----------------------------------------------------------------------

HEAD = 'name = "Field"\nrules = "college"\n'
PLACE = 'axis_bearing_deg = 0\nlatitude_deg = 40\ntime_zone = "America/Chicago"\nlongitude_deg = '
WALL = '[[closed]]\nedge = "end {}"\nfrom = 10\nto = 30\nkind = "wall"\n'


@pytest.mark.parametrize(
    ("fine", "slip", "remark"),
    [
        (PLACE + "-88\n", PLACE + "88\n", "Greenwich"),
        (WALL.format("A"), WALL.format("A") + WALL.format("B"), "in two"),
    ],
)
def test_what_may_be_a_slip_is_remarked(fine, slip, remark, tmp_path):
    said = []
    for number, text in enumerate((fine, slip)):
        path = tmp_path / f"{number}.toml"
        path.write_text(HEAD + text, encoding="utf-8")
        said.append(
            " ".join(json.loads(run("venue", "show", str(path), "--json").stdout)["remarks"])
        )
    assert remark not in said[0]
    assert remark in said[1]


@pytest.mark.parametrize("name", ["brindle-prairie", "tamarack-fork"])
def test_demo_venues_have_no_slip_and_caution_before_who_decides(name):
    document = json.loads(run("venue", "show", name, "--json").stdout)
    remarks = " ".join(document["remarks"])
    assert "does not fit longitude" not in remarks
    assert "cannot be reached" not in remarks
    # 95 % of excursions stayed within 18 ft: Collins, Garrick and Requa 1977.
    assert "inside that zone" in document["cautions"][0]
    assert "Local rules" in document["cautions"][-1]


def test_every_closed_stretch_is_said_in_the_words_of_the_stadium():
    shown = run("venue", "show", "tamarack-fork").stdout
    closed = shown.partition("Closed")[2].partition("Light")[0]
    assert "road end's" in closed
    for stretch in load_venue("tamarack-fork").closed:
        assert stretch.name in closed


# --- --venue for other commands -----------------------------------------------------------------


FIRST = ("next", "--down", "1", "--ball", "opp12")


def test_venue_options_know_a_venue_by_name_and_by_path(tmp_path):
    def venue(*arguments):
        return json.loads(run(*FIRST, *arguments, "--json").stdout)["venue"]

    assert venue() == "any pro field"
    assert "Tamarack" in venue("--venue", "tamarack-fork")
    path = tmp_path / "f.toml"
    path.write_text('name = "Mine"\nrules = "college"\n', encoding="utf-8")
    assert venue("--venue", str(path)) == "Mine"
    # The venue of one run is not that of the next.
    assert venue("--rules", "college") == "any college field"


@pytest.mark.parametrize("also", [("--rules", "pro"), ("--team-area", "20")])
def test_a_venue_beside_what_it_already_says_is_a_conflict(also):
    result = run(*FIRST, "--venue", "tamarack-fork", *also)
    assert result.exit_code == 2
    assert f"--venue already says what {also[0]} would" in result.stderr


def test_the_direction_is_named_by_the_end():
    here = (*FIRST, "--venue", "tamarack-fork", "--attacking")
    road, creek, b = (run(*here, end).stdout for end in ("road end", "creek end", "B"))
    assert creek == b != road
    with pytest.raises(UnknownNameError, match="creek end"):
        run(*here, "north")


def test_an_assumed_direction_is_said_only_where_it_matters():
    assert run(*FIRST).stderr == ""
    assert "--attacking 'road end'" in run(*FIRST, "--venue", "tamarack-fork").stderr


def test_next_takes_a_venue_and_the_end_that_the_offense_plays_toward():
    result = run(
        *("next", "--down", "1", "--ball", "opp12", "--venue", "tamarack-fork"),
        *("--attacking", "creek end"),
    )
    assert result.exit_code == 0
    assert result.stderr == ""
    silent = run("next", "--down", "1", "--ball", "opp12", "--venue", "tamarack-fork")
    assert silent.stdout == result.stdout
    assert "--attacking 'road end'" in silent.stderr
