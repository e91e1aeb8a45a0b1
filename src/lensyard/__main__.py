"""``python -m lensyard``."""

from lensyard.cli import main

if __name__ == "__main__":
    main()
