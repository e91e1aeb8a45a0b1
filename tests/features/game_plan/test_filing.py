"""Deadlines: when to leave for the desk, and what that costs over a season played again."""

from dataclasses import replace
from datetime import datetime

import pytest
from click.testing import CliRunner
from tests.support.part_of_season import part_of_season

from lensyard.cli import group
from lensyard.domain.assignment import Deadline
from lensyard.domain.kit import kit_of
from lensyard.errors import LensyardError
from lensyard.features.game_plan.compute import game_plan
from lensyard.features.game_plan.filing import filing_of
from lensyard.features.game_plan.report import plan_report
from lensyard.features.sheet.compute import sheet_content
from lensyard.features.sheet.report import sheet_report
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest
from lensyard.render.text import render_text
from lensyard.settings.files import load_assignment, new_assignment_text

CONTEXT = load_context()
REQUEST = PlanRequest(kit_of(["70-200", "400"]), assignment=load_assignment("agency"), step_yd=8.0)
PLAYS = part_of_season(games=24, training_games=8)
KICKOFF = datetime(2026, 10, 3, 19, 0)


def asked(*deadlines, desk="right:own5"):
    return replace(REQUEST, assignment=replace(REQUEST.assignment, deadlines=deadlines, desk=desk))


def filed(*deadlines):
    return filing_of(CONTEXT, asked(*deadlines), PLAYS, kickoff=KICKOFF)


@pytest.mark.slow
def test_at_halftime_the_chosen_moment_loses_at_most_60_percent_of_the_two_minute_warning():
    (found,) = filed(Deadline("halftime", 10))
    assert found.possible
    assert found.chosen.p_met >= 0.9
    assert found.usual.usable_lost > 1.0
    assert found.chosen.usable_lost <= 0.6 * found.usual.usable_lost
    assert found.chosen.value_lost <= 0.6 * found.usual.value_lost
    assert found.chosen.value_lost == min(row.value_lost for row in found.rows if row.p_met >= 0.9)
    assert found.walk_yd > 0
    assert "sideline A" in found.way


@pytest.mark.slow
def test_whoever_leaves_misses_plays_and_loses_no_more_than_those():
    (found,) = filed(Deadline("quarter-2", 10))
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
def test_a_deadline_that_cannot_be_met_is_said_on_plan_and_sheet():
    request = asked(Deadline("quarter-1", 45), Deadline("20:15", 12))
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


def test_a_card_and_the_assignment_say_the_deadline_too(tmp_path):
    from types import SimpleNamespace

    from lensyard.features.card.report import card_facts
    from lensyard.features.settings.report import assignment_report

    filing = [("Filing", "Due during halftime")]
    content = SimpleNamespace(
        request=REQUEST, grid=SimpleNamespace(longest_yd=12), hash_codes=(3,),
        model=CONTEXT.model_facts(), solved=SimpleNamespace(key="k" * 16), moments=(),
    )  # fmt: skip
    assert card_facts(content, filing)[0] == filing[0]  # type: ignore[arg-type]
    told = render_text(assignment_report(asked(Deadline("halftime", 10)).assignment))
    assert "Due at the desk, right:own5" in told
    assert "during halftime: 10 min of work" in told


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
def test_what_no_plan_can_answer_is_refused(at, desk, kickoff, says):
    with pytest.raises(LensyardError, match=says):
        filing_of(CONTEXT, asked(Deadline(at, 10), desk=desk), PLAYS, kickoff=kickoff)


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
    text = new_assignment_text("desk").replace("schema_version", f"{head}\nschema_version", 1)
    path = tmp_path / "desk.toml"
    path.write_text(f"{text}\n{'[[deadline]]' if tables else ''}{tables}\n")
    found = CliRunner().invoke(group, ["assignment", "check", str(path)])
    assert says in " ".join(f"{found.output} {found.exception}".split())
    assert found.exit_code
