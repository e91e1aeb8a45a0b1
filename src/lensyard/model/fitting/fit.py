"""Fitting the outcome model on plays of any level, alone or held to a model that exists.

With a prior model every table starts from the prior's and moves as far as the new plays force it:
the prior counts for `PRIOR_PLAYS` plays of its own (`splines.prior_penalty`), so a few games shift
the answers a little and some seasons replace them.

Counting kicks: results and places by line of scrimmage, smoothed over neighboring lines.
"""

from __future__ import annotations

import platform
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import OPPONENT_GOAL_LINE_X_YD, OWN_GOAL_LINE_X_YD
from lensyard.errors import DataError
from lensyard.model.axes import axis_codes
from lensyard.model.fitting.design import (
    AIR_TERMS,
    DRIVE_TERMS,
    FOURTH_TERMS,
    GAIN_TERMS,
    KIND_TERMS,
)
from lensyard.model.fitting.hazard_fit import count_lengths, fit_hazard
from lensyard.model.fitting.small_tables import fit_small_tables
from lensyard.model.fitting.splines import ClassTarget, Term, fit_class_tables
from lensyard.model.fitting.transitions import fit_transition_tables
from lensyard.model.manifest import ModelManifest
from lensyard.model.outcome import OutcomeModel, air_bounds, gain_bounds, gains_of_kind
from lensyard.model.outcome_grid import (
    AIR_MAX_YD,
    AIR_MIN_YD,
    AIR_YD,
    DEEP_X,
    DRIVE_ENDS,
    END_ZONE_YD,
    FOURTH_DOWN_CHOICES,
    GAIN_MIN_YD,
    KINDS,
    MOVING_KINDS,
    N_DEEP,
    N_X,
    THROWN_KINDS,
    FloatArray,
)
from lensyard.model.plays import (
    batch_of,
    data_sha256,
    gains_of,
    kind_index,
    live_plays,
    recency_weight,
    seasons_back,
    select_seasons,
)

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.tables import ClassTables


PRIOR_PLAYS: Final = 4000.0
"""How many plays a prior model counts for: about an eighth of a professional season."""
KIND_HALF_LIFE: Final = 8.0
"""Calling drifts: a season counts half after so many seasons."""
DRIVE_HALF_LIFE: Final = 8.0
FOURTH_HALF_LIFE: Final = 4.0
AIR_HALF_LIFE: Final = 4.0
DRIVE_CARRY: Final = 0.25
"""How much of the fitted drift in how drives end is carried on beyond the last season."""
FOURTH_CARRY: Final = 0.5
"""The same for choices on fourth down. Kinds of play stay where the last season was."""
MIN_PLAYS: Final = 200
"""Fewer plays than this are refused."""

Tables = dict[str, FloatArray]


def fit_outcome(
    plays: pd.DataFrame,
    *,
    seasons: Sequence[int],
    model_id: str,
    season_for: int | None = None,
    level: str = "professional",
    prior: OutcomeModel | None = None,
    prior_plays: float = PRIOR_PLAYS,
    data_license: str = "",
    attribution: str = "",
    note: str = "",
) -> OutcomeModel:
    """Fit the outcome model.

    Parameters
    ----------
    plays
        Canonical plays (`lensyard.plays.schema`), kicks included; other seasons are ignored.
    seasons
        Which regular seasons to fit.
    model_id
        The name of the new model.
    season_for
        The season that the drifting parts are set to; by default the one after the last fitted.
    level
        Level of play, for the manifest.
    prior
        A model to start from when plays are few.
    prior_plays
        How many plays the prior counts for.
    data_license, attribution, note
        For the manifest.

    Returns
    -------
    OutcomeModel

    Raises
    ------
    DataError
        If a column or a season is missing, or there are fewer than `MIN_PLAYS` plays.
    """
    chosen = select_seasons(plays, seasons)
    live = live_plays(chosen)
    if len(live) < MIN_PLAYS:
        raise DataError(f"{len(live)} plays are too few to fit; import at least {MIN_PLAYS}")
    lacking = sorted(set(KINDS) - set(live["kind"].unique()))
    if lacking:
        raise DataError(
            f"among {len(live)} plays is no {' and no '.join(lacking)}: a model needs at least one "
            "of each kind. Import more plays, or check how the source names its plays"
        )
    last = int(chosen["season"].max())
    ahead = ((season_for or last + 1) - last) / 10.0
    fitting = _Fitting(prior, prior_plays if prior is not None else 0.0, ahead)
    arrays: dict[str, np.ndarray] = {}
    parts = {
        **fitting.kinds(live),
        **fitting.drives(live),
        **fitting.fourth_downs(chosen),
        **fitting.gains(live),
        **fitting.air(live),
        **fitting.small_tables(live),
        **fit_transition_tables(
            chosen,
            ahead=ahead,
            prior=prior,
            prior_plays=prior_plays if prior is not None else 0.0,
        ),
    }
    for name, table in parts.items():
        arrays[name] = table.astype(np.float16 if ":" in name else np.float32)
    manifest = ModelManifest(
        model_id=model_id,
        level=level,
        seasons=tuple(sorted(int(season) for season in seasons)),
        season_for=season_for or last + 1,
        plays=len(live),
        data_sha256=data_sha256(chosen),
        arrays_sha256="",
        license=data_license,
        attribution=attribution,
        seed=0,
        versions=library_versions(),
        prior=prior.model_id if prior is not None else "",
        prior_plays=prior_plays if prior is not None else 0.0,
        note=note,
    )
    return OutcomeModel(arrays, manifest)


def library_versions() -> dict[str, str]:
    """Return the versions of Python and of the libraries that a fit goes through."""
    names = ("numpy", "pandas", "scipy")
    return {"python": platform.python_version(), **{name: version(name) for name in names}}


class _Fitting:
    """The parts of one fit; each returns its tables by stored name."""

    def __init__(self, prior: OutcomeModel | None, prior_plays: float, ahead: float) -> None:
        self._prior = prior
        self._prior_plays = prior_plays
        self._ahead = ahead

    def _classes(
        self,
        part: str,
        plays: pd.DataFrame,
        label: np.ndarray,
        *,
        terms: Sequence[Term],
        classes: int,
        half_life: float,
        carry: float,
    ) -> Tables:
        """Fit one set of class tables; ``label`` holds the class of each play."""
        prior: ClassTables | None = None if self._prior is None else getattr(self._prior, part)
        codes = axis_codes(batch_of(plays))
        share = np.zeros((len(plays), classes), dtype=np.float32)
        share[np.arange(len(plays)), label] = 1.0
        target = ClassTarget(
            codes=codes,
            share=share,
            weight=recency_weight(plays, half_life),
            trend=seasons_back(plays),
            offset=None if prior is None else prior.logits(codes).astype(np.float32),
            prior_plays=self._prior_plays,
        )
        tables = fit_class_tables(target, terms, ahead=carry * self._ahead)
        if prior is not None:
            for name, table in prior.by_name().items():
                tables[name] = table + tables.get(name, np.zeros(1))
        return {f"{part}:{name}": table for name, table in tables.items()}

    def kinds(self, live: pd.DataFrame) -> Tables:
        """P(kind)."""
        return self._classes(
            "kind",
            live,
            kind_index(live),
            terms=KIND_TERMS,
            classes=len(KINDS),
            half_life=KIND_HALF_LIFE,
            carry=0.0,
        )

    def drives(self, live: pd.DataFrame) -> Tables:
        """P(how the drive ends)."""
        known = live[live["drive_end"].isin(DRIVE_ENDS)]
        label = known["drive_end"].map({end: i for i, end in enumerate(DRIVE_ENDS)})
        return self._classes(
            "drive",
            known,
            label.to_numpy(dtype=np.int64),
            terms=DRIVE_TERMS,
            classes=len(DRIVE_ENDS),
            half_life=DRIVE_HALF_LIFE,
            carry=DRIVE_CARRY,
        )

    def fourth_downs(self, chosen: pd.DataFrame) -> Tables:
        """P(go, punt, kick | fourth down)."""
        choice = {**dict.fromkeys(KINDS, 0), "punt": 1, "field_goal": 2}
        fourth = chosen[(chosen["down"] == 4) & chosen["kind"].isin(choice)]
        if fourth.empty:
            raise DataError("there are no fourth downs among the plays; import whole games")
        return self._classes(
            "fourth",
            fourth,
            fourth["kind"].map(choice).to_numpy(dtype=np.int64),
            terms=FOURTH_TERMS,
            classes=len(FOURTH_DOWN_CHOICES),
            half_life=FOURTH_HALF_LIFE,
            carry=FOURTH_CARRY,
        )

    def gains(self, live: pd.DataFrame) -> Tables:
        """P(gain | kind)."""
        tables: Tables = {}
        for kind in MOVING_KINDS:
            lengths = gains_of_kind(kind).shape[0]
            possible = gain_bounds(kind)[:, :lengths] == 0.0
            plays = live[live["kind"] == kind]
            counts = count_lengths(
                axis_codes(batch_of(plays)),
                length_index=np.minimum(gains_of(plays) - GAIN_MIN_YD, lengths - 1),
                lengths=lengths,
                weight=np.ones(len(plays)),
            )
            prior = None if self._prior is None else self._prior.gain[kind]
            fitted = fit_hazard(
                counts,
                GAIN_TERMS[kind],
                possible=possible,
                prior=prior,
                prior_plays=self._prior_plays,
            )
            tables |= {f"gain_{kind}:{name}": table for name, table in fitted.items()}
        return tables

    def air(self, live: pd.DataFrame) -> Tables:
        """P(yards in the air | incompletion or interception)."""
        possible = air_bounds() == 0.0
        tables: Tables = {}
        for kind in THROWN_KINDS:
            plays = live[(live["kind"] == kind) & live["air_yd"].notna()]
            yardline = plays["yardline_100"].to_numpy(dtype=np.int64)
            longest = np.minimum(yardline + END_ZONE_YD, AIR_MAX_YD)
            air = plays["air_yd"].to_numpy(dtype=np.float64).astype(np.int64)
            counts = count_lengths(
                axis_codes(batch_of(plays)),
                length_index=np.clip(air, AIR_MIN_YD, longest) - AIR_MIN_YD,
                lengths=AIR_YD.shape[0],
                weight=recency_weight(plays, AIR_HALF_LIFE),
            )
            prior = None if self._prior is None else self._prior.air[kind]
            fitted = fit_hazard(
                counts,
                AIR_TERMS[kind],
                possible=possible,
                prior=prior,
                prior_plays=self._prior_plays,
            )
            tables |= {f"air_{kind}:{name}": table for name, table in fitted.items()}
        return tables

    def small_tables(self, live: pd.DataFrame) -> Tables:
        """Fumbles lost, out of bounds, touchdown catches, comparable plays."""
        tables = fit_small_tables(live)
        if self._prior is None:
            return tables
        old = self._prior_plays / (self._prior_plays + len(live))
        mixed = {
            name: old * self._prior.arrays[name].astype(np.float64) + (1 - old) * table
            for name, table in tables.items()
        }
        share = self._prior_plays / max(self._prior.manifest.plays, 1)
        prior_near = self._prior.arrays["comparable_plays"].astype(np.float64)
        mixed["comparable_plays"] = tables["comparable_plays"] + share * prior_near
        return mixed


IntArray = NDArray[np.int64]

KICK_RESULTS: Final = (
    "returned",
    "fair_catch",
    "downed",
    "out_of_bounds",
    "touchback",
    "blocked",
    "recovered",
    "other",
)
RETURNED, OUT_OF_BOUNDS, TOUCHBACK = (
    KICK_RESULTS.index(name) for name in ("returned", "out_of_bounds", "touchback")
)
RETURN_TOUCHDOWN_X: Final = int(OWN_GOAL_LINE_X_YD) - 1

_FROM_YD: Final = 60  # index of a kick of length 0 in the arrays over distance
_N_DISTANCES: Final = 181
_BANDWIDTH_YD: Final = 2.0
_WIDE_YD: Final = 10.0
_WIDE_SHARE: Final = 0.02


@dataclass(frozen=True, slots=True)
class KickCounts:
    """Counts by yardline_100 - 1, (99, ...); distances are counted along the kick.

    Touchbacks and return touchdowns have fixed places and are not in ``end`` and ``out``.
    """

    result: FloatArray
    down: FloatArray
    end: FloatArray
    out: FloatArray
    return_touchdown: FloatArray


def count_kicks(kicks: pd.DataFrame) -> KickCounts:
    """Count canonical plays of one kind of kick."""
    line = kicks["yardline_100"].to_numpy(dtype=np.int64)
    lookup = {name: i for i, name in enumerate(KICK_RESULTS)}
    other = lookup["other"]
    result = np.array([lookup.get(name, other) for name in kicks["kick_result"]])
    scored = kicks["return_touchdown"].to_numpy(dtype=bool)
    length = np.nan_to_num(kicks["kick_distance_yd"].to_numpy(dtype=np.float64))
    end = line - np.nan_to_num(kicks["end_yardline_100"].to_numpy(dtype=np.float64))
    free = ~scored & (result != TOUCHBACK)
    kicked_out = free & (result == OUT_OF_BOUNDS)
    return KickCounts(
        result=_tally(line, result, len(KICK_RESULTS)),
        down=_tally(line, length + _FROM_YD, _N_DISTANCES),
        end=_tally(line[free], end[free] + _FROM_YD, _N_DISTANCES),
        out=_tally(line[kicked_out], end[kicked_out] + _FROM_YD, _N_DISTANCES),
        return_touchdown=_tally(line[scored], np.zeros(int(scored.sum())), 1)[:, 0],
    )


def _tally(line: IntArray, column: NDArray[Any], width: int) -> FloatArray:
    counts = np.zeros((99, width))
    np.add.at(counts, (line - 1, np.clip(column, 0, width - 1).astype(np.int64)), 1.0)
    return counts


@dataclass(frozen=True, slots=True)
class KickShares:
    """Shares by line of scrimmage, (m, ...), places along the field in the play frame."""

    result: FloatArray
    down_x: FloatArray
    end_x: FloatArray
    out_x: FloatArray
    return_touchdown: FloatArray

    @staticmethod
    def over(counted: KickCounts, lines: IntArray) -> KickShares:
        """Smooth the counts over neighboring lines of scrimmage.

        A normal kernel of 2 yd, and a fiftieth part of one of 10 yd for lines that hardly ever
        occur. Lengths are smoothed, not places, so a punt from the 30 teaches one from the 31.
        """
        apart = lines[:, np.newaxis] - np.arange(1, 100)
        kernel = np.exp(-0.5 * (apart / _BANDWIDTH_YD) ** 2)
        kernel += _WIDE_SHARE * np.exp(-0.5 * (apart / _WIDE_YD) ** 2)
        total = kernel @ counted.result.sum(axis=1)
        share = kernel / total[:, np.newaxis]
        result = share @ counted.result
        scored = share @ counted.return_touchdown
        goal = int(OPPONENT_GOAL_LINE_X_YD)
        end_x = _placed(share @ counted.end, lines, high=goal - 1)
        end_x[:, DEEP_X] += result[:, TOUCHBACK, np.newaxis] / N_DEEP
        end_x[:, RETURN_TOUCHDOWN_X] += scored
        # A touchback that is returned for a touchdown by a slip of the scorer counts twice.
        whole = end_x.sum(axis=1, keepdims=True)
        return KickShares(
            result=result,
            down_x=_placed(share @ counted.down, lines, high=DEEP_X.stop - 1),
            end_x=end_x / whole,
            out_x=_placed(share @ counted.out, lines, high=goal - 1) / whole,
            return_touchdown=scored / whole[:, 0],
        )


def _placed(by_length: FloatArray, lines: IntArray, *, high: int) -> FloatArray:
    """Return lengths as places along the field, (m, 121), nothing before 0 or beyond ``high``."""
    places = np.zeros((by_length.shape[0], N_X))
    length = np.arange(_N_DISTANCES) - _FROM_YD
    for row, line in enumerate(lines):
        x = np.clip(int(OPPONENT_GOAL_LINE_X_YD) - line + length, 0, high)
        np.add.at(places[row], x, by_length[row])
    return places
