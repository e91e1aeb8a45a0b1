"""Answers survive a kill, cut-off lines and writers side by side."""

import os
import subprocess
import sys

import pytest

from lensyard.errors import StoreError
from lensyard.features.drill.progress import append_answer, read_answers

WRITER = """
import os, signal, sys
from pathlib import Path
from lensyard.features.drill.progress import append_answer
path, name, count, kill = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), sys.argv[4] == "kill"
for i in range(count):
    append_answer(path, {"card": name, "number": i})
    print(i, flush=True)
if kill:
    os.kill(os.getpid(), signal.SIGKILL)
"""


def start(path, name, count, how):
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), name, str(count), how],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )


def test_what_was_answered_before_a_kill_is_there(tmp_path):
    path = tmp_path / "answers.jsonl"
    writer = start(path, "a", 5, "kill")
    said, _ = writer.communicate()
    assert writer.returncode < 0
    assert [a["number"] for a in read_answers(path).answers] == [int(n) for n in said.split()]


def test_a_cut_off_line_is_left_out_and_swallows_nothing(tmp_path):
    path = tmp_path / "answers.jsonl"
    append_answer(path, {"card": "a"})
    append_answer(path, {"card": "b"})
    path.write_bytes(path.read_bytes()[:-7])  # the power failed in the middle of a write
    append_answer(path, {"card": "c"})
    found = read_answers(path)
    assert [a["card"] for a in found.answers] == ["a", "c"]
    assert found.unreadable == 1


@pytest.mark.slow
def test_two_writers_side_by_side_lose_nothing(tmp_path):
    path = tmp_path / "answers.jsonl"
    writers = [start(path, name, 20, "end") for name in ("a", "b")]
    for writer in writers:
        writer.communicate()
        assert writer.returncode == 0
    found = read_answers(path)
    assert found.unreadable == 0
    for name in ("a", "b"):
        assert [x["number"] for x in found.answers if x["card"] == name] == list(range(20))


def test_no_file_is_no_answers(tmp_path):
    assert read_answers(tmp_path / "none.jsonl").answers == ()


def test_lines_of_another_version_are_left_out(tmp_path):
    path = tmp_path / "answers.jsonl"
    path.write_text('{"version": 99, "card": "a"}\n[1]\n\n{"version": 1, "card": "b"}\n')
    found = read_answers(path)
    assert [a["card"] for a in found.answers] == ["b"]
    assert found.unreadable == 2


def test_a_folder_in_the_way_is_said(tmp_path):
    with pytest.raises(StoreError, match="LENSYARD_DATA_DIR"):
        append_answer(tmp_path, {"card": "a"})
    with pytest.raises(StoreError, match="cannot read"):
        read_answers(tmp_path)
