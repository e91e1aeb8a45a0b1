"""Moving the levels of a fitted shape to counts of another age or level of play.

The shape is a model fitted on single plays; the counts are tables of kinds by down, distance and
spot, of gains by kind, and of what clubs did on fourth down. Counts know neither score nor clock,
so the shape's own plays stand for the situations of a cell: each is given the cell's share of what
happened, and what is fitted on top of the shape makes the shares of every cell the counted ones
(the gradient of the log-loss is the difference of the two), while what score, clock and neighboring
cells do stays the shape's.

Gains are counted in wider cells than the model has. A gain is spread over the states of its cell as
the shape says that it fell into each (the E-step of A. P. Dempster, N. M. Laird and D. B. Rubin,
"Maximum Likelihood from Incomplete Data via the EM Algorithm", J. R. Stat. Soc. B 39, 1977, 1-38);
the hazards are then fitted on what comes out (the M-step). One step is enough: states of a cell
differ little.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lensyard.arrays import AnyArray, Float32Array, FloatArray, IntArray
from lensyard.errors import DataError
from lensyard.model import outcome_grid as grid
from lensyard.model.artifact import load, load_kicks, save
from lensyard.model.context import BASE_MODEL, model_path
from lensyard.model.fitting.design import GAIN_TERMS, LengthCounts, count_lengths, fit_hazard
from lensyard.model.fitting.prior import (
    AIR,
    CHOICES,
    DRIVES,
    FLOW,
    FUMBLES,
    KICKS,
    OUT,
    kind_shares,
)
from lensyard.model.fitting.splines import ClassTarget, Term, fit_class_tables
from lensyard.model.outcome import OutcomeModel, gain_bounds
from lensyard.model.outcome_grid import axis_codes
from lensyard.model.plays import batch_of, gains_of, live_plays
from lensyard.model.tables import ClassTables, terms_of
from lensyard.plays.importing.catalog import BUNDLED
from lensyard.plays.store import load_plays

if TYPE_CHECKING:
    import pandas as pd

HALF_LIFE: Final = 0.5
"""Seasons: a season of counts weighs a quarter of the next one. From the mean of 2020 to 2024 to
the last of them passes inside the 5 fell by two points."""
BAND_YD: Final = {"kinds": 5, "fourth_downs": 5, "gains": 10}
"""How many yards of the field a row of each table of counts covers."""
DISTANCE_EDGES_YD: Final = np.array([1, 3, 7, 11])
"""Lower ends of the distances of a row of gains. [yd]"""
LAST_DISTANCE_YD: Final = {"kinds": 25, "fourth_downs": 20}
SHORTEST_YD: Final = -15
"""Counts of gains end here; a longer loss is counted as it. [yd]"""
SHAPE_PLAYS: Final = 1000.0
"""How many plays the shape counts for against the counts."""
CHOICE_LABELS: Final = ("go", "punt", "field_goal")
"""What the counts call `FOURTH_DOWN_CHOICES`."""
LEVEL_NAMES: Final = {"pro": "professional", "college": "college"}
LEVEL_SEASONS: Final = {"pro": (2020, 2021, 2022, 2023, 2024), "college": tuple(range(2014, 2019))}
ATTRIBUTIONS: Final = {
    "pro": "Levels: nflverse, CC-BY 4.0.",
    "college": "Levels: cfbscrapR data.",
}
COUNTS: Final = Path(__file__).with_name("levels.parquet")
"""PROVENANCE.md of the data says what is counted, and from whose plays."""
PLAYS_FROM: Final = 2013
"""The fitted seasons from here on stand for the situations of the counts."""
_NEAR: Final = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 20, 25)
_SPOTS: Final = (1, 3, 6, 9, 13, 18, 23, 28, 33, 38, 43, 50, 58, 68, 78, 88, 93, 98)
_KIND_LEVELS: Final = (
    Term({"down": None, "distance": _NEAR}, 2.0),
    Term({"down": None, "yardline": _SPOTS}, 2.0),
    Term({"down": None, "distance": (1, 2, 4, 7, 10), "goal": None}, 2.0),
    Term(
        {
            "down": None,
            "distance": (1, 2, 4, 7, 10, 15),
            "yardline": (1, 5, 10, 20, 30, 50, 70, 90, 99),
        },
        4.0,
    ),
)
_FOURTH_LEVELS: Final = (
    Term({"distance": (1, 2, 3, 4, 5, 7, 10, 15, 20)}, 0.5),
    Term({"yardline": (1, 3, 8, 13, 20, 28, 33, 38, 43, 48, 55, 65, 80, 99)}, 0.5),
    Term({"distance": (1, 2, 4, 8, 15), "zone": (1, 4, 10, 20, 33, 50, 72, 92)}, 0.5),
)
_NEXT_FOURTH_LEVELS: Final = (
    Term({"down": None, "distance": (1, 2, 3, 4, 5, 7, 10, 15, 20)}, 0.5),
    Term({"down": None, "yardline": (1, 3, 8, 13, 20, 28, 33, 38, 43, 48, 55, 65, 80, 99)}, 0.5),
    Term(
        {
            "down": None,
            "distance": (1, 3, 8, 15),
            "yardline": (1, 4, 10, 20, 30, 36, 42, 50, 60, 75),
        },
        0.5,
    ),
)


@dataclass(frozen=True, slots=True)
class LevelCounts:
    """Counts of one level of play.

    - ``level``: ``pro`` or ``college``.
    - ``table``: columns ``part`` (a key of `BAND_YD`), ``season`` (0: all in one), ``down``,
      ``distance`` and ``yardline`` (the first of the row's yards), ``label``, ``gain_yd``,
      ``plays``.
    """

    level: str
    table: pd.DataFrame

    def part(self, name: str) -> pd.DataFrame:
        """Return the rows of one part with their weights, recent seasons first, as ``plays``."""
        rows = self.table[self.table["part"] == name]
        if rows.empty:
            return rows
        back = rows["season"].max() - rows["season"]
        return rows.assign(plays=rows["plays"] * 0.5 ** (back / HALF_LIFE))


def level_counts(level: str) -> pd.DataFrame:
    """Return the counts of a level of play; `DataError` if there are none."""
    import pandas as pd

    table = pd.read_parquet(COUNTS)
    table = table[table["level"] == level].drop(columns="level").reset_index(drop=True)
    if table.empty:
        raise DataError(f"there are no counts of a level {level!r}")
    return table


def build_level(
    level: str, *, folder: Path, progress: Callable[[str], None] = lambda _: None
) -> Path:
    """Move the bundled shape to the counts of a level, save it, and return its file."""
    base = model_path(BASE_MODEL)
    shape = load(base)
    seasons = [season for season in shape.manifest.seasons if season >= PLAYS_FROM]
    plays = load_plays(seasons=seasons, season_type="REG", source=BUNDLED)
    counts = LevelCounts(level, level_counts(level))
    model = move_levels(shape, plays, counts, model_id=level, progress=progress)
    return save(model, folder, kicks=load_kicks(base))


def move_levels(
    shape: OutcomeModel,
    plays: pd.DataFrame,
    counts: LevelCounts,
    *,
    model_id: str,
    progress: Callable[[str], None] = lambda _: None,
) -> OutcomeModel:
    """Return the shape with its levels moved to counts.

    ``plays`` are canonical plays, kicks included, whose situations stand for those of the counts.
    Raises `DataError` if there are no counts of kinds or gains.
    """
    for name in ("kinds", "gains"):
        if counts.part(name).empty:
            raise DataError(f"there are no counts of {name} for the level {counts.level!r}")
    arrays: dict[str, AnyArray] = dict(shape.arrays)
    live = live_plays(plays)
    for part in ("kind", "next_kind"):
        progress(f"moving {part} to the counts")
        _add(arrays, part, _moved_kinds(shape, live, counts.part("kinds"), part))
    fourth = plays[(plays["down"] == 4) & plays["kind"].isin(grid.CHOICE_OF_KIND)]
    choices = counts.part("fourth_downs")
    if not choices.empty:
        progress("moving fourth downs to the counts")
        for part, terms in (("fourth", _FOURTH_LEVELS), ("next_choice", _NEXT_FOURTH_LEVELS)):
            target = _target(shape, fourth, choices, part, CHOICE_LABELS, "fourth_downs")
            _add(arrays, part, fit_class_tables(target, terms, ahead=0.0))
    gains = counts.part("gains")
    for kind in grid.MOVING_KINDS:
        rows = gains[gains["label"] == kind]
        if len(rows):
            progress(f"moving gains of {kind} to the counts")
            _add(arrays, f"gain_{kind}", _moved_gains(shape, live, rows, kind))
    moved = {
        name: array.astype(np.float16) if ":" in name else array for name, array in arrays.items()
    }
    return OutcomeModel(moved, _manifest(shape, counts, model_id))


def _manifest(shape: OutcomeModel, counts: LevelCounts, model_id: str) -> Any:
    """Return the manifest of the shape, with what its levels were counted on."""
    told = set(counts.table["label"])
    untold = [AIR, OUT, FUMBLES, DRIVES, FLOW, *KICKS.values()]
    untold += [] if set(CHOICE_LABELS) & told else [CHOICES]
    untold += [] if "scramble" in told else ["scrambles"]
    base, seasons = shape.manifest, LEVEL_SEASONS[counts.level]
    return replace(
        base,
        model_id=model_id,
        level=LEVEL_NAMES[counts.level],
        level_seasons=seasons,
        prior=base.model_id,
        from_prior=tuple(untold),
        arrays_sha256="",
        attribution=f"{base.attribution} {ATTRIBUTIONS[counts.level]}",
        note=(
            f"The shape is {base.model_id}; its kinds of play, gains"
            f"{' and fourth downs' if CHOICES not in untold else ''} are moved to counts of "
            f"{seasons[0]} to {seasons[-1]}."
        ),
    )


def _add(arrays: dict[str, AnyArray], part: str, tables: dict[str, FloatArray]) -> None:
    """Add tables to those of a part, by their axes."""
    for name, table in tables.items():
        key = f"{part}:{name}"
        arrays[key] = arrays.get(key, np.zeros(1)).astype(np.float64) + table


def _cells(plays: pd.DataFrame, part: str) -> pd.DataFrame:
    """Return the cell of counts of each play: down, distance, yardline."""
    import pandas as pd

    distance = plays["distance_yd"].to_numpy(dtype=np.int64)
    if part in LAST_DISTANCE_YD:
        distance = np.minimum(distance, LAST_DISTANCE_YD[part])
    else:
        at = np.searchsorted(DISTANCE_EDGES_YD, distance, side="right") - 1
        distance = DISTANCE_EDGES_YD[np.maximum(at, 0)]
    width = BAND_YD[part]
    yardline = (plays["yardline_100"].to_numpy(dtype=np.int64) - 1) // width * width + 1
    return pd.DataFrame(
        {"down": plays["down"].to_numpy(dtype=np.int64), "distance": distance, "yardline": yardline}
    )


def _target(
    shape: OutcomeModel,
    plays: pd.DataFrame,
    counts: pd.DataFrame,
    part: str,
    labels: Sequence[str],
    table: str,
) -> ClassTarget:
    """Return plays of the shape with the counted shares of their cells as what happened.

    A cell's plays share its count as their weight; cells that only one of the two has are left out.
    """
    import pandas as pd

    keys = ["down", "distance", "yardline"]
    counted = counts.pivot_table(
        index=keys, columns="label", values="plays", aggfunc="sum", fill_value=0.0
    ).reindex(columns=list(labels), fill_value=0.0)
    cells = _cells(plays, table)
    index = counted.index.get_indexer(pd.MultiIndex.from_frame(cells))
    known = index >= 0
    rows = counted.to_numpy(dtype=np.float64)[index[known]]
    there = np.bincount(index[known], minlength=len(counted))[index[known]]
    total = rows.sum(axis=1)
    codes = axis_codes(batch_of(plays[known]))
    logits = ClassTables(terms_of(shape.arrays, part, len(labels))).logits(codes)
    return ClassTarget(
        codes=codes,
        share=(rows / total[:, None]).astype(np.float32),
        weight=total / there,
        trend=np.zeros(int(known.sum())),
        offset=logits.astype(np.float32),
        prior_plays=SHAPE_PLAYS,
    )


def _moved_kinds(
    shape: OutcomeModel, live: pd.DataFrame, counts: pd.DataFrame, part: str
) -> dict[str, FloatArray]:
    """Return what is added to the tables of kinds."""
    target = _target(shape, live, counts, part, grid.KINDS, "kinds")
    missing = tuple(at for at, kind in enumerate(grid.KINDS) if kind not in set(counts["label"]))
    if missing:
        target = replace(target, share=_split(target, missing))
    return fit_class_tables(target, _KIND_LEVELS, ahead=0.0)


def _split(target: ClassTarget, missing: tuple[int, ...]) -> Float32Array:
    """Return shares in which a kind that the counts lack has its part of the kind it counts as."""
    assert target.offset is not None
    mass = np.exp(target.offset - target.offset.max(axis=1, keepdims=True))
    p_kind = (mass / mass.sum(axis=1, keepdims=True)).astype(np.float64)
    return kind_shares(target.share, missing, p_kind, by_row=True)


def _moved_gains(
    shape: OutcomeModel, live: pd.DataFrame, counts: pd.DataFrame, kind: str
) -> dict[str, FloatArray]:
    """Return what is added to the hazards of one kind."""
    tables = shape.gain[kind]
    width = tables.lengths
    played = live[live["kind"] == kind]
    spread = count_lengths(
        axis_codes(batch_of(played)),
        length_index=np.minimum(gains_of(played) - grid.GAIN_MIN_YD, width - 1),
        lengths=width,
    )
    states, weight = spread.states, spread.ended.sum(axis=1)
    cells = _state_cells(states)
    pmf = tables.pmf(states)[:, :width]
    ended = np.zeros_like(pmf)
    shortest = SHORTEST_YD - grid.GAIN_MIN_YD
    for cell, rows in counts.groupby(["down", "distance", "yardline"]):
        inside = np.flatnonzero((cells == np.array(cell)).all(axis=1))
        if not inside.size:
            continue
        joint = weight[inside, None] * pmf[inside]
        length = np.clip(rows["gain_yd"].to_numpy(dtype=np.int64) - grid.GAIN_MIN_YD, 0, width - 1)
        happened = np.bincount(length, weights=rows["plays"], minlength=width)
        happened[: shortest + 1] = _spread_losses(joint, happened[shortest], shortest)
        total = joint.sum(axis=0)
        ended[inside] += joint * np.divide(
            happened, total, out=np.zeros_like(total), where=total > 0.0
        )
    moved = fit_hazard(
        LengthCounts(states, ended),
        GAIN_TERMS[kind],
        possible=gain_bounds(kind)[:, :width] == 0.0,
        prior=tables,
        prior_plays=SHAPE_PLAYS,
    )
    return {name: table - tables.by_name().get(name, 0.0) for name, table in moved.items()}


def _state_cells(states: dict[str, IntArray]) -> IntArray:
    """Return the cell of gains of each state, shape (s, 3): down, distance, yardline."""
    at = np.searchsorted(DISTANCE_EDGES_YD, states["distance"] + 1, side="right") - 1
    width = BAND_YD["gains"]
    return np.stack(
        [states["down"] + 1, DISTANCE_EDGES_YD[at], states["yardline"] // width * width + 1], axis=1
    )


def _spread_losses(joint: FloatArray, plays: float, shortest: int) -> FloatArray:
    """Return plays at the counts' longest loss as the shape has losses from there on."""
    longer = joint[:, : shortest + 1].sum(axis=0)
    if longer.sum() == 0.0:
        longer[-1] = 1.0
    return np.asarray(plays * longer / longer.sum())
