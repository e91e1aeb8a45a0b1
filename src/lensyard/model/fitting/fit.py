"""Fitting the outcome model on plays of any level, alone or held to a model that exists.

With a prior model every table starts from the prior's and moves as far as the new plays force it
(`lensyard.model.fitting.prior`), so a few games shift the answers a little and some seasons replace
them.
"""

from __future__ import annotations

import platform
from collections.abc import Callable, Sequence
from importlib.metadata import version
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import BoolArray, FloatArray
from lensyard.model import outcome_grid as grid
from lensyard.model.artifact import ModelManifest
from lensyard.model.fitting.design import (
    AIR_TERMS,
    DRIVE_TERMS,
    FOURTH_LEVELS,
    FOURTH_TERMS,
    GAIN_TERMS,
    GOING_TERMS,
    KIND_TERMS,
    HazardTerms,
    LengthCounts,
    count_lengths,
    fit_hazard,
)
from lensyard.model.fitting.prior import (
    AIR,
    CHOICES,
    DRIVES,
    FINE_PLAYS,
    FUMBLES,
    OUT,
    blend,
    fumbles_lost,
    kinds_of,
    prior_tables,
    require_enough,
    untold_parts,
)
from lensyard.model.fitting.splines import (
    Tables,
    axis_basis,
    fit_classes,
    product_basis,
    smooth_shares,
    stack_columns,
)
from lensyard.model.fitting.transitions import fit_transition_tables
from lensyard.model.outcome import OutcomeModel, air_bounds, gain_bounds, gains_of_kind
from lensyard.model.outcome_grid import AXES, StateGrid, axis_codes, codes
from lensyard.model.plays import (
    batch_of,
    choice_index,
    data_sha256,
    drive_snaps,
    gains_of,
    live_plays,
    recency_weight,
    select_seasons,
    without_unknown,
)
from lensyard.model.tables import ClassTables, HazardTables, terms_of

if TYPE_CHECKING:
    import pandas as pd

PRIOR_PLAYS: Final = 4000.0
"""How many plays a prior model counts for: about an eighth of a professional season."""
KIND_HALF_LIFE: Final = 8.0
"""Calling drifts: a season counts half after so many seasons."""
DRIVE_HALF_LIFE: Final = 8.0
FOURTH_HALF_LIFE: Final = 8.0
FOURTH_LEVEL_HALF_LIFE: Final = 0.5
"""How often clubs go, punt and kick by distance and zone is set to the last seasons: boldness came
in a jump, and a longer memory is years behind it."""
FOURTH_LEVEL_SEASONS: Final = 4
"""The level, and the drift that is carried on to the season asked for, is that of so many."""
AIR_HALF_LIFE: Final = 4.0
DRIVE_CARRY: Final = 0.25
"""How much of the fitted drift in how drives end is carried on beyond the last season."""


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
    progress: Callable[[str], None] = lambda _: None,
) -> OutcomeModel:
    """Fit the outcome model.

    - ``plays``: canonical plays (`lensyard.plays.schema`), kicks included; other seasons are
      ignored.
    - ``season_for``: the season that the drifting parts are set to; by default the one after the
      last fitted.
    - ``prior``, ``prior_plays``: a model to start from when plays are few, and how many plays it
      counts for.

    - ``progress``: takes a sentence before every part; what it raises ends the fit.

    What the plays cannot tell comes from the prior. Raises `DataError` if a column or a season is
    missing, there are too few plays, or kinds of play are missing that no prior stands in for.
    """
    chosen = select_seasons(plays, seasons)
    require_enough(chosen, alone=prior is None)
    untold = untold_parts(chosen) if prior is not None else ()
    chosen = without_unknown(chosen)
    live = live_plays(chosen)
    last = int(chosen["season"].max())
    season_for = season_for or last + 1
    counted = prior_plays if prior is not None else 0.0
    fitting = _Fitting(prior, counted, (season_for - last) / 10.0, untold)
    arrays: dict[str, np.ndarray] = {}
    for name, table in fitting.tables(chosen, live, progress).items():
        arrays[name] = table.astype(np.float16 if ":" in name else np.float32)
    manifest = ModelManifest(
        model_id=model_id,
        level=level,
        seasons=tuple(sorted(int(season) for season in seasons)),
        season_for=season_for,
        plays=len(live),
        data_sha256=data_sha256(chosen),
        arrays_sha256="",
        license=data_license,
        attribution=attribution,
        seed=0,
        versions=library_versions(),
        prior=prior.model_id if prior is not None else "",
        prior_plays=counted,
        from_prior=tuple(untold),
        note=note,
    )
    return OutcomeModel(arrays, manifest)


def library_versions() -> dict[str, str]:
    """Return the versions of Python and of the libraries that a fit goes through."""
    names = ("numpy", "pandas", "scipy")
    return {"python": platform.python_version(), **{name: version(name) for name in names}}


class _Fitting:
    """The parts of one fit; each returns its tables by stored name."""

    def __init__(
        self,
        prior: OutcomeModel | None,
        prior_plays: float,
        ahead: float,
        untold: Sequence[str],
    ) -> None:
        self._prior = prior
        self._prior_plays = prior_plays
        self._ahead = ahead
        self._untold = untold

    def tables(
        self, chosen: pd.DataFrame, live: pd.DataFrame, progress: Callable[[str], None]
    ) -> Tables:
        """Return all tables: ``chosen`` are all plays, ``live`` those from scrimmage."""
        tables: Tables = {}
        if self._prior is not None and len(live) < FINE_PLAYS:
            for name, table in self._prior.arrays.items():
                if ":" in name:
                    tables[name] = table.astype(np.float64)
        else:
            progress("fitting kinds of play")
            tables |= self._kinds(live)
            progress("fitting how drives end, and fourth downs")
            tables |= {**self._drives(chosen), **self._fourth_downs(chosen)}
            progress("fitting yards gained and yards in the air")
            tables |= {**self._gains(live), **self._air(live)}
        progress("counting what follows a snap")
        return {
            **tables,
            **self._small_tables(live),
            **fit_transition_tables(
                chosen,
                ahead=self._ahead,
                prior=self._prior,
                prior_plays=self._prior_plays,
                untold=self._untold,
            ),
        }

    def _kinds(self, live: pd.DataFrame) -> Tables:
        """P(kind)."""
        return fit_classes(
            "kind",
            live,
            kinds_of(live, self._prior, "kind"),
            terms=KIND_TERMS,
            classes=len(grid.KINDS),
            half_life=KIND_HALF_LIFE,
            ahead=0.0,
            prior=None if self._prior is None else self._prior.kind,
            prior_plays=self._prior_plays,
        )

    def _drives(self, chosen: pd.DataFrame) -> Tables:
        """P(how the drive ends | no kick on fourth down): all snaps, then what fourth downs add."""
        if self._prior is not None and DRIVES in self._untold:
            return prior_tables(self._prior, "drive")
        known, classes = drive_snaps(chosen), len(grid.DRIVE_ENDS)
        shape = fit_classes(
            "drive",
            known,
            codes(known["drive_end"], grid.DRIVE_ENDS),
            terms=DRIVE_TERMS,
            classes=classes,
            half_life=DRIVE_HALF_LIFE,
            ahead=DRIVE_CARRY * self._ahead,
            prior=None if self._prior is None else self._prior.drive,
            prior_plays=self._prior_plays,
        )
        going = known[known["down"] == 4]
        return shape if going.empty else going_tables(shape, going, prior_plays=self._prior_plays)

    def _fourth_downs(self, chosen: pd.DataFrame) -> Tables:
        """P(go, punt, kick | fourth down): a shape from all seasons, moved to the last ones."""
        if self._prior is not None and CHOICES in self._untold:
            return prior_tables(self._prior, "fourth")
        fourth = chosen[(chosen["down"] == 4) & chosen["kind"].isin(grid.CHOICE_OF_KIND)]
        classes = len(grid.FOURTH_DOWN_CHOICES)
        shape = fit_classes(
            "fourth",
            fourth,
            choice_index(fourth),
            terms=FOURTH_TERMS,
            classes=classes,
            half_life=FOURTH_HALF_LIFE,
            ahead=0.0,
            prior=None if self._prior is None else self._prior.fourth,
            prior_plays=self._prior_plays,
        )
        recent = fourth[fourth["season"] > fourth["season"].max() - FOURTH_LEVEL_SEASONS]
        return fit_classes(
            "fourth",
            recent,
            choice_index(recent),
            terms=FOURTH_LEVELS,
            classes=classes,
            half_life=FOURTH_LEVEL_HALF_LIFE,
            ahead=self._ahead,
            prior=ClassTables(terms_of(shape, "fourth", classes)),
            prior_plays=self._prior_plays,
        )

    def _hazard(
        self,
        part: str,
        counts: LengthCounts,
        terms: HazardTerms,
        possible: BoolArray,
        prior: HazardTables | None,
    ) -> Tables:
        if prior is not None and counts.ended.sum() == 0:
            return {f"{part}:{name}": table for name, table in prior.by_name().items()}
        fitted = fit_hazard(
            counts, terms, possible=possible, prior=prior, prior_plays=self._prior_plays
        )
        return {f"{part}:{name}": table for name, table in fitted.items()}

    def _gains(self, live: pd.DataFrame) -> Tables:
        """P(gain | kind)."""
        tables: Tables = {}
        for kind in grid.MOVING_KINDS:
            lengths = gains_of_kind(kind).shape[0]
            plays = live[live["kind"] == kind]
            counts = count_lengths(
                axis_codes(batch_of(plays)),
                length_index=np.minimum(gains_of(plays) - grid.GAIN_MIN_YD, lengths - 1),
                lengths=lengths,
            )
            possible = gain_bounds(kind)[:, :lengths] == 0.0
            prior = None if self._prior is None else self._prior.gain[kind]
            tables |= self._hazard(f"gain_{kind}", counts, GAIN_TERMS[kind], possible, prior)
        return tables

    def _air(self, live: pd.DataFrame) -> Tables:
        """P(yards in the air | incompletion or interception)."""
        tables: Tables = {}
        for kind in grid.THROWN_KINDS:
            plays = live[(live["kind"] == kind) & live["air_yd"].notna()]
            yardline = plays["yardline_100"].to_numpy(dtype=np.int64)
            longest = np.minimum(yardline + grid.END_ZONE_YD, grid.AIR_MAX_YD)
            air = plays["air_yd"].to_numpy(dtype=np.float64).astype(np.int64)
            counts = count_lengths(
                axis_codes(batch_of(plays)),
                length_index=np.clip(air, grid.AIR_MIN_YD, longest) - grid.AIR_MIN_YD,
                lengths=grid.AIR_YD.shape[0],
                weight=recency_weight(plays, AIR_HALF_LIFE),
            )
            prior = None if self._prior is None else self._prior.air[kind]
            tables |= self._hazard(
                # Depths behind the own goal line count as possible: too few throws to matter.
                f"air_{kind}",
                counts,
                AIR_TERMS[kind],
                air_bounds() >= 0.0,
                prior,
            )
        return tables

    def _small_tables(self, live: pd.DataFrame) -> Tables:
        """Fumbles lost, out of bounds, touchdown catches, comparable plays."""
        if self._prior is None:
            return fit_small_tables(live)
        tables = fit_small_tables(live)
        old = {name: self._prior.arrays[name].astype(np.float64) for name in tables}
        told = {name: len(live) for name in tables}
        told |= {n: 0 for part in self._untold for n in _SMALL_TABLES_OF.get(part, ())}
        mixed = {
            name: blend(table, old[name], plays=told[name], prior_plays=self._prior_plays)
            for name, table in tables.items()
        }
        for at, kind in enumerate(grid.CARRIED_KINDS):
            if not (live["kind"] == kind).any():
                mixed["out_of_bounds"][at] = old["out_of_bounds"][at]
        share = self._prior_plays / max(self._prior.manifest.plays, 1)
        mixed["comparable_plays"] = tables["comparable_plays"] + share * old["comparable_plays"]
        return mixed


def going_tables(shape: Tables, going: pd.DataFrame, *, prior_plays: float) -> Tables:
    """Return P(how the drive ends) moved to plays from scrimmage on fourth down.

    ``shape``: its tables, fitted on all downs; ``prior_plays`` as of `fit_outcome`.
    """
    classes = len(grid.DRIVE_ENDS)
    tables = fit_classes(
        "drive",
        going,
        codes(going["drive_end"], grid.DRIVE_ENDS),
        terms=GOING_TERMS,
        classes=classes,
        half_life=DRIVE_HALF_LIFE,
        ahead=0.0,
        prior=ClassTables(terms_of(shape, "drive", classes)),
        prior_plays=prior_plays,
    )
    # Its intercept is fourth downs' alone.
    level = tables["drive:all"] - shape["drive:all"]
    by_zone = tables["drive:down*zone"].copy()
    by_zone[-by_zone.shape[0] // 4 :] += level
    return {**tables, "drive:all": shape["drive:all"], "drive:down*zone": by_zone}


_SMALL_TABLES_OF: Final = {
    AIR: ("caught_in_end_zone", "caught_depth"),
    OUT: ("out_of_bounds",),
    FUMBLES: ("fumble_lost",),
}
"""The plain tables that a part which plays cannot tell leaves to the prior."""
COMPARABLE_WITHIN_YD: Final = 5

OUT_OF_BOUNDS_SEASONS: Final = 2
"""Scorers write "out of bounds" more often every year, so only so many last seasons count."""


def fit_small_tables(live: pd.DataFrame) -> dict[str, FloatArray]:
    """Return the plain tables of a model from its plays, by stored name."""
    share, depth = _touchdown_catches(live)
    return {
        "fumble_lost": fumbles_lost(live),
        "out_of_bounds": np.stack([_out_of_bounds(live, kind) for kind in grid.CARRIED_KINDS]),
        "caught_in_end_zone": share,
        "caught_depth": depth,
        "comparable_plays": _comparable(live),
    }


def _comparable(live: pd.DataFrame) -> FloatArray:
    """Return how many plays of a down and distance band lie within 5 yd, (bands, yard lines)."""
    states = StateGrid()
    counts = np.bincount(states.index_of(batch_of(live)), minlength=states.size)
    padded = np.pad(
        counts.reshape(-1, grid.YARDLINES),
        ((0, 0), (COMPARABLE_WITHIN_YD + 1, COMPARABLE_WITHIN_YD)),
    )
    below = np.cumsum(padded, axis=1)
    width = 2 * COMPARABLE_WITHIN_YD + 1
    return (below[:, width:] - below[:, :-width]).astype(np.float64)


def _out_of_bounds(live: pd.DataFrame, kind: str) -> FloatArray:
    """Return P(out of bounds | context, gain) short of the goal line, shape (contexts, G)."""
    recent = live["season"] > live["season"].max() - OUT_OF_BOUNDS_SEASONS
    plays = live[(live["kind"] == kind) & ~live["touchdown"] & recent]
    contexts, g = AXES["context"].size, grid.GAINS_YD.shape[0]
    gain = axis_basis(
        grid.GAINS_YD.astype(np.float64), [-6, -3, -1, 0, 2, 4, 6, 9, 12, 16, 20, 30, 50]
    )
    slope = axis_basis(grid.GAINS_YD.astype(np.float64), [0, 12])
    by_context = np.eye(contexts)[:, 1:]
    every = product_basis([np.ones((contexts, 1)), gain])
    design = stack_columns([every, product_basis([by_context, slope])]).astype(np.float32)
    cell = axis_codes(batch_of(plays))["context"] * g + gains_of(plays) - grid.GAIN_MIN_YD
    out = plays["out_of_bounds"].to_numpy(dtype=np.float64)
    return smooth_shares(design, cell, out, penalty=1.0).reshape(contexts, g)


def _touchdown_catches(live: pd.DataFrame) -> tuple[FloatArray, FloatArray]:
    """Return the share of touchdown catches made in the end zone by yard line, and how deep.

    Shapes (99,) and (11,).
    """
    caught = live[(live["kind"] == "complete") & live["touchdown"] & live["air_yd"].notna()]
    yardline = caught["yardline_100"].to_numpy(dtype=np.int64)
    behind = caught["air_yd"].to_numpy(dtype=np.float64).astype(np.int64) - yardline
    basis = product_basis([axis_basis(AXES["yardline"], [1, 3, 6, 10, 20, 35, 50, 70])])
    share = smooth_shares(basis, yardline - 1, behind >= 0, penalty=1.0)
    depth = np.bincount(
        np.clip(behind[behind >= 0], 0, grid.END_ZONE_YD), minlength=grid.END_ZONE_YD + 1
    )
    smoothed = depth + 1.0
    return share, smoothed / smoothed.sum()
