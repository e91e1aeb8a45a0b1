"""Capture times from photographs; another reader says the same, and no file is touched."""

import hashlib
import os
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from data.recipes.demo_game import DemoFrame, frame_jpeg
from PIL import Image

from lensyard.errors import InvalidInputError
from lensyard.features.captions.exif import read_photos, read_times

LOCAL = datetime(2026, 10, 3, 14, 5, 33, 250_000)
CHICAGO = ZoneInfo("America/Chicago")


def write(folder, name, frame):
    path = folder / name
    path.write_bytes(frame_jpeg(frame))
    return path


def only(folder, zone=None):
    (photo,) = read_photos(folder, zone=zone).photos
    return photo


def test_time_fraction_offset_lens_body_and_stars_are_read(tmp_path):
    frame = DemoFrame(LOCAL, offset="-05:00", focal_length_mm=400, rating=3)
    write(tmp_path, "a.jpg", frame)
    photo = only(tmp_path)
    assert photo.captured_at == datetime(2026, 10, 3, 19, 5, 33, 250_000, UTC)
    assert photo.body == "Invented One 0001"
    assert photo.focal_length_mm == 400.0
    assert photo.rating == 3


def test_another_reader_finds_the_same_time_in_the_file(tmp_path):
    """Pillow as the oracle, by the tag numbers of CIPA DC-008 (Exif 2.32)."""
    path = write(tmp_path, "a.jpg", DemoFrame(LOCAL, offset="+02:00"))
    with Image.open(path) as image:
        tags = image.getexif().get_ifd(0x8769)
    text = f"{tags[0x9003]}.{tags[0x9291]} {tags[0x9011].replace(':', '')}"
    expected = datetime.strptime(text, "%Y:%m:%d %H:%M:%S.%f %z")
    assert only(tmp_path).captured_at == expected


def test_without_an_offset_the_games_zone_counts(tmp_path):
    write(tmp_path, "a.jpg", DemoFrame(LOCAL))
    photo = only(tmp_path, CHICAGO)
    assert photo.captured_at == LOCAL.replace(tzinfo=timezone(timedelta(hours=-5)))


def test_damaged_files_are_reported_and_the_rest_is_read(tmp_path):
    whole = frame_jpeg(DemoFrame(LOCAL, offset="-05:00"))
    (tmp_path / "whole.jpg").write_bytes(whole)
    (tmp_path / "empty.jpg").write_bytes(b"")
    (tmp_path / "text.jpg").write_bytes(b"this is no photograph")
    (tmp_path / "zero.tif").write_bytes(b"II*\0" + b"\xff" * 40)
    (tmp_path / "below").mkdir()
    (tmp_path / "below" / "other.JPG").write_bytes(whole)
    (tmp_path / "notes.txt").write_text("not looked at")
    times = read_photos(tmp_path)
    assert {p.file for p in times.photos} == {"whole.jpg", "below/other.JPG"}
    assert {s.file for s in times.skipped} == {"empty.jpg", "text.jpg", "zero.tif"}
    assert all(s.reason for s in times.skipped)


def test_a_file_cut_anywhere_never_stops_the_reading(tmp_path):
    whole = frame_jpeg(DemoFrame(LOCAL, offset="-05:00", rating=1))
    for cut in range(0, len(whole), 7):
        (tmp_path / f"cut{cut:04d}.jpg").write_bytes(whole[:cut])
    for at in range(20, min(len(whole), 330), 5):
        damaged = bytearray(whole)
        damaged[at] ^= 0xFF
        (tmp_path / f"flip{at:04d}.jpg").write_bytes(bytes(damaged))
    times = read_photos(tmp_path)
    assert len(times.photos) + len(times.skipped) == len(list(tmp_path.iterdir()))
    assert times.skipped


@pytest.mark.parametrize("when", [
    b"2026:13:03 14:05:33", b"0000:00:00 00:00:00", b"0001:01:01 00:00:00", b"9999:12:31 23:59:59",
])  # fmt: skip
def test_a_time_that_is_none_is_reported(tmp_path, when):
    data = frame_jpeg(DemoFrame(LOCAL)).replace(b"2026:10:03 14:05:33", when)
    (tmp_path / "a.jpg").write_bytes(data)
    assert "time" in read_photos(tmp_path).skipped[0].reason


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="files of a POSIX system")
def test_pipes_devices_and_loops_are_left_out_and_reported(tmp_path):
    write(tmp_path, "a.jpg", DemoFrame(LOCAL))
    os.mkfifo(tmp_path / "pipe.jpg")
    (tmp_path / "zero.jpg").symlink_to("/dev/zero")
    (tmp_path / "loop.jpg").symlink_to(tmp_path / "loop.jpg")
    (tmp_path / "again").symlink_to(tmp_path, target_is_directory=True)
    times = read_photos(tmp_path)
    assert [photo.file for photo in times.photos] == ["a.jpg"]
    assert {one.file for one in times.skipped} == {"pipe.jpg", "zero.jpg", "loop.jpg"}


def state(path):
    about = path.stat()
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    return digest, about.st_mtime_ns, about.st_size, about.st_mode


def test_no_photograph_is_changed(tmp_path):
    for i in range(5):
        path = write(tmp_path, f"{i}.jpg", DemoFrame(LOCAL + timedelta(seconds=i)))
        os.utime(path, ns=(10**18, 10**18 + i))
        path.chmod(0o444)
    before = {path: state(path) for path in sorted(tmp_path.iterdir())}
    read_photos(tmp_path)
    assert {path: state(path) for path in sorted(tmp_path.iterdir())} == before


def test_a_folder_without_photographs_is_an_error(tmp_path):
    with pytest.raises(InvalidInputError, match="no photographs"):
        read_photos(tmp_path)
    with pytest.raises(InvalidInputError, match="no folder"):
        read_photos(tmp_path / "gone")


def table(folder, text):
    path = folder / "t.csv"
    path.write_bytes(text.encode())
    return path


def test_a_table_gives_the_same_as_photographs(tmp_path):
    text = (
        "file,captured_at,body,focal_length_mm,rating\r\n"
        "b.jpg,2026-10-03T14:05:33.25,One,400,1\r\n"
        "a.jpg,2026-10-03T18:00:00Z,,,\r\n"
    )
    first, second = read_times(table(tmp_path, text), zone=CHICAGO).photos
    assert (first.file, first.rating, first.focal_length_mm) == ("a.jpg", None, None)
    assert second.captured_at == datetime(2026, 10, 3, 19, 5, 33, 250_000, UTC)
    assert (second.body, second.rating) == ("One", 1)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "first line"),
        ("file\na.jpg\n", "captured_at"),
        ("file,captured_at,iso\n", "iso"),
        ("file,captured_at\n", "no line"),
        ("file,captured_at\na.jpg\n", "line 2: expected 2 cells"),
        ("file,captured_at\na.jpg,2026-10-03T18:00:00Z,x\n", "expected 2 cells"),
        ("file,captured_at\na.jpg,noon\n", "line 2: captured_at"),
        ("file,captured_at,rating\na,2026-10-03T18:00:00Z,9\n", "rating must be"),
        ("file,captured_at,focal_length_mm\na,2026-10-03T18:00:00Z,nan\n", "focal_length_mm"),
        ("file,captured_at\n,2026-10-03T18:00:00Z\n", "file must be"),
    ],
)
def test_a_table_with_something_wrong_names_it(text, says, tmp_path):
    with pytest.raises(InvalidInputError, match=says):
        read_times(table(tmp_path, text))
