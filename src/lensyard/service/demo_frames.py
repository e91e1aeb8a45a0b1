"""Small photographs of nothing, with the capture times of a camera: for the demo and for tests."""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

_EXIF_FOLDER = 0x8769


@dataclass(frozen=True, slots=True)
class DemoFrame:
    """What a demo photograph says.

    Attributes
    ----------
    local
        By the camera's clock, to the hundredth of a second.
    offset
        From UTC, as the camera writes it, ``-05:00``; empty when it does not.
    model, serial
        The camera.
    focal_length_mm
        As marked. [mm]
    rating
        Stars; None for none.
    """

    local: datetime
    offset: str = ""
    model: str = "Invented One"
    serial: str = "0001"
    focal_length_mm: float = 200.0
    rating: int | None = None


def frame_jpeg(frame: DemoFrame, *, gray: int = 128) -> bytes:
    """Return a JPEG of 8 by 8 pixels with EXIF (CIPA DC-008): some 400 bytes."""
    from PIL import Image
    from PIL.TiffImagePlugin import IFDRational

    exif = Image.Exif()
    exif[0x0110] = frame.model
    if frame.rating is not None:
        exif[0x4746] = frame.rating
    folder: dict[int, Any] = {
        0x9003: frame.local.strftime("%Y:%m:%d %H:%M:%S"),
        0x9291: f"{frame.local.microsecond // 10000:02d}",
        0xA431: frame.serial,
        0x920A: IFDRational(round(frame.focal_length_mm * 10), 10),
    }
    if frame.offset:
        folder[0x9011] = frame.offset
    exif.get_ifd(_EXIF_FOLDER).update(folder)
    stream = io.BytesIO()
    Image.new("L", (8, 8), gray).save(stream, "JPEG", exif=exif, quality=30)
    return stream.getvalue()


def burst(first: datetime, *, frames: int, per_s: float = 10.0) -> tuple[datetime, ...]:
    """Return the times of a burst. ``per_s`` frames a second."""
    return tuple(first + timedelta(seconds=i / per_s) for i in range(frames))
