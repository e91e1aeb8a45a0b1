"""``python -m tests.benchmarks.scale --millions 0.5 2 10``: how importing and counting grow.

Resamples the bundled plays (whole games, renamed, in eleven later seasons) to the asked number,
imports them, and asks which stretches pay off over all of them. Each step runs in a process of its
own; memory is its peak.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, Final

from tests.benchmarks.imports import peak_mb

FIRST_SEASON: Final = 2031
SEASONS: Final = 11


def write_plays(path: Path, millions: float) -> int:
    """Write resampled plays and return how many."""
    import duckdb

    from lensyard.plays.bundled import plays_path, provenance

    copies = max(1, round(millions * 1e6 / provenance().rows))
    with duckdb.connect(config={"memory_limit": "1GB"}) as connection:
        connection.execute("SET enable_progress_bar = false")
        row = connection.execute(
            "COPY (SELECT p.* REPLACE (concat('R', copy, '-', p.game_id) AS game_id, "
            f"CAST(season + {FIRST_SEASON - 2009} AS SMALLINT) AS season) "
            f"FROM read_parquet('{plays_path()}') p, range({copies}) r(copy)) "
            f"TO '{path}' (FORMAT parquet, COMPRESSION zstd)"
        ).fetchone()
    return int((row or (0,))[0])


def _import(path: Path) -> dict[str, Any]:
    from lensyard.plays.importing.import_file import import_file
    from lensyard.plays.importing.stage import Request

    report = import_file(Request(path))
    return {"kept": report.kept, "games": report.games}


def _zones(_: Path) -> dict[str, Any]:
    from lensyard.domain.kit import kit_of
    from lensyard.features.zones.compute import ZonesRequest, count_zones
    from lensyard.model.context import BASE_MODEL, load_context
    from lensyard.plays.store import shared_store

    context = load_context(BASE_MODEL)
    seasons = tuple(range(FIRST_SEASON, FIRST_SEASON + SEASONS))
    request = ZonesRequest(kit=kit_of(["70-200", "400"]), seasons=seasons)
    count_zones(context, request, shared_store())  # opens the store, builds the prior
    wall, cpu = time.perf_counter(), time.process_time()
    answer = count_zones(context, request, shared_store())
    return {
        "plays": answer.plays,
        "again_wall_s": round(time.perf_counter() - wall, 3),
        "again_cpu_s": round(time.process_time() - cpu, 3),
    }


STEPS: Final = {"import": _import, "zones": _zones}


def _child(step: str, path: Path) -> None:
    """Run one step and print what it took."""
    wall, cpu = time.perf_counter(), time.process_time()
    found = STEPS[step](path)
    taken = {
        "wall_s": round(time.perf_counter() - wall, 2),
        "cpu_s": round(time.process_time() - cpu, 2),
        "peak_mb": round(peak_mb()),
    }
    print(json.dumps(found | taken))


def _measure(step: str, path: Path, folder: Path) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.scale", "--step", step, "--file", str(path)],
        check=True,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "LENSYARD_DATA_DIR": str(folder)},
    )
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def main() -> None:
    """Parse the command line, measure, print one JSON line a size and step."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--millions", type=float, nargs="+", default=[0.5, 2.0])
    parser.add_argument("--step", choices=sorted(STEPS), help=argparse.SUPPRESS)
    parser.add_argument("--file", type=Path, help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.step:
        _child(chosen.step, chosen.file)
        return
    for millions in chosen.millions:
        with tempfile.TemporaryDirectory() as name:
            path = Path(name) / "plays.parquet"
            rows = write_plays(path, millions)
            for step in STEPS:
                taken = _measure(step, path, Path(name) / "user")
                print(json.dumps({"millions": millions, "rows": rows, "step": step} | taken))


if __name__ == "__main__":
    main()
