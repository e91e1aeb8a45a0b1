"""``lensyard light``: what a photographer is told of the light before a game."""

import json
import re
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from tests.features.reports import made

VENUES = Path(__file__).parents[3] / "data" / "venues"
NIGHT = "2026-10-09T20:00"
SCHOOL = ("light", "--venue", "tamarack-fork", "--at")


@pytest.fixture
def light(document):
    """Return what is said of a game at the school's field, or at another."""
    return lambda *more, at=NIGHT, venue="tamarack-fork": document(
        "light", "--venue", str(venue), "--at", at, *more
    )


@pytest.fixture
def changed(tmp_path):
    """Write a bundled venue with some of its lines changed; return the file."""

    def write(name, *changes):
        text = (VENUES / f"{name}.toml").read_text(encoding="utf-8")
        for old, new in changes:
            text, count = re.subn(old, new, text)
            assert count
        path = tmp_path / f"{len(list(tmp_path.iterdir()))}.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def lit(changed):
    """The school's field under lamps of so many footcandles."""
    return lambda footcandles: changed(
        "tamarack-fork", ('class = "class-4"', f"footcandles = {footcandles}")
    )


# --- the warning before the game ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("footcandles", "ev100", "iso"),
    # Computed from EV = log2(E S / C), C = 250 (ISO 2720:1974), and S = C N^2 / (t E) at f/2.8 and
    # 1/1000 s for published levels: IES RP-6 classes and NCAA Best Lighting Practices.
    [
        (20, 6.43, 9104),
        (30, 7.01, 6070),
        (50, 7.75, 3642),
        (75, 8.34, 2428),
        (100, 8.75, 1821),
        (125, 9.07, 1457),
    ],
)
def test_floodlights_ask_for_the_published_iso(light, lit, footcandles, ev100, iso):
    found = light("--lens", "400/2.8", venue=lit(footcandles))
    lamps = found["floodlights"]
    # Half of the last digit printed; the source's 10.764 lx a footcandle is rounded too.
    assert lamps["ev100"] == pytest.approx(ev100, abs=0.006)
    assert lamps["exposure"]["lenses"][0]["iso_needed"] == pytest.approx(iso, abs=1.0)
    assert found["quarters"][-1]["exposure"] == lamps["exposure"]


def test_a_kit_that_cannot_freeze_under_20_footcandles_is_told_so(light):
    found = light("--lens", "70-200/2.8", "--lens", "400/2.8", "--iso-max", "6400")
    (warning,) = found["warnings"]
    assert "Warning: no lens of this kit reaches 1/1000 s" in warning
    # By hand: 9104 / 6400 is half a stop; on a dial in thirds, and 1/703 s becomes 1/640 s.
    assert "no faster than 1/640 s" in warning
    assert "needs ISO 10000, 2/3 of a stop more" in warning
    assert "quarter 4" in warning
    # f/2 needs half the light of f/2.8: 9104 / 1.96 = 4645.
    assert light("--lens", "200/2.0", "--iso-max", "6400")["warnings"] == []
    assert light("--lens", "400/2.8", "--iso-max", "12800")["warnings"] == []


def test_a_daylight_game_is_told_what_the_lamps_alone_would_mean(light):
    (warning,) = light(at="2026-10-09T13:00")["warnings"]
    assert warning.startswith("under the floodlights alone")


def test_one_lens_of_two_is_named(light):
    (warning,) = light("--lens", "200/2.0", "--lens", "400/5.6", "--iso-max", "6400")["warnings"]
    assert "200 f/2 can do 1/1000 s in this light; 400 f/5.6 cannot." in warning


def test_a_dark_field_is_said_to_be_dark(light, changed, run):
    dark = changed("tamarack-fork", ('class = "class-4"', ""))
    found = light(venue=dark)
    assert found["quarters"][-1]["exposure"] is None
    assert found["floodlights"] is None
    said = run("light", "--venue", str(dark), "--at", NIGHT)[1]
    start = "It is dark and the venue gives no floodlights in quarter 1"
    assert " ".join(said.split()).startswith(start)


def test_a_converter_costs_its_square_in_iso(light):
    plain, longer = light("--lens", "400/2.8"), light("--lens", "400/2.8", "--converter", "2")
    needs = [
        found["floodlights"]["exposure"]["lenses"][0]["iso_needed"] for found in (plain, longer)
    ]
    # A 2x converter costs two stops (light falls by the square of the magnification).
    assert needs[1] == pytest.approx(4 * needs[0])
    assert plain["lenses"][0]["converter"] is None
    assert longer["lenses"][0]["converter"]["stops"] == pytest.approx(2.0)


# --- sun and sides ------------------------------------------------------------------------------


def test_a_kickoff_without_a_zone_takes_the_venue_s_and_says_so(light):
    naive, aware = light(), light(at="2026-10-10T01:00+00:00")
    # CDT is five hours behind UTC.
    assert datetime.fromisoformat(naive["kickoff"]) == datetime.fromisoformat(aware["kickoff"])
    assert naive["kickoff"] == "2026-10-09T20:00:00-05:00"
    assert "America/Chicago, the venue's zone" in naive["notes"][0]
    assert not any("the venue's zone" in note for note in aware["notes"])


def test_quarters_run_through_the_end_of_daylight_saving_in_real_time(light):
    # 1 November 2026: 1:59 CDT is followed by 1:00 CST.
    quarters = light(at="2026-11-01T00:30")["quarters"]
    spans = [tuple(datetime.fromisoformat(q[key]) for key in ("start", "end")) for q in quarters]
    assert sum((end - start for start, end in spans), timedelta()) == timedelta(minutes=150)
    assert spans[0][0].utcoffset() == timedelta(hours=-5)
    assert spans[-1][1].utcoffset() == timedelta(hours=-6)
    assert quarters[2]["name"] == "halftime"


def test_the_evening_sun_stands_behind_the_end_that_it_stands_behind(light):
    # The school field runs from west (road end) to east: from the creek end one looks west.
    last = light(at="2026-10-09T16:00")["quarters"][-1]["last"]
    assert 250 < last["sun_azimuth_deg"] < 265
    angle = {edge["name"]: edge["angle_deg"] for edge in last["edges"]}
    assert list(angle) == ["visitors' sideline", "creek end", "home sideline", "road end"]
    assert angle["creek end"] < 45 < 135 < angle["road end"]


def test_stands_turn_sun_into_shade_and_cost_stops(light, changed):
    sunny, shaded = (
        light(
            venue=changed("brindle-prairie", (r"height_m = \d+\.\d", f"height_m = {height}")),
            at="2026-10-03T14:00",
        )["quarters"][2]
        for height in (0.0, 60.0)
    )
    assert sunny["light"] == "full sun, distinct shadows"
    assert shaded["light"] == "open shade under a clear sky"
    # Exposure guide: full sun 15, open shade 12; a sun at 25 degrees takes .1 and .2 off.
    assert sunny["ev100"] - shaded["ev100"] == pytest.approx(3.0, abs=0.2)
    assert sunny["side_matters"]
    assert not shaded["side_matters"]


def test_overcast_has_no_sides(light):
    quarters = light("--sky", "overcast", at="2026-10-09T13:00")["quarters"]
    assert not any(quarter["side_matters"] for quarter in quarters)
    assert quarters[0]["ev100"] == pytest.approx(12.0)  # exposure guide, sun above 30


def test_light_fades_over_the_evening_to_the_floodlights(light):
    found = light(at="2026-10-09T17:00")
    evs = [quarter["ev100"] for quarter in found["quarters"]]
    assert all(a >= b for a, b in pairwise(evs))
    assert evs[-1] == pytest.approx(found["floodlights"]["ev100"])


def test_under_a_roof_only_the_lamps_count(light, changed):
    roof = ("covered = false", "covered = true")
    found = light(venue=changed("tamarack-fork", roof))
    assert found["sun"] is None
    assert {quarter["light"] for quarter in found["quarters"]} == {"floodlights"}
    assert not any("thunder" in caution for caution in found["cautions"])
    assert any("thunder" in caution for caution in light()["cautions"])
    unlit = light(venue=changed("tamarack-fork", roof, ('class = "class-4"', "")))
    # ANSI guide: sports indoors 8 to 9, the low end.
    assert unlit["quarters"][0]["ev100"] == 8


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--iso-max", "0"), "iso"),
        (("--sky", "full-moon"), "full-sun"),
        (("--at", "1900-10-09T20:00"), "year"),
        (("--at", "9999-10-09T20:00"), "year"),
        (("--venue", "{nowhere}"), "Add the four"),
        (("--plot", "a.bmp"), ".png, .svg or .pdf"),
        (("--plot", "/nonexistent-folder/a.png"), "cannot write"),
        *((("--shutter", text), "1/1000") for text in ("fast", "0", "-1", "1/0", "nan", "inf")),
    ],
)
def test_what_cannot_be_is_refused(run, tmp_path, arguments, says):
    (tmp_path / "plain.toml").write_text('name = "Plain"\nrules = "pro"\n', encoding="utf-8")
    given = [text.replace("{nowhere}", str(tmp_path / "plain.toml")) for text in arguments]
    code, out, err = run(*SCHOOL, NIGHT, *given)
    assert code != 0
    assert out == ""
    assert says in err


# --- lenses, words and document ------------------------------------------------------------------


def test_what_a_lens_does_at_a_distance(light):
    near, far = (light("--lens", "400", "--distance", d)["lenses"][0] for d in ("5", "60"))
    assert not near["covers_distance"]
    assert not far["covers_distance"]
    # 16 mm at f/2.8 is sharp to infinity from half of some 3 m on (hyperfocal distance).
    assert light("--lens", "16/2.8", "--distance", "40")["lenses"][0]["depth_behind_yd"] is None


def test_light_as_json_is_one_document(document):
    found = document(
        *("light", "--venue", "brindle-prairie", "--at", "2026-10-03T15:30-05:00"),
        *("--lens", "400/2.8", "--converter", "1.4", "--pixels", "8000", "--wbgt", "90"),
    )
    assert found["lenses"][0]["converter"]["magnification"] == 1.4
    # 8000 pixels over 36 mm, 560 mm at 56 yd: 1.83 m is 20.0 mm and 4,450 pixels.
    assert found["lenses"][0]["player_height_px"] == pytest.approx(4448, abs=5)
    assert any("90.0 F" in caution for caution in found["cautions"])


def test_a_floodlight_level_has_the_class_that_it_reaches(changed, run):
    # IES RP-6: class I 100, II 50, III 30, IV 20 footcandles; 1 footcandle is 10.764 lx.
    for lux, numeral in (
        (1076, "class I,"), (1000, "class II,"), (540, "class II,"), (215, "IV,"),
        (200, "below every published class"),
    ):  # fmt: skip
        venue = changed("tamarack-fork", ('class = "class-4"', f"lux = {lux}"))
        assert numeral in " ".join(run("light", "--venue", str(venue), "--at", NIGHT)[1].split())


def test_the_answer_leads_with_whether_the_kit_can_do_it_and_has_the_deferral(run, lit):
    code, out, _ = run(*SCHOOL, "2026-10-09T19:00")
    assert code == 0
    lines = out.splitlines()
    assert lines[0].startswith("No lens of this kit reaches 1/1000 s in quarter 1")
    assert any(line.startswith("Caution: Local rules") for line in lines)
    assert "read as America/Chicago, the venue's zone" in " ".join(out.split())
    bright = run("light", "--venue", str(lit(125)), "--at", NIGHT, "--lens", "400/2.8")[1]
    assert bright.startswith("Every lens of this kit can do 1/1000 s through the game.")


def test_what_nobody_gave_is_said_and_steps_are_a_camera_s(run):
    lenses = ("--lens", "70-200", "--lens", "400/2.8 x1.4")
    out = " ".join(run(*SCHOOL, "2026-10-09T19:00", *lenses)[1].split())
    assert "Assumed, as nobody gave it: f/2.8 for 70-200 (write 70-200/2.8)." in out
    assert "400 x1.4 f/4" in out
    for odd in ("f/3.9", "9104", "1/703"):
        assert odd not in out


@pytest.mark.slow
@pytest.mark.parametrize(
    ("suffix", "magic"), [(".png", b"\x89PNG"), (".svg", b"<?xml"), (".pdf", b"%PDF")]
)
def test_the_plot_is_a_picture_and_the_same_each_time(run, tmp_path, suffix, magic):
    paths = [tmp_path / f"{name}{suffix}" for name in "ab"]
    for path in paths:
        code, out, err = run(*SCHOOL, "2026-10-09T16:00", "--plot", str(path), "--json")
        assert code == 0
        json.loads(out)  # the message about the file goes to standard error
        assert str(path) in " ".join(err.split())
    one, two = (path.read_bytes() for path in paths)
    assert one.startswith(magic)
    assert one == two


def test_charts_cover_the_game_without_gaps():
    report = made("light").report
    runs = report.table("edge_light")
    for edge in dict.fromkeys(runs.column("edge")):
        spans = [row[2:] for row in runs.rows if row[0] == edge]
        assert all(a[1] == b[0] for a, b in pairwise(spans))
        # 19:00 less half an hour, to the end of a school game of 150 minutes and half an hour.
        assert (spans[0][0], spans[-1][1]) == (18.5, 22.0)
    assert {chart.table for chart in report.charts} == {"sun_height", "edge_light"}
