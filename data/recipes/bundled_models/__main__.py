"""``python -m data.recipes.bundled_models pro college``: the shape moved to counts of levels."""

from __future__ import annotations

import argparse
from pathlib import Path

from data.recipes.bundled_models.levels import LEVEL_NAMES, build_level


def main() -> None:
    """Write the two files of each level named."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("levels", nargs="+", choices=tuple(LEVEL_NAMES))
    parser.add_argument("--out", type=Path, default=Path("models"))
    arguments = parser.parse_args()
    for level in arguments.levels:
        print(build_level(level, folder=arguments.out, progress=print))


if __name__ == "__main__":
    main()
