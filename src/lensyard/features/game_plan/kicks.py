"""Kicking plays: where to stand for returns, from counted kicks; common practice for the rest.

The returner runs against the kicking team's direction, so a return is photographed like a play of
the other side: from ahead of the returner. The source has no sideways place for kicks, so only the
distance along the field is known; spots on both sidelines are equal.
"""

from __future__ import annotations

import numpy as np

from lensyard.domain.assignment import Faces
from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, OPPONENT_GOAL_LINE_X_YD
from lensyard.domain.places import spot_label, yard_line_text
from lensyard.errors import ModelError
from lensyard.features.game_plan.result import KickRow
from lensyard.model.context import Context
from lensyard.model.kicks import KickOutlook
from lensyard.model.outcome_grid import X_YD
from lensyard.planner.season import PlayedSeason
from lensyard.spots.scorer import Scorer

# The median of the bundled plays' punts.
USUAL_PUNT_YARDLINE_100 = 67

_PRACTICE = "common practice, from memory; no plays are counted for it"


_FIELD_GOAL = KickRow(
    "field-goal",
    "field goal and kicked try",
    "on a sideline a few yards ahead of the line of scrimmage, for the kicker's face and a block "
    "at the line",
    None,
    None,
    None,
    None,
    f"{_PRACTICE}; keep clear of the net and of whoever catches the ball behind the goal",
)


def kick_rows(context: Context, season: PlayedSeason) -> tuple[KickRow, ...]:
    """Return where to stand for punts, kickoffs, field goals and tries.

    A model without kicks leaves common practice.
    """
    try:
        kicks = context.kicks()
    except ModelError:
        return (_returns_by_practice(), _FIELD_GOAL)
    first = season.solved.scorers[0]
    returns = Scorer(
        first.perimeter, first.kit, first.direction, Faces.DEFENSE, first.facing_limit_deg
    )
    punt = kicks.punt(yardline_100=USUAL_PUNT_YARDLINE_100)
    from_line = 100 - round(float(kicks.kickoff_yard_line[0]))
    return (
        _return_row("punt", "punt return", returns, punt, USUAL_PUNT_YARDLINE_100),
        _return_row("kickoff", "kickoff return", returns, kicks.kickoff(), from_line),
        _FIELD_GOAL,
    )


def _returns_by_practice() -> KickRow:
    return KickRow(
        "return",
        "punt and kickoff return",
        "on a sideline ahead of the returner, toward the kicking team's side",
        None,
        None,
        None,
        None,
        _PRACTICE,
    )


def _return_row(
    key: str, title: str, scorer: Scorer, outlook: KickOutlook, yardline_100: int
) -> KickRow:
    mass = outlook.end_cells().astype(np.float32)
    mass[X_YD > OPPONENT_GOAL_LINE_X_YD] = 0.0  # touchbacks, of which nobody wants a frame
    p = np.where(scorer.open, scorer.expected_value(mass[np.newaxis])[0], -1.0)
    best = int(np.round(p, 5).argmax())
    x, y = (float(a[best]) for a in scorer.xy_yd)
    line_x = OPPONENT_GOAL_LINE_X_YD - yardline_100
    returned = float(outlook.p_result[0])
    return KickRow(
        key=key,
        title=title,
        where=_where(x_yd=x, y_yd=y, line_x_yd=line_x),
        label=_label(x_yd=x, y_yd=y),
        x_yd=x,
        y_yd=y,
        p_usable=float(p[best]),
        note=f"kicked from {yard_line_text(line_x)}; {returned:.0%} of these kicks are returned; "
        f"{outlook.p_return_touchdown:.1%} go all the way",
    )


def _label(*, x_yd: float, y_yd: float) -> str:
    """A spot's label with the teams called by what they do."""
    words = spot_label(x_yd=x_yd, y_yd=y_yd)
    return words.replace("offense", "kicking team").replace("opponent", "receiving team")


def _where(*, x_yd: float, y_yd: float, line_x_yd: float) -> str:
    if 0 <= y_yd <= FIELD_WIDTH_YD:
        end = "receiving" if x_yd > FIELD_LENGTH_YD else "kicking"
        return f"behind the {end} team's end line"
    ahead = x_yd - line_x_yd
    way = "downfield of" if ahead >= 0 else "behind"
    return f"{abs(ahead):.0f} yd {way} the line of the kick, either sideline"
