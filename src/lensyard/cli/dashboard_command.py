"""``lensyard dashboard``: the dashboard in a browser, served by this computer."""

from __future__ import annotations

import click


@click.command("dashboard")
@click.option(
    "--port", type=click.IntRange(1, 65535), default=8501, show_default=True, help="Its port."
)
@click.option(
    "--address",
    default="127.0.0.1",
    show_default=True,
    help="Where it listens. 0.0.0.0 lets phones in the same network in, and everybody else there.",
)
@click.option("--browser/--no-browser", default=False, help="Open a browser.")
def dashboard_command(port: int, address: str, browser: bool) -> None:
    """Serve the dashboard until interrupted (Ctrl-C).

    \b
    lensyard dashboard
    lensyard dashboard --port 8600 --browser
    """
    import ipaddress
    import os
    import subprocess
    import sys

    from lensyard.service.dashboard import command_line

    try:
        inward = address == "localhost" or ipaddress.ip_address(address).is_loopback
    except ValueError:
        raise click.UsageError(
            f"cannot read an address from {address!r}; expected 127.0.0.1, 0.0.0.0 or another "
            "address of this computer"
        ) from None
    if not inward:
        click.echo(
            f"everybody in the network of {address} can open this dashboard; there is no password",
            err=True,
        )
    command = command_line(address=address, port=port, open_browser=browser)
    if os.name == "posix":
        # This process becomes the server: who stops it stops nothing less.
        os.execv(command[0], command)
    sys.exit(subprocess.run(command, check=False).returncode)
