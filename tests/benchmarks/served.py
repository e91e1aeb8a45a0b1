"""The dashboard served for a while, and a Chromium to look at it: for screenshots and tests."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any

from lensyard.dashboard.serve import LOOPBACK, command_line
from lensyard.errors import LensyardError

CHROMIUM_VARIABLE = "LENSYARD_CHROMIUM"
_NAMES = ("chromium", "chromium-browser")


class NoBrowserError(LensyardError):
    """There is no browser here that can be driven; the message says what is missing."""


@contextmanager
def served(
    port: int | None = None, *, environment: Mapping[str, str] | None = None
) -> Iterator[str]:
    """Serve the dashboard on this computer and yield its address; stop it at the end.

    Parameters
    ----------
    port
        Default: any free one.
    environment
        What the server finds in its environment beside this process's own.

    Raises
    ------
    LensyardError
        If the server stops before it listens.
    """
    port = port or free_port()
    process = subprocess.Popen(
        command_line(port=port),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, **(environment or {})},
    )
    try:
        _await_listening(process, port)
        yield f"http://{LOOPBACK}:{port}"
    finally:
        process.terminate()
        try:
            process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        if process.stdout is not None:
            process.stdout.close()


def _await_listening(process: subprocess.Popen[str], port: int) -> None:
    """Read what the server says until it names its address; then read on aside."""
    output = process.stdout
    if output is None:
        raise LensyardError("the server's output is not read; start it with a pipe")
    said = []
    for line in output:
        said.append(line)
        if f":{port}" in line and "URL" in line:
            break
    else:
        raise LensyardError(f"the server stopped before it listened: {''.join(said[-20:])}")
    # An unread pipe fills up and stops its writer.
    threading.Thread(target=_drain, args=(output,), daemon=True).start()


def _drain(output: Any) -> None:
    try:
        for _ in output:
            pass
    except ValueError:
        return  # closed meanwhile


def free_port() -> int:
    """Return a port of this computer that nothing listens on."""
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def chromium() -> Iterator[Any]:
    """Yield a headless Chromium (a `playwright` browser).

    The one that LENSYARD_CHROMIUM names, else the system's, else playwright's own.

    Raises
    ------
    NoBrowserError
        If playwright or a browser is missing.
    """
    try:
        sync_api = import_module("playwright.sync_api")
    except ImportError:
        raise NoBrowserError(
            "playwright is not installed; install it with: pip install 'lensyard[browser]'"
        ) from None
    with sync_api.sync_playwright() as playwright:
        path = chromium_path() or playwright.chromium.executable_path
        if not Path(path).exists():
            raise NoBrowserError(
                f"there is no Chromium here; install the system's (chromium), name one in "
                f"{CHROMIUM_VARIABLE}, or run: playwright install chromium"
            )
        as_root = hasattr(os, "geteuid") and os.geteuid() == 0
        browser = playwright.chromium.launch(
            executable_path=str(path), args=["--no-sandbox"] if as_root else []
        )
        try:
            yield browser
        finally:
            browser.close()


def chromium_path() -> str | None:
    """Return the Chromium that is named or installed on this system, or None."""
    named = os.environ.get(CHROMIUM_VARIABLE, "").strip()
    found = (shutil.which(name) for name in _NAMES)
    return named or next((path for path in found if path), None)
