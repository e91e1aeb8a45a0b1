"""``lensyard`` and ``python -m lensyard``."""

from lensyard.running import end_at_interrupt, let_be


def run() -> None:
    """Run the command line; from here on Ctrl-C is one line and exit code 130."""
    end_at_interrupt()
    from lensyard.cli import main

    try:
        main()
    finally:
        let_be()  # all is said


if __name__ == "__main__":
    run()
