"""``python -m tests.benchmarks.library_import``: what ``import lensyard`` costs."""

from __future__ import annotations

from tests.benchmarks.timing import compare_starts

MOST_MS = 15.0


def main() -> None:
    """Print the time of Python with and without the import."""
    codes = ("import lensyard", "pass", "import lensyard; lensyard.next_play")
    full, bare, _ = compare_starts({code: ["-c", code] for code in codes}, runs=15)
    print(f"the import alone: {1000 * (full - bare):.1f} ms, at most {MOST_MS:.0f} allowed")


if __name__ == "__main__":
    main()
