"""Fetching a season: the one place, beside the rebuild of the bundled plays, that uses the network.

It happens only when a person asks for it. HTTPS only, also after redirects; time-outs, retries, a
size limit, a checksum where one is known; the file grows under a temporary name and takes its own
only when it is complete. What the server calls the file is never used.
"""

from __future__ import annotations

import http.client
import ipaddress
import ssl
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any, Final
from urllib.parse import urlsplit

from lensyard.errors import DataError, InvalidInputError
from lensyard.files import file_sha256, replacing
from lensyard.records import Record

_BLOCK: Final = 1 << 16
_GONE: Final = (404, 410)
_PASSING: Final = (408, 425, 429, 500, 502, 503, 504)


class FetchLimits(Record):
    """How long and how much.

    `answer_s`: Longest silence of the server. [s]
    `total_s`: Longest time for the whole file. [s]
    `attempts`: How often it is tried in all while errors may pass.
    `pause_s`: Before the second attempt; doubles with each. [s]
    """

    answer_s: float = 30.0
    total_s: float = 900.0
    size_bytes: int = 1 << 30
    attempts: int = 4
    pause_s: float = 1.0


class _PassingError(Exception):
    """An error that may be gone at the next attempt."""


class _SecureRedirects(urllib.request.HTTPRedirectHandler):
    """Follow redirects only to addresses that might have been asked for."""

    def __init__(self, loopback: bool) -> None:
        self.loopback = loopback

    def redirect_request(
        self, req: urllib.request.Request, fp: IO[bytes], code: int, msg: str, headers: Any,
        newurl: str,
    ) -> urllib.request.Request | None:  # fmt: skip
        """Return the request for the new address, or raise `InvalidInputError`."""
        require_secure(newurl, loopback=self.loopback)
        return super().redirect_request(req, fp, code, msg, headers, newurl)


def require_secure(url: str, *, loopback: bool = False) -> None:
    """Raise `InvalidInputError` unless an address is HTTPS with a host and without a password.

    `loopback`: Also allow plain HTTP to this machine; for tests.
    """
    try:
        parts = urlsplit(url)
        host, secret = parts.hostname, parts.password
    except ValueError as error:
        raise InvalidInputError(f"cannot read the address {url[:200]!r}: {error}") from error
    fine = parts.scheme == "https" or (loopback and parts.scheme == "http" and _is_loopback(host))
    if not fine or not host or secret is not None or any(c.isspace() for c in url):
        raise InvalidInputError(
            f"cannot fetch {url[:200]!r}; expected an https address without a password"
        )


def _is_loopback(host: str | None) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host or "").is_loopback
    except ValueError:
        return False


def fetch_file(
    url: str,
    target: Path,
    *,
    sha256: str | None = None,
    limits: FetchLimits | None = None,
    loopback: bool = False,
    wait: Callable[[float], None] = time.sleep,
) -> str:
    """Fetch a file and return its SHA-256.

    `target`: Where it goes; an older file there stays until the new one is complete.
    `sha256`: What the file must have, where it is known.
    `loopback`: Also allow plain HTTP to this machine; for tests.

    Raises `InvalidInputError` if the address is not secure; `DataError` if there is no network, no
    such file, or the file is not what was expected.
    """
    require_secure(url, loopback=loopback)
    bounds = limits or FetchLimits()
    opener = urllib.request.build_opener(_SecureRedirects(loopback))
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with replacing(target) as temporary:
            for attempt in range(bounds.attempts):
                if attempt:
                    wait(bounds.pause_s * 2 ** (attempt - 1))
                try:
                    _attempt(opener, url, temporary, bounds)
                    break
                except _PassingError as error:
                    if attempt == bounds.attempts - 1:
                        raise DataError(
                            f"cannot fetch from {urlsplit(url).hostname}: {error}. Without a "
                            f"connection: fetch {url} on another machine, bring the file here, and "
                            "use `lensyard data import FILE`."
                        ) from error
            found = file_sha256(temporary)
            if sha256 is not None and found != sha256.lower():
                raise DataError(
                    f"what came from {url} has SHA-256 {found}, expected {sha256}; nothing was "
                    "stored. Ask the source which is right."
                )
    except OSError as error:
        raise DataError(f"cannot write {target}: {error.strerror or error}") from error
    return found


def _attempt(
    opener: urllib.request.OpenerDirector, url: str, temporary: Path, limits: FetchLimits
) -> None:
    """Fetch once into the temporary file."""
    until = time.monotonic() + limits.total_s
    request = urllib.request.Request(url, headers={"User-Agent": "lensyard"})
    try:
        with opener.open(request, timeout=limits.answer_s) as answer:
            _copy(answer, temporary, url, limits, until)
    except urllib.error.HTTPError as error:
        error.close()
        if error.code in _PASSING:
            raise _PassingError(f"the server answers {error.code}") from error
        if error.code in _GONE:
            raise DataError(
                f"there is no file at {url} ({error.code}); is the season published yet? --url "
                "names another address"
            ) from error
        raise DataError(f"the server refuses {url} ({error.code} {error.reason})") from error
    except (
        urllib.error.URLError,
        http.client.HTTPException,
        ConnectionError,
        TimeoutError,
        ssl.SSLError,
    ) as e:
        raise _PassingError(str(getattr(e, "reason", None) or e or type(e).__name__)) from e


def _copy(answer: Any, temporary: Path, url: str, limits: FetchLimits, until: float) -> None:
    """Copy an answer into a file, within the limits; refuse what cannot be a table of plays."""
    page = DataError(
        f"{url} serves a web page, not a file of plays; give the address of the file itself"
    )
    if str(answer.headers.get("Content-Type", "")).lower().startswith("text/html"):
        raise page
    length = str(answer.headers.get("Content-Length", ""))
    promised = int(length) if length.isdecimal() else None
    if promised is not None and promised > limits.size_bytes:
        raise DataError(
            f"{url} has {promised:,} bytes, more than the limit of {limits.size_bytes:,}"
        )
    size, first, last = 0, b"", b""
    with temporary.open("wb") as out:
        while block := answer.read1(_BLOCK):
            first, last = first or block, (last + block)[-4:]
            size += len(block)
            if size > limits.size_bytes:
                raise DataError(f"{url} is larger than the limit of {limits.size_bytes:,} bytes")
            if time.monotonic() > until:
                raise _PassingError(f"not complete within {limits.total_s:g} s")
            out.write(block)
    if promised is not None and size != promised:
        raise _PassingError(f"cut off after {size:,} of {promised:,} bytes")
    if size == 0:
        raise _PassingError("the server sent nothing")
    if first.lstrip()[:200].lower().startswith((b"<!doctype", b"<html", b"<?xml")):
        raise page
    if first.startswith(b"PAR1") and last != b"PAR1":
        raise _PassingError("the file has no end")
