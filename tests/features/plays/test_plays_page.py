"""The page "Plays": a chart goes in by an upload, and its model answers."""

import json

import pytest
from tests.support.play_files import school_chart

from lensyard.dashboard import guard


def give(app, content, name="week 3.csv"):
    return app.file_uploader[0].set_value((name, content.encode(), "text/csv")).run()


def answering(run):
    """The model that answers on a high school's field."""
    question = ("next", "--rules", "high-school", "--down", "1", "--ball", "opp35", "--json")
    return json.loads(run(*question)[1])["model"]["id"]


@pytest.mark.slow
def test_a_chart_is_asked_about_imported_fitted_and_answers(open_page, finished, said, run):
    app = open_page("plays")
    assert "Answers count 482,760 plays of 2,926 games, 2009 to 2019" in said(app)
    # A header that does not say which column is the yard line: that, season and club are asked.
    app = give(app, school_chart().replace("YARD LN", "WHERE"))
    assert [box.label for box in app.selectbox][:1] == [
        "Which column is where the ball is snapped?"
    ]
    assert (len(app.number_input), len(app.text_input)) == (1, 1)
    app.selectbox(key="ly_plays_yard_line").set_value("WHERE")
    app.number_input(key="ly_plays_season").set_value(2031)
    app.text_input(key="ly_plays_us").set_value("RIV")
    app = finished(app.run())
    assert "150 of 150 rows of week 3.csv are plays" in said(app)
    app.button(key="ly_plays_import").click()
    app = finished(app.run())
    assert "Stored 150 plays" in said(app)
    assert "no air yards: how deep passes go stays the model's" in said(app)
    app.button(key="ly_models_fit").click()
    app = finished(app.run())
    assert not app.exception
    assert "fitted on 150 high" in app.success[0].value.replace("\\", "")
    assert answering(run) == "charted"
    app.selectbox(key="ly_models_used_charted").set_value("").run()
    assert answering(run) == "college"
    # Next week's chart has a word more and is asked nothing.
    later = school_chart(60, words=("Dive", "Pass")).replace("YARD LN", "WHERE")
    app = finished(give(app, later, "week 4.csv"))
    assert "'Dive' as run" in app.info[0].value.replace("\\", "")
    app.button(key="ly_plays_import").click()
    app = finished(app.run())
    assert "Stored 60 plays" in said(app)


def test_a_file_that_is_no_table_is_a_sentence(open_page, finished):
    app = finished(give(open_page("plays"), "<html>no</html>"))
    assert not app.exception
    assert "web page" in app.error[0].value


def test_guests_import_nothing(open_page, said, monkeypatch):
    monkeypatch.setattr(guard, "role", lambda: guard.Role.GUEST)
    app = open_page("plays")
    assert "imported by the owner" in said(app)
    assert not app.file_uploader
    assert not app.selectbox
