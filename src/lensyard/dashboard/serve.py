"""How the dashboard's server is started: nothing is reported anywhere, nobody else can reach it.

``.streamlit/config.toml`` in a checkout says the same to ``streamlit run app.py``; a test holds the
two together.

``lensyard dashboard``: the dashboard in a browser, served by this computer.
"""

from __future__ import annotations

import sys
from importlib.resources import files

import click

from lensyard.errors import LensyardError

LOOPBACK = "127.0.0.1"
PORT = 8501
OWNER_VARIABLE = "LENSYARD_DASHBOARD_TOKEN"
GUEST_VARIABLE = "LENSYARD_DASHBOARD_GUEST_TOKEN"
"""The words that the environment hands to a server on a network; see `lensyard.dashboard.guard`."""
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
    return str(files("lensyard") / "pages.py")


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


@click.command("dashboard")
@click.option(
    "--port", type=click.IntRange(1, 65535), default=8501, show_default=True, help="Its port."
)
@click.option(
    "--network",
    is_flag=True,
    help="Let phones in the same network in; they need the address that is printed, with its "
    "token. Without it only this computer is let in.",
)
@click.option(
    "--address",
    help="Where it listens. Default: 127.0.0.1; with --network this computer's address there.",
)
@click.option("--browser/--no-browser", default=False, help="Open a browser.")
def dashboard_command(port: int, network: bool, address: str | None, browser: bool) -> None:
    """Serve the dashboard until interrupted (Ctrl-C).

    \b
    lensyard dashboard
    lensyard dashboard --port 8600 --browser
    lensyard dashboard --network
    """
    import os
    import subprocess
    import sys

    where = address or (network_address() if network else LOOPBACK)
    _require_address(where, network=network)
    environment = dict(os.environ)
    if network:
        environment.update(_told_tokens(where, port))
    command = command_line(address=where, port=port, open_browser=browser and not network)
    if os.name == "posix":
        # This process becomes the server: who stops it stops nothing less.
        os.execve(command[0], command, environment)
    sys.exit(subprocess.run(command, check=False, env=environment).returncode)


def _require_address(address: str, *, network: bool) -> None:
    """Refuse what is no address, and a network that nobody asked for."""
    import ipaddress

    try:
        inward = address == "localhost" or ipaddress.ip_address(address).is_loopback
    except ValueError:
        raise click.UsageError(
            f"cannot read an address from {address!r}; expected 127.0.0.1 or another address of "
            "this computer"
        ) from None
    if not inward and not network:
        raise click.UsageError(
            f"{address} is open to a network; say --network as well, then a token is needed to "
            "get in"
        )


def _told_tokens(address: str, port: int) -> dict[str, str]:
    """Make the tokens, and say the addresses that carry them."""

    tokens = new_tokens()
    host = f"[{address}]" if ":" in address else address
    for variable, who in (
        (OWNER_VARIABLE, "for you, with your log"),
        (GUEST_VARIABLE, "for guests, each with a log of their own"),
    ):
        click.echo(f"{who}:  http://{host}:{port}/?token={tokens[variable]}", err=True)
    click.echo(
        "Nothing between phone and computer is encrypted: use a network that you trust, and stop "
        "the server afterwards.",
        err=True,
    )
    return tokens
