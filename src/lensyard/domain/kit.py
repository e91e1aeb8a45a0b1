"""Lenses, bodies and kits: how far a lens reaches, and how near it still works.

Reach is common practice with a physical meaning: 10 yards for every 100 mm of full-frame-equivalent
focal length, the distance at which a player 1.83 m tall is 20.0 mm on the sensor, 83 % of the
height of a 24 mm frame. It is no wall: at 1.25 times the reach the player still is two thirds of
it. A frame's quality falls linearly from 1 at the reach to 0 at the crop margin times the reach.

Kits as one line of text: ``70-200 + 300 x1.4``, ``70-200 + 400 on 1.5, 1 body``.
"""

from __future__ import annotations

import re
from dataclasses import field, replace
from functools import cached_property
from itertools import combinations, pairwise

import numpy as np

from lensyard.arrays import ArrayLike, FloatArray
from lensyard.errors import InvalidInputError, ParseError, require_positive, require_range
from lensyard.records import Record
from lensyard.units import FULL_FRAME_WIDTH_MM, METERS_PER_YARD

KeepCurve = tuple[tuple[float, float], ...]
"""A photographer's own keep rate by distance, in place of the crop margin; empty is its slope.

Pairs of a distance, in multiples of the reach and rising, and the quality of a frame there: 1 up to
the first, linear between them, 0 beyond the last. As text: ``0.9:1 1.25:0.4 1.6:0``.
"""
FARTHEST = 3.0
"""Farthest knot of a curve, in multiples of the reach."""
CURVE_FORM = "distances over the reach with the quality there, such as 0.9:1 1.25:0.4 1.6:0"
_KNOT = r"(\d+(?:\.\d+)?):(\d+(?:\.\d+)?)"
REACH_YD_PER_EQUIVALENT_MM = 0.1
CROP_MARGIN = 1.5
MOST_CROP_MARGIN = 3.0
HALF_PLAYER_M = 0.915

# Marked focal length -> minimum focus distance, from the published data sheets of the usual
# classes (70-200/2.8 0.7-1.5 m, 300/2.8 2.0-2.5, 400/2.8 2.5-4.0, 600/4 4.2-4.5): a figure inside
# each class, linear in between. Give the lens's own figure where it is known.
_CLASS_FOCAL_MM = (0.0, 50.0, 200.0, 300.0, 400.0, 600.0, 800.0)
_CLASS_FOCUS_M = (0.3, 0.4, 1.2, 2.2, 2.7, 4.4, 5.5)

# Patterns are compiled when first needed: each would take a millisecond of every start.
_LENS_FORM = (
    r"(?i)^\s*(?P<wide>\d+(?:\.\d+)?)(?:\s*-\s*(?P<long>\d+(?:\.\d+)?))?\s*(?:mm)?"
    r"(?:\s*(?:/|f/?)\s*(?P<f>\d+(?:\.\d+)?))?\s*$"
)


def reach_yd(equivalent_mm: float) -> float:
    """Return the reach of a full-frame-equivalent focal length. [yd]

    Raises `InvalidInputError` if the focal length is not positive.

    >>> reach_yd(400.0)
    40.0
    """
    require_positive(equivalent_mm=equivalent_mm)
    return equivalent_mm * REACH_YD_PER_EQUIVALENT_MM


def nearest_yd(equivalent_mm: float, *, minimum_focus_m: float = 0.0) -> float:
    """Return the distance under which half a player overflows the frame. [yd]

    ``equivalent_mm``: full-frame-equivalent focal length at the wide end. [mm] ``minimum_focus_m``:
    the lens's minimum focus distance; the result is never below it. [m]

    Half a player (0.915 m) fills the 36 mm side at ``f * 0.915 / 36`` meters.

    >>> round(nearest_yd(400.0), 2)
    11.12
    """
    require_positive(equivalent_mm=equivalent_mm)
    overflow_m = equivalent_mm * HALF_PLAYER_M / FULL_FRAME_WIDTH_MM
    return max(overflow_m, minimum_focus_m) / METERS_PER_YARD


def check_curve(curve: KeepCurve) -> None:
    """Raise `InvalidInputError` if distances do not rise, or the quality does or ends above 0."""
    for at, quality in curve:
        require_range(low=0.1, high=FARTHEST, distance_over_reach=at)
        require_range(low=0, high=1, quality=quality)
    if any(far[0] <= near[0] or far[1] > near[1] for near, far in pairwise(curve)):
        raise InvalidInputError(
            "the quality of a frame never rises with distance; expected " + CURVE_FORM
        )
    if curve and (len(curve) < 2 or curve[-1][1] > 0):
        raise InvalidInputError("a curve needs two knots and ends at quality 0; " + CURVE_FORM)


def parse_curve(text: str) -> KeepCurve:
    """Return the curve that a text describes; raises `ParseError` or as `check_curve`.

    >>> parse_curve("0.9:1 1.25:0.4 1.6:0")
    ((0.9, 1.0), (1.25, 0.4), (1.6, 0.0))
    """
    parts = [re.fullmatch(_KNOT, part) for part in text.replace(",", " ").split()]
    found = tuple((float(match[1]), float(match[2])) for match in parts if match is not None)
    if not parts or len(found) < len(parts):
        raise ParseError(name="keep-curve", text=text, expected=CURVE_FORM)
    check_curve(found)
    return found


def curve_text(curve: KeepCurve) -> str:
    """Return a curve as people type it.

    >>> curve_text(((0.9, 1.0), (1.6, 0.0)))
    '0.9:1 1.6:0'
    """
    return " ".join(f"{round(at, 3):g}:{round(quality, 3):g}" for at, quality in curve)


class Lens(Record):
    """A lens as marked, before any crop factor or converter.

    ``wide_mm``, ``long_mm``: the ends of the focal-length range; equal for a prime. [mm]
    ``f_number``: widest aperture. ``minimum_focus_m``: minimum focus distance. [m]
    ``is_assumed``: whether nobody gave the aperture; two such lenses are the same lens.
    """

    wide_mm: float
    long_mm: float
    f_number: float = 2.8
    minimum_focus_m: float = 0.0
    is_assumed: bool = field(default=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Refuse what is not a lens."""
        require_range(low=4, high=2000, wide_mm=self.wide_mm, long_mm=self.long_mm)
        require_range(low=0.7, high=64, f_number=self.f_number)
        require_range(low=0, high=20, minimum_focus_m=self.minimum_focus_m)
        if self.long_mm < self.wide_mm:
            raise InvalidInputError(
                f"a lens goes from its wide end to its long end; got {self.wide_mm:g}-"
                f"{self.long_mm:g} mm. Write {self.long_mm:g}-{self.wide_mm:g}"
            )

    @property
    def text(self) -> str:
        """The lens as people write it: 70-200, 400."""
        if self.wide_mm == self.long_mm:
            return f"{self.long_mm:g}"
        return f"{self.wide_mm:g}-{self.long_mm:g}"


def parse_lens(text: str) -> Lens:
    """Return a lens from text such as ``70-200``, ``400`` or ``70-200/2.8``.

    The minimum focus distance is that of the lens's class (published data sheets).

    Raises `ParseError` or `OutOfRangeError` if it is not a focal length in millimeters, or none
    that a lens has.

    >>> parse_lens("70-200/2.8")
    Lens(wide_mm=70.0, long_mm=200.0, f_number=2.8, minimum_focus_m=1.2)
    """
    match = re.match(_LENS_FORM, text)
    if match is None:
        expected = "focal lengths in mm such as 70-200, 400 or 70-200/2.8"
        raise ParseError(name="lens", text=text, expected=expected)
    long_mm = float(match["long"] or match["wide"])
    return Lens(
        wide_mm=float(match["wide"]),
        long_mm=long_mm,
        f_number=float(match["f"] or (2.8 if long_mm <= 400 else 4.0)),
        minimum_focus_m=float(np.interp(long_mm, _CLASS_FOCAL_MM, _CLASS_FOCUS_M)),
        is_assumed=match["f"] is None,
    )


class Body(Record):
    """A camera body.

    ``crop_factor``: 1.0 for full frame (36 mm wide); the sensor is ``36 / crop_factor`` wide.
    ``width_px``: pixels along the long side.
    """

    crop_factor: float = 1.0
    width_px: int = 6000

    def __post_init__(self) -> None:
        """Refuse what is not a camera."""
        require_range(low=0.5, high=6, crop_factor=self.crop_factor)
        require_range(low=500, high=40000, width_px=self.width_px)

    @property
    def sensor_width_mm(self) -> float:
        """Width of the sensor. [mm]"""
        return FULL_FRAME_WIDTH_MM / self.crop_factor


class Mounted(Record):
    """A lens on a body, with or without a converter."""

    lens: Lens
    body: Body = field(default_factory=Body)
    converter: float = 1.0

    def __post_init__(self) -> None:
        """Refuse a converter that does not exist."""
        require_range(low=1, high=3, converter=self.converter)

    @property
    def focal_length_mm(self) -> float:
        """The longest focal length with the converter, before the crop factor. [mm]"""
        return self.lens.long_mm * self.converter

    @property
    def f_number(self) -> float:
        """Widest aperture with the converter."""
        return self.lens.f_number * self.converter

    @cached_property
    def reach_yd(self) -> float:
        """How far it reaches. [yd]"""
        return reach_yd(self.focal_length_mm * self.body.crop_factor)

    @cached_property
    def nearest_yd(self) -> float:
        """How near it still works. A converter leaves the minimum focus distance as it is. [yd]"""
        wide = self.lens.wide_mm * self.converter * self.body.crop_factor
        return nearest_yd(wide, minimum_focus_m=self.lens.minimum_focus_m)

    @cached_property
    def text(self) -> str:
        """The combination as people write it: 400 x1.4."""
        crop = self.body.crop_factor
        converter = "" if self.converter == 1.0 else f" x{self.converter:g}"
        return f"{self.lens.text}{converter}{'' if crop == 1.0 else f' on a {crop:g} crop body'}"


class Kit(Record):
    """What the photographer carries.

    ``mounted``: one entry a lens. ``bodies``: how many cameras; with fewer cameras than lenses only
    that many lenses are at hand in one play, and the best choice before the snap counts.
    ``crop_margin``: how many times the reach a frame is still worth something; 1 is a hard wall.
    ``keep_curve``: one's own keep rate by distance, which takes the crop margin's place.
    """

    mounted: tuple[Mounted, ...]
    bodies: int
    name: str = "kit"
    crop_margin: float = CROP_MARGIN
    keep_curve: KeepCurve = ()

    def __post_init__(self) -> None:
        """Refuse an empty kit."""
        if not self.mounted:
            raise InvalidInputError("a kit needs at least one lens; give --lens 70-200, say")
        require_range(low=1, high=6, bodies=self.bodies)
        require_range(low=1, high=MOST_CROP_MARGIN, crop_margin=self.crop_margin)
        check_curve(self.keep_curve)

    @property
    def optics(self) -> tuple[object, ...]:
        """What makes two kits one, whatever they are called."""
        return self.mounted, self.bodies, self.crop_margin, self.keep_curve

    def quality(self, distance_yd: ArrayLike, lenses: tuple[Mounted, ...]) -> FloatArray:
        """Return the quality of a frame at each distance with some of the lenses at hand. [yd]"""
        return reach_quality(
            distance_yd, lenses, crop_margin=self.crop_margin, keep_curve=self.keep_curve
        )

    def farthest_yd(self, lenses: tuple[Mounted, ...]) -> float:
        """Return the distance beyond which frames with some of the lenses have no quality. [yd]"""
        margin = self.keep_curve[-1][0] if self.keep_curve else self.crop_margin
        return margin * max(lens.reach_yd for lens in lenses)

    def falling_alike(self, kit: Kit) -> Kit:
        """Return another kit whose frames lose their quality with distance as this one's do."""
        return replace(kit, crop_margin=self.crop_margin, keep_curve=self.keep_curve)

    @property
    def lens_sets(self) -> tuple[tuple[Mounted, ...], ...]:
        """The sets of lenses that can be at hand in one play."""
        return tuple(combinations(self.mounted, min(self.bodies, len(self.mounted))))

    @property
    def reach_yd(self) -> float:
        """The reach of the longest lens. [yd]"""
        return max(m.reach_yd for m in self.mounted)

    @property
    def nearest_yd(self) -> float:
        """The nearest distance of the shortest lens. [yd]"""
        return min(m.nearest_yd for m in self.mounted)

    @property
    def text(self) -> str:
        """The kit for people, with its reach; `parse_kit` reads it."""
        return f"{self.line.removesuffix(')')}, reach {self.reach_yd:g} yd)"

    @property
    def line(self) -> str:
        """The kit as people type it; `parse_kit` reads it.

        >>> kit_of(["70-200", "400"]).line
        '70-200 + 400 (2 bodies)'
        """
        cameras = "1 body" if self.bodies == 1 else f"{self.bodies} bodies"
        return f"{' + '.join(m.text for m in self.mounted)} ({cameras})"

    def coverage_gaps_yd(self) -> tuple[tuple[float, float], ...]:
        """Return the distances within reach that no lens covers, as (from, to). [yd]

        >>> [tuple(round(v, 1) for v in h) for h in kit_of(["400"]).coverage_gaps_yd()]
        [(0.0, 11.1)]
        """
        gaps, covered = [], 0.0
        for lens in sorted(self.mounted, key=lambda m: m.nearest_yd):
            if lens.nearest_yd > covered:
                gaps.append((covered, lens.nearest_yd))
            covered = max(covered, lens.reach_yd)
        return tuple(gaps)


def kit_of(
    lenses: list[str],
    *,
    crop_factors: list[float] | None = None,
    bodies: int | None = None,
    converter: float = 1.0,
    crop_margin: float = CROP_MARGIN,
    name: str = "kit",
) -> Kit:
    """Return a kit from what a person types lens by lens.

    ``lenses``: texts as `parse_kit` reads them: ``70-200``, ``300 x1.4``, ``70-200 on 1.5``.
    ``crop_factors``: one for all lenses, or one a lens; a lens whose text says its own keeps it.
    Default 1.0 (full frame). ``bodies``: how many cameras. Default: what the texts say, else one a
    lens. ``converter``: sits on the longest lens (common practice), unless that has one already.
    ``crop_margin``: as of `Kit`.

    Raises `InvalidInputError` if there is no lens, or the crop factors do not fit the lenses.
    """
    if not lenses:
        raise InvalidInputError("a kit needs at least one lens; give --lens 70-200, say")
    read, said_bodies = _read_lenses(" + ".join(lenses))
    crops = crop_factors or [1.0]
    if len(crops) == 1:
        crops = crops * len(read)
    if len(crops) != len(read):
        raise InvalidInputError(
            f"{len(crops)} bodies for {len(read)} lenses; give one --body for all, or one for "
            "each --lens in the same order"
        )
    longest = max(read, key=lambda mounted: mounted.lens.long_mm)
    if converter != 1.0 and longest.converter != 1.0:
        raise InvalidInputError(
            f"the {longest.text} has a converter already; leave --converter or the x out"
        )
    mounted = tuple(
        Mounted(
            each.lens,
            Body(crop) if each.body == Body() else each.body,
            converter if each is longest and converter != 1.0 else each.converter,
        )
        for each, crop in zip(read, crops, strict=True)
    )
    return Kit(mounted, said_bodies if bodies is None else bodies, name, crop_margin)


def reach_quality(
    distance_yd: ArrayLike,
    lenses: tuple[Mounted, ...],
    *,
    crop_margin: float = CROP_MARGIN,
    keep_curve: KeepCurve = (),
) -> FloatArray:
    """Return the quality of a frame at each distance, by the lens at hand with the most of it.

    1 from a lens's nearest distance to its reach (bounds included), falling linearly to 0 at
    ``crop_margin`` times the reach, or by ``keep_curve``. ``distance_yd`` may have any shape; the
    result has the same.

    >>> reach_quality([20, 25, 30, 31], kit_of(["70-200"]).mounted).tolist()
    [1.0, 0.5, 0.0, 0.0]
    """
    distance = np.asarray(distance_yd, dtype=np.float64)
    quality = np.zeros(distance.shape)
    for lens in lenses:
        if keep_curve:
            at, quality_there = zip(*keep_curve, strict=True)
            own = np.interp(distance / lens.reach_yd, at, quality_there, left=1.0)
        elif crop_margin > 1.0:
            own = np.asarray(distance - lens.reach_yd)
            own /= (crop_margin - 1.0) * lens.reach_yd
            np.clip(np.subtract(1.0, own, out=own), 0.0, 1.0, out=own)
        else:
            own = (distance <= lens.reach_yd).astype(np.float64)
        np.maximum(quality, own * (distance >= lens.nearest_yd), out=quality)
    return quality


_DEMO_LENSES = (Lens(70.0, 200.0, 2.8, 1.2, True), Lens(400.0, 400.0, 2.8, 2.7, True))
DEMO_KIT = Kit(tuple(map(Mounted, _DEMO_LENSES)), 2, "demo kit")

_BODIES = (
    r"(?i)[,;+]\s*(?P<n>\d)\s*(?:body|bodies)\s*$|\(\s*(?P<in>\d)\s*(?:body|bodies)[^)]*\)\s*$"
)
_PART = (
    r"(?i)^\s*(?P<lens>[^@]+?)"
    r"(?:\s*[x×]\s*(?P<converter>\d+(?:\.\d+)?))?"
    r"(?:\s*(?:@|\bon\b)\s*(?:a\s+)?(?P<crop>\d+(?:\.\d+)?)(?:\s*crop)?(?:\s*body)?)?\s*$"
)
EXPECTED = (
    "lenses joined by +, each with its converter and its body's crop factor where it has one: "
    "70-200 + 400, 70-200 + 300 x1.4, 70-200 on 1.5; with fewer bodies than lenses add , 1 body"
)


def parse_kit(text: str) -> Kit:
    """Return the kit that a line of text describes; see `EXPECTED`. `Kit.text` is read too.

    Raises `ParseError` if the text has another form; `OutOfRangeError` if a number is none that a
    lens, a converter or a body has.

    >>> parse_kit("70-200 + 300 x1.4").text
    '70-200 + 300 x1.4 (2 bodies, reach 42 yd)'
    >>> parse_kit("70-200 + 400 on 1.5, 1 body").text
    '70-200 + 400 on a 1.5 crop body (1 body, reach 60 yd)'
    """
    try:
        mounted, bodies = _read_lenses(text)
    except ParseError as error:
        raise ParseError(name="kit", text=text, expected=EXPECTED) from error
    return Kit(mounted, bodies)


def _read_lenses(text: str) -> tuple[tuple[Mounted, ...], int]:
    """Return the lenses of a text with what is mounted on them, and how many bodies there are."""
    rest, bodies = text, None
    if match := re.search(_BODIES, text):
        rest, bodies = text[: match.start()], int(match["n"] or match["in"])
    mounted = tuple(_mounted(part) for part in re.split("[+,;]", rest))
    return mounted, len(mounted) if bodies is None else bodies


def _mounted(part: str) -> Mounted:
    match = re.match(_PART, part)
    lens = parse_lens(part if match is None else match["lens"])
    if match is None:
        return Mounted(lens)
    return Mounted(lens, Body(float(match["crop"] or 1.0)), float(match["converter"] or 1.0))
