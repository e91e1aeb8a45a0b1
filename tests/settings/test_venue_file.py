"""Venue files: what is read, what is refused and how it is said, and the way there and back."""

import json
import re

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from lensyard.cli import group
from lensyard.domain.field import RULES, Direction
from lensyard.domain.venue import Edge, standard_venue
from lensyard.errors import UnknownNameError
from lensyard.settings.files import VENUES, load_venue

HEAD = 'name = "Field"\nrules = "college"\n'


def told(*arguments):
    """Return what ``lensyard venue`` prints."""
    return CliRunner().invoke(group, ["venue", *arguments], catch_exceptions=False).stdout


def issues(text):
    reading = VENUES.read(text)
    assert (reading.value is None) == bool(reading.issues)
    return reading.issues


def only(text):
    found = issues(text)
    assert len(found) == 1, found
    return found[0]


def venue_text(document):
    """A document of a venue as the text of its file."""

    def table(header, content):
        lines = [
            header,
            *(f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in content.items()),
        ]
        return "\n".join(lines) + "\n"

    tables = [
        table("", {k: v for k, v in document.items() if not isinstance(v, dict) and k != "closed"})
    ]
    tables += [table("[[closed]]", stretch) for stretch in document["closed"]]
    for key in ("team_areas", "floodlights", "house_rules"):
        tables.append(table(f"[{key}]", document[key]))
    tables += [table(f"[stands.{edge}]", stand) for edge, stand in document["stands"].items()]
    return "\n".join(tables)


# --- errors -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("added", "line", "key", "message"),
    [
        # What is not written down has the line of what is around it.
        ("[[closed]]\nfrom = 1\nto = 2", 3, "closed[1].edge", "is missing"),
        ("latitud_deg = 4", 3, "latitud_deg", "did you mean 'latitude_deg'?"),
        ("side_setback_yd = 99", 3, "side_setback_yd", "got 99; expected yards from 0.5 to 15"),
        ("side_setback_yd = nan", 3, "side_setback_yd", "got nan; expected yards"),
        ("side_setback_yd = '4'", 3, "side_setback_yd", "got '4'; expected yards"),
        ("covered = 1", 3, "covered", "got 1; expected true or false"),
        ("goal_posts = 'triple'", 3, "goal_posts", 'expected one of "single", "double"'),
        ("end_names = ['a']", 3, "end_names", "expected two names"),
        ("end_names = ['north', 'north']", 3, "end_names", "expected four different names"),
        ("end_names = ['B', 'north']", 3, "end_names", "'B' already means another edge"),
        ("\n[team_areas]\nfrom_yard_line = 60", 5, "team_areas.from_yard_line", "0 to 50"),
        ("\n[team_areas]\nfrom_yard_line = 'no'", 5, "team_areas.from_yard_line", '"none"'),
        ("team_areas = 3", 3, "team_areas", "expected a table headed [team_areas]"),
        ("closed = 3", 3, "closed", "expected tables headed [[closed]]"),
        ("[closed]", 3, "closed", "expected tables headed [[closed]]"),
        ("[floodlight]", 3, "floodlight", "did you mean 'floodlights'?"),
        ("[floodlights]\nlux = 1\nclass = 'class-1'", 5, "floodlights.class", "only one of"),
        ("[floodlights]\nclass = 'class-9'", 4, "floodlights.class", "Did you mean 'class-4'?"),
        ("[stands]\nend_c = {}", 4, "stands.end_c", "did you mean 'end_"),
        ("[stands.end_a]\nheight = 3", 4, "stands.end_a.height", "did you mean 'height_m'?"),
        ("[house_rules]\nflash = ''", 4, "house_rules.flash", "1 to 200 printable characters"),
        ("[house_rules]\nother = ['a\\tb']", 4, "house_rules.other[1]", "printable characters"),
        (
            "[house_rules]\nother = [\n  'a]', # one\n  'a\\tb',\n]",
            *(6, "house_rules.other[2]", "printable characters"),
        ),
        ("stands = { end_a = { height = 3 } }", 3, "stands.end_a.height", "mean 'height_m'?"),
        ('flash = """\nlux = 3\n[stands]\n"""', 3, "flash", "is no key"),
    ],
)
def test_an_error_names_line_key_and_what_was_expected(added, line, key, message):
    issue = only(HEAD + added.replace("'", '"') + "\n")
    assert (issue.line, issue.key) == (line, key)
    assert message.replace("'", '"') in issue.message.replace("'", '"')


@pytest.mark.parametrize(
    ("stretch", "line", "key", "message"),
    [
        ('edge = "sidelin A"\nfrom = 1\nto = 2', 4, "closed[1].edge", "mean 'sideline A'?"),
        ('edge = "sideline A"\nfrom = "20"\nto = 50', 5, "closed[1].from", '"A 20"'),
        ('edge = "sideline A"\nfrom = "A 60"\nto = 90', 5, "closed[1].from", "between 0 and 50"),
        ('edge = "sideline A"\nfrom = "A 40"\nto = "A 20"', 6, "closed[1].to", "beyond from"),
        ('edge = "end A"\nfrom = "A 40"\nto = 50', 5, "closed[1].from", "from sideline A"),
        ('edge = "end A"\nfrom = 1\nto = 60', 6, "closed[1].to", "past the corner"),
        ('edge = "end A"\nfrom = true\nto = 5', 5, "closed[1].from", "got true"),
        ('edge = "end A"\nfrom = 1', 3, "closed[1].to", "is missing; expected yards"),
        ('edge = "end A"\nfrom = 1\nto = 9\nkind = "tent"', 7, "closed[1].kind", '"band"'),
        ('edge = "end A"\nfrom = 1\nto = 9\ndepth_yd = 0', 7, "closed[1].depth_yd", "0.1 to 30"),
        ('edge = "end A"\nfrom = 1\nto = 9\nfrontyd = 0', 7, "closed[1].frontyd", "'front_yd'"),
        (
            'edge = "end A"\nfrom = 1\nto = 9\n[[closed]]\nedge = "end A"\nfrom = 1\nto = 60',
            *(10, "closed[2].to", "past the corner"),
        ),
    ],
)
def test_an_error_in_a_stretch_points_into_it(stretch, line, key, message):
    issue = only(f"{HEAD}[[closed]]\n{stretch}\n")
    assert (issue.line, issue.key) == (line, key)
    assert message in issue.message


def test_all_problems_come_at_once_in_order_of_line():
    found = issues('name = ""\nrules = "amateur"\ncovered = "no"\n[[closed]]\nedge = 4\n')
    assert [(p.line, p.key) for p in found] == [
        (1, "name"),
        (2, "rules"),
        (3, "covered"),
        (4, "closed[1].from"),
        (4, "closed[1].to"),
        (5, "closed[1].edge"),
    ]


def test_the_four_keys_of_a_place_come_together():
    issue = only(HEAD + 'latitude_deg = 40.0\ntime_zone = "America/Denver"\n')
    assert issue.line == 3
    assert "without axis_bearing_deg and longitude_deg" in issue.message


def test_a_time_zone_must_exist_and_the_nearest_is_named():
    place = "axis_bearing_deg = 1\nlatitude_deg = 4\nlongitude_deg = -9\n"
    issue = only(f'{HEAD}{place}time_zone = "America/Dever"\n')
    assert (issue.line, issue.key) == (6, "time_zone")
    assert "'America/Denver'" in issue.message


# --- what is read -------------------------------------------------------------------------------


def test_the_shortest_file_is_the_rule_set_itself():
    for rules in RULES:
        venue = VENUES.parse(f'name = "any {rules} field"\nrules = "{rules}"\n')
        assert venue == standard_venue(rules)


def test_places_along_a_sideline_are_those_of_the_stadium_frame():
    # The goal lines are 10 yd in from the end lines in every rule set (rules of the game).
    said = {
        "A 20": 30,
        "a20": 30,
        "Road  End 20": 30,
        "end A 20": 30,
        "50": 60,
        "B 35": 75,
        "creek end 35": 75,
        "goal A": 10,
        "goal line creek end": 110,
        "A 0": 10,
        "B 12.5": 97.5,
    }
    stretch = '[[closed]]\nedge = "sideline B"\nfrom = "{}"\nto = "end line B"\n'
    text = HEAD + 'end_names = ["road end", "creek end"]\n' + "".join(map(stretch.format, said))
    closed = [one for one in VENUES.parse(text).closed if one.kind == "other"]
    assert [one.from_yd for one in closed] == list(said.values())
    assert {one.to_yd for one in closed} == {120.0}


@pytest.mark.parametrize(
    ("kind", "ground"),
    [
        ("television platform", (4.0, 4.0, True, True)),
        ("camera rail", (3.0, 3.0, False, True)),  # low: one may photograph across it
        ("wall", (2.0, 1.0, True, False)),
        ("team area", (4.0, 8.0, True, True)),  # the rule set's: 12 ft and 24 ft
    ],
)
def test_a_stretch_takes_the_defaults_of_its_kind(kind, ground):
    text = f'{HEAD}[[closed]]\nedge = "end A"\nfrom = 5\nto = 9\nkind = "{kind}"\n'
    one = VENUES.parse(text).closed[-1]
    assert (one.kind, one.name) == (kind, kind)
    assert (one.front_yd, one.depth_yd, one.blocks_view, one.walk_behind) == ground


def test_what_a_stretch_says_wins_over_its_kind():
    text = (
        f'{HEAD}sideline_names = ["east", "west"]\n[[closed]]\nedge = "WEST"\nfrom = 5\nto = 9\n'
        'kind = "wall"\nname = "gate"\nfront_yd = 7\ndepth_yd = 3\nblocks_view = false\n'
        "walk_behind = true\n"
    )
    stretch = VENUES.parse(text).closed[-1]
    assert (stretch.edge, stretch.name) == (Edge.SIDELINE_B, "gate")
    assert (stretch.front_yd, stretch.depth_yd) == (7, 3)
    assert (stretch.blocks_view, stretch.walk_behind) == (False, True)


def test_floodlights_are_the_same_in_lux_footcandles_and_class():
    # 1 footcandle is 10.764 lx (definition), IES RP-6 class IV is 20 footcandles.
    by_class = VENUES.parse(f'{HEAD}[floodlights]\nclass = "class-4"\n').illuminance_lx
    by_number = VENUES.parse(f"{HEAD}[floodlights]\nfootcandles = 20\n").illuminance_lx
    assert by_class == pytest.approx(by_number, abs=1e-9)
    assert by_class == pytest.approx(215.28, abs=0.005)  # 20 x 10.764, rounded in the source
    assert VENUES.parse(f"{HEAD}[floodlights]\nlux = 540\n").illuminance_lx == 540
    assert VENUES.parse(f"{HEAD}[floodlights]\nfootcandles = 0\n").illuminance_lx == 0


def test_ends_can_be_named_in_every_way():
    venue = load_venue("tamarack-fork")
    for said in ("A", "a", "end A", "road end", " Road  END "):
        assert venue.toward(said) is Direction.TOWARD_A
    assert venue.toward("creek end") is Direction.TOWARD_B
    with pytest.raises(UnknownNameError, match="road end, creek end"):
        venue.toward("north")


# --- the way back, and the template --------------------------------------------------------------


@pytest.mark.parametrize("name", ["brindle-prairie", "tamarack-fork"])
def test_a_demo_venue_is_invented_and_the_same_when_written_down_again(name):
    venue = load_venue(name)
    assert "(invented)" in venue.name
    assert not venue.symmetric
    shown = json.loads(told("show", name, "--json"))
    assert VENUES.parse(venue_text(shown["venue"])) == venue


names = st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S"]), min_size=1).filter(
    lambda text: text.casefold() not in ("a", "b")
)


@pytest.mark.slow
@given(
    name=names.map(lambda text: text[:80]),
    rules=st.sampled_from(sorted(RULES)),
    side=st.floats(0.5, 15),
    bearing=st.floats(0, 360),
    latitude=st.floats(-90, 90),
    longitude=st.floats(-180, 180),
    posts=st.sampled_from(["single", "double"]),
    lux=st.floats(0, 20000),
    heights=st.lists(st.floats(0, 200), min_size=4, max_size=4),
    note=names.map(lambda text: text[:200]),
)
def test_any_venue_survives_the_way_there_and_back(
    tmp_path_factory, name, rules, side, bearing, latitude, longitude, posts, lux, heights, note
):
    edges = ("sideline_a", "end_b", "sideline_b", "end_a")
    said = {
        "name": name,
        "rules": rules,
        "side_setback_yd": side,
        "goal_posts": posts,
        "axis_bearing_deg": bearing,
        "latitude_deg": latitude,
        "longitude_deg": longitude,
        "time_zone": "Europe/Berlin",
        "closed": [],
        "team_areas": {},
        "floodlights": {"lux": lux},
        "house_rules": {"flash": note, "other": [note]},
        "stands": {edge: {"height_m": height} for edge, height in zip(edges, heights, strict=True)},
    }
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_text(venue_text(said), encoding="utf-8")
    venue = load_venue(path)
    shown = json.loads(told("show", str(path), "--json"))["venue"]
    assert {key: shown[key] for key in said if key not in ("closed", "team_areas", "stands")} == {
        key: value for key, value in said.items() if key not in ("closed", "team_areas", "stands")
    }
    assert [shown["stands"][edge]["height_m"] for edge in edges] == heights
    assert VENUES.parse(venue_text(shown)) == venue


@pytest.mark.parametrize("rules", RULES)
def test_the_template_loads_as_it_is(rules):
    venue = VENUES.parse(told("new", 'O\'Field "North" \\ §', "--rules", rules))
    assert venue.name == 'O\'Field "North" \\ §'
    standard = standard_venue(rules)
    assert venue.closed == standard.closed
    assert (venue.side_setback_yd, venue.end_setback_yd, venue.posts) == (
        standard.side_setback_yd,
        standard.end_setback_yd,
        standard.posts,
    )


def test_the_template_loads_with_every_key_switched_on():
    text = re.sub(r"^#(?! )", "", told("new", "Field", "--rules", "pro"), flags=re.MULTILINE)
    # Only one of the three ways to give floodlights may stay.
    text = re.sub(r"^(lux|footcandles) = .*\n", "", text, flags=re.MULTILINE)
    venue = VENUES.parse(text)
    assert venue.has_place
    assert venue.closed[-3].kind == "television platform"
    assert [one.name for one in venue.closed[-2:]] == ["middle of the end line"] * 2
    assert venue.stand_height_m == (15.0,) * 4
    assert len(venue.notes) == 4
