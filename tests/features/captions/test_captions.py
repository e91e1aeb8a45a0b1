"""Captions from the outside: sidecars, the table, copies, on the demo game's made-up frames."""

import csv
import io
import json
import os
import re
import shutil
import subprocess
from datetime import timedelta
from pathlib import Path
from xml.etree import ElementTree

import pytest
from data.recipes.demo_game import CLOCK_ERRORS_S, DemoFrame, demo_log, frame_jpeg
from tests.support.logs import log_in, run

DEMO_ID = "demo"

RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
DC = "{http://purl.org/dc/elements/1.1/}"
LANG = "{http://www.w3.org/XML/1998/namespace}lang"
HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<x:xmpmeta xmlns:x="adobe:ns:meta/">'
    '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
)
TAIL = "</rdf:RDF></x:xmpmeta>"
WELL_KEPT = (
    HEAD + '<rdf:Description rdf:about="uuid:1" xmlns:xmp="http://ns.adobe.com/xap/1.0/" '
    'xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:own="urn:own" xmp:Rating="3" '
    'own:line="a&#10;b&#9;&lt;c&gt; &amp; &quot;d&quot;"><!-- by hand --><dc:subject><rdf:Bag>'
    "<rdf:li>football</rdf:li></rdf:Bag></dc:subject><own:edit rdf:parseType='Resource'>"
    "<own:curve>0,0 1,1</own:curve></own:edit>{}</rdf:Description>" + TAIL
)
DESCRIBED = (
    '<dc:description><rdf:Alt><rdf:li xml:lang="x-default">By hand.</rdf:li>'
    '<rdf:li xml:lang="de">Von Hand.</rdf:li></rdf:Alt></dc:description>'
)


@pytest.fixture(autouse=True)
def folder(monkeypatch, tmp_path, capsys):
    """A folder with the demo game."""
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))
    assert run(capsys, "demo")[0] == 0
    return tmp_path / "data"


@pytest.fixture
def frames(tmp_path):
    """A frame of every play of the demo, by two cameras whose clocks are wrong."""
    place = tmp_path / "frames"
    place.mkdir()
    bodies = list(CLOCK_ERRORS_S.items())
    for play in demo_log().plays:
        body, error_s = bodies[play.number % 2]
        assert play.snap_at is not None
        moment = play.snap_at + timedelta(seconds=error_s + 1.5 + play.number % 3)
        model, _, serial = body.rpartition(" ")
        local = (moment - timedelta(hours=5)).replace(tzinfo=None)
        frame = DemoFrame(local, "-05:00", model, serial, rating=play.number % 2)
        (place / f"frame{play.number:04d}.jpg").write_bytes(frame_jpeg(frame, gray=play.number))
    return place


def state_of(place):
    """Every file below a folder: its content, and when it was last written."""
    files = (path for path in sorted(place.rglob("*")) if path.is_file())
    return {str(path): (path.read_bytes(), path.stat().st_mtime_ns) for path in files}


def described(path):
    """What an XMP reader takes for the description, by the standard's rules of serialization."""
    root = ElementTree.fromstring(path.read_bytes())
    packets = [root] if root.tag == f"{RDF}RDF" else root.findall(f"{RDF}RDF")
    assert len(packets) == 1
    owners = packets[0].findall(f"{RDF}Description")
    assert len({owner.get(f"{RDF}about") for owner in owners}) == 1
    names = [child.tag for owner in owners for child in owner]
    names += [name for owner in owners for name in owner.attrib if name != f"{RDF}about"]
    assert len(names) == len(set(names)), "a property may stand only once"
    (found,) = (one for owner in owners for one in owner.findall(f"{DC}description"))
    (alternatives,) = found
    assert alternatives.tag == f"{RDF}Alt"
    languages = [item.get(LANG) for item in alternatives]
    assert languages[0] == "x-default"
    assert len(languages) == len(set(languages))
    return alternatives[0].text or ""


@pytest.mark.slow
def test_log_capture_captions_review_in_one_sequence_and_a_second_run_changes_nothing(
    capsys, folder, frames
):
    photographs = state_of(frames)
    arguments = ("capture", str(frames), "--game", DEMO_ID, "--match", "--captions")
    code, out, _ = run(capsys, *arguments, "--dry-run")
    assert code == 0
    assert "Captions, if this were no dry run" in out
    told = " ".join(out.split())
    assert "Saltgrass Kites, 3rd and 13 at Saltgrass Kites 22: complete pass for 27 yards" in told
    assert state_of(frames) == photographs

    code, out, _ = run(capsys, *arguments, "--json")
    found = json.loads(out)
    assert code == 0
    assert (found["frames"], found["frames_in_plays"], found["frames_unsure"]) == (60, 60, 0)
    assert len(found["clocks"]) == 2
    for clock in found["clocks"]:
        assert clock["offset_s"] == pytest.approx(-CLOCK_ERRORS_S[clock["body"]], abs=2.0)
    assert found["captions"]["new"] == 60
    after = state_of(frames)
    assert {name: after[name] for name in photographs} == photographs
    rows = list(csv.DictReader(io.StringIO((frames / "captions.csv").read_text())))
    assert len(rows) == 60
    for row in rows:
        assert described(frames / row["file"].replace(".jpg", ".xmp")) == row["caption"]
        assert int(row["play"]) == int(row["file"][5:9])

    log = log_in(folder)
    assert run(capsys, *arguments)[0] == 0
    assert state_of(frames) == after
    assert log_in(folder) == log
    code, out, _ = run(capsys, "review", "--game", DEMO_ID)
    assert code == 0
    assert "1.0 frames and 0.5 keepers a play with frames" in " ".join(out.split())


@pytest.mark.slow
def test_an_independent_reader_finds_the_captions_in_sidecars_and_copies(capsys, frames, tmp_path):
    if shutil.which("exiftool") is None:
        pytest.skip("exiftool is not installed: Debian has it as libimage-exiftool-perl")
    copies = tmp_path / "copies"
    photographs = state_of(frames)
    arguments = ("capture", str(frames), "--match", "--captions", "--copies", str(copies))
    code, out, _ = run(capsys, *arguments, "--json")
    assert code == 0
    assert json.loads(out)["captions"]["copies"] == 60
    read = subprocess.run(
        ["exiftool", "-json", "-G1", "-Description", "-Headline", "-Location", "-Caption-Abstract",
         "-DateCreated", "-DateTimeOriginal", "-r", str(frames), str(copies)],
        capture_output=True, check=True,
    )  # fmt: skip
    rows = csv.DictReader(io.StringIO((frames / "captions.csv").read_text()))
    wanted = {Path(row["file"]).stem: row for row in rows}
    found = [one for one in json.loads(read.stdout) if one["SourceFile"].endswith((".xmp", ".jpg"))]
    inside = [one for one in found if str(copies) in one["SourceFile"]]
    beside = [one for one in found if one["SourceFile"].endswith(".xmp")]
    assert (len(inside), len(beside)) == (60, 60)
    for one in [*inside, *beside]:
        row = wanted[Path(one["SourceFile"]).stem]
        assert one["XMP-dc:Description"] == row["caption"]
        assert one["XMP-photoshop:Headline"] == "Saltgrass Kites at Brindle Prairie Marmots"
    assert all(one["IPTC:Caption-Abstract"] == one["XMP-dc:Description"] for one in inside)
    assert all(one["XMP-iptcCore:Location"].startswith("Brindle Prairie") for one in beside)
    assert {name: state_of(frames)[name] for name in photographs} == photographs
    made = state_of(copies)
    assert run(capsys, *arguments)[0] == 0
    assert state_of(copies) == made


@pytest.mark.slow
def test_copies_without_exiftool_say_how_to_get_it_and_write_nothing(capsys, frames, monkeypatch):
    monkeypatch.setenv("PATH", "")
    before = state_of(frames)
    code, _, err = run(capsys, "capture", str(frames), "--captions", "--copies", "elsewhere")
    assert code == 2
    assert "libimage-exiftool-perl" in err
    assert state_of(frames) == before


@pytest.fixture
def captioned(capsys, tmp_path):
    """Caption one frame that has a sidecar already; return the document and the sidecar."""
    (tmp_path / "one").mkdir()
    play = demo_log().plays[2]
    assert play.snap_at is not None
    local = (play.snap_at - timedelta(hours=5) + timedelta(seconds=2)).replace(tzinfo=None)
    (tmp_path / "one" / "a.jpg").write_bytes(frame_jpeg(DemoFrame(local, "-05:00")))
    sidecar = tmp_path / "one" / "a.xmp"

    def run_on(description, *arguments):
        if description is not None:
            sidecar.write_text(WELL_KEPT.format(description), encoding="utf-8")
        how = ("--captions", "--game", DEMO_ID, "--template", "New.", "--json")
        code, out, err = run(capsys, "capture", str(sidecar.parent), *how, *arguments)
        assert code == 0, err
        return json.loads(out), sidecar

    return run_on


OURS = re.compile(r'<(?P<tag>(?:photoshop|Iptc4xmpCore):\w+) xmlns:\w+="[^"]+">[^<]*</(?P=tag)>')


def test_a_description_and_everything_unknown_stay_and_the_rest_is_added(captioned):
    _, sidecar = captioned(DESCRIBED)
    text = sidecar.read_text(encoding="utf-8")
    assert "<!-- by hand -->" in text
    assert "Saltgrass Kites at Brindle Prairie Marmots</photoshop:Headline>" in text
    without = OURS.sub("", text)
    assert ElementTree.canonicalize(without) == ElementTree.canonicalize(
        WELL_KEPT.format(DESCRIBED)
    )
    captioned(None)
    assert sidecar.read_text(encoding="utf-8") == text


@pytest.mark.parametrize("there", [DESCRIBED, DESCRIBED.replace("x-default", "en")])
def test_replacing_a_description_leaves_other_languages(captioned, there, folder):
    _, sidecar = captioned(there, "--replace")
    assert described(sidecar) == "New."
    assert "Von Hand." in sidecar.read_text(encoding="utf-8")
    assert log_in(folder, DEMO_ID).plays[2].keepers == 1  # by the sidecar's three stars


def test_an_empty_description_of_the_camera_is_none(captioned):
    blank = DESCRIBED.replace("By hand.", "   ").replace("Von Hand.", "")
    assert described(captioned(blank)[1]) == "New."


BOMB = '<!DOCTYPE a [<!ENTITY a "aaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
HOSTILE = {
    "text": b"no XML at all",
    "empty": b"",
    "cut": WELL_KEPT.format("")[:200].encode(),
    "bomb": (BOMB + HEAD + "<rdf:Description>&b;</rdf:Description>" + TAIL).encode(),
    "outside": (
        '<!DOCTYPE a SYSTEM "file:///etc/passwd">' + WELL_KEPT.format("").partition("\n")[2]
    ).encode(),
    "other": b"<svg xmlns='http://www.w3.org/2000/svg'/>",
    "two": (HEAD + TAIL).replace("<rdf:RDF", "<rdf:RDF><rdf:RDF", 1).encode(),
    "deep": (HEAD + "<a>" * 5000 + "</a>" * 5000 + TAIL).encode(),
    "large": b" " * 5_000_001,
    "binary": bytes(range(256)) * 20,
}


@pytest.mark.slow
def test_sidecars_that_are_none_stay_as_they_are_and_are_named(capsys, frames):
    for number, content in enumerate(HOSTILE.values(), start=1):
        (frames / f"frame{number:04d}.xmp").write_bytes(content)
    os.mkfifo(frames / "frame0020.xmp")
    (frames / "frame0021.xmp").mkdir()
    (frames / "elsewhere.xml").write_text(WELL_KEPT.format(""))
    (frames / "frame0022.xmp").symlink_to(frames / "elsewhere.xml")
    before = state_of(frames)
    code, out, err = run(capsys, "capture", str(frames), "--match", "--captions")
    assert (code, err) == (0, "")
    assert f"{len(HOSTILE) + 3} files stayed as they were" in out
    for name in ("frame0001.xmp: is no XML", "frame0004.xmp: has a document type", "frame0022.xmp"):
        assert name in " ".join(out.split())
    after = state_of(frames)
    assert {name: after[name] for name in before} == before
    assert len(list(frames.glob("*.xmp"))) == 60


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "roster", "says"),
    [
        (("--roster", "roster.csv"), "number,name\n7,Ann\n8,Bo\n7,Cy\n", "number 7 is Ann and Cy"),
        (("--roster", "roster.csv"), "no,who\n7,Ann\n", "expected a first line number,name"),
        (("--roster", "roster.csv"), "number,name\nseven,Ann\n", "line 2: expected a number"),
        (("--template", "[down] and [dance]"), "", "a placeholder must be one of"),
        (("--template", "[down"), "", "has no partner"),
        (("--table", "frame0001.jpg"), "", "is not UTF-8"),
        (("--copies", "."), "", "lies among the photographs"),
    ],
)
def test_bad_input_gets_a_sentence_and_nothing_is_written(
    capsys, frames, folder, monkeypatch, arguments, roster, says
):
    if "--copies" in arguments and shutil.which("exiftool") is None:
        pytest.skip("exiftool is not installed: Debian has it as libimage-exiftool-perl")
    monkeypatch.chdir(frames)
    if roster:
        (frames / "roster.csv").write_text(roster)
    before, log = state_of(frames), log_in(folder)
    code, out, err = run(capsys, "capture", ".", "--match", "--captions", *arguments)
    assert (code, out) == (2, "")
    assert says in " ".join(err.split())
    assert state_of(frames) == before
    assert log_in(folder) == log


@pytest.mark.slow
def test_a_part_with_nothing_to_say_is_left_out_and_numbers_become_names(capsys, frames, tmp_path):
    assert run(capsys, "log", "edit", "3", "--note", "#12 to #80 past d#24")[0] == 0
    (tmp_path / "home.csv").write_text("number,name\n24,Dee Example\n")
    (tmp_path / "away.csv").write_text("number,name\n12,Ann Example\n24,Nobody\n")
    names = (
        "--roster",
        f"home={tmp_path / 'home.csv'}",
        "--roster",
        f"away={tmp_path / 'away.csv'}",
    )
    template = "[note]|, [clock] left|; [quarter], no. [play]"
    shown = ("--match", "--captions", "--dry-run", "--template", template)
    _, out, _ = run(capsys, "capture", str(frames), *shown, *names)
    text = " ".join(out.split())
    assert "Ann Example (12) to #80 past Dee Example (24); first quarter, no. 3" in text


def test_the_guide_names_every_placeholder(capsys, tmp_path):
    guide = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    err = run(capsys, "capture", str(tmp_path), "--captions", "--template", "[dance]")[2]
    names = re.findall(r"[a-z]+(?:-[a-z]+)*", err.split("must be one of")[1].split("; got")[0])
    assert len(names) > 10
    assert [name for name in names if f"`[{name}]`" not in guide] == []
