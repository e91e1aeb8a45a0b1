"""The guide's worked example: the files that it shows make a feature with a command and a page."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from streamlit.testing.v1 import AppTest

import lensyard.features
from lensyard import cli

GUIDE = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.fixture
def reach(tmp_path, monkeypatch):
    """The example's folder beside the features, and its line among the commands."""
    files = re.findall(r"`features/(reach/\w+\.py)`:\n\n```python\n(.*?)```", GUIDE, re.DOTALL)
    assert len(files) == 4
    (tmp_path / "reach").mkdir()
    (tmp_path / "reach" / "__init__.py").write_text("", encoding="utf-8")
    for name, code in files:
        (tmp_path / name).write_text(code, encoding="utf-8")
    monkeypatch.setattr(lensyard.features, "__path__", [*lensyard.features.__path__, str(tmp_path)])
    line = re.search(r'`"reach": (\(.*?\)),`', GUIDE)
    assert line is not None
    monkeypatch.setitem(cli.COMMANDS, "reach", eval(line[1], dict(vars(cli))))  # noqa: S307
    return tmp_path


@pytest.mark.usefixtures("reach")
def test_the_command_of_the_worked_example_answers():
    run = CliRunner()
    said = run.invoke(cli.group, ["reach", "--lens", "70-200", "--lens", "300"])
    assert said.exit_code == 0, said.output
    assert said.output.startswith("70-200 + 300 (2 bodies, reach 30 yd) reaches 30 yd")
    made = json.loads(run.invoke(cli.group, ["reach", "--lens", "400", "--json"]).stdout)
    assert made["lenses"][0][2] == 40.0


@pytest.mark.usefixtures("reach")
def test_the_page_of_the_worked_example_says_the_same():
    def show():
        from lensyard.features.reach.page import page

        from lensyard.dashboard.controls import Controls
        from lensyard.dashboard.shell import Shell

        page(Shell(name="reach", controls=Controls(lenses="300"), ticked=lambda _: ()))

    app = AppTest.from_function(show, default_timeout=60).run()
    assert not app.exception
    assert any("reaches 30 yd" in element.body for element in app.get("html"))
