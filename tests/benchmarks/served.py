"""The dashboard served for a while, and a Chromium to look at it: for screenshots and tests.

``python -m tests.benchmarks.served --probes 10000`` knocks at a running server: every combination
of method, path, host, origin and cookie in turn, with a body. It prints how many got in that should
not have, how many bytes were taken, and what is new in the server's folders. The owner may send
files; here they go to a session that is none.
"""

from __future__ import annotations

import argparse
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from importlib import import_module
from pathlib import Path
from random import Random
from typing import Any

from lensyard.dashboard.gate import OWNER_VARIABLE, token_cookie
from lensyard.dashboard.serve import command_line
from lensyard.errors import LensyardError

CHROMIUM_VARIABLE = "LENSYARD_CHROMIUM"
LOOPBACK = "127.0.0.1"
UPLOADS = "/_stcore/upload_file/"
OWNER = "owner-word-0123456789"
"""The token of every server that is started here."""
ENDS_WITHIN_S = 20.0
"""A second or two of a quiet computer, on one that is busy."""
_NAMES = ("chromium", "chromium-browser")
REBOUND = "evil.example"
"""A name that leads here in the browser, as one does whose owner points it here (DNS rebinding)."""

# From a place on the field to the screen, through what the drawing says about itself.
TO_SCREEN = """(layer, [x, y]) => {
  const [a, b, c, d, e, f] = layer.dataset.affine.split(" ").map(Number);
  const under = a * e - b * d;
  const at = new DOMPoint((e * (x - c) - b * (y - f)) / under, (a * (y - f) - d * (x - c)) / under);
  const on = at.matrixTransform(layer.ownerSVGElement.getScreenCTM());
  return [on.x, on.y];
}"""


class NoBrowserError(LensyardError):
    """There is no browser here that can be driven; the message says what is missing."""


@contextmanager
def served(
    port: int | None = None, *, environment: Mapping[str, str] | None = None
) -> Iterator[str]:
    """Serve the dashboard on this computer and yield its address; stop it at the end.

    A browser needs its token too: `let_in`.

    - ``port``: default: any free one.
    - ``environment``: what the server finds in its environment beside this process's own.

    Raises `LensyardError` if the server stops before it listens, or goes on when told to end.
    """
    port = port or free_port()
    process = subprocess.Popen(
        command_line(port=port),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, OWNER_VARIABLE: OWNER, **(environment or {})},
    )
    try:
        _await_listening(process, port)
        yield f"http://{LOOPBACK}:{port}"
    finally:
        process.terminate()
        try:
            process.wait(timeout=ENDS_WITHIN_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
            raise LensyardError("the server was told to end, and went on") from None
        finally:
            if process.stdout is not None:
                process.stdout.close()


def let_in(context: Any, address: str, *, word: str = OWNER) -> None:
    """Give a browser's profile the token of a server, the owner's or a guest's."""
    name = token_cookie(address.rpartition(":")[2])
    context.add_cookies([{"name": name, "value": word, "url": address}])


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

    Raises `NoBrowserError` if playwright or a browser is missing.
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
            executable_path=str(path),
            args=[
                f"--host-resolver-rules=MAP {REBOUND} {LOOPBACK}",
                *(["--no-sandbox"] if as_root else []),
            ],
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


@dataclass
class Probes:
    """What knocking brought."""

    tried: int = 0
    let_in: int = 0
    bytes_taken: int = 0
    refused_owner: int = 0


_METHODS = ("GET", "HEAD", "PUT", "POST", "DELETE", "OPTIONS", "PATCH")
_PATHS = ("/", "/plan", "/_stcore/health", "/_stcore/stream", "/_stcore/upload_file/a/b")


def probe(count: int, *, seed: int = 7) -> Probes:
    """Knock at a server of its own, with and without what would be right."""
    rng, tally = Random(seed), Probes()
    with tempfile.TemporaryDirectory() as data:
        folders = {"LENSYARD_DATA_DIR": data, "TMPDIR": data}
        with served(environment=folders) as url:
            port = int(url.rpartition(":")[2])
            for _ in range(count):
                _knock(port, rng, tally)
        files = [path for path in Path(data).rglob("*") if path.is_file()]
        tally.bytes_taken = sum(path.stat().st_size for path in files)
    return tally


def _knock(port: int, rng: Random, tally: Probes) -> None:
    own = f"{LOOPBACK}:{port}"
    host = rng.choice([own, own, own, f"{REBOUND}:{port}", REBOUND, LOOPBACK, "a\tb"])
    origin = rng.choice(["", "", f"http://{own}", f"http://{REBOUND}", "null", f"https://{own}"])
    word = rng.choice([OWNER, OWNER, OWNER[:-1], OWNER + "x", "", "%00", rng.randbytes(9).hex()])
    method, path = rng.choice(_METHODS), rng.choice(_PATHS)
    size = 0 if method in ("GET", "HEAD") else rng.choice([0, 10, 100_000])
    lines = [f"{method} {path} HTTP/1.1", f"Host: {host}", f"Content-Length: {size}"]
    lines += [f"Origin: {origin}"] if origin else []
    lines += [f"Cookie: {token_cookie(port)}={word}"] if word else []
    right = host == own and origin in ("", f"http://{own}") and word == OWNER
    upload = method in ("PUT", "DELETE") and path.startswith(UPLOADS)
    right = right and (method in ("GET", "HEAD") or upload)
    tally.tried += 1
    with socket.create_connection((LOOPBACK, port), timeout=10) as connection:
        with suppress(OSError):
            connection.sendall("\r\n".join([*lines, "Connection: close", "", ""]).encode())
            connection.sendall(b"x" * size)
        answer = b""
        with suppress(OSError):
            while part := connection.recv(65536):
                answer += part
    status = int(answer[9:12] or 0) if answer.startswith(b"HTTP/1.1 ") else 0
    tally.let_in += not right and status not in (0, 400, 403)
    tally.refused_owner += right and status == 403


def main() -> None:
    """Knock, and print what came of it; exit 1 if anything got in."""
    parser = argparse.ArgumentParser(description="knock at a dashboard")
    parser.add_argument("--probes", type=int, default=10_000)
    tally = probe(parser.parse_args().probes)
    print("\n".join(f"{name:<16}{value:>8}" for name, value in asdict(tally).items()))
    sys.exit(1 if tally.let_in or tally.bytes_taken or tally.refused_owner else 0)


if __name__ == "__main__":
    main()
