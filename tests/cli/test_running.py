"""Ctrl-C, pipes and full disks: one line, an exit code that tells, one document with --json."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tests.support.logs import log_in, run, start

ADD = ("log", "add", "--down", "1", "--ball", "50")
_INTERRUPTED = """
import os, signal, sys
from lensyard import running
from lensyard.cli import main

running.end_at_interrupt()
module, name = sys.argv[1].split(":")
holder = __import__(module, fromlist=["x"])
original = getattr(holder, name)

def interrupted(*values, **more):
    signal.raise_signal(signal.SIGINT)
    return original(*values, **more)

setattr(holder, name, interrupted)
main(sys.argv[2:])
"""


@pytest.fixture
def log(tmp_path, monkeypatch):
    """The folder of a log with a game going on."""
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path))
    start(tmp_path)
    return tmp_path


def interrupt(at, *arguments):
    command = [sys.executable, "-c", _INTERRUPTED, at, *arguments]
    return subprocess.run(command, check=False, capture_output=True, text=True)


@pytest.mark.skipif(sys.platform == "win32", reason="signals of a POSIX system")
@pytest.mark.parametrize(
    ("at", "says", "plays"),
    [
        ("lensyard.game.store:read_stored", "nothing was logged", 0),
        ("os:fsync", "play 1 is logged in game g", 1),
        ("lensyard.features.game_log.compute:state_after", "play 1 is logged in game g", 1),
    ],
)
def test_ctrl_c_is_one_line_that_says_whether_the_play_was_logged(log, at, says, plays):
    """The long form: ``python -m tests.benchmarks.kill_log --interrupts 400``."""
    done = interrupt(at, *ADD)
    assert (done.returncode, done.stdout) == (130, "")
    assert done.stderr == f"lensyard: interrupted; {says}\n"
    assert len(log_in(log).plays) == plays
    assert not list(log.rglob("*.building"))


@pytest.mark.skipif(sys.platform == "win32", reason="signals of a POSIX system")
def test_ctrl_c_with_json_is_a_document(log):
    done = interrupt("os:fsync", *ADD, "--json")
    error = json.loads(done.stdout)
    assert (error["error"]["kind"], error["done"]) == ("interrupted", "play 1 is logged in game g")
    assert len(log_in(log).plays) == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no full device")
def test_an_answer_that_cannot_be_written_says_that_the_play_is_logged(log):
    with Path("/dev/full").open("w") as full:
        command = [sys.executable, "-m", "lensyard", *ADD]
        done = subprocess.run(command, check=False, stdout=full, stderr=subprocess.PIPE, text=True)
    assert done.returncode == 3
    assert done.stderr.startswith("lensyard: play 1 is logged in game g; but the answer could not")
    assert done.stderr.count("\n") == 1
    assert len(log_in(log).plays) == 1


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("next", "--nope"), 2, "--nope"),
        (("nope",), 2, "no command"),
        ((*ADD, "--down", "9"), 2, "between 1 and 4"),
        (("log", "list", "--game", "h"), 2, "one of g"),
        (("plan", "--assignment", "paper"), 2, "newspaper"),
        (("model", "info", "--model", "none"), 1, "none"),
    ],
)
def test_with_json_a_failure_is_one_document(log, capsys, arguments, code, says):
    assert log.is_dir()
    found, out, err = run(capsys, *arguments, "--json")
    document = json.loads(out)
    assert (found, document["error"]["exit_code"]) == (code, code)
    assert says in document["error"]["message"]
    assert says in err


def test_with_json_a_damaged_log_is_one_document(log, capsys):
    for path in log.rglob("g*.json"):
        path.write_bytes(b"damaged")
    code, out, _ = run(capsys, "log", "list", "--json")
    assert code == 1
    assert json.loads(out)["error"]["kind"] == "StoreError"


def test_messages_do_not_steer_the_terminal(log, capsys):
    assert log.is_dir()
    code, _, err = run(capsys, "log", "restore", "gone\x1b[31m.json")
    assert code == 2
    assert "\x1b" not in err


BESIDE = """
import os
from lensyard.running import beside

first = os.getpid()


def fails_there():
    if os.getpid() != first:
        raise ValueError
    return "here"


with beside(lambda: [os.getpid() != first]) as there, beside(fails_there) as again:
    print(there(), again())
"""


IN_TWO = """
import os
import numpy as np
from lensyard.running import in_two

first = os.getpid()


def piece(i):
    if i == 2 and os.getpid() != first:
        os._exit(1)
    return {"at": i, "bytes": np.full((i, 2), i, np.uint8), "numbers": np.arange(i) / 3}


found = in_two(piece, 9, meanwhile=lambda: print("meanwhile"))
print([one["at"] for one in found], all((one["bytes"] == i).all() and one["bytes"].shape == (i, 2)
      and (one["numbers"] == np.arange(i) / 3).all() for i, one in enumerate(found)))
"""


def test_pieces_shared_out_come_back_in_order_with_their_arrays_also_where_a_process_fails():
    found = subprocess.run(
        [sys.executable, "-c", IN_TWO], capture_output=True, text=True, timeout=60, check=True
    )
    assert found.stdout == f"meanwhile\n{[*range(9)]} True\n"


def test_work_beside_is_done_elsewhere_and_here_where_that_fails():
    found = subprocess.run(
        [sys.executable, "-c", BESIDE], capture_output=True, text=True, timeout=60, check=True
    )
    cores = len(os.sched_getaffinity(0)) if sys.platform == "linux" else 1
    assert found.stdout == f"[{cores > 1}] here\n"


ENDS = """
import os, signal, sys, time
from lensyard.running import beside

told, tell = os.pipe()


def never_ends():
    os.write(tell, b"%d" % os.getpid())
    while True:
        pass


with beside(never_ends):
    print(os.read(told, 9).decode(), flush=True)
    os.kill(os.getpid(), int(sys.argv[1]))
    time.sleep(60)
"""


@pytest.mark.skipif(
    sys.platform != "linux" or len(os.sched_getaffinity(0)) < 2, reason="nothing is done beside"
)
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_a_second_process_ends_with_the_first_whatever_it_does(number):
    """Over commands: in half a second at any moment, as measured in tests/benchmarks/plan.md."""
    command = [sys.executable, "-c", ENDS, str(int(number))]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode
    second, until = int(done.stdout), time.monotonic() + 10
    while is_alive(second):
        assert time.monotonic() < until
        time.sleep(0.01)


def is_alive(process):
    try:
        state = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state != "Z"
