"""``python -m tests.benchmarks.model``: loading the model, and what an answer asks of it.

Each figure stands beside a baseline of the same run: reading and hashing the same bytes, and a
bare product of the same size.
"""

from __future__ import annotations

import hashlib
import io
import subprocess
import sys
from functools import partial
from pathlib import Path

import numpy as np
from tests.benchmarks.timing import medians_in_turn_s

from lensyard.domain.situation import SituationBatch
from lensyard.model.artifact import load
from lensyard.model.context import BASE_MODEL, model_path
from lensyard.model.outcome_grid import GAINS_YD, KINDS

SEASON_PLAYS = 32_000
_COLD = (
    "import sys, time\n"
    "from pathlib import Path\n"
    "import numpy as np\n"
    "from lensyard.model.artifact import load\n"
    "start = time.perf_counter()\n"
    "{}\n"
    "print(time.perf_counter() - start)\n"
)


def loading(path: Path) -> None:
    """Print the time to load the model, warm and in a fresh process."""

    def plain() -> None:
        content = path.read_bytes()
        hashlib.sha256(content).hexdigest()
        with np.load(io.BytesIO(content), allow_pickle=False) as archive:
            for name in archive.files:
                archive[name]

    ours, base = medians_in_turn_s([partial(load, path), plain], runs=21)
    print(f"load the model                 {1e3 * ours:8.2f} ms")
    print(f"read, hash and parse its file  {1e3 * base:8.2f} ms   ratio {ours / base:.2f}")
    fresh = _cold_s(f"load(Path({str(path)!r}))")
    parse = _cold_s(f"a = np.load({str(path)!r}); [a[name] for name in a.files]")
    print(f"load in a fresh process        {1e3 * fresh:8.2f} ms")
    print(f"parse its file there           {1e3 * parse:8.2f} ms   ratio {fresh / parse:.2f}")


def _cold_s(statement: str) -> float:
    """Return the median time of a statement in fresh processes, imports left out. [s]"""
    times = []
    for _ in range(9):
        done = subprocess.run(
            [sys.executable, "-c", _COLD.format(statement)],
            check=True,
            capture_output=True,
            text=True,
        )
        times.append(float(done.stdout))
    return float(np.median(times))


def predicting(model) -> None:
    """Print the time of one situation and of a season's, beside a bare product."""
    rng = np.random.default_rng(1)
    yardline = rng.integers(1, 100, SEASON_PLAYS)
    batch = SituationBatch.neutral(
        down=rng.integers(1, 5, SEASON_PLAYS),
        distance_yd=np.minimum(rng.integers(1, 16, SEASON_PLAYS), yardline),
        yardline_100=yardline,
    )
    one = batch.take(np.arange(1))
    table = rng.random((len(KINDS), GAINS_YD.shape[0]))
    shares = rng.random((SEASON_PLAYS, len(KINDS)))
    few = (
        medians_in_turn_s([partial(_often, lambda: model.forecast(one).gain_pmf)], runs=9)[0] / 100
    )
    print(f"P(gain) of one situation       {1e6 * few:8.1f} us")
    many, base = medians_in_turn_s(
        [lambda: model.forecast(batch).gain_pmf, lambda: shares @ table], runs=7
    )
    print(f"P(gain) of {SEASON_PLAYS:,}           {1e6 * many / SEASON_PLAYS:8.2f} us a row")
    print(
        f"bare product of that size      {1e6 * base / SEASON_PLAYS:8.2f} us a row   "
        f"ratio {many / base:.1f}"
    )


def _often(call: object) -> None:
    """Call something a hundred times."""
    for _ in range(100):
        call()  # type: ignore[operator]


if __name__ == "__main__":
    artifact = model_path(BASE_MODEL)
    loading(artifact)
    predicting(load(artifact))
