"""Invented files to import."""

from tests.support.play_files import chart, college_file, nflverse_file, user_folders

__all__ = ["chart", "college_file", "nflverse_file", "user_folders"]
