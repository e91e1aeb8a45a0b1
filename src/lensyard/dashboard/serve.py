"""How the dashboard's server is started: nothing is reported anywhere, nobody else can reach it.

``.streamlit/config.toml`` in a checkout says the same to ``streamlit run app.py``; a test holds the
two together.

``lensyard dashboard``: the dashboard in a browser, served by this computer.
"""

from __future__ import annotations

import sys
from importlib.resources import files
from typing import Any

import click

from lensyard.config import user_cache_dir, user_data_dir
from lensyard.dashboard.gate import GUEST_VARIABLE, MOST_UPLOAD_MB, OWNER_VARIABLE, TOKEN_NAME
from lensyard.errors import LensyardError

LOOPBACK = "127.0.0.1"
PORT = 8501
GUESTS_NAME = "guests"
GUESTS_KEPT_S = 30 * 24 * 3600
"""A guest's log is removed when it was not changed for so long. [s]"""

SETTINGS: dict[str, Any] = {
    "browser.gatherUsageStats": False,
    "client.showErrorDetails": "none",
    "client.toolbarMode": "minimal",
    "runner.postScriptGC": False,  # after every tap it would look at all that was ever loaded
    "server.address": LOOPBACK,
    "server.allowedHosts": ["127.0.0.1", "localhost", "::1"],
    "server.fileWatcherType": "none",
    "server.headless": True,
    "server.maxUploadSize": MOST_UPLOAD_MB,
    "server.showEmailPrompt": False,
    "theme.base": "light",
    "theme.primaryColor": "#17201D",
}


def script_path() -> str:
    """Return the path of the script that comes with the package."""
    return str(files("lensyard") / "pages.py")


def network_address() -> str:
    """Return this computer's address in its network; nothing is sent to find it out.

    Raises `LensyardError` if it is in none.
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


def new_tokens(*, network: bool) -> dict[str, str]:
    """Return fresh words for the owner, and guests on a network, by the variable for each."""
    import secrets

    names = (OWNER_VARIABLE, GUEST_VARIABLE) if network else (OWNER_VARIABLE,)
    return {name: secrets.token_urlsafe(16) for name in names}


def settings(address: str, port: int) -> dict[str, Any]:
    """Return what the server of the pages is told, listening on an address and a port."""
    # The address said outright, the server asks nobody on the internet what it might be.
    chosen = {"server.address": address, "browser.serverAddress": address, "server.port": port}
    hosts = [*SETTINGS["server.allowedHosts"], address]
    return SETTINGS | chosen | {"server.allowedHosts": list(dict.fromkeys(hosts))}


def command_line(*, address: str = LOOPBACK, port: int = PORT) -> list[str]:
    """Return the command that starts the server with this Python.

    - ``address``: the network address to listen on; the default lets nobody else in.
    - ``port``: the port.

    >>> command_line(port=8600)[1:]
    ['-m', 'lensyard.dashboard.server', '127.0.0.1', '8600']
    """
    return [sys.executable, "-m", "lensyard.dashboard.server", address, str(port)]


@click.command("dashboard")
@click.option(
    "--port", type=click.IntRange(1, 65535), default=8501, show_default=True, help="Its port."
)
@click.option(
    "--network",
    is_flag=True,
    help="Let phones in the same network in. Without it only this computer is let in.",
)
@click.option(
    "--address",
    help="Where it listens. Default: 127.0.0.1; with --network this computer's address there.",
)
@click.option("--browser/--no-browser", default=False, help="Open a browser.")
def dashboard_command(port: int, network: bool, address: str | None, browser: bool) -> None:
    """Serve the dashboard until interrupted (Ctrl-C).

    Whoever is to see it needs the address that is printed, with its token, also on this computer.

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
    forget_guests()
    tokens = new_tokens(network=network)
    _tell(where, port, tokens)
    environment = {name: text for name, text in os.environ.items() if name != GUEST_VARIABLE}
    environment.update(tokens)
    command = command_line(address=where, port=port)
    if browser:
        _open_browser(_address(where, port, tokens[OWNER_VARIABLE]))
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
            f"{address} is open to a network; say --network as well, then guests get an address "
            "of their own"
        )


def _address(where: str, port: int, token: str) -> str:
    host = f"[{where}]" if ":" in where else where
    return f"http://{host}:{port}/?{TOKEN_NAME}={token}"


def _tell(where: str, port: int, tokens: dict[str, str]) -> None:
    """Say the addresses that carry the tokens."""
    who = {
        OWNER_VARIABLE: "for you, with your log",
        GUEST_VARIABLE: "for guests, each with a log of their own",
    }
    for variable, token in tokens.items():
        click.echo(f"{who[variable]}:  {_address(where, port, token)}", err=True)
    if GUEST_VARIABLE in tokens:
        click.echo(
            "Nothing between phone and computer is encrypted: use a network that you trust, and "
            "stop the server afterwards.",
            err=True,
        )


_WAIT_PAGE = """<!doctype html><meta charset="utf-8"><title>lensyard</title><p>Starting …
<script>
const address = {address};
const go = () => fetch(address.split("?")[0], {{mode: "no-cors"}})
  .then(() => location.replace(address), () => setTimeout(go, 300));
go();
</script>
"""


def _open_browser(address: str) -> None:
    """Open a browser that waits until the server answers.

    It gets a file that only this user can read: other accounts see the commands that run here.
    """
    import json
    import os
    import webbrowser

    path = user_cache_dir(create=True) / "open-dashboard.html"
    path.unlink(missing_ok=True)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as stream:
        stream.write(_WAIT_PAGE.format(address=json.dumps(address)))
    webbrowser.open(path.as_uri())


def forget_guests() -> None:
    """Remove the logs of guests that were not changed for `GUESTS_KEPT_S`."""
    import shutil
    import time

    folder = user_data_dir() / GUESTS_NAME
    if not folder.is_dir():
        return
    for guest in folder.iterdir():
        if guest.is_symlink() or not guest.is_dir():
            continue
        last = max(path.stat().st_mtime for path in (guest, *guest.rglob("*")))
        if time.time() - last > GUESTS_KEPT_S:
            shutil.rmtree(guest, ignore_errors=True)
