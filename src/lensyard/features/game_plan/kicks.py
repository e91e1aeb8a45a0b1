"""What becomes of a kick: where a punt or a field goal would be photographed on fourth down.

Kicking plays: where to stand for returns, from counted kicks; common practice for the rest.

The returner runs against the kicking team's direction, so a return is photographed like a play of
the other side: from ahead of the returner. The source has no sideways place for kicks, so only the
distance along the field is known; spots on both sidelines are equal.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.domain.assignment import Faces
from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, OPPONENT_GOAL_LINE_X_YD
from lensyard.domain.places import spot_label, yard_line_text
from lensyard.domain.situation import Situation
from lensyard.errors import ModelError
from lensyard.features.game_plan.rows import KickRow
from lensyard.model.artifact import load_kicks
from lensyard.model.context import Context
from lensyard.model.kicks import KickOutlook
from lensyard.model.outcome_grid import FOURTH_DOWN_CHOICES, X_YD
from lensyard.planner.season import PlayedSeason
from lensyard.spots.scorer import Scorer

if TYPE_CHECKING:
    from lensyard.model.context import Context
    from lensyard.model.kicks import KickModel


HOLDER_BEHIND_YD: Final = 7
"""A field goal is kicked so far behind the line of scrimmage (the usual 7 to 8 yd)."""
QUANTILES: Final = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True)
class PuntPicture:
    """Where a punt comes down and where its return ends, in the kicking team's play frame.

    Attributes
    ----------
    down_x_yd, end_x_yd
        The 10, 50 and 90 % points along the field. [yd]
    p_result
        By name: returned, fair_catch, downed, out_of_bounds, touchback, blocked, recovered, other.
    p_return_touchdown
        P(the return goes for a touchdown).
    """

    down_x_yd: tuple[float, float, float]
    end_x_yd: tuple[float, float, float]
    p_result: dict[str, float]
    p_return_touchdown: float


@dataclass(frozen=True, slots=True)
class FieldGoalPicture:
    """A field-goal try, in the kicking team's play frame.

    Attributes
    ----------
    distance_yd
        From the spot of the kick to the posts. [yd]
    p_made, p_blocked
        Of the try.
    kick_x_yd, line_x_yd, posts_x_yd
        The holder and kicker, the line where blocks happen, and the posts. [yd]
    """

    distance_yd: float
    p_made: float
    p_blocked: float
    kick_x_yd: float
    line_x_yd: float
    posts_x_yd: float


@dataclass(frozen=True, slots=True)
class KickOutlookOnFourth:
    """What the offense is likely to do on fourth down, and the pictures of either kick.

    ``p_go``, ``p_punt`` and ``p_field_goal`` sum to 1. A picture of a kick that nobody would try
    from there is still given; its probability says so.
    """

    p_go: float
    p_punt: float
    p_field_goal: float
    punt: PuntPicture
    field_goal: FieldGoalPicture
    model_id: str


def kicks_of(context: Context) -> KickModel:
    """Return the kicks of a context's model; read once a process.

    Raises
    ------
    ModelError
        If the model has none, or is neither bundled nor known by its path.
    """
    from lensyard.config import models_dir

    path = models_dir() / f"{context.model.model_id}.npz"
    if not path.is_file():
        raise ModelError(
            f"the kicks of model {context.model.model_id} are read from its file; load them with "
            "lensyard.model.artifact.load_kicks(path)"
        )
    return _kicks_at(path)


@cache
def _kicks_at(path: Path) -> KickModel:
    return load_kicks(path)


def kick_outlook(
    situation: Situation,
    *,
    context: Context | None = None,
    kicks: KickModel | None = None,
) -> KickOutlookOnFourth:
    """Return what a kick from this situation would look like, as if it were fourth down.

    Parameters
    ----------
    situation
        Down does not matter: the choice is that of a fourth down.
    context
        The model; the bundled one by default.
    kicks
        Its kicks; read from its file by default.

    Raises
    ------
    ModelError
        If the model holds no kicks.
    """
    from lensyard.model.context import load_context

    context = context or load_context()
    kicks = kicks or kicks_of(context)
    choice = context.forecast(situation).p_fourth_down_choice[0]
    p = dict(zip(FOURTH_DOWN_CHOICES, (float(share) for share in choice), strict=True))
    return KickOutlookOnFourth(
        p_go=p["go"],
        p_punt=p["punt"],
        p_field_goal=p["kick"],
        punt=_punt(kicks, situation),
        field_goal=_field_goal(kicks, situation),
        model_id=context.model.model_id,
    )


def _punt(kicks: KickModel, situation: Situation) -> PuntPicture:
    from lensyard.model.kicks import KICK_RESULTS

    outlook = kicks.punt(yardline_100=situation.yardline_100)
    return PuntPicture(
        down_x_yd=_quantiles(outlook.down_x),
        end_x_yd=_quantiles(outlook.end_x),
        p_result=dict(zip(KICK_RESULTS, (float(p) for p in outlook.p_result), strict=True)),
        p_return_touchdown=outlook.p_return_touchdown,
    )


def _field_goal(kicks: KickModel, situation: Situation) -> FieldGoalPicture:
    posts = float(FIELD_LENGTH_YD)  # on the end line in every rule set here
    kick_x = OPPONENT_GOAL_LINE_X_YD - situation.yardline_100 - HOLDER_BEHIND_YD
    distance = np.array([posts - kick_x])
    return FieldGoalPicture(
        distance_yd=float(distance[0]),
        p_made=float(kicks.p_field_goal_made(distance)[0]),
        p_blocked=float(kicks.p_field_goal_blocked(distance)[0]),
        kick_x_yd=kick_x,
        line_x_yd=situation.line_of_scrimmage_x_yd,
        posts_x_yd=posts,
    )


def _quantiles(pmf: np.ndarray) -> tuple[float, float, float]:
    """Return the yard lines at which `QUANTILES` of the mass have been passed. [yd]"""
    below = np.cumsum(pmf) / pmf.sum()
    low, middle, high = (float(np.searchsorted(below, q)) for q in QUANTILES)
    return low, middle, high


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
        kicks = kicks_of(context)
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
