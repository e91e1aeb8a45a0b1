"""``lensyard dashboard``: how the server is started."""

from __future__ import annotations

import os
import sys
import time
import tomllib
from pathlib import Path
from typing import Any

import pytest

from lensyard.cli import main
from lensyard.dashboard.gate import GUEST_VARIABLE, OWNER_VARIABLE
from lensyard.dashboard.serve import (
    SETTINGS,
    command_line,
    forget_guests,
    script_path,
    settings,
)

CONFIG = Path(__file__).resolve().parents[2] / ".streamlit" / "config.toml"


def test_the_script_comes_with_the_package():
    assert "run()" in Path(script_path()).read_text(encoding="utf-8")


def test_flags_and_settings_file_say_the_same():
    file = tomllib.loads(CONFIG.read_text(encoding="utf-8"))
    flat: dict[str, Any] = {
        f"{section}.{name}": value
        for section, values in file.items()
        for name, value in values.items()
    }
    assert flat == SETTINGS


def test_the_server_understands_every_setting():
    from streamlit import config

    for name in settings("192.0.2.7", 8600):
        config.get_option(name)


def test_an_address_in_the_network_is_a_host_of_its_own():
    told = settings("192.0.2.7", 8600)
    # Said outright, so that nobody on the internet is asked for the public address.
    assert told["server.address"] == told["browser.serverAddress"] == "192.0.2.7"
    assert told["server.allowedHosts"] == ["127.0.0.1", "localhost", "::1", "192.0.2.7"]
    assert settings("127.0.0.1", 8501)["server.allowedHosts"] == SETTINGS["server.allowedHosts"]


handed: list[dict[str, str]] = []
"""The environments that servers would have been started with."""


@pytest.fixture
def started(monkeypatch):
    """What would have been started."""
    commands: list[list[str]] = []
    handed.clear()

    def take(_, command, environment):
        commands.append(command)
        handed.append(environment)
        raise SystemExit(0)

    monkeypatch.setattr("os.execve", take)
    monkeypatch.setattr("os.name", "posix")
    return commands


def test_this_python_serves_it_and_nobody_hears_of_it(started):
    with pytest.raises(SystemExit):
        main(["dashboard", "--port", "8600"])
    assert started[0] == command_line(port=8600)
    assert started[0][0] == sys.executable
    told = settings("127.0.0.1", 8600)
    assert told["server.address"] == "127.0.0.1"
    assert told["browser.gatherUsageStats"] is False


def test_a_browser_gets_the_address_in_a_file_of_its_users(started, monkeypatch, tmp_path):
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path))
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)
    with pytest.raises(SystemExit):
        main(["dashboard", "--browser"])
    (path,) = tmp_path.iterdir()
    token = handed[0][OWNER_VARIABLE]
    assert opened == [path.as_uri()]
    assert token not in " ".join((*opened, *started[0]))
    assert f"http://127.0.0.1:8501/?token={token}" in path.read_text(encoding="utf-8")
    assert path.stat().st_mode & 0o077 == 0


def test_a_network_needs_to_be_asked_for(started, capsys):
    for address in ("0.0.0.0", "192.0.2.7", "::"):
        with pytest.raises(SystemExit) as stop:
            main(["dashboard", "--address", address])
        assert stop.value.code == 2
    assert "say --network as well" in capsys.readouterr().err
    assert started == []


def test_on_a_network_addresses_with_tokens_are_told(started, capsys):
    with pytest.raises(SystemExit):
        main(["dashboard", "--network", "--address", "192.0.2.7", "--port", "8600"])
    told = capsys.readouterr().err
    for variable in (OWNER_VARIABLE, GUEST_VARIABLE):
        assert f"http://192.0.2.7:8600/?token={handed[0][variable]}" in told
        # Nobody reads a token off the list of processes.
        assert handed[0][variable] not in " ".join(started[0])
    assert started[0] == command_line(address="192.0.2.7", port=8600)


def test_on_this_computer_too_a_token_is_needed(started, capsys):
    with pytest.raises(SystemExit):
        main(["dashboard"])
    told = capsys.readouterr().err
    assert f"http://127.0.0.1:8501/?token={handed[0][OWNER_VARIABLE]}" in told
    assert GUEST_VARIABLE not in handed[0]
    assert started[0] == command_line()


def test_tokens_are_long_and_new_each_time(started):
    made = []
    for _ in range(5):
        with pytest.raises(SystemExit):
            main(["dashboard", "--network", "--address", "192.0.2.7"])
        made += [handed[-1][variable] for variable in (OWNER_VARIABLE, GUEST_VARIABLE)]
    assert len(set(made)) == len(made)
    # 16 random bytes are 128 bits, what NIST SP 800-63B asks of a session secret is 64.
    assert min(len(word) for word in made) >= 22


def test_guests_are_forgotten_after_a_while(monkeypatch, tmp_path):
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path))
    kept, old = (tmp_path / "guests" / name for name in ("kept", "old"))
    for folder in (kept, old):
        (folder / "games").mkdir(parents=True)
    long_ago = time.time() - 30 * 24 * 3600 - 10
    for path in (old / "games", old, kept):
        os.utime(path, (long_ago, long_ago))
    forget_guests()
    assert list((tmp_path / "guests").iterdir()) == [kept]


def test_what_is_no_address_is_refused(started, capsys):
    with pytest.raises(SystemExit) as stop:
        main(["dashboard", "--address", "the sideline"])
    assert stop.value.code == 2
    assert "cannot read an address" in capsys.readouterr().err
    assert started == []
