"""The dashboard as a script for the server; `lensyard dashboard` starts it."""

from __future__ import annotations

from lensyard.pages import run

if __name__ == "__main__":
    run()
