"""``lensyard dashboard``: the dashboard in a browser, served by this computer."""

from __future__ import annotations

import click


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

    from lensyard.service.dashboard import LOOPBACK, command_line, network_address

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
    from lensyard.service.dashboard import GUEST_VARIABLE, OWNER_VARIABLE, new_tokens

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
