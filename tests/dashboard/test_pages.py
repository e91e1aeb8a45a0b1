"""The wiring of the other pages: widgets, address and figures move together."""

import json

import pytest
from tests.support.logs import run

from lensyard.dashboard import work
from lensyard.dashboard.controls import Controls
from lensyard.errors import InvalidInputError
from lensyard.features.drill import page as drilling
from lensyard.model.context import load_context


def segment(app, key):
    return app.button_group(key=key)


def query_of(app):
    return dict(app.query_params.items())


@pytest.mark.slow
def test_field_zones_count_what_is_asked_for(open_page, finished, said, capsys):
    app = finished(open_page("zones", zone_down="3", to_go="long"))
    assert not app.exception
    answer = json.loads(run(capsys, "zones", "--down", "3", "--distance", "long", "--json")[1])
    assert f"{answer['plays']:,} plays counted" in said(app)
    best = max(answer["zones"][-1]["stretches"], key=lambda stretch: stretch["p_usable"])
    assert best["label"] in said(app)
    assert query_of(app) == {"zone_down": "3", "to_go": "long"}


@pytest.mark.slow
def test_a_down_is_chosen_on_field_zones(open_page, finished, said):
    app = finished(open_page("zones"))
    segment(app, "next_zone_down").set_value(4).run()
    app = finished(app)
    assert "4th down" in said(app)
    assert query_of(app) == {"zone_down": "4"}


@pytest.mark.slow
def test_a_kit_that_reaches_nothing_on_field_zones_is_no_traceback(open_page, finished):
    app = finished(open_page("zones", lens="16-35"))
    assert not app.exception


@pytest.fixture
def drill(open_page, finished):
    app = open_page("drill")
    return finished(app)


def learning(app):
    found: drilling.Sitting = app.session_state["ly_drill"]
    return found


@pytest.mark.slow
def test_a_drill_asks_grades_and_goes_on(drill, said, data_folder):
    assert not drill.exception
    assert "1 of 10:" in said(drill)
    drill.button(key="ly_stay").click().run()
    assert not drill.exception
    (graded,) = learning(drill).graded
    assert graded.happened in said(drill)
    for choice in (graded.answer, *graded.others):
        assert choice.label in said(drill)
    kept = (data_folder / "drill-answers.jsonl").read_text(encoding="utf-8").splitlines()
    assert len(kept) == 1
    drill.button(key="ly_go_on").click().run()
    assert "2 of 10:" in said(drill)
    # Too far, then no place at all: told in place, and the question stays open.
    far = "left:owncorner" if learning(drill).question.start_x_yd > 60 else "left:corner"
    for text, told in ((far, "time for"), ("on the roof", "annot read")):
        drill.text_input(key=drilling.PLACE_KEY).set_value(text).run()
        assert told in drill.warning[0].value.replace("\\", "")
        assert "2 of 10:" in said(drill)
    for _ in range(9):
        drill.button(key="ly_stay").click().run()
        drill.button(key="ly_go_on").click().run()
    assert "the plan would have had" in said(drill)
    assert len(learning(drill).graded) == 10
    drill.button(key="ly_another").click().run()
    assert not drill.exception


def test_a_page_says_how_far_work_is_and_lets_it_be_cancelled(open_page, said, monkeypatch):
    import threading

    from lensyard.features.game_plan import page as plan_page

    go_on = threading.Event()

    def slow(*_, progress, **__):
        progress("walking the first half")
        go_on.wait(60.0)
        progress("walking the second half")

    monkeypatch.setattr(plan_page, "game_plan", slow)
    app = open_page("plan", lens="500")
    try:
        for _ in range(100):  # the model may have to be loaded first
            if "walking the first half" in said(app.run()):
                break
        assert "walking the first half" in said(app)
        app.button[[b.label for b in app.button].index("Cancel")].click().run()
        assert any("Cancelled" in info.value for info in app.info)
        assert any(button.label == "Start again" for button in app.button)
    finally:
        go_on.set()
    assert work.job_pool().wait(60.0)


def test_a_sheet_that_does_not_fit_leaves_the_plan(monkeypatch):
    from lensyard.features.sheet import page as sheet_page

    def too_long(*_, **__):
        raise InvalidInputError("the plan does not fit on one page")

    for name in ("stored_season", "game_plan", "sheet_content"):
        monkeypatch.setattr(sheet_page, name, lambda *_, **__: "the plan")
    monkeypatch.setattr(sheet_page.Sheet, "of", lambda content: content)
    monkeypatch.setattr(sheet_page, "sheet_file", too_long)
    made = sheet_page.make_sheet(
        load_context(), Controls().plan_request(), None, (), lambda _: None
    )
    assert (made.sheet, dict(made.files)) == ("the plan", {})
    assert made.issue == "There is no printed sheet: the plan does not fit on one page."


@pytest.mark.slow
@pytest.mark.parametrize("page", ["plan", "zones", "drill", "evidence"])
def test_a_bad_link_is_a_sentence_on_every_page(open_page, monkeypatch, page):
    monkeypatch.setattr(work, "run_job", lambda *_, **__: None)  # nothing is computed here
    app = open_page(page, down="9", venue="../../etc/passwd", kickoff="soon")
    assert not app.exception
    told = " ".join(warning.value for warning in app.warning)
    assert "Down must be between 1 and 4" in told
    assert "Venue must be one of" in told
    assert "annot read kickoff" in told.replace("\\", "")


def test_a_venue_is_chosen_by_name_never_by_path(tmp_path):
    file = tmp_path / "own.toml"
    file.write_text("", encoding="utf-8")
    with pytest.raises(InvalidInputError, match="must be one of"):
        Controls(venue_name=str(file)).venue()
    with pytest.raises(InvalidInputError, match="must be one of"):
        Controls(assignment_name=str(file)).assignment()


@pytest.mark.slow
def test_a_venue_and_an_assignment_reach_the_answer(open_page, said):
    app = open_page(
        down="1", distance="10", ball="own25", venue="brindle-prairie", assignment="newspaper"
    )
    assert not app.exception
    style = " ".join(html.body for html in app.get("html"))
    assert "of plays give a usable frame" in style
    segment(app, "next_attacking").set_value("A").run()
    assert query_of(app)["attacking"] == "A"
    segment(app, "next_by_value").set_value(True).run()
    assert query_of(app)["by"] == "value"
