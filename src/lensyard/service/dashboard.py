"""How the dashboard's server is started: nothing is reported anywhere, nobody else can reach it.

``.streamlit/config.toml`` in a checkout says the same to ``streamlit run app.py``; a test holds the
two together.
"""

from __future__ import annotations

import sys
from importlib.resources import files

LOOPBACK = "127.0.0.1"
PORT = 8501

SETTINGS: dict[str, str | bool] = {
    "browser.gatherUsageStats": False,
    "client.showErrorDetails": "none",
    "client.toolbarMode": "minimal",
    "server.address": LOOPBACK,
    "server.fileWatcherType": "none",
    "server.headless": True,
    "server.showEmailPrompt": False,
    "theme.base": "light",
    "theme.primaryColor": "#17201D",
}


def script_path() -> str:
    """Return the path of the script that comes with the package."""
    return str(files("lensyard") / "ui" / "script" / "dashboard.py")


def command_line(
    *, address: str = LOOPBACK, port: int = PORT, open_browser: bool = False
) -> list[str]:
    """Return the command that starts the server with this Python.

    Parameters
    ----------
    address
        The network address to listen on; the default lets nobody else in.
    port
        The port.
    open_browser
        Whether the server opens a browser.

    Examples
    --------
    >>> command_line(port=8600)[1:4]
    ['-m', 'streamlit', 'run']
    """
    chosen: dict[str, str | bool] = {
        "server.address": address,
        "server.headless": not open_browser,
    }
    flags = [f"--server.port={port}"]
    for name, value in {**SETTINGS, **chosen}.items():
        text = str(value).lower() if isinstance(value, bool) else value
        flags.append(f"--{name}={text}")
    return [sys.executable, "-m", "streamlit", "run", script_path(), *flags]
