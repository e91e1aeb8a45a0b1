"""``lensyard venue`` and ``lensyard light``, and --venue where a spot is asked for."""

from __future__ import annotations

import json
from pathlib import Path
from unittest import mock

import click
import numpy as np
import pytest
from click.testing import CliRunner, Result

from lensyard.cli import group
from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, Direction
from lensyard.domain.kit import kit_of
from lensyard.domain.situation import Situation
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import InvalidInputError, ParseError, UnknownNameError
from lensyard.features.light.cli import parse_shutter, parse_time
from lensyard.features.next_play.answer import NextRequest, next_play
from lensyard.features.venues.file import load_venue
from lensyard.model.context import load_context
from lensyard.options.cli_options import direction_from, venue_from, venue_options


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))


def run(*arguments: str) -> Result:
    result = CliRunner().invoke(group, arguments)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


# --- venue --------------------------------------------------------------------------------------


def test_a_new_venue_can_be_written_checked_and_shown(tmp_path: Path) -> None:
    path = tmp_path / "ours.toml"
    assert (
        run("venue", "new", "Our field", "--rules", "high-school", "--out", str(path)).exit_code
        == 0
    )
    checked = run("venue", "check", str(path))
    assert checked.exit_code == 0
    assert "usable venue" in checked.stdout
    shown = run("venue", "show", str(path))
    assert "Our field: high-school rules, 2 goal-post supports" in shown.stdout
    assert shown.stdout.rstrip().splitlines()[-1].startswith("caution: Local rules")


def test_a_saved_venue_has_a_plain_name_and_is_not_overwritten() -> None:
    assert run("venue", "new", "Our field!", "--save").exit_code == 0
    assert load_venue("our-field").name == "Our field!"
    again = run("venue", "new", "Our field!", "--save")
    assert again.exit_code == 2
    assert "--force" in again.stderr
    assert run("venue", "new", "Our field!", "--save", "--force").exit_code == 0
    assert run("venue", "list").stdout.splitlines()[0].startswith("our-field\t")


def test_without_a_file_the_template_goes_to_standard_output() -> None:
    result = run("venue", "new", "Our field")
    assert result.stdout.startswith("# A venue for lensyard.")
    assert result.stderr == ""


def test_a_faulty_file_has_exit_code_2_and_its_lines(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_text('name = "x"\nrules = "pro"\n\n[team_area]\n', encoding="utf-8")
    result = run("venue", "check", str(path))
    assert result.exit_code == 2
    assert f"{path}, line 4: team_area: is no key" in result.stderr
    assert "did you mean 'team_areas'?" in result.stderr
    document = json.loads(run("venue", "check", str(path), "--json").stdout)
    assert document["is_usable"] is False
    assert document["problems"][0]["line"] == 4


def test_show_as_json_is_one_document() -> None:
    document = json.loads(run("venue", "show", "tamarack-fork", "--json").stdout)
    assert document["schema_version"] == 1
    assert document["venue"]["rules"] == "high-school"
    assert document["symmetric"] is False
    assert "Local rules" in document["cautions"][-1]


# --- light --------------------------------------------------------------------------------------


def test_light_says_the_warning_first_and_the_deferral_last() -> None:
    result = run("light", "--venue", "tamarack-fork", "--at", "2026-10-09T19:00")
    assert result.exit_code == 0
    lines = result.stdout.rstrip().splitlines()
    assert lines[1].startswith("! ")
    assert "no lens of this kit reaches 1/1000 s" in lines[1]
    assert lines[-1].startswith("caution: Local rules")
    assert any("read as America/Chicago, the venue's zone" in line for line in lines)
    assert any(line.startswith("creek end") and "sun in the lens" in line for line in lines)


def test_light_as_json_is_one_document() -> None:
    result = run(
        *("light", "--venue", "brindle-prairie", "--at", "2026-10-03T15:30-05:00", "--json"),
        *("--lens", "400/2.8", "--converter", "1.4", "--pixels", "8000", "--wbgt", "90"),
    )
    document = json.loads(result.stdout)
    assert document["lenses"][0]["converter"]["magnification"] == 1.4
    # 8000 pixels over 36 mm, 560 mm at 56 yd: 1.83 m is 20.0 mm and 4,450 pixels.
    assert document["lenses"][0]["player_height_px"] == pytest.approx(4448, abs=5)
    assert any("90.0 F" in caution for caution in document["cautions"])


@pytest.mark.parametrize(
    ("suffix", "magic"), [(".png", b"\x89PNG"), (".svg", b"<?xml"), (".pdf", b"%PDF")]
)
def test_the_plot_is_a_picture_and_the_same_each_time(
    tmp_path: Path, suffix: str, magic: bytes
) -> None:
    paths = [tmp_path / f"{name}{suffix}" for name in "ab"]
    for path in paths:
        result = run(
            *("light", "--venue", "tamarack-fork", "--at", "2026-10-09T16:00"),
            *("--plot", str(path), "--json"),
        )
        assert result.exit_code == 0
        json.loads(result.stdout)  # the message about the file goes to standard error
        assert str(path) in result.stderr
    one, two = (path.read_bytes() for path in paths)
    assert one.startswith(magic)
    assert one == two
    if suffix == ".svg":
        assert b"creek end" in one or b"<text" not in one  # matplotlib may draw text as outlines


def test_a_plot_of_another_kind_is_refused_before_anything_is_computed() -> None:
    result = run("light", "--venue", "x.toml", "--at", "2026-10-09T16:00", "--plot", "a.bmp")
    assert result.exit_code == 2
    assert ".png, .svg, .pdf" in result.stderr


def test_an_unwritable_plot_is_said() -> None:
    with pytest.raises(InvalidInputError, match="cannot write"):
        run(
            *("light", "--venue", "tamarack-fork", "--at", "2026-10-09T16:00"),
            *("--plot", "/nonexistent-folder/a.png"),
        )


@pytest.mark.parametrize("text", ["2026-10-09", "tomorrow", "", "15:30", "2026-13-01T10:00"])
def test_a_time_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ParseError, match="2026-10-03T15:30"):
        parse_time(text)


@pytest.mark.parametrize("text", ["fast", "0", "-1", "1/0", "1/-5", "nan", "inf"])
def test_a_shutter_time_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ParseError, match="1/1000"):
        parse_shutter(text)


# --- --venue for other commands -----------------------------------------------------------------


@click.command()
@venue_options
def ground(rules: str, team_area: float | None) -> None:
    """A command that takes a ground and says which."""
    click.echo(venue_from(rules=rules, team_area=team_area).name)


def test_ground_options_know_a_venue_by_name_and_by_path(tmp_path: Path) -> None:
    runner = CliRunner()
    assert runner.invoke(ground, []).stdout == "any pro field\n"
    assert "Tamarack" in runner.invoke(ground, ["--venue", "tamarack-fork"]).stdout
    path = tmp_path / "f.toml"
    path.write_text('name = "Mine"\nrules = "college"\n', encoding="utf-8")
    assert runner.invoke(ground, ["--venue", str(path)]).stdout == "Mine\n"
    # The venue of one run is not that of the next.
    assert runner.invoke(ground, ["--rules", "college"]).stdout == "any college field\n"


@pytest.mark.parametrize("also", [("--rules", "pro"), ("--team-area", "20")])
def test_a_venue_beside_what_it_already_says_is_a_conflict(also: tuple[str, str]) -> None:
    result = CliRunner().invoke(ground, ["--venue", "tamarack-fork", *also])
    assert result.exit_code == 2
    assert f"--venue already says what {also[0]} would" in result.stderr


def test_the_direction_is_named_by_the_end() -> None:
    venue = load_venue("tamarack-fork")
    assert direction_from("road end", venue) is Direction.TOWARD_A
    assert direction_from("B", venue) is Direction.TOWARD_B
    with pytest.raises(UnknownNameError, match="creek end"):
        direction_from("north", venue)


def test_an_assumed_direction_is_said_only_where_it_matters(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert direction_from(None, standard_venue()) is Direction.TOWARD_B
    assert capsys.readouterr().err == ""
    assert direction_from(None, load_venue("tamarack-fork")) is Direction.TOWARD_B
    assert "--attacking 'road end'" in capsys.readouterr().err


def inside(venue: Venue, x_yd: float, y_yd: float) -> list[str]:
    """The closed stretches on whose stretch of the photographers' line a place lies."""
    found = []
    for stretch in venue.closed:
        along, across = (x_yd, y_yd) if stretch.edge.is_sideline else (y_yd, x_yd)
        far = FIELD_WIDTH_YD if stretch.edge.is_sideline else FIELD_LENGTH_YD
        setback = venue.side_setback_yd if stretch.edge.is_sideline else venue.end_setback_yd
        line = far + setback if stretch.edge.value.endswith("B") else -setback
        if abs(across - line) < 1e-6 and stretch.from_yd <= along <= stretch.to_yd:
            found.append(stretch.name)
    return found


@pytest.mark.parametrize("name", ["brindle-prairie", "tamarack-fork"])
@pytest.mark.parametrize("end", ["A", "B"])
@pytest.mark.parametrize("lenses", [["70-200"], ["70-200", "400"]])
def test_no_spot_that_next_names_is_in_a_closed_stretch(
    name: str, end: str, lenses: list[str]
) -> None:
    venue = load_venue(name)
    seen = 0
    for yardline_100 in (95, 70, 50, 30, 12, 3):
        answer = next_play(
            load_context(),
            NextRequest(
                situation=Situation(
                    down=1, distance_yd=min(10, yardline_100), yardline_100=yardline_100
                ),
                kit=kit_of(lenses),
                venue=venue,
                direction=venue.toward(end),
                top=10,
            ),
        )
        for spot in answer.ranking.spots:
            x, y = spot.x_yd, spot.y_yd
            if end == "A":
                x, y = FIELD_LENGTH_YD - x, FIELD_WIDTH_YD - y
            assert inside(venue, x, y) == []
            seen += 1
    assert seen > 20


def test_next_takes_a_venue_and_the_end_that_the_offense_plays_toward() -> None:
    result = run(
        *("next", "--down", "1", "--ball", "opp12", "--venue", "tamarack-fork"),
        *("--attacking", "creek end"),
    )
    assert result.exit_code == 0
    assert result.stderr == ""
    silent = run("next", "--down", "1", "--ball", "opp12", "--venue", "tamarack-fork")
    assert silent.stdout == result.stdout
    assert "--attacking 'road end'" in silent.stderr


def test_inside_finds_what_is_inside() -> None:
    venue = load_venue("tamarack-fork")
    assert inside(venue, 60.0, -2.0) == ["team area"]
    assert inside(venue, 20.0, FIELD_WIDTH_YD + 2) == ["marching band"]
    assert inside(venue, -2.0, 5.0) == ["wall of the field house"]
    assert inside(venue, 20.0, -2.0) == []


def test_a_light_plot_needs_no_window() -> None:
    import matplotlib
    from lensyard.features.light.chart import LightPlot, light_figure

    from lensyard.features.light.compute import LightRequest, light_report

    report = light_report(
        LightRequest(venue=load_venue("tamarack-fork"), kickoff=parse_time("2026-10-09T16:00"))
    )
    with mock.patch.object(matplotlib, "use", side_effect=AssertionError("no global state")):
        figure = light_figure(
            LightPlot("t", report.track, ("a", "b", "c", "d"), (), (), sunset=None)
        )
    heights = figure.axes[0].lines[-1].get_ydata()
    assert np.allclose(heights, [row.sun_elevation_deg for row in report.track])
    with pytest.raises(InvalidInputError, match="expected one each"):
        LightPlot("t", report.track, ("a",), (), (), sunset=None)
