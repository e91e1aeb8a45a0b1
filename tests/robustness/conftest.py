"""A folder of its own for every test."""

from __future__ import annotations

from tests.support.play_files import (
    user_folders,
)

__all__ = [
    "user_folders",
]
