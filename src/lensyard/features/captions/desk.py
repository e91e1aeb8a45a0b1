"""Captions on the disk: sidecars beside the photographs, one table, and copies with the caption in.

Everything is read and merged before the first byte is written. A photograph is never opened for
writing; what cannot be read or is no XMP stays as it is and is named.
"""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import datetime
from pathlib import Path
from typing import Final

from lensyard.errors import InvalidInputError, StoreError
from lensyard.features.captions.captions import FrameCaption
from lensyard.features.captions.exif import PhotoTimes, Skipped
from lensyard.features.captions.sidecar import (
    CaptionFields,
    merged,
    rating_in,
    read_sidecar,
    sidecar_of,
    write_sidecar,
)
from lensyard.files import write_atomically
from lensyard.game.document import read_text
from lensyard.records import Record
from lensyard.render.report import Column, Table
from lensyard.render.text import csv_text

TABLE_NAME: Final = "captions.csv"
_COLUMNS: Final = tuple(part.name for part in fields(FrameCaption))


class PlayCaption(Record):
    """The frames of one play, and the caption of its first."""

    play: int
    quarter: str
    frames: int
    unsure: int
    caption: str


class WrittenCaptions(Record):
    """What captions did, or in a dry run would do.

    ``plays``: what every play's frames say. ``new``, ``changed``, ``same``, ``kept``: sidecars that
    were not there, got the caption, had it already, or keep another description. ``left``:
    sidecars and photographs left alone, and why. ``table``: the CSV's place, and ``copies``: how
    many copies were made with the caption inside; ``copies_there``: were made before.
    """

    plays: tuple[PlayCaption, ...]
    new: int
    changed: int
    same: int
    kept: int
    left: tuple[Skipped, ...]
    table: str
    copies: int = 0
    copies_there: int = 0


class _Sidecar(Record):
    path: Path
    name: str
    before: bytes | None
    content: bytes
    kept: bool


class CaptionPlan(Record):
    """What is to be written: the sidecars that change, the table, and what that comes to."""

    captions: tuple[FrameCaption, ...]
    headline: str
    sidecars: tuple[_Sidecar, ...]
    table: Path
    found: WrittenCaptions


def with_ratings(times: PhotoTimes, folder: Path) -> PhotoTimes:
    """Return the times with the stars that sidecars give, which count more than the camera's.

    A sidecar that cannot be read gives none here; captions name it.
    """
    photos = []
    for photo in times.photos:
        stars = None
        try:
            content = read_sidecar(_sidecar_at(folder / photo.file))
            stars = None if content is None else rating_in(content)
        except InvalidInputError:
            stars = None
        photos.append(photo if stars is None else replace(photo, rating=stars))
    return replace(times, photos=tuple(photos))


def _sidecar_at(photograph: Path) -> Path:
    """Where the sidecar is, or is to be; one with capital letters counts where there is one."""
    usual = sidecar_of(photograph)
    capitals = usual.with_suffix(".XMP")
    return capitals if not usual.exists() and capitals.exists() else usual


def plan_captions(
    captions: Sequence[FrameCaption],
    *,
    folder: Path | None,
    table: Path,
    headline: str,
    venue: str = "",
    replace_descriptions: bool = False,
) -> CaptionPlan:
    """Return what is to be written; nothing is.

    ``folder``: of the photographs; None where only a table of times is known, and then there is
    only the table. ``headline``, ``venue``: the game and its place, for every frame.

    Raises `InvalidInputError` if the table's file is one of something else.
    """
    _require_own_table(table)
    sidecars: dict[Path, _Sidecar] = {}
    said: dict[Path, str] = {}
    left: list[Skipped] = []
    for caption in captions if folder is not None else ():
        path = _sidecar_at(Path(folder or "") / caption.file)
        name = Path(caption.file).with_name(path.name).as_posix()
        if path in said:
            if said[path] != caption.caption:
                left.append(Skipped(caption.file, f"shares {name} with a frame of another caption"))
            continue
        said[path] = caption.caption
        wanted = CaptionFields(
            caption.caption, headline, caption.captured_at.isoformat(timespec="seconds"), venue
        )
        try:
            before = read_sidecar(path)
            after = merged(before, wanted, replace=replace_descriptions)
        except InvalidInputError as error:
            left.append(Skipped(name, str(error)))
            continue
        sidecars[path] = _Sidecar(path, name, before, after.content, after.kept)
    every = tuple(sidecars.values())
    changing = tuple(one for one in every if one.content != one.before)
    found = WrittenCaptions(
        plays=play_captions(captions),
        new=sum(one.before is None for one in every),
        changed=sum(one.before is not None and not one.kept for one in changing),
        same=sum(one.content == one.before and not one.kept for one in every),
        kept=sum(one.kept for one in every),
        left=tuple(left),
        table=str(table),
    )
    return CaptionPlan(tuple(captions), headline, changing, table, found)


def write_captions(plan: CaptionPlan) -> WrittenCaptions:
    """Write sidecars and table; what is so already is not written again.

    Raises `StoreError` if the disk refuses; every file is then as it was or as it is to be.
    """
    left = list(plan.found.left)
    for sidecar in plan.sidecars:
        try:
            write_sidecar(sidecar.path, sidecar.content, before=sidecar.before)
        except InvalidInputError as error:
            left.append(Skipped(sidecar.name, str(error)))
    content = csv_text(frames_table(plan.captions)).encode()
    if not plan.table.exists() or plan.table.read_bytes() != content:
        write_atomically(plan.table, content)
    return replace(plan.found, left=tuple(left))


def _require_own_table(path: Path) -> None:
    if path.exists() and not read_text(path).startswith(",".join(_COLUMNS[:3])):
        raise InvalidInputError(
            f"{path} is there and is no table of captions; name another with --table"
        )


def frames_table(captions: Sequence[FrameCaption]) -> Table:
    """Return the captions as a table, a row a frame."""

    def cell(value: object) -> str | int:
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, datetime):
            return value.isoformat(timespec="milliseconds")
        return value if isinstance(value, int) else str(value)

    rows = tuple(tuple(cell(getattr(one, name)) for name in _COLUMNS) for one in captions)
    return Table("frames", "", tuple(Column(name, name) for name in _COLUMNS), rows)


def play_captions(captions: Sequence[FrameCaption]) -> tuple[PlayCaption, ...]:
    """Return the captions by play, in the order of plays."""
    by_play: dict[int, list[FrameCaption]] = {}
    for caption in captions:
        by_play.setdefault(caption.play, []).append(caption)
    return tuple(
        PlayCaption(
            play=number,
            quarter=frames[0].quarter,
            frames=len(frames),
            unsure=sum(not frame.sure for frame in frames),
            caption=frames[0].caption,
        )
        for number, frames in sorted(by_play.items())
    )


COPIED: Final = (".jpg", ".jpeg")
_BATCH: Final = 40
_SECONDS_A_COPY: Final = 20.0
GET_EXIFTOOL: Final = (
    "copies are made by exiftool, which is not installed here; get it from its author's page or "
    "with the system's packages (Debian and Ubuntu: apt install libimage-exiftool-perl), then call "
    "this again. Nothing was written"
)


def require_copies(folder: Path, *, photographs: Path | None) -> str:
    """Return exiftool's path for copies into a folder that may be used for them.

    Raises `InvalidInputError` if exiftool is not installed, there are only times and no
    photographs, or the folder lies among the photographs or around them.
    """
    tool = shutil.which("exiftool")
    if tool is None:
        raise InvalidInputError(GET_EXIFTOOL)
    if photographs is None:
        raise InvalidInputError("copies need the photographs; name their folder, not a table")
    there, here = folder.resolve(), photographs.resolve()
    if there.is_relative_to(here) or here.is_relative_to(there):
        raise InvalidInputError(
            f"{folder} lies among the photographs, where copies would count as frames; name a "
            "folder elsewhere"
        )
    return tool


def make_copies(
    plan: CaptionPlan, *, tool: str, folder: Path, photographs: Path, replace_copies: bool = False
) -> tuple[int, int, tuple[Skipped, ...]]:
    """Copy every captioned JPEG with its caption inside; return made, there before, left out.

    A copy appears under its name only once its image has been decoded and equals the original's.

    Raises `StoreError` if the folder cannot be written.
    """
    import tempfile

    wanted, there = [], 0
    for caption in plan.captions:
        target = folder / caption.file
        if target.suffix.lower() not in COPIED:
            continue
        if target.exists() and not replace_copies:
            there += 1
            continue
        wanted.append((caption, target))
    made, left = 0, []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".making-") as place:
            for start in range(0, len(wanted), _BATCH):
                some = [
                    (caption, photographs / caption.file, Path(place) / f"{start + i}.jpg", target)
                    for i, (caption, target) in enumerate(wanted[start : start + _BATCH])
                ]
                trouble = _run(
                    tool, [(c, source, new) for c, source, new, _ in some], plan.headline
                )
                for caption, source, new, target in some:
                    reason = trouble or _unlike(source, new)
                    if reason:
                        left.append(Skipped(caption.file, reason))
                        continue
                    target.parent.mkdir(parents=True, exist_ok=True)
                    new.replace(target)
                    made += 1
    except OSError as error:
        raise StoreError(f"cannot write {folder} ({error.strerror or error})") from error
    return made, there, tuple(left)


def _run(tool: str, jobs: Sequence[tuple[FrameCaption, Path, Path]], headline: str) -> str:
    """Have exiftool write some copies; return why it could not, empty where it did.

    No settings file of the user's is read, and no shell is in between.
    """
    import subprocess

    arguments = [tool, "-config", ""]
    for caption, source, target in jobs:
        arguments += [
            "-q", "-m", "-charset", "iptc=UTF8", "-IPTC:CodedCharacterSet=UTF8",
            f"-XMP-dc:Description={caption.caption}", f"-IPTC:Caption-Abstract={caption.caption}",
            f"-XMP-photoshop:Headline={headline}",
            "-o", str(target.resolve()), str(source.resolve()), "-execute",
        ]  # fmt: skip
    try:
        subprocess.run(
            arguments[:-1],
            check=False,
            capture_output=True,
            stdin=subprocess.DEVNULL,
            timeout=_SECONDS_A_COPY * len(jobs),
        )
    except (OSError, subprocess.TimeoutExpired, ValueError) as error:
        return f"exiftool failed ({type(error).__name__})"
    return ""


def _unlike(source: Path, copy: Path) -> str:
    """Why a copy is none; empty where both decode to the same image."""
    from PIL import Image

    if not copy.is_file():
        return "exiftool made no copy of it"
    try:
        with Image.open(source) as one, Image.open(copy) as other:
            equal = one.size == other.size and one.mode == other.mode
            equal = equal and one.tobytes() == other.tobytes()
    except Exception as error:  # a damaged image can make the decoder raise anything
        return f"cannot be decoded ({type(error).__name__})"
    return "" if equal else "its copy does not decode to the same image"
