"""Invented files to import."""

from __future__ import annotations

from tests.support.play_files import (
    chart,
    college_file,
    invented,
    mapping_file,
    nflverse_file,
    take,
    user_folders,
    write_query,
)

__all__ = [
    "chart",
    "college_file",
    "invented",
    "mapping_file",
    "nflverse_file",
    "take",
    "user_folders",
    "write_query",
]
