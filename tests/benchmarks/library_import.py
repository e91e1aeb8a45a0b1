"""``python -m tests.benchmarks.library_import``: what ``import lensyard`` costs."""

from __future__ import annotations

import subprocess
import sys
from functools import partial

from tests.benchmarks.timing import medians_in_turn_s

MOST_MS = 15.0


def main() -> None:
    """Print the wall time of Python with and without the import."""
    codes = ("import lensyard", "pass", "import lensyard; lensyard.next_play")
    full, bare, used = medians_in_turn_s(
        [partial(subprocess.run, [sys.executable, "-c", code], check=True) for code in codes],
        runs=15,
    )
    print(f"python -c 'pass'                                 {1000 * bare:6.1f} ms")
    print(f"python -c 'import lensyard'                      {1000 * full:6.1f} ms")
    print(f"python -c 'import lensyard; lensyard.next_play'  {1000 * used:6.1f} ms")
    print(f"the import alone: {1000 * (full - bare):.1f} ms, at most {MOST_MS:.0f} allowed")


if __name__ == "__main__":
    main()
