"""``python -m data.recipes.first_figures``: the figures that come with the package.

They are those that somebody asks for who tries it first, with the kit, field and assignment that
hold where nobody says another: so that the first plan, comparison or drill does not wait. They lie
in ``models/figures`` under the hash of everything that they depend on; whoever changes the model,
the plays, or how figures are made builds them anew.
"""

from __future__ import annotations

import os
import tempfile
from typing import Final

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command does: sums are in its order

from click.testing import CliRunner

from lensyard.cli import group
from lensyard.config import CACHE_VARIABLE, models_dir
from lensyard.features.drill.series import DrillRequest, drill_series
from lensyard.files import pack_figures, recording
from lensyard.model.context import load_context

_FIRST_COMMANDS: Final = (
    ("next", "--down", "3", "--distance", "7", "--ball", "opp35", "--standing", "left:opp20"),
    ("plan",),
    ("gear", "--kit", "70-200 + 400"),
    ("gear", "--kit", "70-200", "--kit", "70-200 + 300", "--add", "400"),
)


def ask_first_questions() -> None:
    """Ask what is asked first, by commands and by the drill, all in this process."""
    cores = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(cores)})  # with one core nothing is handed to a second process
    try:
        for words in _FIRST_COMMANDS:
            CliRunner().invoke(group, words, catch_exceptions=False)
        drill_series(load_context(), DrillRequest(seed=12))
    finally:
        os.sched_setaffinity(0, cores)


def main() -> None:
    """Compute them in an empty cache and write them."""
    folder = models_dir() / "figures"
    pack_figures({}, folder)
    with tempfile.TemporaryDirectory() as cache, recording() as found:
        os.environ[CACHE_VARIABLE] = cache
        ask_first_questions()
    pack_figures(found, folder)
    size = sum(path.stat().st_size for path in folder.iterdir())
    print(f"{len(found)} figures, {size:,} bytes, in {folder}")


if __name__ == "__main__":
    main()
