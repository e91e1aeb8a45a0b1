"""What becomes of a kick: where a punt or a field goal would be photographed on fourth down."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.domain.field import FIELD_LENGTH_YD, OPPONENT_GOAL_LINE_X_YD
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.errors import ModelError
from lensyard.model.artifact import load_kicks
from lensyard.model.outcome import FOURTH_DOWN_CHOICES

if TYPE_CHECKING:
    from lensyard.model.kicks import KickModel
    from lensyard.service.context import Context

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
    from lensyard.data.bundled import models_dir

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
    from lensyard.service.context import load_context

    context = context or load_context()
    kicks = kicks or kicks_of(context)
    choice = context.model.fourth_down_decision(SituationBatch.of([situation]))[0]
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
    from lensyard.model.kick_counts import KICK_RESULTS

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
