"""How the dashboard's server is started: nothing is reported anywhere, nobody else can reach it.

``.streamlit/config.toml`` in a checkout says the same to ``streamlit run app.py``; a test holds the
two together.
"""

from __future__ import annotations

import sys
from importlib.resources import files

from lensyard.errors import LensyardError

LOOPBACK = "127.0.0.1"
PORT = 8501
OWNER_VARIABLE = "LENSYARD_DASHBOARD_TOKEN"
GUEST_VARIABLE = "LENSYARD_DASHBOARD_GUEST_TOKEN"
"""The words that the environment hands to a server on a network; see `lensyard.ui.guard`."""
LARGEST_UPLOAD_MB = 20

SETTINGS: dict[str, str | bool | int] = {
    "browser.gatherUsageStats": False,
    "client.showErrorDetails": "none",
    "client.toolbarMode": "minimal",
    "server.address": LOOPBACK,
    "server.fileWatcherType": "none",
    "server.headless": True,
    "server.maxUploadSize": LARGEST_UPLOAD_MB,
    "server.showEmailPrompt": False,
    "theme.base": "light",
    "theme.primaryColor": "#17201D",
}


def script_path() -> str:
    """Return the path of the script that comes with the package."""
    return str(files("lensyard") / "ui" / "script" / "dashboard.py")


def network_address() -> str:
    """Return this computer's address in its network; nothing is sent to find it out.

    Raises
    ------
    LensyardError
        If it is in none.
    """
    import socket

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # A datagram socket only looks up its own address when it is connected.
            probe.connect(("192.0.2.1", 9))
            address: str = probe.getsockname()[0]
        except OSError:
            raise LensyardError(
                "this computer is in no network; join one, or leave --network out"
            ) from None
    return address


def new_tokens() -> dict[str, str]:
    """Return fresh words for owner and guests, by the variable that hands them over."""
    import secrets

    return {name: secrets.token_urlsafe(16) for name in (OWNER_VARIABLE, GUEST_VARIABLE)}


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
    chosen: dict[str, str | bool | int] = {
        "server.address": address,
        "server.headless": not open_browser,
    }
    if address != LOOPBACK:
        # Said outright, the server asks nobody on the internet what its address might be.
        chosen["browser.serverAddress"] = address
    flags = [f"--server.port={port}"]
    for name, value in {**SETTINGS, **chosen}.items():
        text = str(value).lower() if isinstance(value, bool) else value
        flags.append(f"--{name}={text}")
    return [sys.executable, "-m", "streamlit", "run", script_path(), *flags]
