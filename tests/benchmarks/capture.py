"""``python -m tests.benchmarks.capture``: reading capture times beside the bare EXIF reader.

Writes invented photographs into a temporary folder, times `read_photos` and the reader alone over
the same files, in turn, and then a whole match against a log of 150 plays.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from data.recipes.demo_game import DemoFrame, burst, frame_jpeg
from tests.benchmarks.timing import medians_in_turn_s

from lensyard.features.captions.compute import match_captures
from lensyard.features.captions.exif import read_photos, read_times
from lensyard.game.document import GameLog
from lensyard.game.entry import Game, LoggedPlay, Team

START = datetime(2026, 10, 3, 19, 0, tzinfo=UTC)
PLAYS = 150


def write_frames(folder: Path, *, files: int, clock_error_s: float, size_kb: int) -> None:
    """Write photographs in bursts around the plays of `log_of_bench`."""
    per_play = -(-files // PLAYS)
    written = 0
    for play in range(PLAYS):
        snap = START + timedelta(seconds=70.0 * play + 9.0 * np.sin(play))
        for moment in burst(snap + timedelta(seconds=1.5 - clock_error_s), frames=per_play):
            if written == files:
                return
            data = frame_jpeg(DemoFrame(moment.replace(tzinfo=None), offset="+00:00"))
            padding = b"\0" * max(0, size_kb * 1024 - len(data))
            (folder / f"frame{written:05d}.jpg").write_bytes(data + padding)
            written += 1


def log_of_bench() -> GameLog:
    """Return a log of 150 plays, snapped about 70 seconds apart."""
    plays = []
    for play in range(PLAYS):
        snap = START + timedelta(seconds=70.0 * play + 9.0 * np.sin(play))
        plays.append(
            LoggedPlay(
                number=play + 1,
                logged_at=snap + timedelta(seconds=20),
                snap_at=snap,
                quarter=1 + play * 4 // PLAYS,
                offense=Team.HOME,
                yardline_100=50,
                down=1,
                distance_yd=10,
            )
        )
    return GameLog(Game("bench", "Home", "Away", 2026, START), tuple(plays))


def bare(folder: Path) -> None:
    """Read the same files with the EXIF reader alone."""
    import exifread

    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        with path.open("rb") as stream:
            exifread.process_file(stream, details=False, extract_thumbnail=False)


def main(arguments: list[str] | None = None) -> None:
    """Print the seconds."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--files", type=int, default=5000)
    parser.add_argument("--size-kb", type=int, default=0, help="pad each file to this size")
    parser.add_argument("--runs", type=int, default=3)
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as top:
        frames = Path(top) / "frames"
        frames.mkdir()
        write_frames(frames, files=options.files, clock_error_s=37.0, size_kb=options.size_kb)
        ours, alone = medians_in_turn_s(
            [lambda: read_photos(frames), lambda: bare(frames)], runs=options.runs
        )
        log = log_of_bench()
        start = time.perf_counter()
        found = match_captures(log, read_times(frames), offsets={}, find_clocks=True)
        whole = time.perf_counter() - start
        print(f"files                          {options.files:>8}")
        print(f"read_photos                    {ours:>8.2f} s")
        print(f"the EXIF reader alone          {alone:>8.2f} s   ratio {ours / alone:.2f}")
        print(f"match with a log of {PLAYS} plays  {whole:>8.2f} s")
        print(f"clock error 37.0 s, found      {found.clocks[0].offset_s:>+8.1f} s")
        print(f"frames in plays                {found.frames_in_plays:>8}")


if __name__ == "__main__":
    main()
