"""The evidence: read as it was measured, never computed on the page."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from lensyard.cli import main
from lensyard.errors import DataError
from lensyard.features.evidence import report as words
from lensyard.features.evidence.build import evidence_path, read_evidence, write_evidence
from lensyard.features.evidence.charts import IntervalRow, calibration_svg, interval_svg
from lensyard.model.context import load_context
from lensyard.render.theme import THEMES

Open = Callable[..., AppTest]
Said = Callable[[AppTest], str]


@pytest.fixture
def document() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(
        evidence_path(load_context().model.model_id).read_text(encoding="utf-8")
    )
    return found


def test_what_is_kept_was_measured_with_the_model_in_use() -> None:
    assert read_evidence(load_context()).fresh


def test_the_season_was_not_fitted_on(document: dict[str, Any]) -> None:
    assert document["season"] not in document["model"]["seasons"]
    assert document["season"] not in document["evaluation"]["train_seasons"]
    assert {b["season"] for b in document["backtests"]} == {document["season"]}


def test_the_page_shows_the_figures_as_they_are_kept(
    open_page: Open, said: Said, document: dict[str, Any]
) -> None:
    app = open_page("evidence")
    assert not app.exception
    text = said(app)
    last = document["backtests"][-1]
    for policy in last["policies"]:
        assert f"{100 * policy['value_share']:.1f}%" in text
    for scores in document["evaluation"]["models"]:
        assert f"{scores['crps_yd']:.3f} yd" in text
    for limit in words.LIMITS:
        assert limit in text
    app.button_group(key="ly_evidence_kit").set_value(0).run()
    first = document["backtests"][0]
    assert first["kit"] in said(app)


def test_the_command_says_the_same(
    document: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    main(["evidence", "show", "--json"])
    shown = json.loads(capsys.readouterr().out)
    assert shown["backtests"] == document["backtests"]
    main(["evidence", "show"])
    out = capsys.readouterr().out
    for policy in document["backtests"][0]["policies"]:
        assert f"{100 * policy['value_share']:.1f}%" in out


@pytest.mark.parametrize(
    "content", ["", "{", "[]", '{"format": "other"}', '{"format": "lensyard-evidence"}']
)
def test_a_damaged_file_is_told(tmp_path: Path, content: str) -> None:
    path = tmp_path / "evidence.json"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(DataError, match="damaged"):
        read_evidence(load_context(), path=path)


def test_without_a_file_it_is_said_how_to_measure(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="lensyard evidence build"):
        read_evidence(load_context(), path=tmp_path / "none.json")


def test_another_build_of_the_model_is_told(tmp_path: Path, document: dict[str, Any]) -> None:
    document["model"]["arrays_sha256"] = "0" * 64
    path = tmp_path / "evidence.json"
    write_evidence(document, path)
    found = read_evidence(load_context(), path=path)
    assert not found.fresh
    assert "another build of the model" in " ".join(words.lead_words(found, 0)[1])


@pytest.mark.parametrize("theme", THEMES.values(), ids=list(THEMES))
@pytest.mark.parametrize("wide", [True, False])
def test_pictures_of_the_evidence_are_whole(theme: Any, wide: bool) -> None:
    from xml.etree import ElementTree as Xml

    found = read_evidence(load_context())
    curves = words.calibration_curves(found)
    drawn = Xml.fromstring(calibration_svg(curves, theme=theme, wide=wide))
    width = float(drawn.get("width", "0"))
    circles = [e for e in drawn.iter() if e.tag.endswith("circle")]
    assert len(circles) == sum(len(curve.predicted) for curve in curves)
    rows = words.policy_rows(found, 0)
    drawn = Xml.fromstring(interval_svg(rows, theme=theme, wide=wide))
    assert all(0 <= float(e.get("cx", "-1")) <= width for e in drawn.iter() if e.get("cx"))


def test_longer_bars_stand_farther_right() -> None:
    from xml.etree import ElementTree as Xml

    rows = [IntervalRow(f"row {i}", v, v - 1, v + 1, str(v)) for i, v in enumerate((5, 20, 40))]
    drawn = Xml.fromstring(interval_svg(rows, theme=THEMES["sunlight"]))
    places = [float(e.get("cx", "0")) for e in drawn.iter() if e.tag.endswith("circle")]
    # A share's scale starts at 0, so places are in proportion to the shares.
    start = places[0] - (places[1] - places[0]) / 15 * 5
    assert places[2] - start == pytest.approx((places[0] - start) * 8, rel=0.02)
