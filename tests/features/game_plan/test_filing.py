"""Deadlines: when to leave for the desk, and what that costs over a season played again."""

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from click.testing import CliRunner
from tests.support.card_planes import facts_in
from tests.support.part_of_season import part_of_season

from lensyard.cli import group
from lensyard.domain.kit import kit_of
from lensyard.errors import LensyardError
from lensyard.features.game_plan.compute import game_plan
from lensyard.features.game_plan.filing import filing_of
from lensyard.features.game_plan.report import plan_report
from lensyard.features.sheet.compute import sheet_content
from lensyard.features.sheet.report import sheet_report
from lensyard.model.context import load_context
from lensyard.planner import season_data
from lensyard.planner.plans import PlanRequest
from lensyard.render.text import render_text
from lensyard.settings.files import load_assignment

AGENCY = Path(__file__).parents[3] / "data" / "assignments" / "agency.toml"
CONTEXT = load_context()
REQUEST = PlanRequest(kit_of(["70-200", "400"]), assignment=load_assignment("agency"), step_yd=8.0)
PLAYS = part_of_season(games=24, training_games=8)
KICKOFF = datetime(2026, 10, 3, 19, 0)


def written(folder, *deadlines, desk="right:own5"):
    """An agency's assignment that is due, as a file."""
    tables = "".join(f'[[deadline]]\nat = "{at}"\nminutes = {n}\n' for at, n in deadlines)
    path = folder / "desk.toml"
    path.write_text(f'desk = "{desk}"\n{AGENCY.read_text(encoding="utf-8")}\n{tables}')
    return path


@pytest.fixture
def asked(tmp_path):
    """Return a plan's request with deadlines, each a time and minutes of work."""
    return lambda *deadlines, **how: replace(
        REQUEST, assignment=load_assignment(str(written(tmp_path, *deadlines, **how)))
    )


@pytest.fixture
def filed(asked):
    return lambda *deadlines: filing_of(CONTEXT, asked(*deadlines), PLAYS, kickoff=KICKOFF)


@pytest.mark.slow
def test_at_halftime_the_chosen_moment_loses_at_most_60_percent_of_the_two_minute_warning(filed):
    (found,) = filed(("halftime", 10))
    assert found.possible
    assert found.chosen.p_met >= 0.9
    assert found.usual.usable_lost > 1.0
    assert found.chosen.usable_lost <= 0.6 * found.usual.usable_lost
    assert found.chosen.value_lost <= 0.6 * found.usual.value_lost
    assert found.chosen.value_lost == min(row.value_lost for row in found.rows if row.p_met >= 0.9)
    assert found.walk_yd > 0
    assert "sideline A" in found.way


@pytest.mark.slow
def test_whoever_leaves_misses_plays_and_loses_no_more_than_those(filed):
    (found,) = filed(("quarter-2", 10))
    for row in found.rows:
        assert row.usable_lost_low <= row.usable_lost <= row.usable_lost_high
        assert row.plays_missed > 0
    # The second quarter's last two minutes hold a dozen plays of both teams at most.
    assert 4 < found.usual.plays_missed < 14
    assert found.chosen.left_s is not None
    assert found.chosen.left_s > 120
    p_met = [row.p_met for row in found.rows]
    assert p_met == sorted(p_met, reverse=True), "who leaves later is in time less often"


@pytest.mark.slow
def test_a_deadline_that_cannot_be_met_is_said_on_plan_and_sheet(asked):
    request = asked(("quarter-1", 45), ("20:15", 12))
    plan = game_plan(CONTEXT, request, PLAYS, kickoff=KICKOFF)
    late, timed = plan.filing
    assert not late.possible
    assert timed.possible
    assert timed.chosen.leave_min is not None
    assert timed.chosen.leave_min + 12 + timed.walk_s / 60 <= 75 + 1
    for report in (plan_report(plan), sheet_report(sheet_content(plan))):
        text = " ".join(render_text(report).split())
        assert "cannot be met in 90% of games" in text
        assert "Due at 20:15, 12 min at the desk" in text
        assert "leaving at the two-minute warning" in text


@pytest.mark.slow
def test_a_card_and_the_assignment_say_the_deadline_too(tmp_path, run, monkeypatch):
    monkeypatch.setattr(season_data, "stored_season", lambda *_: PLAYS)
    path, card = written(tmp_path, ("halftime", 10)), tmp_path / "card.html"
    told = " ".join(run("assignment", "show", str(path))[1].split())
    assert "Due at the desk, right:own5" in told
    assert "during halftime: 10 min of work" in told
    made = run("card", "--assignment", str(path), "--at", f"{KICKOFF:%Y-%m-%dT%H:%M}",
               "--out", str(card))  # fmt: skip
    assert made[0] == 0, made[2]
    assert facts_in(card.read_text(encoding="utf-8"))["facts"][0][0] == "Filing"


@pytest.mark.parametrize(
    ("at", "desk", "kickoff", "says"),
    [
        ("21:15", "right:own5", None, "say when the game begins with --at"),
        ("23:40", "right:own5", KICKOFF, "lies after the game"),
        ("18:30", "right:own5", KICKOFF, "lies before kickoff"),
        ("halftime", "right:50", None, "lies in a closed area"),
        ("halftime", "press box", None, "standing"),
    ],
)
def test_what_no_plan_can_answer_is_refused(asked, at, desk, kickoff, says):
    with pytest.raises(LensyardError, match=says):
        filing_of(CONTEXT, asked((at, 10), desk=desk), PLAYS, kickoff=kickoff)


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ('desk = "right:own5"\n[[deadline]]\nat = "soon"\nminutes = 5', "a deadline is halftime"),
        ('desk = "press box"', "press box"),
        ('[[deadline]]\nat = "halftime"\nminutes = 5', "needs a desk"),
        ('desk = "right:own5"\n[[deadline]]\nat = "halftime"\nminutes = 500', "from 0 to 120"),
    ],
)
def test_an_assignment_file_is_checked_line_by_line(tmp_path, lines, says):
    head, _, tables = lines.partition("[[deadline]]")
    text = CliRunner().invoke(group, ["assignment", "new", "desk"]).stdout
    text = text.replace("schema_version", f"{head}\nschema_version", 1)
    path = tmp_path / "desk.toml"
    path.write_text(f"{text}\n{'[[deadline]]' if tables else ''}{tables}\n")
    found = CliRunner().invoke(group, ["assignment", "check", str(path)])
    assert says in " ".join(f"{found.output} {found.exception}".split())
    assert found.exit_code
