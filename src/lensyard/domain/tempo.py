"""How far one walks between two snaps: a walk is time.

From one snap to the next, less the play itself and settling down at the new place, times a pace.
"""

from __future__ import annotations

from enum import StrEnum

from lensyard.errors import require_positive, require_range
from lensyard.records import Record


class Tempo(StrEnum):
    """How fast the offense snaps the ball."""

    USUAL = "usual"
    HURRY = "hurry"


LONGEST_WALK_YD = 400.0
"""More than the way round a field. [yd]"""
SNAP_TO_SNAP_S = {Tempo.USUAL: 38.0, Tempo.HURRY: 19.0}
"""From snap to snap within a drive, the ball down in bounds: medians of the bundled clock, 2016 to
2019, of all plays (10 to 90 % of them: 21 to 45) and of the last two minutes of a half. [s]"""
CHANGE_SNAP_S = 84.0
"""From the last snap of a possession to the first of the next, officials and chains placed; an
assumption. [s]"""
PLAY_S = 6.0
"""How long a play takes. [s]"""
SETTLE_S = 5.0
"""To stop, kneel and find the ball in the finder. [s]"""
PACE_YD_S = 1.5
"""With gear, and brisk: 1.37 m/s, inside the comfortable range of group means, 1.272-1.462 m/s, of
Bohannon 1997 (Age and Ageing 26:15-19). A jog is some 2.5. [yd/s]"""


def walk_limit_yd(
    snap_to_snap_s: float, *, pace_yd_s: float = PACE_YD_S, settle_s: float = SETTLE_S
) -> float:
    """Return how far one gets between two snaps and is settled at the second. [yd]

    Raises `OutOfRangeError` if the pace is not positive or a time is below 0.

    >>> walk_limit_yd(38.0), walk_limit_yd(19.0), walk_limit_yd(38.0, pace_yd_s=2.5)
    (40.5, 12.0, 67.5)
    """
    require_range(low=0, high=3600, snap_to_snap_s=snap_to_snap_s, settle_s=settle_s)
    require_positive(pace_yd_s=pace_yd_s)
    return max(snap_to_snap_s - PLAY_S - settle_s, 0.0) * pace_yd_s


DRIVE_LIMIT_YD = walk_limit_yd(SNAP_TO_SNAP_S[Tempo.USUAL])
CHANGE_LIMIT_YD = walk_limit_yd(CHANGE_SNAP_S)
"""How far one walks between two plays of a drive, and where the ball changes hands. [yd]"""


class WalkTime(Record):
    """How far one gets before a snap, and how fast.

    - ``drive_yd``, ``change_yd``: between two plays of a drive; where the ball changes hands. [yd]
    - ``pace_yd_s``: along the perimeter. [yd/s]
    """

    drive_yd: float = DRIVE_LIMIT_YD
    change_yd: float = CHANGE_LIMIT_YD
    pace_yd_s: float = PACE_YD_S

    @staticmethod
    def of(
        tempo: Tempo = Tempo.USUAL, *, pace_yd_s: float = PACE_YD_S, settle_s: float = SETTLE_S
    ) -> WalkTime:
        """Return how far one gets in the time that a tempo leaves; no farther than 400 yd.

        >>> WalkTime.of(Tempo.HURRY).drive_yd, WalkTime.of(pace_yd_s=2.5).drive_yd
        (12.0, 67.5)
        """
        drive, change = (
            min(walk_limit_yd(seconds, pace_yd_s=pace_yd_s, settle_s=settle_s), LONGEST_WALK_YD)
            for seconds in (SNAP_TO_SNAP_S[tempo], CHANGE_SNAP_S)
        )
        return WalkTime(drive, change, pace_yd_s)


def walk_s(walk_yd: float, *, pace_yd_s: float = PACE_YD_S) -> float:
    """Return how long a walk takes. [s]

    >>> walk_s(30.0)
    20.0
    """
    require_positive(pace_yd_s=pace_yd_s)
    return walk_yd / pace_yd_s
