"""``lensyard`` and ``python -m lensyard``."""

import os

from lensyard.running import end_at_interrupt, let_be


def run() -> None:
    """Run the command line; from here on Ctrl-C is one line and exit code 130."""
    end_at_interrupt()
    # Products here are many and small: handing each to several threads takes longer than it saves.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from lensyard.cli import main

    try:
        main()
    finally:
        let_be()  # all is said


if __name__ == "__main__":
    run()
