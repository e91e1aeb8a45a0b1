"""Cautions that belong to the venue and the weather: data with sources, and sentences.

Reminders of what is usual, never a decision. Whatever shows them ends with `DEFERRAL`.
"""

from __future__ import annotations

import math
from enum import StrEnum

from lensyard.domain.venue import Venue
from lensyard.errors import require_range
from lensyard.records import Record
from lensyard.units import FEET_PER_YARD, meters_from_yards

DEFERRAL = (
    "Local rules, the terms of your credential, the venue's staff and licensed people (officials, "
    "athletic trainers, physicians, the weather service) decide; this is only a reminder."
)

RUN_OUT_ZONE_FT = 18.0
RUN_OUT_ZONE_SHARE = 0.95
RUN_OUT_SOURCE = (
    "Collins, Garrick and Requa 1977, Journal of Safety Research 9(1):34-38 (81 game films)"
)
"""95 % of excursions over the line stayed within 18 ft of it, all round the field."""

SPRINT_M_S = 9.0
"""A fast player at full speed. Team means of ball carriers' top speed were 5.78 to 6.05 m/s in
2020 (Buffalo News, 12 June 2021), the fastest carry of 2016 10.39 m/s (RotoViz 2017). [m/s]"""

LIGHTNING_WAIT_MIN = 30.0
LIGHTNING_SOURCE = "NFHS Sports Medicine Advisory Committee guideline, October 2014"

WBGT_SOURCE = "Georgia High School Association by-law 2.67"


class CautionKind(StrEnum):
    """What a caution is about."""

    RUN_OUT = "run-out"
    LIGHTNING = "lightning"
    HEAT = "heat"
    LOCAL_RULES = "local rules"


class Caution(Record):
    """A caution in a sentence, and where its numbers come from."""

    kind: CautionKind
    sentence: str
    source: str


class HeatBand(Record):
    """A published band of wet-bulb globe temperature, for athletes.

    - ``from_f``: lower bound, included; the band reaches to the next one's. [degrees Fahrenheit]
    """

    from_f: float
    advice: str


HEAT_BANDS: tuple[HeatBand, ...] = (
    HeatBand(-100.0, "normal activity with three breaks an hour"),
    HeatBand(82.0, "activity at discretion, with care for those at risk"),
    HeatBand(87.0, "at most two hours of activity"),
    HeatBand(90.0, "at most one hour of activity, without protective equipment"),
    HeatBand(math.nextafter(92.0, 93.0), "no outdoor activity"),
)
"""Below 82.0, 82.0-86.9, 87.0-89.9, 90.0-92.0 and above 92.0 F in the source; a reading between
two printed bounds (86.95) falls in the lower band, one of exactly 92.0 in the fourth."""

LOCAL_RULES = Caution(CautionKind.LOCAL_RULES, DEFERRAL, "common practice")


def warning_time_s(*, setback_yd: float) -> float:
    """Return how long a player at `SPRINT_M_S` takes from the line to somebody behind it. [s]

    >>> round(warning_time_s(setback_yd=6.0), 2)
    0.61
    """
    require_range(low=0.0, high=1000.0, setback_yd=setback_yd)
    return meters_from_yards(setback_yd) / SPRINT_M_S


def run_out_caution(*, setback_yd: float, limit_line_yd: float | None = None) -> Caution:
    """Return the caution on standing a distance behind the sideline or end line.

    - ``setback_yd``: from the line to the photographer, 0 or more. [yd]
    - ``limit_line_yd``: where the rule book draws the line for non-players, from the same line.
      [yd]
    """
    time_s = warning_time_s(setback_yd=setback_yd)
    setback_ft = setback_yd * FEET_PER_YARD
    zone_yd = RUN_OUT_ZONE_FT / FEET_PER_YARD
    if setback_ft < RUN_OUT_ZONE_FT:
        where = (
            f"you stand {setback_ft:.0f} ft behind it, inside that zone, so a spot that is allowed "
            f"is not a spot that is clear"
        )
    else:
        where = f"you stand {setback_ft:.0f} ft behind it, and one in twenty still went farther"
    if limit_line_yd is not None and limit_line_yd * FEET_PER_YARD < RUN_OUT_ZONE_FT:
        where += f" (the limit line at {limit_line_yd * FEET_PER_YARD:.0f} ft lies inside it too)"
    return Caution(
        kind=CautionKind.RUN_OUT,
        sentence=(
            f"Players who left the field stayed within {RUN_OUT_ZONE_FT:.0f} ft ({zone_yd:.0f} yd) "
            f"of the line {RUN_OUT_ZONE_SHARE:.0%} of the time in a film study; {where}. A player "
            f"at {SPRINT_M_S:.0f} m/s covers that in {time_s:.1f} s: keep the other eye open, "
            f"do not sit or kneel where you cannot rise at once, and leave early."
        ),
        source=RUN_OUT_SOURCE,
    )


def lightning_caution() -> Caution:
    """Return the caution on lightning."""
    return Caution(
        kind=CautionKind.LIGHTNING,
        sentence=(
            f"At thunder or a visible strike everybody leaves the field for shelter in a solid "
            f"building or a closed car; play starts again no sooner than {LIGHTNING_WAIT_MIN:.0f} "
            f"minutes after the last thunder or strike, and each new one starts the wait afresh."
        ),
        source=LIGHTNING_SOURCE,
    )


def heat_band(wbgt_f: float) -> HeatBand:
    """Return the published band that a wet-bulb globe temperature falls in.

    - ``wbgt_f``: wet-bulb globe temperature (not the air's), [-100, 150]. [degrees Fahrenheit]

    >>> heat_band(88.0).advice
    'at most two hours of activity'
    """
    require_range(low=-100.0, high=150.0, wbgt_f=wbgt_f)
    return [band for band in HEAT_BANDS if wbgt_f >= band.from_f][-1]


def heat_caution(wbgt_f: float) -> Caution:
    """Return the caution on heat at a wet-bulb globe temperature. [degrees Fahrenheit]"""
    return Caution(
        kind=CautionKind.HEAT,
        sentence=(
            f"A wet-bulb globe temperature of {wbgt_f:.1f} F means {heat_band(wbgt_f).advice} in a "
            f"published scheme; it was written for athletes in one state, and limits differ by "
            f"region. You carry weight in the same sun: drink, seek shade between series, and say "
            f"so when you feel ill."
        ),
        source=WBGT_SOURCE,
    )


def cautions_for(venue: Venue, *, wbgt_f: float | None = None) -> tuple[Caution, ...]:
    """Return the cautions of a venue, for its sidelines and ends; the last says who decides.

    - ``venue``: with its setbacks; under a roof lightning is left out.
    - ``wbgt_f``: wet-bulb globe temperature, when known. [degrees Fahrenheit]
    """
    rules = venue.rules
    lines = [(venue.side_setback_yd, rules.side_setback_yd)]
    if venue.end_setback_yd != venue.side_setback_yd:
        lines.append((venue.end_setback_yd, rules.end_setback_yd))
    found = [run_out_caution(setback_yd=setback, limit_line_yd=limit) for setback, limit in lines]
    if not venue.covered:
        found.append(lightning_caution())
    if wbgt_f is not None:
        found.append(heat_caution(wbgt_f))
    return (*found, LOCAL_RULES)
