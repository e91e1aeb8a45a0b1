"""``python -m tests.benchmarks.scale [AXIS ...]``: how what is computed grows with its inputs.

Each size runs in a process of its own with empty caches; seconds of processor are those of the work
alone, without imports and without reading the model, and memory is the peak of the process. The
exponent is the slope of log seconds over log size (2 is four times as long for twice as much),
beside what the work itself grows with.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.imports import peak_mb

FIRST_SEASON = 2031
SEASONS = 11
Work = Callable[[], object]


@dataclass(frozen=True)
class Axis:
    """What grows, its sizes, the exponent that its work has, and what makes the work of a size."""

    sizes: tuple[float, ...]
    ideal: str
    prepare: Callable[[float], Work]


def fitted_seasons(size: float) -> Work:
    """A rule card fitted on so many seasons."""
    from lensyard.domain.kit import DEMO_KIT
    from lensyard.model.context import BASE_MODEL, load_context
    from lensyard.planner.plans import PlanRequest
    from lensyard.planner.season import fit_rule_card
    from lensyard.planner.season_data import season_data_of, stored_season

    request, plays = PlanRequest(DEMO_KIT), stored_season(load_context(BASE_MODEL))
    replay = plays.training_replay(int(size))
    made = request.scorers, request.assignment, request.walking
    return lambda: fit_rule_card(season_data_of(replay, *made))


def compared_kits(size: float) -> Work:
    """So many kits, each with a plan and a season; none has figures in the package."""
    from lensyard.domain.assignment import Assignment
    from lensyard.domain.kit import parse_kit
    from lensyard.domain.venue import standard_venue
    from lensyard.features.gear.compute import gear_comparison
    from lensyard.model.context import BASE_MODEL, load_context

    context, reaches = load_context(BASE_MODEL), (190, 210, 240, 270, 310, 350, 420, 480)
    kits = [parse_kit(f"70-200 + {reach}") for reach in reaches[: int(size)]]
    venue, assignment = standard_venue(), Assignment()
    return lambda: gear_comparison(context, kits, venue=venue, assignment=assignment)


def stations(size: float) -> Work:
    """A plan and a season with so many stations around the field."""
    from lensyard.domain.kit import DEMO_KIT
    from lensyard.model.context import BASE_MODEL, load_context
    from lensyard.planner.plans import PlanRequest
    from lensyard.planner.season import play_season
    from lensyard.planner.season_data import stored_season

    context = load_context(BASE_MODEL)
    request, plays = PlanRequest(DEMO_KIT, step_yd=380 / size), stored_season(context)
    plays.replay()
    return lambda: play_season(context, request, plays)


def crew(size: float) -> Work:
    """A crew's plans for a game, and the season with them."""
    from lensyard.domain.assignment import Assignment
    from lensyard.domain.kit import kit_of
    from lensyard.domain.venue import standard_venue
    from lensyard.features.crew.compute import CrewRequest, crew_game
    from lensyard.model.context import BASE_MODEL, load_context

    kits = (kit_of(["70-200", "500"]),) * int(size)
    request = CrewRequest(kits, standard_venue(), Assignment())
    context = load_context(BASE_MODEL)
    return lambda: crew_game(context, request)


def write_plays(path: Path, millions: float) -> None:
    """Write whole games of the bundled plays, renamed, again and again, in eleven later seasons."""
    import duckdb

    from lensyard.plays.bundled import plays_path, provenance

    copies = max(1, round(millions * 1e6 / provenance().rows))
    with duckdb.connect(config={"memory_limit": "1GB"}) as connection:
        connection.execute("SET enable_progress_bar = false")
        connection.execute(
            "COPY (SELECT p.* REPLACE (concat('R', copy, '-', p.game_id) AS game_id, "
            f"CAST(season + {FIRST_SEASON - 2009} AS SMALLINT) AS season) "
            f"FROM read_parquet('{plays_path()}') p, range({copies}) r(copy)) "
            f"TO '{path}' (FORMAT parquet, COMPRESSION zstd)"
        )


def imported(path: Path) -> Work:
    """Import a file of plays."""
    from lensyard.plays.importing.import_file import import_file
    from lensyard.plays.importing.stage import Request

    return lambda: import_file(Request(path))


def counted_zones(_: Path) -> Work:
    """Ask which stretches pay off over all imported plays; the second question of a process."""
    from lensyard.domain.kit import kit_of
    from lensyard.features.zones.compute import ZonesRequest, count_zones
    from lensyard.model.context import BASE_MODEL, load_context
    from lensyard.plays.store import shared_store

    context = load_context(BASE_MODEL)
    seasons = tuple(range(FIRST_SEASON, FIRST_SEASON + SEASONS))
    request = ZonesRequest(kit=kit_of(["70-200", "400"]), seasons=seasons)
    count_zones(context, request, shared_store())  # opens the store, builds the prior
    return lambda: count_zones(context, request, shared_store())


AXES = {
    "seasons": Axis((1, 2, 4, 8), "1", fitted_seasons),
    "kits": Axis((1, 2, 4, 8), "1", compared_kits),
    "stations": Axis((95, 190, 380), "1, walks between all of them 2", stations),
    "crew": Axis((1, 2, 3, 4, 5), "1", crew),
}
PLAYS = {"import": imported, "zones": counted_zones}  # in this order
MILLIONS = (0.5, 2.0, 10.0)


def run(work: Work) -> None:
    """Do the work of a size and print seconds of processor and peak memory [MB]."""
    begun = sum(os.times()[:4])
    work()
    print(json.dumps([sum(os.times()[:4]) - begun, peak_mb()]))


def measured(name: str, size: float, folder: str, path: str = "") -> list[float]:
    """Return seconds of processor and peak memory [MB] of one size in a process of its own."""
    places = {f"LENSYARD_{of}_DIR": f"{folder}/{of.lower()}" for of in ("DATA", "CACHE", "CONFIG")}
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.scale", name, "--size", str(size), "--file", path],
        check=True, stdout=subprocess.PIPE, text=True, env={**os.environ, **places},
    )  # fmt: skip
    found: list[float] = json.loads(done.stdout)
    return found


def show(name: str, ideal: str, sizes: tuple[float, ...], found: list[list[float]]) -> None:
    """Print one axis: sizes, seconds, memory, and the exponent beside the ideal."""
    seconds = [row[0] for row in found]
    slope = statistics.linear_regression(*([math.log(x) for x in of] for of in (sizes, seconds)))
    cells = [f"{size:g}: {s:.2f} s {mb:.0f} MB" for size, (s, mb) in zip(sizes, found, strict=True)]
    print(f"| {name} | {', '.join(cells)} | {slope.slope:.2f} | {ideal} |", flush=True)


def main() -> None:
    """Parse the command line, measure, print a row an axis."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    names = (*AXES, "plays", *PLAYS)
    parser.add_argument("axes", nargs="*", choices=[[], *names], default=[])
    parser.add_argument("--millions", type=float, nargs="+", default=MILLIONS)
    parser.add_argument("--size", type=float, help=argparse.SUPPRESS)
    parser.add_argument("--file", help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.size is not None:
        (name,) = chosen.axes
        run(PLAYS[name](Path(chosen.file)) if chosen.file else AXES[name].prepare(chosen.size))
        return
    print(f"load {os.getloadavg()[0]:.1f}, {time.strftime('%H:%M')}")
    for name in chosen.axes or [*AXES, "plays"]:
        with tempfile.TemporaryDirectory() as folder:
            if name in AXES:
                axis = AXES[name]
                found = [measured(name, size, f"{folder}/{size}") for size in axis.sizes]
                show(name, axis.ideal, axis.sizes, found)
                continue
            rows: dict[str, list[list[float]]] = {step: [] for step in PLAYS}
            for size in chosen.millions:
                path = Path(folder) / f"{size}.parquet"
                write_plays(path, size)
                for step, of in rows.items():
                    of.append(measured(step, size, f"{folder}/{size}", str(path)))
            for step, of in rows.items():
                show(f"million plays, {step}", "1", tuple(chosen.millions), of)


if __name__ == "__main__":
    main()
