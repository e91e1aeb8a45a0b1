"""Imports: what a file becomes, that it is all or nothing, and that its plays answer questions."""

import duckdb
import pandas as pd
import pytest
from click.testing import CliRunner
from tests.support.play_files import check, invented, take, write_query

from lensyard.errors import DataError, StoreError, UnknownNameError
from lensyard.features.plays.cli import data_command
from lensyard.plays import schema
from lensyard.plays.importing import catalog
from lensyard.plays.store import load_plays, shared_store

ROUND_TRIP = [name for name in schema.COLUMN_NAMES if name not in ("game_id", "end_yardline_100")]


def _state(folder):
    """Return every file of a folder with its bytes, the lock apart."""
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.name != "lock"}


def test_plays_in_the_shape_of_nflverse_come_back_as_they_were(nflverse_file):
    report = take(nflverse_file())
    assert (report.source, report.level, report.seasons) == ("nflverse", "pro", (2031,))
    assert report.kept == report.rows > 700
    assert report.rejected == ()
    found = load_plays(seasons=[2031])
    schema.validate(found)
    with duckdb.connect() as connection:
        given = connection.execute(invented()).df()
    found = found.sort_values(["home_club", "play_index"], ignore_index=True)
    given = given.sort_values(["home_club", "play_index"], ignore_index=True)
    for name in ROUND_TRIP:
        same = found[name].eq(given[name]) | (found[name].isna() & given[name].isna())
        # Muffs and laterals stand in the words only, which the invented file has not.
        assert same.mean() >= (0.995 if name in ("kick_result", "return_yd") else 1.0), name
    ends = found["end_yardline_100"].eq(given["end_yardline_100"])
    ends |= found["end_yardline_100"].isna() & given["end_yardline_100"].isna()
    # Fumbles and penalties move the ball; the words would say where to. Measured: 0.988.
    assert ends.mean() > 0.97


@pytest.mark.slow
def test_csv_parquet_and_compressed_copies_give_the_same_plays(nflverse_file, tmp_path):
    import gzip
    import zipfile

    csv = nflverse_file("a.csv")
    packed = tmp_path / "a.csv.gz"
    packed.write_bytes(gzip.compress(csv.read_bytes()))
    archive = tmp_path / "a.zip"
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as out:
        out.write(csv, "../../escape/a.csv")
    reports = [check(p) for p in (nflverse_file("a.parquet"), csv, packed, archive)]
    assert len({(r.kept, r.games, r.seasons, r.rejected) for r in reports}) == 1
    assert not (tmp_path.parent / "escape").exists()


def test_the_same_file_twice_changes_nothing(nflverse_file):
    path = nflverse_file()
    assert take(path).changed
    before = _state(catalog.imports_dir())
    again = take(path)
    assert (again.changed, again.stored, again.games_there) == (False, 0, again.games)
    assert not take(path, replace=True).changed
    assert _state(catalog.imports_dir()) == before


@pytest.mark.slow
def test_games_that_are_there_stay_unless_replacing_is_asked_for(nflverse_file):
    take(nflverse_file())
    part = "SELECT * FROM plays WHERE home_team = (SELECT min(home_team) FROM plays)"
    shorter = nflverse_file("half.parquet", change=f"{part} AND qtr <= 2")
    before = load_plays(["game_id", "quarter"], seasons=[2031])
    kept = take(shorter)
    assert (kept.changed, kept.games_there) == (False, 1)
    assert load_plays(["game_id", "quarter"], seasons=[2031]).equals(before)
    replaced = take(shorter, replace=True)
    assert (replaced.changed, replaced.games_replaced) == (True, 1)
    after = load_plays(["game_id", "quarter"], seasons=[2031])
    assert set(after["game_id"]) == set(before["game_id"])
    lost = before.groupby("game_id").size() - after.groupby("game_id").size()
    (game,) = lost.index[lost != 0]
    assert after[after["game_id"] == game]["quarter"].max() == 2
    assert len(after[after["game_id"] == game]) == replaced.kept


@pytest.mark.slow
def test_a_later_week_is_added_to_the_season(nflverse_file):
    take(nflverse_file("week3.parquet"))
    take(nflverse_file("week4.parquet", where="season = 2018 AND week = 4"))
    (entry,) = catalog.read_catalog(catalog.imports_dir()).entries
    assert len(entry.parts) == 2
    assert [file.name for file in entry.files] == ["week3.parquet", "week4.parquet"]
    weeks = shared_store().query(
        "SELECT week, count(*) FROM plays WHERE season = 2031 GROUP BY week"
    )
    assert sorted(weeks["week"]) == [3, 4]


def test_every_rejected_row_is_kept_with_line_value_and_reason(nflverse_file):
    bad = (
        "SELECT * REPLACE (CASE WHEN play_id = 75 THEN 7 ELSE down END AS down, "
        "CASE WHEN play_id = 82 THEN NULL ELSE yardline_100 END AS yardline_100, "
        "CASE WHEN play_id = 89 THEN 'mystery' ELSE play_type END AS play_type) FROM plays"
    )
    path = nflverse_file(change=bad)
    report = take(path)
    words = {tally.words: tally.rows for tally in report.rejected}
    assert set(words) == {
        "no down from 1 to 4",
        "no line of scrimmage on the field",
        "no kind of play that is known",
    }
    kept = shared_store().query("SELECT * FROM rejects ORDER BY line")
    assert len(kept) == sum(words.values()) == report.rows - report.kept
    raw = pd.read_parquet(path)
    for row in kept.itertuples():
        cell = raw.iloc[row.line - 1][row.column_name]
        shown = "(empty)" if cell is None or cell != cell else str(cell)
        assert row.value == shown
        assert row.file == path.name
    mystery = kept[kept["column_name"] == "play_type"]
    assert set(mystery["value"]) == {"mystery"}


def test_too_many_rejects_refuse_the_whole_file(nflverse_file):
    change = "SELECT * REPLACE (if(play_id % 10 < 2, 9, down) AS down) FROM plays"
    path = nflverse_file(change=change)
    with pytest.raises(DataError, match=r"refused, .* more than the limit of 5.0%: .*no down from"):
        take(path)
    assert catalog.read_catalog(catalog.imports_dir()).entries == ()
    assert take(path, limit_rejects=0.5).changed


def test_a_file_without_downs_and_kinds_is_refused_with_the_real_reason(nflverse_file):
    change = "SELECT * REPLACE (0 AS down, 0 AS ydstogo, NULL AS play_type) FROM plays"
    with pytest.raises(DataError) as caught:
        take(nflverse_file(change=change))
    message = str(caught.value)
    assert "play_type is empty in all" in message
    assert "down is '0' in all" in message
    assert "ydstogo is '0' in all" in message
    assert catalog.read_catalog(catalog.imports_dir()).entries == ()


def test_what_is_repaired_is_counted(nflverse_file):
    change = (
        "SELECT * REPLACE (if(play_type = 'kickoff', NULL, yardline_100) AS yardline_100, "
        "if(complete_pass = 1 AND touchdown = 0 AND play_id < 200, 150, yards_gained) "
        "AS yards_gained) FROM plays"
    )
    report = take(nflverse_file(change=change))
    words = {tally.words.split(":")[0]: tally.rows for tally in report.repaired}
    assert words["a kickoff without a spot"] > 20
    assert words["more yards gained than the field has"] > 3
    kickoffs = load_plays(["yardline_100"], seasons=[2031], kinds=["kickoff"])
    assert set(kickoffs["yardline_100"]) == {65}  # kicked from the 35 since 2011


@pytest.mark.slow
def test_time_outs_are_passed_over_and_copies_of_a_play_rejected(nflverse_file):
    change = (
        "SELECT * FROM plays UNION ALL BY NAME SELECT * REPLACE ('no_play' AS play_type, 0.0 AS "
        "penalty, NULL AS down, NULL AS posteam, 9000 + play_id AS play_id), 1.0 AS timeout "
        "FROM plays WHERE play_id = 82 UNION ALL BY NAME SELECT * REPLACE (NULL AS play_type, "
        "8000 + play_id AS play_id) FROM plays WHERE play_id = 89 UNION ALL BY NAME "
        "SELECT * FROM plays WHERE play_id = 96"
    )
    report = take(nflverse_file(change=change))
    assert {tally.words.split(":")[0] for tally in report.passed_over} == {"a time-out", "no play"}
    assert [tally.words for tally in report.rejected] == ["the same play a second time"]


@pytest.mark.slow
def test_bundled_plays_answer_for_their_seasons_and_a_source_can_be_named(nflverse_file):
    bundled = len(load_plays(["kind"], seasons=[2018]))
    report = take(nflverse_file(season=2018))
    assert len(load_plays(["kind"], seasons=[2018])) == bundled
    assert len(load_plays(["kind"], seasons=[2018], source="nflverse")) == report.kept
    assert len(load_plays(["kind"], seasons=[2018], source="bundled")) == bundled
    with pytest.raises(UnknownNameError, match="source must be one of bundled, nflverse"):
        load_plays(["kind"], source="nfl")


def test_professional_plays_answer_before_college_ones_and_are_credited(
    nflverse_file, college_file
):
    before = shared_store()
    assert len(before.plays(["kind"], seasons=[2031])) == 0
    college = take(college_file())
    assert len(load_plays(["kind"], seasons=[2031])) == college.kept  # a reader sees the import
    assert shared_store() is not before
    credited = shared_store().attributions([2018, 2031])
    assert [each.source for each in credited] == ["bundled", "sportsdataverse"]
    pro = take(nflverse_file())
    store = shared_store()
    assert len(store.plays(["kind"], seasons=[2031])) == pro.kept
    assert len(store.plays(["kind"], source="sportsdataverse")) == college.kept
    found = {each.source: each for each in store.attributions([2018, 2031])}
    assert set(found) == {"bundled", "nflverse"}
    assert found["nflverse"].license == "CC-BY 4.0"  # as the data's release page says
    assert found["nflverse"].seasons == (2031,)
    named = store.attributions([2031], source="sportsdataverse")
    assert [each.source for each in named] == ["sportsdataverse"]
    assert store.attributions([1950]) == ()


def test_a_damaged_season_is_named_and_can_be_removed_while_the_others_answer(nflverse_file):
    take(nflverse_file())
    part = next(catalog.imports_dir().glob("nflverse-2031-*.parquet"))
    part.write_bytes(part.read_bytes()[:-100])
    (catalog.imports_dir() / catalog.CATALOG_NAME).touch()
    with pytest.raises(DataError, match=r"nflverse/2031 is damaged: .* bytes, expected"):
        load_plays(["kind"], seasons=[2031])
    assert len(load_plays(["kind"], seasons=[2019])) > 40_000
    removed = CliRunner().invoke(data_command, ["remove", "nflverse/2031"])
    assert "Removed nflverse/2031" in removed.stdout
    assert catalog.read_catalog(catalog.imports_dir()).entries == ()
    again = CliRunner().invoke(data_command, ["remove", "nflverse/2031"])
    assert "no imported nflverse/2031" in str(again.exception)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "damaged"),
        ('{"version": 99, "entries": []}', "version 99"),
        ('{"version": 1}', "damaged"),
        ('{"version": 1, "entries": [{"source": "../x"}]}', "damaged"),
        ("[]", "damaged"),
        ('{"version": 1, "entries": 5}', "damaged"),
    ],
)
def test_a_damaged_list_of_imports_says_so(user_folders, text, words):
    folder = catalog.imports_dir(create=True)
    (folder / catalog.CATALOG_NAME).write_text(text)
    with pytest.raises(StoreError, match=words):
        catalog.read_catalog(folder)


def test_the_catalog_cannot_point_outside_its_folder(nflverse_file):
    take(nflverse_file())
    path = catalog.imports_dir() / catalog.CATALOG_NAME
    name = next(catalog.imports_dir().glob("nflverse-2031-*.parquet")).name
    path.write_text(path.read_text().replace(name, "../" + name))
    with pytest.raises(StoreError, match="damaged"):
        load_plays(["kind"], seasons=[2031])


@pytest.mark.parametrize("ending", ["parquet", pytest.param("csv", marks=pytest.mark.slow)])
def test_plays_in_our_own_format_come_back_whole(tmp_path, ending):
    report = take(write_query(invented(), tmp_path / f"own.{ending}"))
    assert (report.source, report.rejected) == ("canonical", ())
    found = load_plays(seasons=[2031])
    schema.validate(found)
    with duckdb.connect() as connection:
        given = connection.execute(f"{invented()}").df()[list(schema.COLUMN_NAMES)]
    given = given.sort_values(["game_id", "play_index"], ignore_index=True)
    assert found.astype(object).fillna(-1).equals(given.astype(object).fillna(-1))


def test_rows_of_our_own_format_that_break_it_are_rejected_one_by_one(tmp_path):
    bad = (
        f"WITH plays AS ({invented()}) SELECT * REPLACE ("
        "CASE WHEN play_index = 3 THEN 9 ELSE down END AS down, "
        "CASE WHEN play_index = 5 THEN 'swim' ELSE kind END AS kind) FROM plays "
        "UNION ALL SELECT * FROM plays WHERE play_index = 7"
    )
    report = take(write_query(bad, tmp_path / "own.parquet"))
    games = report.games
    assert {tally.words.split(" is ")[0]: tally.rows for tally in report.rejected} == {
        "down": games,
        "kind": games,
        "the same play a second time": games,
    }
    kept = shared_store().query("SELECT column_name, value FROM rejects")
    assert set(zip(kept["column_name"], kept["value"], strict=True)) == {
        ("down", "9"),
        ("kind", "swim"),
        ("play_index", "7"),
    }
