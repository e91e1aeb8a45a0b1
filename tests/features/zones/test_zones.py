"""``lensyard zones``: shares by field zone against the same plays one by one."""

import json

import numpy as np
import pytest
from tests.features.reports import made
from tests.support.logs import run

from lensyard.domain.assignment import USABLE_WEIGHTS
from lensyard.domain.kit import DEMO_KIT, kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Zone, zone_of
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError
from lensyard.features.zones.compute import ZonesRequest, count_zones
from lensyard.model.context import load_context
from lensyard.model.plays import replay_of
from lensyard.planner.replays import REPLAY_COLUMNS
from lensyard.planner.season_data import realized_quality
from lensyard.plays.store import load_plays, shared_store
from lensyard.spots.scorer import Scorer
from lensyard.spots.stretches import stretches_of

CONTEXT = load_context()


def zones(request):
    return count_zones(CONTEXT, request, shared_store())


KIT = kit_of(["70-200", "300"])
CUT = ZonesRequest(kit=KIT, down=3, distance_yd=(3, 8), seasons=(2019,))
DRAWS = 4


@pytest.fixture(scope="module")
def answer():
    return zones(CUT)


@pytest.fixture(scope="module")
def scorer():
    return Scorer(perimeter_of(standard_venue(), step_yd=1.0), KIT)


def cut_of(replay):  # type: ignore[no-untyped-def]
    batch = replay.batch
    chosen = (batch.down == 3) & (batch.distance_yd >= 3) & (batch.distance_yd <= 8)
    return replay.take(np.flatnonzero(chosen))


@pytest.fixture(scope="module")
def plays():  # type: ignore[no-untyped-def]
    return load_plays(columns=REPLAY_COLUMNS, seasons=[2019])


def zone_rows(replay, zone):  # type: ignore[no-untyped-def,type-arg]
    return np.flatnonzero([zone_of(int(y)) is zone for y in replay.batch.yardline_100])


@pytest.mark.slow
def test_observed_shares_are_those_of_the_plays_replayed_one_by_one(answer, scorer, plays):  # type: ignore[no-untyped-def]
    replays = [cut_of(replay_of(plays, seed=seed)) for seed in range(DRAWS)]
    hits = [realized_quality(scorer, replay) for replay in replays]
    for zone in answer.zones:
        rows = zone_rows(replays[0], zone.zone)
        assert zone.plays == rows.size
        share = np.mean([hit[rows].mean(axis=0) for hit in hits], axis=0)
        for found in zone.stretches:
            direct = float(share[list(found.stretch.station_indices)].mean())
            # Four draws of the lanes of the same plays. Four standard errors of a share of that
            # many draws, and one point because sixteen lanes stand for the whole width.
            error = np.sqrt(max(direct * (1 - direct), 1e-4) / (DRAWS * rows.size))
            assert found.p_usable == pytest.approx(direct, abs=4 * error + 0.01)


@pytest.mark.slow
def test_predicted_shares_are_the_means_of_single_answers(answer, scorer, plays):  # type: ignore[no-untyped-def]
    replay = cut_of(replay_of(plays))
    from lensyard.model.plays import batch_of

    table = plays[plays["kind"].isin(["run", "complete", "incomplete", "sack", "scramble",
                                      "interception"])]  # fmt: skip
    table = table[(table["down"] == 3) & table["distance_yd"].between(3, 8)]
    batch = batch_of(table)
    assert len(batch) == len(replay)
    prior = CONTEXT.prior(standard_venue().rules)
    for zone in answer.zones:
        rows = np.flatnonzero([zone_of(int(y)) is zone.zone for y in batch.yardline_100])
        mass = CONTEXT.model.forecast(batch.take(rows)).cells(prior, USABLE_WEIGHTS)[0]
        share = scorer.expected_value(mass).mean(axis=0)
        for found in zone.stretches:
            direct = float(share[list(found.stretch.station_indices)].mean())
            # Situations are added up by score, time and, far from the goal, four yard lines: half
            # a point was the most that this moved a single spot over a whole season.
            assert found.p_usable_predicted == pytest.approx(direct, abs=0.005)


def test_predicted_and_observed_agree_on_a_season_that_nobody_fitted():
    answer = zones(ZonesRequest(seasons=(2019,)))
    assert answer.fitted_seasons == ()
    assert len(answer.zones) == len(Zone)
    for zone in answer.zones:
        assert abs(zone.mean_gap) < 0.006
        for share in zone.stretches:
            error = np.sqrt(max(share.p_usable * (1 - share.p_usable), 1e-4) / zone.plays)
            # Four standard errors, and one point for what stands for bins of gains and yard lines.
            assert share.p_usable_predicted == pytest.approx(share.p_usable, abs=4 * error + 0.01)


def test_every_open_spot_belongs_to_one_stretch_and_names_are_unique(scorer):
    stretches = stretches_of(scorer)
    station_indices = [p for s in stretches for p in s.station_indices]
    assert sorted(station_indices) == np.flatnonzero(scorer.open).tolist()
    assert len({s.label for s in stretches}) == len(stretches)
    assert {s.side for s in stretches} == {"both"}


def test_sides_that_are_not_open_alike_are_kept_apart():
    from dataclasses import replace

    from lensyard.domain.venue import ClosedStretch, Edge

    venue = standard_venue()
    band = ClosedStretch(Edge.SIDELINE_A, 90.0, 110.0, "band")
    venue = replace(venue, closed=(*venue.closed, band))
    stretches = stretches_of(Scorer(perimeter_of(venue, step_yd=1.0), KIT))
    assert {s.side for s in stretches} == {"left", "right"}
    labels = {s.label for s in stretches}
    assert "left sideline, opponent's 15-10" in labels
    assert "right sideline, opponent's 15-10" not in labels


def test_the_table_says_counts_intervals_and_where_the_lanes_come_from(capsys):
    code, out, err = run(capsys, "zones", "--down", "3", "--distance", "long", "--seasons", "2019")
    assert (code, err) == (0, "")
    flat = " ".join(out.split())
    assert "Red zone 20-6" in flat
    assert "lateral prior" in flat
    assert "Caution" in flat
    assert "(3rd down, 8 yd and more to go, 2019)" in flat


def test_json_has_counts_shares_and_the_model(capsys):
    code, out, _ = run(
        capsys, "zones", "--zone", "red-zone", "--zone", "inside-5", "--seasons", "2019", "--json"
    )
    document = json.loads(out)
    assert code == 0
    assert {"schema_version", "model", "cautions", "plays", "zones", "notes"} <= set(document)
    assert [z["zone"] for z in document["zones"]] == ["red zone 20-6", "inside the 5"]
    assert sum(z["plays"] for z in document["zones"]) == document["plays"]
    row = document["zones"][0]["stretches"][0]
    assert {"label", "p_usable", "p_usable_low", "p_usable_high", "p_usable_predicted"} <= set(row)
    for zone in document["zones"]:
        for row in zone["stretches"]:
            assert row["p_usable_low"] <= row["p_usable"] <= row["p_usable_high"]


@pytest.mark.slow
def test_the_tables_hold_every_stretch_of_an_edge_once_and_charts_what_pays_off():
    report = made("zones").report
    drawn = [row[1] for table in report.tables[1:] for row in table.rows]
    (zone,) = made("zones").document["zones"]
    named = {stretch["label"] for stretch in zone["stretches"]}
    assert len(set(drawn)) == len(drawn) > len(named) / 2
    assert set(drawn) <= named
    best = report.table("best-stretches")
    assert all(best.column("zone").count(zone) <= 5 for zone in best.column("zone"))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--distance", "far"), "short (1-3)"),
        (("--down", "7"), "between 1 and 4"),
        (("--zone", "nowhere"), "red-zone"),
        (("--seasons", "soon"), "2009-2018"),
        (("--stretch", "50"), "between 1 and 20"),
        (("--seasons", "2019", "--plot", "/no/such/folder/z.svg"), "another file"),
    ],
)
def test_wrong_input_is_exit_2_and_says_what_was_expected(capsys, arguments, words):
    code, out, err = run(capsys, "zones", *arguments)
    assert (code, out) == (2, "")
    assert words in err


def test_seasons_without_plays_are_exit_1(capsys):
    code, _, err = run(capsys, "zones", "--seasons", "1995")
    assert code == 1
    assert "data list" in err


def test_a_zone_without_such_plays_says_so():
    with pytest.raises(InvalidInputError, match="none of these plays"):
        zones(
            ZonesRequest(
                kit=DEMO_KIT, distance_yd=(30, 40), zones=(Zone.GOAL_TO_GO,), seasons=(2019,)
            ),
        )
