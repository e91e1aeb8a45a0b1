"""What the scorer's sentence says and the statistics do not: side, depth, gap, spots.

Only the final ruling counts: after a reversal the sentence starts again, and what stood before is
void. Nothing of the text itself leaves this module.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

_REVERSED: Final = "REVERSED"
_REST: Final = re.compile(r"\b(?:PENALTY|Penalty) on\b|\bOfficially\b")
_FUMBLE: Final = re.compile(r"\bFUMBLES\b|\bMUFFS\b")
_PASS: Final = re.compile(
    r"\bpass\b(?:\s+incomplete)?(?:\s+(?P<depth>short|deep))?(?:\s+(?P<side>left|middle|right))?"
)
_CARRY: Final = re.compile(
    r"\b(?P<side>left|right) (?P<gap>end|tackle|guard)\b|\bup the (?P<middle>middle)\b"
)
_CARRY_END: Final = re.compile(r"\bfor (?:-?\d+ yards?|no gain)\b|TOUCHDOWN")
_YARDS: Final = re.compile(r"\bfor (?:(?P<yards>-?\d+) yards?|no gain)\b")
_OUT: Final = re.compile(r"\b(?:ran|pushed|sacked) ob\b")
_SPOT: Final = r"(?:(?P<club>[A-Z]{2,3}) (?P<line>-?\d+)|(?P<midfield>50)(?=\D|$))"
_LANDMARKS: Final = re.compile(
    r"(?:\bob at |\bsacked at |\bsacked ob at |\bINTERCEPTED by .{1,60}? at "
    r"|\b(?:RECOVERED|recovered) by .{1,60}? at |\brecovers at |\bout of bounds at "
    r"|\bdeclared (?:dead )?at |\bpunts -?\d+ yards? to |\bFUMBLES(?: \([^)]*\))? at "
    r"|\bkicks (?:onside )?-?\d+ yards? from (?:[A-Z]{2,3} \d+|50) to |\bto )" + _SPOT
)


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the field as the source writes it: a club's yard line.

    `club` is "" at midfield; `line` is negative within that club's end zone.
    """

    club: str
    line: int


def final_ruling(text: str) -> str:
    """Return the part of the sentence that stands: all of it, or what follows a reversal.

    Examples
    --------
    >>> final_ruling("A pass deep left. The ruling was REVERSED. A pass incomplete deep left.")
    'A pass incomplete deep left.'
    """
    at = text.rfind(_REVERSED)
    return text if at < 0 else text[at + len(_REVERSED) :].lstrip(" .)")


def action_of(text: str) -> str:
    """Return the sentence without penalties, which tell of other spots."""
    return _REST.split(text, maxsplit=1)[0]


def pass_label(action: str) -> tuple[str, str]:
    """Return (side, depth) of a pass, each "" where the scorer gave none.

    Examples
    --------
    >>> pass_label("(Shotgun) A.Example pass incomplete deep right to B.Sample.")
    ('right', 'deep')
    """
    found = _PASS.search(action)
    return (found["side"] or "", found["depth"] or "") if found else ("", "")


def carry_label(action: str) -> tuple[str, str]:
    """Return (side, gap) of a carry, each "" where the scorer gave none.

    Examples
    --------
    >>> carry_label("(9:01) A.Example left tackle to XYZ 30 for 4 yards.")
    ('left', 'tackle')
    >>> carry_label("A.Example up the middle for no gain. Started right end.")
    ('middle', '')
    """
    end = _CARRY_END.search(action)
    found = _CARRY.search(action, 0, end.start() if end else len(action))
    if not found:
        return "", ""
    return found["side"] or found["middle"], found["gap"] or ""


def went_out(action: str) -> bool:
    """Return whether the ball carrier went out of bounds, before any fumble."""
    return _OUT.search(_FUMBLE.split(action, maxsplit=1)[0]) is not None


def is_touchback(action: str) -> bool:
    """Return whether the ball was dead in the end zone of the side that the offense attacks."""
    return "Touchback" in action


def yards_told(action: str) -> int | None:
    """Return the first yardage that the sentence tells, None where it tells none."""
    found = _YARDS.search(action)
    return None if not found else int(found["yards"] or 0)


def last_spot(action: str) -> Spot | None:
    """Return the last place of the ball that the sentence tells, None where it tells none.

    Examples
    --------
    >>> last_spot("A.Example kicks 69 yards from XYZ 35 to QRS -4. B.Sample to QRS 16 for 20 yards")
    Spot(club='QRS', line=16)
    """
    spot = None
    for found in _LANDMARKS.finditer(action):
        spot = Spot("", 50) if found["midfield"] else Spot(found["club"], int(found["line"]))
    return spot
