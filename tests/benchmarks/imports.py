"""``python -m tests.benchmarks.imports``: what an import costs, beside DuckDB's bare read.

Each measurement alternates with its yardstick in processes of their own, and the best of some
rounds counts, so that other work on the machine weighs on both alike. Memory is the peak of the
process (resident).
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from tests.support.play_file_shapes import college_sql, nflverse_sql, padded_sql
from tests.support.play_files import invented, write_query

NFLVERSE_COLUMNS: Final = 107
COLLEGE_COLUMNS: Final = 353
"""As wide as published files of the two projects that were looked at (whole releases are wider)."""
_WHERE: Final = "season = 2018 OR (season = 2017 AND week <= 3)"  # some 50,000 plays


def write_files(folder: Path) -> dict[str, Path]:
    """Write a season of some 50,000 plays in every shape."""
    import duckdb

    plays = invented(_WHERE)
    found = {}
    with duckdb.connect() as connection:
        for shape, width, query in (
            ("nflverse", NFLVERSE_COLUMNS, nflverse_sql(plays)),
            ("college", COLLEGE_COLUMNS, college_sql(plays)),
        ):
            own = len(connection.execute(f"DESCRIBE {query}").fetchall())
            for ending in ("parquet", "csv"):
                path = folder / f"{shape}.{ending}"
                found[path.name] = write_query(padded_sql(query, width - own), path)
    return found


def bare_read(path: Path, folder: Path) -> None:
    """Let DuckDB read a file into a table of a database file: the yardstick."""
    import duckdb

    connection = duckdb.connect(str(folder / "bare.duckdb"))
    connection.execute("SET enable_progress_bar = false")
    connection.execute(f"CREATE TABLE plays AS SELECT * FROM '{path}'")
    connection.execute("CHECKPOINT")
    connection.close()


def our_import(path: Path, folder: Path) -> None:
    """Import a file."""
    from lensyard.plays.importing.import_file import import_file
    from lensyard.plays.importing.stage import Request

    report = import_file(Request(path), folder=folder / "plays")
    if not report.changed:
        raise RuntimeError(f"{path.name} was not imported")


def our_store(_: Path, folder: Path) -> None:
    """Build the store of the bundled plays, in a cache that has none."""
    from lensyard.plays.store import shared_store

    os.environ |= {f"LENSYARD_{name}_DIR": str(folder / name) for name in ("CACHE", "DATA")}
    shared_store()


JOBS: Final[dict[str, Callable[[Path, Path], None]]] = {
    "bare": bare_read,
    "import": our_import,
    "store": our_store,
}


def measure(job: str, path: Path) -> dict[str, float]:
    """Return seconds, CPU seconds and peak memory of a job, in a process of its own."""
    command = [sys.executable, "-m", "tests.benchmarks.imports", "--job", job, "--file", str(path)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def _child(job: str, path: Path) -> None:
    """Run one job and print what it took; importing DuckDB does not count."""
    import duckdb

    with tempfile.TemporaryDirectory() as name:
        duckdb.connect().close()
        cpu, wall = _cpu_s(), time.perf_counter()
        JOBS[job](path, Path(name))
        taken = {"wall_s": time.perf_counter() - wall, "cpu_s": _cpu_s() - cpu}
    print(json.dumps(taken | {"peak_mb": peak_mb()}))


def peak_mb() -> float:
    """Return the largest resident memory of this process so far. [MB]"""
    status = Path("/proc/self/status")
    if status.is_file():  # the other way also counts what the parent had
        lines = status.read_text().splitlines()
        return next(int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM"))
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _cpu_s() -> float:
    used = os.times()
    return used.user + used.system


def compare(job: str, path: Path, *, rounds: int) -> dict[str, Any]:
    """Return the best of some rounds of a job and of its yardstick, and their ratio."""
    ours, bare = [], []
    for _ in range(rounds):
        bare.append(measure("bare", path))
        ours.append(measure(job, path))
    best = {
        key: (min(run[key] for run in ours), min(run[key] for run in bare))
        for key in ("wall_s", "cpu_s")
    }
    return {
        "job": job,
        "file": path.name,
        "size_mb": round(path.stat().st_size / 1e6, 1),
        "wall_s": round(best["wall_s"][0], 3),
        "bare_wall_s": round(best["wall_s"][1], 3),
        "wall_ratio": round(best["wall_s"][0] / best["wall_s"][1], 2),
        "cpu_s": round(best["cpu_s"][0], 3),
        "bare_cpu_s": round(best["cpu_s"][1], 3),
        "cpu_ratio": round(best["cpu_s"][0] / best["cpu_s"][1], 2),
        "peak_mb": round(max(run["peak_mb"] for run in ours)),
    }


def main() -> None:
    """Parse the command line, measure, print one JSON line each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--job", choices=sorted(JOBS), help=argparse.SUPPRESS)
    parser.add_argument("--file", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("files", nargs="*", type=Path, help="files of your own, too")
    chosen = parser.parse_args()
    if chosen.job:
        _child(chosen.job, chosen.file)
        return
    from lensyard.plays.bundled import plays_path

    with tempfile.TemporaryDirectory() as name:
        for path in [*write_files(Path(name)).values(), *chosen.files]:
            print(json.dumps(compare("import", path, rounds=chosen.rounds)), flush=True)
        for job in ("import", "store"):
            print(json.dumps(compare(job, plays_path(), rounds=chosen.rounds)), flush=True)


if __name__ == "__main__":
    main()
