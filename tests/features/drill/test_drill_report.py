"""The field in letters, and the picture of a question."""

import numpy as np
import pytest

from lensyard.features.drill.compute import grade
from lensyard.features.drill.report import drill_picture, field_text
from lensyard.render.field.draw import field_svg
from lensyard.render.theme import THEMES


@pytest.mark.slow
def test_the_field_shows_ball_start_walk_and_closed_stretches_where_they_are(make_series):
    drill = make_series(24)
    for question in drill.questions:
        rows = field_text(drill, question).splitlines()
        field = rows[1:-1]  # below the numbers, above the legend
        assert len(field) == 11
        line = question.situation.line_of_scrimmage_x_yd
        at = [row.index("o") for row in field if "o" in row]
        assert len(at) == 1
        # A column is two yards wide.
        assert at[0] * 2 - 4 == pytest.approx(line, abs=1.0)
        assert "".join(field).count("S") == 1
        assert any("+" in row for row in field) == bool(drill.reachable(question).any())
        assert "x" in field[0]
        assert "x" in field[-1]


def test_the_answers_letters_stand_where_everybody_went(make_series):
    drill = make_series(24)
    for question in drill.questions:
        graded = grade(drill, question, question.start)
        field = field_text(drill, question, graded).splitlines()[1:-1]
        text = "".join(field)
        assert text.count("Y") == 1
        assert text.count("E") <= 1
        row = 0 if graded.answer.y_yd > 53.4 else 10 if graded.answer.y_yd < 0 else None
        if row is not None:
            assert field[row].index("Y") * 2 - 4 == pytest.approx(graded.answer.x_yd, abs=2.0)


def test_the_picture_can_be_tapped_before_the_answer_and_shows_everybody_after_it(make_series):
    drill = make_series(4)
    question = drill.questions[0]
    before = drill_picture(drill, question)
    assert before.tappable
    assert before.spots == ()
    where = int(np.flatnonzero(drill.reachable(question))[0])
    graded = grade(drill, question, where)
    after = drill_picture(drill, question, graded)
    assert not after.tappable
    assert [spot.label.split(":")[0] for spot in after.spots] == ["you", "plan", "rule", "habit"]
    assert after.mass is not None
    assert after.mass.sum() == 1.0
    for picture in (before, after):
        assert field_svg(picture, theme=THEMES["sunlight"], legend=False).startswith("<svg")
