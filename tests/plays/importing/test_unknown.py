"""What a file does not have stays unknown, and the import says what follows."""

import json
import zipfile
from datetime import date

import pytest
from click.testing import CliRunner
from tests.support.play_files import check, school_chart, take

from lensyard.features.plays.cli import data_command
from lensyard.plays.store import load_plays

DROPPED = (
    "field_goal_result", "extra_point_result", "two_point_conv_result", "touchback", "td_team",
    "punt_fair_catch", "punt_downed", "punt_out_of_bounds", "kickoff_fair_catch", "kickoff_downed",
    "kickoff_out_of_bounds", "out_of_bounds", "air_yards", "return_touchdown", "desc",
)  # fmt: skip


def without(file, *columns):
    """Write a season without some of the columns that there are."""
    some = file()
    import duckdb

    found = {row[0] for row in duckdb.sql(f"DESCRIBE FROM '{some}'").fetchall()}
    dropped = ", ".join(name for name in columns if name in found)
    return file(name="less.parquet", change=f"SELECT * EXCLUDE ({dropped}) FROM plays")


def test_kicks_without_results_are_unknown_not_missed(nflverse_file):
    path = without(nflverse_file, *DROPPED)
    report = take(path)
    plays = load_plays(seasons=[2031], source="nflverse")
    kicks = plays[plays["kind"].isin(("field_goal", "extra_point", "punt"))]
    assert not kicks["kick_result"].isin(("missed", "returned")).any()
    goals = plays[plays["kind"] == "field_goal"]
    assert goals["kick_result"].isna().all()
    ends = plays.loc[plays["kind"] == "field_goal", "drive_end"]
    assert ends.isna().all()
    carried = plays[plays["kind"].isin(("run", "complete"))]
    assert carried["out_of_bounds"].isna().all()
    # Nobody says who scored: on a kick or an interception it was the other club.
    against = plays[plays["kind"].isin(("interception", "punt", "kickoff"))]
    assert not against["touchdown"].any()
    said = " ".join(report.absent)
    for words in ("no air yards", "no results of field goals", "out of bounds", "of tries"):
        assert words in said


def test_a_whole_file_lacks_nothing_that_it_has(nflverse_file):
    said = " ".join(take(nflverse_file()).absent)
    for words in ("air yards", "kickoffs", "field goals", "interceptions"):
        assert words not in said


def test_a_comparison_leaves_out_what_one_side_does_not_have(nflverse_file):
    take(without(nflverse_file, *DROPPED))
    said = CliRunner().invoke(data_command, ["compare", "2019", "2031", "--json"]).stdout
    found = json.loads(said)
    names = {measure["name"] for measure in found["measures"]}
    for name in ("air_yards", "field_goal_made_share", "touchback_share", "out_of_bounds_share"):
        assert name not in names
    assert "pass_share" in names
    assert "air yards a pass" in found["left_out"]
    assert all(None not in (m["first"], m["second"]) for m in found["measures"])


def test_game_seconds_tell_the_quarter_and_the_clock(nflverse_file):
    seconds = (
        "SELECT * EXCLUDE (qtr, quarter_seconds_remaining), "
        "CASE WHEN qtr <= 4 THEN 900 * (4 - qtr) + quarter_seconds_remaining END "
        "AS game_seconds_remaining FROM plays"
    )
    take(nflverse_file(name="seconds.parquet", change=seconds))
    plays = load_plays(seasons=[2031], source="nflverse")
    assert set(plays["quarter"]) >= {1, 2, 3, 4}
    # The last second of a quarter reads as the first of the next, nothing else is off.
    going_up = plays.groupby("game_id")["quarter"].diff().lt(0).sum()
    assert going_up == 0


def test_the_files_order_holds_where_play_ids_make_the_clock_run_backward(nflverse_file):
    """Reduced tables have no column of the order, and ids that a late correction has moved."""
    late = (
        "SELECT p.* REPLACE (CAST(play_id AS INTEGER) + if(CAST(play_id AS INTEGER) % 5 = 0, 600, "
        "0) AS play_id) FROM plays p ORDER BY p.game_id, p.play_id"
    )
    report = take(nflverse_file(name="reduced.parquet", change=late))
    assert "an order under which the clock runs backward" in " ".join(
        tally.words for tally in report.repaired
    )
    plays = load_plays(seasons=[2031], source="nflverse")
    elapsed = 900 * plays["quarter"] - plays["clock_s"]
    assert not elapsed.groupby(plays["game_id"]).diff().lt(0).any()


def test_rows_of_a_game_too_long_to_be_one_are_not_counted_as_repaired(nflverse_file):
    long_game = (
        "SELECT p.* REPLACE ('2031_01_AAA_BBB' AS game_id, NULL AS play_id, 99 AS yards_gained) "
        "FROM (SELECT * FROM plays WHERE play_type = 'run' LIMIT 40) p, range(12)"
    )
    rest = "SELECT * FROM plays"
    path = nflverse_file(name="long.parquet", change=f"({long_game}) UNION ALL ({rest})")
    report = check(path, limit_rejects=1.0)
    assert "401 plays" in " ".join(tally.words for tally in report.rejected)
    assert "more yards gained than the field has" not in " ".join(t.words for t in report.repaired)


def test_rows_that_are_rejected_are_not_counted_as_repaired(nflverse_file):
    longer = "SELECT * REPLACE (999 AS yards_gained, NULL AS posteam) FROM plays LIMIT 5"
    rest = "SELECT * FROM plays WHERE play_type = 'run' OFFSET 5"
    path = nflverse_file(name="wrong.parquet", change=f"({longer}) UNION ALL ({rest})")
    report = check(path)
    assert sum(tally.rows for tally in report.rejected) >= 5
    assert "more yards gained than the field has" not in " ".join(t.words for t in report.repaired)


@pytest.mark.slow
def test_a_zip_made_on_a_mac_is_the_file_in_it(nflverse_file, tmp_path):
    season = nflverse_file()
    path = tmp_path / "season.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.write(season, "season.parquet")
        archive.writestr("__MACOSX/._season.parquet", b"\x00\x05\x16\x07")
        archive.writestr(".DS_Store", b"\x00")
    assert check(path).kept == check(season).kept


WORKBOOK = {
    "[Content_Types].xml": '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/'
    'package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.'
    'openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType='
    '"application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.'
    'openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName='
    '"/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.'
    'spreadsheetml.worksheet+xml"/></Types>',
    "_rels/.rels": '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/'
    'package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/'
    'officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>',
    "xl/workbook.xml": '<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/'
    'spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/'
    'relationships"><sheets><sheet name="Plays" sheetId="1" r:id="rId1"/></sheets></workbook>',
    "xl/_rels/workbook.xml.rels": '<?xml version="1.0"?><Relationships xmlns="http://schemas.'
    'openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.'
    'openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml'
    '"/></Relationships>',
}
"""The parts of the smallest workbook (ECMA-376, Office Open XML) beside its one sheet."""


OPEN_DOCUMENT = {
    "mimetype": "application/vnd.oasis.opendocument.spreadsheet",
    "META-INF/manifest.xml": '<?xml version="1.0"?><manifest:manifest xmlns:manifest="urn:oasis:'
    'names:tc:opendocument:xmlns:manifest:1.0" manifest:version="1.2"><manifest:file-entry '
    'manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>'
    '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>'
    "</manifest:manifest>",
}
"""The parts of the smallest spreadsheet (OASIS OpenDocument 1.2) beside its content."""


def open_document(rows):
    """Return rows as the content of an OpenDocument spreadsheet, numbers as numbers."""

    def cell(text):
        kind = 'string"'
        if text.lstrip("-").isdigit():
            kind = f'float" office:value="{text}"'
        safe = text.replace("&", "&amp;").replace("<", "&lt;")
        return (
            f'<table:table-cell office:value-type="{kind}><text:p>{safe}</text:p>'
            "</table:table-cell>"
        )

    lines = "".join(f"<table:table-row>{''.join(map(cell, row))}</table:table-row>" for row in rows)
    names = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "table", "text")
    )
    return (
        f'<?xml version="1.0"?><office:document-content {names} office:version="1.2"><office:body>'
        f'<office:spreadsheet><table:table table:name="Plays">{lines}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )


def workbook(chart, suffix=".xlsx"):
    """Write a chart as a workbook, numbers as numbers."""
    import csv

    def cell(text):
        if text.lstrip("-").isdigit():
            return f"<c><v>{text}</v></c>"
        safe = text.replace("&", "&amp;").replace("<", "&lt;")
        return f'<c t="inlineStr"><is><t>{safe}</t></is></c>'

    with chart.open(encoding="utf-8-sig", newline="") as stream:
        dialect = csv.Sniffer().sniff(stream.read(2000), delimiters=",;")
        stream.seek(0)
        table = list(csv.reader(stream, dialect))
    rows = [f"<row>{''.join(cell(c) for c in row)}</row>" for row in table]
    sheet = (
        '<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/'
        f'2006/main"><sheetData>{"".join(rows)}</sheetData></worksheet>'
    )
    path = chart.with_suffix(suffix)
    parts = {**WORKBOOK, "xl/worksheets/sheet1.xml": sheet}
    if suffix == ".ods":
        parts = {**OPEN_DOCUMENT, "content.xml": open_document(table)}
    with zipfile.ZipFile(path, "w") as archive:
        for name, text in parts.items():
            archive.writestr(name, text)
    return path


@pytest.mark.parametrize("suffix", [".xlsx", ".ods"])
def test_a_workbook_reads_like_its_sheet_saved_as_text(chart, mapping_file, suffix):
    plain = check(chart, mapping=mapping_file)
    book = check(workbook(chart, suffix), mapping=mapping_file)
    assert (book.rows, book.kept, book.seasons) == (plain.rows, plain.kept, plain.seasons)
    assert "sheet 'Plays' of a workbook" in book.notes


@pytest.mark.slow
def test_a_school_comes_from_a_workbook_to_an_answer_in_one_sitting(tmp_path, capsys):
    """README's flow: 150 plays without air yards, scrambles, kicks and clock."""
    from lensyard.cli import main

    def run(*arguments):
        try:
            main(list(arguments))
            code = 0
        except SystemExit as stop:
            code = int(stop.code or 0)
        found = capsys.readouterr()
        assert code == 0, found.err
        return " ".join(found.out.split()), " ".join(found.err.split())

    chart = tmp_path / "chart.csv"
    chart.write_text(school_chart(150))
    book = workbook(chart)
    mapped, _ = run("data", "map", str(book), "--yes")
    assert "150 of 150 rows of chart.xlsx are plays" in mapped
    out, err = run("data", "import", str(book))
    assert "which lies beside it" in err
    today = date.today()
    # As long as nobody says otherwise; seasons begin in summer.
    assert f"season {today.year - (today.month < 7)}" in out or f"season {today.year}" in out
    assert "no air yards: how deep passes go stays the model's" in out
    _, err = run("model", "fit", "--id", "ours", "--source", "charted", "--use")
    assert "The plays do not tell scrambles, interceptions, yards in the air" in err
    question = (
        "next",
        "--rules",
        "high-school",
        "--down",
        "3",
        "--distance",
        "7",
        "--ball",
        "opp35",
    )
    brief, _ = run(*question)
    assert "Model ours: 150 high-school plays, the rest as in college." in brief
    assert len(brief.split()) <= 90
    whole, _ = run(*question, "--more")
    assert "yards in the air" in whole
    assert "are as in college" in whole


@pytest.mark.slow
def test_a_chart_of_a_whole_league_names_both_clubs_in_every_row(tmp_path):
    from lensyard.plays.importing.guess import guess_mapping

    rows = ["game_id,posteam,defteam,down,ydstogo,yardline_100,play_type,result,yards"]
    for at in range(40):
        ours, theirs = ("ASH", "OAK") if at // 4 % 2 else ("OAK", "ASH")
        rows.append(f"G{at // 20},{ours},{theirs},{at % 4 + 1},{10 - at % 4},{80 - at},run,,3")
    path = tmp_path / "league.csv"
    path.write_text("\n".join(rows))
    found = guess_mapping(path, {}, season=2031)
    assert found.columns["opponent"] == "defteam"
    assert found.columns["yard_line"] == "yardline_100"
    report = check(path, mapping=found.toml)
    assert (report.kept, report.rejected, report.games) == (40, (), 2)
