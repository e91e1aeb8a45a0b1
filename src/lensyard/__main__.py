"""``lensyard`` and ``python -m lensyard``."""

from lensyard.running import end_at_interrupt


def run() -> None:
    """Run the command line; from here on Ctrl-C is one line and exit code 130."""
    end_at_interrupt()
    from lensyard.cli import main

    main()


if __name__ == "__main__":
    run()
