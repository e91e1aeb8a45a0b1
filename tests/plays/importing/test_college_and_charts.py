"""College play-by-play in its several shapes, and spreadsheets read by a mapping."""

import json
from pathlib import Path

import pytest
from tests.support.play_files import check, take

from lensyard.errors import DataError, InvalidInputError
from lensyard.plays import schema
from lensyard.plays.importing.mapping import parse_mapping
from lensyard.plays.store import load_plays, shared_store

MAPPING = (Path(__file__).parent / "files" / "riverton.toml").read_text()


def test_college_plays_keep_what_their_source_tells(college_file):
    report = take(college_file())
    assert (report.source, report.level) == ("sportsdataverse", "college")
    assert report.kept == report.rows
    plays = load_plays(seasons=[2031])
    schema.validate(plays)
    assert (plays[plays["kind"] == "kickoff"]["yardline_100"] >= 50).all()


def _rows(**changes):
    row = {
        "game_id": 4_016_284_551_018_546_000.0,  # a float that lost digits
        "season": 2031, "seasonType": 2, "week": 1, "homeTeamId": 7, "awayTeamId": 9,
        "homeTeamAbbrev": "OAK", "awayTeamAbbrev": "ELM", "start.pos_team.id": 7.0,
        "start.def_pos_team.id": 9.0, "end.pos_team.id": 7.0, "period": 1,
        "clock.displayValue": "14:53", "start.down": 1, "start.distance": 10,
        "start.yardsToEndzone": 68, "end.yardsToEndzone": 59, "homeScore": 0, "awayScore": 0,
        "type.text": "Rush", "text": "Runs for 9 yds", "statYardage": 9,
        "id": -4.016284551018546e17,
    }  # fmt: skip
    return row | changes


def _json(tmp_path, rows):
    path = tmp_path / "plays.json"
    path.write_text(json.dumps(rows))
    return path


# Columns as the documentation of the release lists them (cfbfastR, load_ncaa_mfb_pbp, August 2026);
# the rows are invented. Flags tell kinds, whether or not the play type does.
ALL_DIVISIONS = [
    ({"play_type": "Rush", "rush": True, "yards_gained": 4}, "run", False),
    ({"play_type": "Pass", "pass": True, "completion": True, "yards_gained": 9}, "complete", False),
    ({"play_type": "Pass", "pass": True}, "incomplete", False),
    ({"play_type": "Pass", "pass": True, "int": True}, "interception", False),
    ({"play_type": "Pass", "pass": True, "sack": True, "yards_gained": -6}, "sack", False),
    ({"play_type": None, "rush": True, "rush_td": True, "yards_gained": 20}, "run", True),
    ({"play_type": None, "pass": True, "completion": True, "yards_gained": 3}, "complete", False),
    ({"play_type": None, "punt_play": True, "down": 4}, "punt", False),
    ({"play_type": None, "fg_inds": True, "fg_made": True, "down": 4}, "field_goal", False),
    ({"play_type": "Kickoff", "kickoff_play": True}, "kickoff", False),
]


def test_the_release_of_all_divisions_is_read_by_its_flags(tmp_path):
    flags = (
        "rush", "rush_td", "pass", "pass_td", "completion", "sack", "int", "kickoff_play",
        "punt_play", "fg_inds", "fg_made", "penalty_flag", "penalty_no_play", "ot_synthesized",
    )  # fmt: skip
    base = {
        "game_id": 31, "season": 2031, "week": 2, "period": 1, "clock.minutes": 12,
        "clock.seconds": 30, "pos_team": "OAK", "def_pos_team": "ELM", "home": "OAK",
        "away": "ELM", "down": 2, "distance": 7, "yards_to_goal": 20, "yards_gained": 0,
        "orig_play_type": "", "play_text": "", **dict.fromkeys(flags, False),
    }  # fmt: skip
    rows = [
        base | {"id_play": at, "game_play_number": at} | row
        for at, (row, *_) in enumerate(ALL_DIVISIONS)
    ]
    report = take(_json(tmp_path, rows))
    assert (report.source, report.kept, report.rejected) == ("ncaa", len(rows), ())
    plays = load_plays(seasons=[2031], source="ncaa")
    assert list(zip(plays["kind"], plays["touchdown"], strict=True)) == [
        (kind, scored) for _, kind, scored in ALL_DIVISIONS
    ]
    assert plays.loc[plays["kind"] == "kickoff", "offense"].item() == "ELM"
    assert plays.loc[plays["kind"] == "field_goal", "kick_result"].item() == "made"


KINDS = [
    ("Rushing Touchdown", "runs for 68 yds for a TD", 68, "run", True, False),
    ("Pass Completion", "pass complete to somebody for 9 yds", 9, "complete", False, False),
    ("Passing Touchdown", "68 Yd pass", 68, "complete", True, False),
    ("Pass Incompletion", "pass incomplete", 0, "incomplete", False, False),
    ("Interception Return", "pass intercepted", 30, "interception", False, False),
    ("Interception Return Touchdown", "pass intercepted", 30, "interception", False, True),
    ("Sack", "sacked for a loss of 4 yards", -4, "sack", False, False),
    ("Fumble Recovery (Opponent)", "run for 3 yds, fumbled", 3, "run", False, False),
    ("Punt Return Touchdown", "punt for 40 yds , returns for 60 yds", 60, "punt", False, True),
    ("Blocked Field Goal", "48 yd FG BLOCKED", 0, "field_goal", False, False),
    ("Two Point Rush", "rush good", 0, "two_point", False, False),
    ("Extra Point Good", "kick", 0, "extra_point", False, False),
    ("Penalty", "False start, 5 yards. NO PLAY", -5, "no_play", False, False),
    ("Rush", "takes a knee", -1, "kneel", False, False),
]


def test_college_play_types_become_kinds(tmp_path):
    rows = [
        _rows(**{"type.text": name, "text": words, "statYardage": yards, "game_play_number": at})
        for at, (name, words, yards, *_) in enumerate(KINDS)
    ]
    assert take(_json(tmp_path, rows)).kept == len(KINDS)
    plays = load_plays(seasons=[2031])
    for (name, _, yards, kind, ours, theirs), play in zip(KINDS, plays.itertuples(), strict=True):
        found = (play.kind, play.touchdown, play.return_touchdown)
        assert found == (kind, ours, theirs), name
        assert (play.offense, play.defense) == ("OAK", "ELM")
        gained = yards if kind in ("run", "complete", "sack", "kneel") else 0
        assert play.gain_yd == gained, name


def test_interception_yards_are_the_return_not_a_gain(tmp_path):
    row = _rows(**{"type.text": "Interception Return", "text": "intercepted", "statYardage": 30})
    take(_json(tmp_path, [row, _rows()]))
    play = load_plays(seasons=[2031]).iloc[0]
    assert (play["gain_yd"], play["return_yd"], bool(play["turnover"])) == (0, 30, True)


def test_a_catch_without_yards_takes_them_from_the_spots(tmp_path):
    row = _rows(**{"type.text": "Pass Reception", "text": "pass complete", "statYardage": 0})
    report = take(_json(tmp_path, [row, _rows()]))
    assert load_plays(["gain_yd"], seasons=[2031])["gain_yd"].tolist() == [9, 9]
    assert any("taken from the spots" in tally.words for tally in report.repaired)


def test_points_after_a_play_count_from_the_next_play_on(tmp_path):
    kick = {"type.text": "Kickoff", "start.pos_team.id": 9.0, "start.def_pos_team.id": 7.0,
            "start.yardsToEndzone": 65, "text": "kickoff for 65 yds for a touchback"}  # fmt: skip
    score = _rows(**{"type.text": "Rushing Touchdown", "statYardage": 68, "homeScore": 7})
    rows = [_rows(), score, _rows(homeScore=7, **kick)]
    take(_json(tmp_path, rows))
    plays = load_plays(["kind", "offense", "score_diff"], seasons=[2031])
    assert plays["score_diff"].tolist() == [0, 0, 7]
    assert plays["offense"].tolist() == ["OAK", "OAK", "OAK"]  # who kicks off is the offense


def test_plays_in_camel_case_json_are_read_with_the_season_said(tmp_path):
    play = {
        "id": "401628455101854604", "gameId": 401628455, "driveNumber": 1, "playNumber": 2,
        "offense": "Oakvale", "defense": "Elmfield", "home": "Elmfield", "away": "Oakvale",
        "offenseScore": 0, "defenseScore": 3, "period": 2, "clock": {"minutes": 12, "seconds": 5},
        "yardsToGoal": 40, "down": 2, "distance": 7, "yardsGained": 6, "scoring": False,
        "playType": "Rush", "playText": "run for 6 yds",
    }  # fmt: skip
    path = _json(tmp_path, [play, play | {"id": "2", "playNumber": 3, "down": 3, "distance": 1}])
    with pytest.raises(DataError, match="--season says it"):
        take(path)
    report = take(path, season=2031)
    assert (report.source, report.kept) == ("cfbd", 2)
    found = load_plays(seasons=[2031]).iloc[0]
    assert (found["clock_s"], found["home_club"], found["yardline_100"]) == (725, "Elmfield", 40)


def test_a_chart_is_read_by_its_mapping(chart, mapping_file):
    report = take(chart, mapping=mapping_file)
    assert (report.source, report.level, report.kept) == ("riverton", "high-school", 12)
    plays = shared_store().query("SELECT * FROM all_plays WHERE source = 'riverton'")
    schema.validate(plays[[c for c in plays.columns if c not in ("source", "level", "hash_mark")]])
    assert plays["kind"].tolist() == [
        "kickoff", "run", "incomplete", "complete", "punt", "run", "complete", "extra_point",
        "kickoff", "interception", "run", "run",
    ]  # fmt: skip
    assert plays["offense"].tolist() == ["RIV"] + ["OAK"] * 4 + ["RIV"] * 4 + ["OAK"] + ["RIV"] * 2
    # Minus is the own side: own 20 is 80 yards from the goal line, "28" is 28 yards from it.
    assert plays["yardline_100"].tolist() == [60, 80, 76, 76, 73, 65, 60, 3, 60, 68, 28, 10]
    assert plays["distance_yd"].tolist()[-1] == 10  # G: goal to go from the 10
    assert plays["hash_mark"].tolist()[:3] == ["middle", "middle", "right"]
    assert plays["score_diff"].tolist() == [0, 0, 0, 0, 0, 0, 0, 6, 7, -7, 7, 7]
    assert plays["drive_end"].tolist()[1] == "punt"


def test_signs_can_be_those_of_the_charting_club(chart):
    chart.write_text(chart.read_text().replace("10;D;2;1;10;-32", "10;D;2;1;10;32"))
    ours = MAPPING.replace("[defaults]", '[yard_line]\nsign_of = "us"\n[defaults]')
    take(chart, mapping=ours)
    plays = shared_store().query("SELECT yardline_100 FROM all_plays WHERE source = 'riverton'")
    assert plays["yardline_100"].tolist()[9] == 68


ENCODINGS = [
    ("utf-8-sig", ";", ""),
    ("utf-8", ",", ""),
    ("cp1252", ";", "Señor"),
    ("utf-16", "\t", "Ünïcode"),
    ("utf-8", "|", "日本"),
]


@pytest.mark.slow
@pytest.mark.parametrize(("encoding", "separator", "extra"), ENCODINGS)
def test_charts_of_every_encoding_and_separator_read_alike(chart, encoding, separator, extra):
    lines = chart.read_text().replace("Complete, TD", "Complete TD").replace("Rush, TD", "Rush TD")
    text = lines.replace(";", separator).replace("\n", "\r\n")
    if extra:
        text = text.replace("HASH", f"HASH{extra}")
    chart.write_bytes(text.encode(encoding))
    mapping = MAPPING.replace("Complete, TD", "Complete TD").replace("Rush, TD", "Rush TD")
    report = check(chart, mapping=mapping.replace('"HASH"', f'"HASH{extra}"'))
    assert (report.kept, report.rejected) == (12, ())


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("[columns]", "[column]"), "did you mean .columns"),
        (('down = "DN"', 'dwon = "DN"'), "columns.dwon: there is no such field"),
        (('"KO" = "kickoff"', '"KO" = "kick"'), "'kick' is none of"),
        (('"Good" = "made"', '"Good" = "great"'), "'great' is none of"),
        (('O = "offense"', 'O = "ours"'), "'ours' is none of"),
        (("season = 2031", "season = 31"), "defaults.season: got 31; expected a year from 1990"),
        (('source = "riverton"', 'source = "../x"'), "source: got '../x'; expected up to 40"),
        (('L = "left"', "L = left"), "expected TOML"),
    ],
)  # fmt: skip
def test_a_mapping_that_makes_no_sense_is_refused_with_the_place(change, words):
    with pytest.raises(InvalidInputError, match=words):
        parse_mapping(MAPPING.replace(*change, 1))


def test_a_mapping_whose_columns_are_not_in_the_file_says_which(chart):
    chart.write_text(chart.read_text().replace("YARD LN", "LOS"))
    with pytest.raises(DataError, match="lacks where the ball is snapped"):
        check(chart, mapping=MAPPING)


SIDED = """\
GAME DATE,OPP,TEAM,QTR,DN,DIST,LOS,TYPE,RES,YDS,US,THEM
2031-01-05,ELM,RIV,4,1,10,own 25,pass,"Complete, TD",75,0,7
2031-01-05,ELM,ELM,4,1,10,RIV 40,run,,3,7,7
2031-01-05,ELM,ELM,4,2,7,50,run,,-2,7,7
2031-01-05,ELM,ELM,4,3,9,ELM 48,punt,,,7,7
2031-01-05,ELM,RIV,4,,,35,KO Rec,,,7,7
"""


def test_sided_yard_lines_dates_and_scores_read(tmp_path):
    path = tmp_path / "sided.csv"
    path.write_text(SIDED)
    text = """
source = "riverton"
title = "Riverton"
[columns]
date = "GAME DATE"
opponent = "OPP"
offense = "TEAM"
quarter = "QTR"
down = "DN"
distance = "DIST"
yard_line = "LOS"
kind = "TYPE"
result = "RES"
gain = "YDS"
our_score = "US"
their_score = "THEM"
[values.kind]
"KO Rec" = "kickoff, them"
[values.result]
"Complete, TD" = ["complete", "touchdown"]
[yard_line]
style = "sided"
[defaults]
us = "RIV"
home = "them"
"""
    report = take(path, mapping=text, limit_rejects=0.5)
    assert report.seasons == (2030,)  # January belongs to the season before
    plays = load_plays(seasons=[2030])
    assert plays["yardline_100"].tolist() == [75, 40, 50, 52, 35]
    assert plays["score_diff"].tolist() == [-7, 0, 0, 0, 0]
    assert plays["home_club"].unique().tolist() == ["ELM"]
    assert plays["game_id"].unique().tolist() == ["2031-01-05 ELM"]
    assert plays["defense"].tolist() == ["ELM", "RIV", "RIV", "RIV", "ELM"]


def test_plays_listed_newest_first_are_put_in_order(chart, mapping_file):
    lines = chart.read_text().splitlines()
    clocks = [f"{line};{15 - at}:00" for at, line in enumerate(lines[1:9])]
    chart.write_text("\n".join([lines[0] + ";CLOCK", *reversed(clocks)]) + "\n")
    text = mapping_file.read_text().replace('play_number = "PLAY #"', 'clock = "CLOCK"')
    report = check(chart, mapping=text)
    assert any("newest first" in tally.words for tally in report.repaired)


def test_a_cell_of_several_lines_is_one_cell(college_file):
    change = 'SELECT * REPLACE ("text" || chr(10) || \'and ""more""\' AS "text") FROM plays'
    report = take(college_file("broken lines.csv", change=change))
    assert report.kept == report.rows > 700


def test_lines_after_one_that_cannot_be_split_keep_their_numbers(chart):
    lines = chart.read_text().splitlines()
    lines[3] += ";too;many;cells"
    lines[11] = lines[11].replace(";2;1;10;28;", ";2;9;10;28;")
    chart.write_text("\n".join(lines) + "\n")
    report = check(chart, mapping=MAPPING)
    found = [(reject.line, reject.reason) for reject in report.rejects]
    assert found == [(4, "a line that cannot be split into columns"), (12, "no down from 1 to 4")]
