"""``lensyard dashboard``: how the server is started."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from lensyard.cli import main
from lensyard.service.dashboard import SETTINGS, command_line, script_path

CONFIG = Path(__file__).resolve().parents[2] / ".streamlit" / "config.toml"


def flags(command: list[str]) -> dict[str, str]:
    return dict(part[2:].split("=", 1) for part in command if part.startswith("--"))


def test_the_script_comes_with_the_package() -> None:
    assert "run()" in Path(script_path()).read_text(encoding="utf-8")


def test_this_python_serves_it_and_nobody_hears_of_it() -> None:
    command = command_line()
    assert command[:4] == [sys.executable, "-m", "streamlit", "run"]
    assert flags(command)["server.address"] == "127.0.0.1"
    assert flags(command)["browser.gatherUsageStats"] == "false"


def test_flags_and_settings_file_say_the_same() -> None:
    file = tomllib.loads(CONFIG.read_text(encoding="utf-8"))
    flat: dict[str, Any] = {
        f"{section}.{name}": value
        for section, values in file.items()
        for name, value in values.items()
    }
    assert flat == SETTINGS


def test_the_server_understands_every_setting() -> None:
    from streamlit import config

    for name in SETTINGS:
        config.get_option(name)


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """What would have been started."""
    commands: list[list[str]] = []

    def take(_: str, command: list[str]) -> None:
        commands.append(command)
        raise SystemExit(0)

    monkeypatch.setattr("os.execv", take)
    monkeypatch.setattr("os.name", "posix")
    return commands


def test_the_command_starts_the_server(started: list[list[str]]) -> None:
    with pytest.raises(SystemExit):
        main(["dashboard", "--port", "8600", "--browser"])
    found = flags(started[0])
    assert (found["server.port"], found["server.headless"]) == ("8600", "false")


def test_an_open_door_is_told(started: list[list[str]], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["dashboard", "--address", "0.0.0.0"])
    assert "everybody in the network" in capsys.readouterr().err
    assert flags(started[0])["server.address"] == "0.0.0.0"


def test_what_is_no_address_is_refused(
    started: list[list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["dashboard", "--address", "the sideline"])
    assert stop.value.code == 2
    assert "cannot read an address" in capsys.readouterr().err
    assert started == []
