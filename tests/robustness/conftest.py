"""A folder of its own for every test."""

from tests.support.play_files import (
    user_folders,
)

__all__ = [
    "user_folders",
]
