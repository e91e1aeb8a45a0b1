"""The light over a game: what a photographer is told before it."""

import json
import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from lensyard.domain.kit import DEMO_KIT, kit_of
from lensyard.domain.venue import Edge, standard_venue
from lensyard.errors import InvalidInputError, OutOfRangeError, UnknownNameError
from lensyard.features.light.compute import light_answer
from lensyard.features.light.report import light_document, light_report
from lensyard.render.light import floodlight_text, light_notes, light_warnings
from lensyard.render.text import render_text
from lensyard.settings.files import load_venue
from lensyard.sun.cautions import CautionKind
from lensyard.sun.game_light import LightRequest, game_light
from lensyard.units import lux_from_footcandles

NIGHT = datetime(2026, 10, 9, 20, 0)


def light(name="tamarack-fork", at=NIGHT, **more):
    return game_light(LightRequest(venue=load_venue(name), kickoff=at, **more))


def answer(venue=None, *, kit=DEMO_KIT, **more):
    request = LightRequest(venue=venue or load_venue("tamarack-fork"), kickoff=NIGHT, kit=kit)
    return light_answer(request, **more)


def lit(footcandles):
    lux = lux_from_footcandles(footcandles) if footcandles else 0.0
    return replace(load_venue("tamarack-fork"), illuminance_lx=lux)


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
def test_floodlights_ask_for_the_published_iso(footcandles, ev100, iso):
    found = game_light(LightRequest(venue=lit(footcandles), kickoff=NIGHT, kit=kit_of(["400/2.8"])))
    lamps = found.floodlights
    assert lamps is not None
    # Half of the last digit printed; the source's 10.764 lx a footcandle is rounded too.
    assert lamps.ev100 == pytest.approx(ev100, abs=0.006)
    assert lamps.exposure.lenses[0].iso_needed == pytest.approx(iso, abs=1.0)
    assert found.quarters[-1].exposure == lamps.exposure


def test_a_kit_that_cannot_freeze_under_20_footcandles_is_told_so():
    found = light(kit=kit_of(["70-200/2.8", "400/2.8"]), max_iso=6400)
    (warning,) = light_warnings(found)
    assert "Warning: no lens of this kit reaches 1/1000 s" in warning
    assert "needs ISO 10000" in warning
    assert "quarter 4" in warning


def test_a_kit_that_can_is_not_warned():
    assert light_warnings(light(kit=kit_of(["70-200/2.8", "400/2.8"]), max_iso=12800)) == ()
    # f/2 needs half the light of f/2.8: 9104 / 1.96 = 4645.
    assert light_warnings(light(kit=kit_of(["200/2.0"]), max_iso=6400)) == ()


def test_a_daylight_game_is_told_what_the_lamps_alone_would_mean():
    found = light(at=datetime(2026, 10, 9, 13, 0))
    assert [w.split(":")[0].split(",")[0] for w in light_warnings(found)] == [
        "under the floodlights alone"
    ]


def test_one_lens_of_two_is_named():
    found = light(kit=kit_of(["200/2.0", "400/5.6"]), max_iso=6400)
    assert "200 f/2 can do 1/1000 s in this light; 400 f/5.6 cannot." in light_warnings(found)[0]


def test_a_dark_field_is_said_to_be_dark():
    found = game_light(LightRequest(venue=lit(0), kickoff=NIGHT))
    assert found.quarters[-1].exposure is None
    assert found.floodlights is None
    assert "it is dark and the venue gives no floodlights" in light_warnings(found)[0]


def test_a_converter_costs_its_square_in_iso():
    plain, longer = (
        answer(kit=kit_of(["400/2.8"], converter=magnification)) for magnification in (1.0, 2.0)
    )
    needs = []
    for found in (plain, longer):
        assert found.light.floodlights is not None
        needs.append(found.light.floodlights.exposure.lenses[0].iso_needed)
    # A 2x converter costs two stops (light falls by the square of the magnification).
    assert needs[1] == pytest.approx(4 * needs[0])
    assert plain.lenses[0].converter is None
    assert longer.lenses[0].converter is not None
    assert longer.lenses[0].converter.stops == pytest.approx(2.0)


# --- sun and sides ------------------------------------------------------------------------------


def test_a_naive_kickoff_takes_the_venue_s_zone_and_says_so():
    naive, aware = light(at=NIGHT), light(at=NIGHT.replace(tzinfo=UTC) + timedelta(hours=5))
    assert naive.kickoff.at == aware.kickoff.at  # CDT is five hours behind UTC
    assert "America/Chicago, the venue's zone" in light_notes(naive)[0]
    assert not any("the venue's zone" in note for note in light_notes(aware))


def test_quarters_run_through_the_end_of_daylight_saving_in_real_time():
    # 1 November 2026: 1:59 CDT is followed by 1:00 CST.
    found = light(at=datetime(2026, 11, 1, 0, 30))
    spans = [q.span.end.astimezone(UTC) - q.span.start.astimezone(UTC) for q in found.quarters]
    assert sum(spans, timedelta()) == timedelta(minutes=150)
    assert found.quarters[0].span.start.tzname() == "CDT"
    assert found.quarters[-1].span.end.tzname() == "CST"


def test_the_evening_sun_stands_behind_the_end_that_it_stands_behind():
    # The school field runs from west (road end) to east: from the creek end one looks west.
    found = light(at=datetime(2026, 10, 9, 16, 0))
    last = found.quarters[-1].last
    assert last is not None
    assert 250 < last.sun_azimuth_deg < 265
    assert last.edge(Edge.END_B).angle_deg < 45 < 135 < last.edge(Edge.END_A).angle_deg


def test_stands_turn_sun_into_shade_and_cost_stops():
    open_field = replace(load_venue("brindle-prairie"), stand_height_m=(0.0,) * 4)
    walled = replace(open_field, stand_height_m=(60.0,) * 4)
    at = datetime(2026, 10, 3, 14, 0)
    sunny, shaded = (
        game_light(LightRequest(venue=v, kickoff=at)).quarters[2] for v in (open_field, walled)
    )
    assert sunny.scene.light == "full sun, distinct shadows"
    assert shaded.scene.light == "open shade under a clear sky"
    assert sunny.scene.ev100 is not None
    assert shaded.scene.ev100 is not None
    # Exposure guide: full sun 15, open shade 12; a sun at 25 degrees takes .1 and .2 off.
    assert sunny.scene.ev100 - shaded.scene.ev100 == pytest.approx(3.0, abs=0.2)
    assert sunny.scene.side_matters
    assert not shaded.scene.side_matters


def test_overcast_has_no_sides():
    found = light(at=datetime(2026, 10, 9, 13, 0), sky="overcast")
    assert not any(q.scene.side_matters for q in found.quarters)
    assert found.quarters[0].scene.ev100 == pytest.approx(12.0)  # exposure guide, sun above 30


def test_light_fades_over_the_evening_to_the_floodlights():
    found = light(at=datetime(2026, 10, 9, 17, 0))
    evs = [q.scene.ev100 for q in found.quarters]
    assert all(a is not None and b is not None and a >= b for a, b in pairwise(evs))
    assert found.floodlights is not None
    assert evs[-1] == pytest.approx(found.floodlights.ev100)


def test_under_a_roof_only_the_lamps_count():
    covered = replace(standard_venue(), covered=True, illuminance_lx=1076.39)
    found = game_light(LightRequest(venue=covered, kickoff=NIGHT))
    assert found.sun is None
    assert found.track == ()
    assert {q.scene.light for q in found.quarters} == {"floodlights"}
    assert not any(c.kind is CautionKind.LIGHTNING for c in answer(covered).cautions)
    unlit = LightRequest(venue=replace(covered, illuminance_lx=0.0), kickoff=NIGHT)
    assert (
        game_light(unlit).quarters[0].scene.ev100 == 8
    )  # ANSI guide: sports indoors 8 to 9, the low end


def test_without_a_place_nothing_is_made_up():
    with pytest.raises(InvalidInputError, match="Add the four"):
        game_light(LightRequest(venue=standard_venue(), kickoff=NIGHT))


@pytest.mark.parametrize("bad", [{"max_iso": 0}, {"max_iso": math.nan}, {"shutter_s": 0}])
def test_settings_that_no_camera_has_are_refused(bad):
    with pytest.raises(OutOfRangeError):
        LightRequest(venue=lit(20), kickoff=NIGHT, **bad)


@pytest.mark.parametrize("year", [1, 1900, 2100, 9999])
def test_a_year_beyond_the_sun_s_formulas_is_refused(year):
    with pytest.raises(OutOfRangeError, match="year"):
        light(at=NIGHT.replace(year=year))


def test_an_unknown_sky_is_refused():
    with pytest.raises(UnknownNameError, match="full-sun"):
        light(sky="full-moon")


# --- lenses -------------------------------------------------------------------------------------


def test_a_distance_outside_the_band_is_said():
    near, far = (answer(kit=kit_of(["400"]), distance_yd=d).lenses[0] for d in (5.0, 60.0))
    assert not near.covers_distance
    assert not far.covers_distance


# --- words and document -------------------------------------------------------------------------


def test_a_floodlight_level_has_the_class_that_it_reaches():
    # IES RP-6: class I 100, II 50, III 30, IV 20 footcandles; 1 footcandle is 10.764 lx.
    for lux, numeral in ((1076, "class I,"), (1000, "class II,"), (540, "class II,"), (215, "IV,")):
        assert numeral in floodlight_text(lux)
    assert "below every published class" in floodlight_text(200)


def test_the_document_is_json_and_holds_what_was_found():
    found = answer(kit=kit_of(["70-200/2.8", "16/2.8"]), distance_yd=40.0)
    document = light_document(found)
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert document["schema_version"] == 2
    assert document["cautions"][-1] == found.cautions[-1].sentence
    assert document["kickoff"] == "2026-10-09T20:00:00-05:00"
    assert [q["name"] for q in document["quarters"]][2] == "halftime"
    # 16 mm at f/2.8 is sharp to infinity from half of some 3 m on (hyperfocal distance).
    assert document["lenses"][1]["depth_behind_yd"] is None
    edges = document["quarters"][0]["first"]["edges"]
    assert [e["name"] for e in edges] == [
        "visitors' sideline",
        "creek end",
        "home sideline",
        "road end",
    ]


def test_the_report_leads_with_whether_the_kit_can_do_it():
    cannot = light_report(answer(kit=kit_of(["400/5.6"])))
    assert cannot.headline.startswith("No lens of this kit reaches 1/1000 s in quarter 1")
    can = light_report(answer(lit(125), kit=kit_of(["400/2.8"])))
    assert can.headline == "Every lens of this kit can do 1/1000 s through the game."
    dark = light_report(answer(lit(0)))
    assert dark.headline.startswith("It is dark and the venue gives no floodlights in quarter 1")


def test_the_terminal_has_every_table_and_every_caution():
    report = light_report(answer())
    text = " ".join(render_text(report, width=120).split())
    for words in (report.headline, *report.cautions, *(table.title for table in report.tables)):
        assert " ".join(words.split()) in text


def test_charts_cover_the_game_without_gaps():
    report = light_report(answer())
    runs = report.table("edge_light")
    for edge in dict.fromkeys(runs.column("edge")):
        spans = [row[2:] for row in runs.rows if row[0] == edge]
        assert all(a[1] == b[0] for a, b in pairwise(spans))
        # 20:00 less half an hour, to the end of a school game of 150 minutes and half an hour.
        assert (spans[0][0], spans[-1][1]) == (19.5, 23.0)
    assert {chart.table for chart in report.charts} == {"sun_height", "edge_light"}
