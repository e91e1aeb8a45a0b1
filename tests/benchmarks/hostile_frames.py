"""``python -m tests.benchmarks.hostile_frames``: captions amid 319 hostile files.

A folder holds 60 made-up photographs of the demo game by two cameras. Beside them lie photographs
that are damaged or set to impossible years, pipes, devices, loops, names that steer a terminal or a
spreadsheet, and sidecars that are no XMP (judged by another parser than ours). ``lensyard capture
--match --captions`` runs twice. It has to end well both times; no file that was there may differ
afterwards; the sound photographs have to get the captions that they get without the others; and the
second run has to change nothing.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import socket
import subprocess
import sys
import tempfile
from dataclasses import asdict, dataclass, field
from datetime import timedelta
from pathlib import Path
from xml.etree import ElementTree

from data.recipes.demo_game import CLOCK_ERRORS_S, DemoFrame, demo_log, frame_jpeg
from tests.benchmarks.fuzz_inputs import mangle

HOSTILE = 319
RUN_S = 300.0
RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
SIDECAR = (
    f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="{RDF}"><rdf:Description rdf:about="" '
    'xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:subject><rdf:Bag><rdf:li>football</rdf:li>'
    "</rdf:Bag></dc:subject></rdf:Description></rdf:RDF></x:xmpmeta>"
)
NAMES = (
    "=cmd|' C'!A0.jpg", "a\x1b[2Jb.jpg", "new\nline.jpg", "\u202egpj.exe.jpg", "  .jpg", "-rf.jpg",
    "$(id).jpg", "x" * 250 + ".jpg", "%s%n.jpg", "<b>.jpg", "'\";--.jpg", "é\u0301.JPG",
)  # fmt: skip


@dataclass
class Outcome:
    """What came of it."""

    hostile: int = 0
    named: int = 0
    ended_otherwise: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    wrong_captions: list[str] = field(default_factory=list)
    changed_again: list[str] = field(default_factory=list)

    @property
    def clean(self) -> bool:
        """Whether nothing was changed and nothing ended."""
        lists = (self.ended_otherwise, self.changed, self.wrong_captions, self.changed_again)
        return not any(lists)


def write_sound(folder: Path) -> None:
    """Write a photograph of every play of the demo, by two cameras whose clocks are wrong."""
    bodies = list(CLOCK_ERRORS_S.items())
    for play in demo_log().plays:
        body, error_s = bodies[play.number % 2]
        if play.snap_at is None:
            continue
        moment = play.snap_at + timedelta(seconds=error_s + 1.5 + play.number % 3)
        model, _, serial = body.rpartition(" ")
        local = (moment - timedelta(hours=5)).replace(tzinfo=None)
        data = frame_jpeg(DemoFrame(local, "-05:00", model, serial), gray=play.number)
        (folder / f"frame{play.number:04d}.jpg").write_bytes(data)


def write_hostile(folder: Path, count: int, *, seed: int = 19) -> list[Path]:
    """Write so many hostile files beside the sound photographs, the same for the same seed."""
    rng = random.Random(seed)
    sound = sorted(folder.glob("frame*.jpg"))
    place = folder / "others"
    place.mkdir()
    made = _special(place)
    for name in NAMES:
        made.append(place / name)
        made[-1].write_bytes(mangle(sound[0].read_bytes(), rng))
    years = (b"0000", b"0001", b"9999", b"1969", b"2001", b"    ", b"20 6", b"-026")
    while len(made) < count:
        number = len(made)
        content = bytearray(rng.choice(sound).read_bytes())
        if number % 3 == 0:
            made.append(place / f"h{number}.jpg")
            made[-1].write_bytes(mangle(bytes(content[:700]), rng))
        elif number % 3 == 1:
            made.append(place / f"h{number}.jpg")
            made[-1].write_bytes(bytes(content).replace(b"2026:", rng.choice(years) + b":"))
        else:
            (place / f"s{number}.jpg").write_bytes(bytes(content))
            made.append(place / f"s{number}.xmp")
            made[-1].write_bytes(_no_xmp(rng))
    return made[:count]


def _special(place: Path) -> list[Path]:
    """Pipes, sockets, devices, loops, and a folder where a file is expected."""
    made = [place / f"special{number}.jpg" for number in range(9)]
    os.mkfifo(made[0])
    with socket.socket(socket.AF_UNIX) as listening:
        here = os.getcwd()
        os.chdir(place)  # the name of a socket has to be short
        listening.bind(made[1].name)
        os.chdir(here)
    for path, target in zip(made[2:7], ("/dev/zero", "/dev/random", "/dev/tty", path_of(made[5]),
                                        "nowhere"), strict=True):  # fmt: skip
        path.symlink_to(target)
    made[7].mkdir()
    made[8].symlink_to(place.parent)
    return made


def path_of(path: Path) -> str:
    """A link's own name, so that it leads to itself."""
    return path.name


def _no_xmp(rng: random.Random) -> bytes:
    """A sidecar that another parser does not take for one packet of XMP."""
    bomb = '<!DOCTYPE a [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>' + SIDECAR
    outside = '<!DOCTYPE a SYSTEM "file:///etc/passwd">' + SIDECAR
    kinds = [bomb.encode(), outside.encode(), b"", b"<svg/>", SIDECAR.encode()[:120]]
    while True:
        content = rng.choice([*kinds, *[mangle(SIDECAR.encode(), rng) for _ in range(9)]])
        if b"<!DOCTYPE" in content:
            return content
        try:
            found = list(ElementTree.fromstring(content).iter(f"{{{RDF}}}RDF"))
        except (ElementTree.ParseError, ValueError, LookupError):
            return content
        if len(found) != 1:
            return content


def state_of(folder: Path) -> dict[str, bytes]:
    """The content of every plain file below a folder, and where every link leads."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if path.is_symlink():
            found[os.fsdecode(path)] = os.readlink(path).encode()
        elif path.is_file():
            found[os.fsdecode(path)] = path.read_bytes()
    return found


def capture(folder: Path, data: Path) -> tuple[int, str]:
    """Run the command; return its exit code and everything it said."""
    command = [sys.executable, "-m", "lensyard", "capture", str(folder), "--match", "--captions"]
    try:
        done = subprocess.run(
            [*command, "--json"],
            env={**os.environ, "LENSYARD_DATA_DIR": str(data)},
            capture_output=True,
            timeout=RUN_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return -1, "it never ended"
    return done.returncode, (done.stdout + done.stderr).decode("utf-8", "replace")


def run(count: int, *, top: Path) -> Outcome:
    """Write the files, run the command on the sound ones alone, then twice on all; compare."""
    outcome, folder, data = Outcome(), top / "frames", top / "data"
    folder.mkdir()
    write_sound(folder)
    demo = [sys.executable, "-m", "lensyard", "demo"]
    subprocess.run(
        demo,
        env={**os.environ, "LENSYARD_DATA_DIR": str(data)},
        check=True,
        capture_output=True,
    )
    _ended(capture(folder, data), outcome)
    alone = {name: content for name, content in state_of(folder).items() if name.endswith(".xmp")}
    for path in [*folder.glob("*.xmp"), folder / "captions.csv"]:
        path.unlink(missing_ok=True)
    hostile = write_hostile(folder, count)
    before = state_of(folder)
    told = _ended(capture(folder, data), outcome)
    after = state_of(folder)
    outcome.hostile = len(hostile)
    said = json.loads(told)["skipped"] + json.loads(told)["captions"]["left"] if told else []
    names = {one["file"] for one in said}
    outcome.named = sum(f"others/{path.name}" in names for path in hostile)
    outcome.changed = [name for name, content in before.items() if after.get(name) != content]
    outcome.wrong_captions = [name for name in alone if after.get(name) != alone[name]]
    _ended(capture(folder, data), outcome)
    again = state_of(folder)
    outcome.changed_again = [name for name in again if again[name] != after.get(name)]
    return outcome


def _ended(done: tuple[int, str], outcome: Outcome) -> str:
    code, text = done
    if code:
        outcome.ended_otherwise.append(f"exit {code}: {text[-400:]}")
        return ""
    return text


def main() -> None:
    """Run and print what came of it; exit 1 if anything was changed or ended."""
    parser = argparse.ArgumentParser(description="captions amid hostile files")
    parser.add_argument("--files", type=int, default=HOSTILE)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as top:
        outcome = run(chosen.files, top=Path(top))
    print(json.dumps(asdict(outcome), indent=1))
    sys.exit(0 if outcome.clean else 1)


if __name__ == "__main__":
    main()
