"""Every kind of chart: what it draws is what its table holds, on pages and on paper."""

import pytest
from tests.render.charts_of_every_kind import EVERY_KIND
from tests.support.colors import contrast_ratio

from lensyard.errors import InvalidInputError
from lensyard.render.charts import altair_chart, chart_marks
from lensyard.render.report import Chart, ChartKind, Column, Interval, Table
from lensyard.render.theme import THEMES

MOST_SERIES = 8

CHARTS = {chart.key: chart for chart in EVERY_KIND.charts}


def drawn(key, theme="sunlight"):
    chart = CHARTS[key]
    return altair_chart(chart, EVERY_KIND.table(chart.table), THEMES[theme]).to_dict()


def test_every_kind_is_tried_here():
    assert {chart.kind for chart in EVERY_KIND.charts} == set(ChartKind)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("key", CHARTS)
def test_a_chart_has_its_words_its_colors_and_its_rows(key, theme):
    made = drawn(key, theme)
    assert made["description"] == CHARTS[key].alt_text
    assert made["config"]["background"] == THEMES[theme].page
    table = EVERY_KIND.table(CHARTS[key].table)
    keys = CHARTS[key].ys or (CHARTS[key].y or CHARTS[key].high,)
    cells = [cell for name in keys for cell in table.column(name) if cell is not None]
    values = [cell.value if isinstance(cell, Interval) else cell for cell in cells]
    rows = made["datasets"][made["data"]["name"]]
    assert sorted(row["value"] for row in rows) == sorted(values)


@pytest.mark.slow
@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("key", CHARTS)
def test_colors_of_lines_and_outlines_show_on_the_page(key, theme):
    page = THEMES[theme].page
    for color in _strokes(drawn(key, theme)):
        assert contrast_ratio(color, page) >= 3.0, color


def _strokes(made):
    for layer in made["layer"]:
        if isinstance(layer["mark"].get("stroke"), str):
            yield layer["mark"]["stroke"]
        elif layer["mark"]["type"] in ("line", "rule", "point", "text"):
            color = layer["encoding"].get("color", {})
            yield from color.get("scale", {}).get("range", [])
            yield from [color["value"]] if "value" in color else []
            yield from [layer["mark"]["color"]] if "color" in layer["mark"] else []


def test_stacked_bars_begin_where_the_last_one_ended():
    marks = chart_marks(CHARTS["stacked"], EVERY_KIND.table("kits")).marks
    own = [(mark.low, mark.high) for mark in marks if mark.category == "own 1 to 20"]
    assert own == [(0.0, 4.2), (4.2, pytest.approx(9.3)), (pytest.approx(9.3), pytest.approx(12.6))]


def test_a_row_without_a_value_is_not_drawn():
    marks = chart_marks(CHARTS["gains"], EVERY_KIND.table("gains"))
    assert marks.categories == ("B: 70-200 + 300 x1.4 (2 bodies)", "C: 100-400")
    assert marks.marks[0].written == "+3.1 (+2.0 to +4.2)"


def test_what_cannot_be_drawn_is_refused():
    table = Table("t", "", (Column("a", "A"), Column("b", "B")), (("x", "no number"),))
    with pytest.raises(InvalidInputError, match="draws column 'c'"):
        chart_marks(Chart("c", "", ChartKind.BARS, "t", "a", "c", ""), table)
    with pytest.raises(InvalidInputError, match="draws numbers"):
        chart_marks(Chart("c", "", ChartKind.BARS, "t", "a", "b", ""), table)
    many = Table("t", "", table.columns, tuple((f"s{i}", 1.0) for i in range(MOST_SERIES + 1)))
    with pytest.raises(InvalidInputError, match="series apart"):
        chart_marks(Chart("c", "", ChartKind.BARS, "t", "a", "b", "", series="a"), many)
