"""The price of walking: less of it, and a little less to bring home."""

import pytest
from tests.support.part_of_season import part_of_season

from lensyard.domain.kit import kit_of
from lensyard.errors import InvalidInputError
from lensyard.features.game_plan.price_curve import price_curve
from lensyard.features.game_plan.price_report import price_report
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.solve import Walking
from lensyard.planner.usual_walks import usual_walking
from lensyard.render.paper_chart import save_charts
from lensyard.render.text import document, render_text

CONTEXT = load_context()
REQUEST = PlanRequest(kit_of(["70-200", "400"]), step_yd=10.0, walks=Walking(price_per_yd=0.5))


@pytest.fixture
def curve():
    return price_curve(CONTEXT, REQUEST, part_of_season(), multiples=(0.0, 1.0, 4.0))


@pytest.mark.slow
def test_a_higher_price_walks_less_and_the_default_is_marked(curve):
    walks = [point.walk_yd_per_game for point in curve.points]
    assert walks == sorted(walks, reverse=True)
    assert [point.is_default for point in curve.points] == [False, True, False]
    usual = usual_walking(REQUEST.kit, REQUEST.assignment)
    assert curve.default.price_per_yd == curve.walking.price_per_yd == usual.price_per_yd
    # far beyond what a walk brings, one stands still and has less
    assert curve.points[-1].value_share < curve.free.value_share
    assert curve.default.value_share > 0.9 * curve.free.value_share


@pytest.mark.slow
def test_the_words_give_the_default_first_and_its_reason(curve):
    text = " ".join(render_text(price_report(curve)).split())
    assert text.startswith("At the default price of")
    assert "Why: the default keeps" in text
    made = document(curve)
    assert [point["is_default"] for point in made["points"]] == [False, True, False]
    assert {"schema_version", "kit", "walking", "evidence", "model", "cautions"} <= set(made)


@pytest.mark.slow
def test_the_picture_is_the_same_bytes_each_time(curve, tmp_path):
    for name in ("a.svg", "b.svg"):
        save_charts(price_report(curve), tmp_path / name)
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    with pytest.raises(InvalidInputError, match="png"):
        save_charts(price_report(curve), tmp_path / "a.txt")
