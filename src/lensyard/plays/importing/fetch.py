"""Fetching a season: the one place, beside the rebuild of the bundled plays, that uses the network.

It happens only when a person asks for it. HTTPS only, also after redirects; time-outs, retries, a
size limit, a checksum where one is known; the file grows under a temporary name and takes its own
only when it is complete. What the server calls the file is never used.
"""

from __future__ import annotations

import hashlib
import http.client
import ipaddress
import os
import ssl
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final
from urllib.parse import urlsplit

from lensyard.errors import DataError, InvalidInputError
from lensyard.files import replacing

_BLOCK: Final = 1 << 16
_GONE: Final = (404, 410)
_PASSING: Final = (408, 425, 429, 500, 502, 503, 504)


@dataclass(frozen=True, slots=True)
class FetchLimits:
    """How long and how much.

    Attributes
    ----------
    answer_s
        Longest silence of the server. [s]
    total_s
        Longest time for the whole file. [s]
    size_bytes
        Largest file.
    attempts
        How often a passing fault is tried again, the first included.
    pause_s
        Before the second attempt; doubles with each. [s]
    """

    answer_s: float = 30.0
    total_s: float = 900.0
    size_bytes: int = 1 << 30
    attempts: int = 4
    pause_s: float = 1.0


class _PassingError(Exception):
    """A fault that may be gone at the next attempt."""


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

    Parameters
    ----------
    url
        The address.
    loopback
        Also allow plain HTTP to this machine; for tests.
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

    Parameters
    ----------
    url
        An https address.
    target
        Where it goes; an older file there stays until the new one is complete.
    sha256
        What the file must have, where it is known.
    limits
        Times and sizes.
    loopback
        Also allow plain HTTP to this machine; for tests.
    wait
        How to wait between attempts.

    Raises
    ------
    InvalidInputError
        If the address is not secure.
    DataError
        If there is no network, no such file, or the file is not what was expected.
    """
    require_secure(url, loopback=loopback)
    bounds = limits or FetchLimits()
    opener = urllib.request.build_opener(_SecureRedirects(loopback))
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with replacing(target) as temporary:
            found = _fetched(opener, url, temporary, bounds, wait)
            if sha256 is not None and found != sha256.lower():
                raise DataError(
                    f"what came from {url} has SHA-256 {found}, expected {sha256}; nothing was "
                    "kept. Ask the source which is right."
                )
    except OSError as error:
        raise DataError(f"cannot write {target}: {error.strerror or error}") from error
    return found


def _fetched(
    opener: urllib.request.OpenerDirector,
    url: str,
    temporary: Path,
    limits: FetchLimits,
    wait: Callable[[float], object],
) -> str:
    """Fetch into the temporary file, again after passing errors; return the SHA-256."""
    pause = limits.pause_s
    for attempt in range(1, limits.attempts + 1):
        try:
            return _attempt(opener, url, temporary, limits)
        except _PassingError as error:
            if attempt == limits.attempts:
                raise _unreachable(url, str(error)) from error
            wait(pause)
            pause *= 2
    raise AssertionError("no attempt was made")


def _attempt(
    opener: urllib.request.OpenerDirector, url: str, temporary: Path, limits: FetchLimits
) -> str:
    """Fetch once into the temporary file; return the SHA-256."""
    until = time.monotonic() + limits.total_s
    request = urllib.request.Request(url, headers={"User-Agent": "lensyard"})
    try:
        with opener.open(request, timeout=limits.answer_s) as answer:
            _require_table(answer, url, limits)
            return _copy(answer, temporary, url, limits, until)
    except urllib.error.HTTPError as error:
        raise _http_fault(error, url) from error
    except InvalidInputError:
        raise
    except (
        urllib.error.URLError,
        http.client.HTTPException,
        ConnectionError,
        TimeoutError,
        ssl.SSLError,
    ) as e:
        raise _PassingError(str(getattr(e, "reason", None) or e or type(e).__name__)) from e


def _http_fault(error: urllib.error.HTTPError, url: str) -> Exception:
    """Return what an error status means: to be tried again, or final."""
    error.close()
    if error.code in _PASSING:
        return _PassingError(f"the server answers {error.code}")
    if error.code in _GONE:
        return DataError(
            f"there is no file at {url} ({error.code}); is the season published yet? --url names "
            "another address"
        )
    return DataError(f"the server refuses {url} ({error.code} {error.reason})")


def _require_table(answer: Any, url: str, limits: FetchLimits) -> None:
    """Refuse an answer that cannot be a table of plays, before it is read."""
    kind = str(answer.headers.get("Content-Type", "")).lower()
    if kind.startswith("text/html"):
        raise DataError(
            f"{url} serves a web page, not a file of plays; give the address of the file itself"
        )
    length = str(answer.headers.get("Content-Length", ""))
    if length.isdecimal() and int(length) > limits.size_bytes:
        raise DataError(
            f"{url} has {int(length):,} bytes, more than the limit of {limits.size_bytes:,}"
        )


def _copy(answer: Any, temporary: Path, url: str, limits: FetchLimits, until: float) -> str:
    """Copy an answer into a file, within the limits; return the SHA-256."""
    digest = hashlib.sha256()
    length = str(answer.headers.get("Content-Length", ""))
    size, first = 0, b""
    with temporary.open("wb") as out:
        while block := answer.read1(_BLOCK):
            first = first or block
            size += len(block)
            if size > limits.size_bytes:
                raise DataError(f"{url} is larger than the limit of {limits.size_bytes:,} bytes")
            if time.monotonic() > until:
                raise _PassingError(f"not complete within {limits.total_s:g} s")
            digest.update(block)
            out.write(block)
    if length.isdecimal() and size != int(length):
        raise _PassingError(f"cut off after {size:,} of {int(length):,} bytes")
    _require_whole(temporary, first, size, url)
    return digest.hexdigest()


def _require_whole(temporary: Path, first: bytes, size: int, url: str) -> None:
    """Refuse what is no table, or the beginning of one."""
    start = first.lstrip()[:200].lower()
    if size == 0:
        raise _PassingError("the server sent nothing")
    if start.startswith((b"<!doctype", b"<html", b"<?xml")):
        raise DataError(
            f"{url} serves a web page, not a file of plays; give the address of the file itself"
        )
    if first.startswith(b"PAR1"):
        with temporary.open("rb") as stream:
            stream.seek(-4, os.SEEK_END)
            if stream.read() != b"PAR1":
                raise _PassingError("the file has no end")


def _unreachable(url: str, why: str) -> DataError:
    host = urlsplit(url).hostname
    return DataError(
        f"cannot fetch from {host}: {why}. Without a connection: fetch {url} on another machine, "
        "bring the file here, and use `lensyard data import FILE`."
    )
