"""Fitting a model with its kicks, and what saved models say about themselves."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import DataError, InvalidInputError, LensyardError, ModelError
from lensyard.model.artifact import load, load_kicks, load_manifest, save, size_bytes
from lensyard.model.context import (
    BASE_MODEL,
    MODEL_VARIABLE,
    RULE_MODELS,
    chosen_model,
    model_names,
    model_path,
    use_model,
    user_models_dir,
)
from lensyard.plays.importing.catalog import BUNDLED

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.kicks import KickModel
    from lensyard.model.outcome import OutcomeModel

MODEL_ID: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
PRO_LEVELS_FROM: Final = 2020
"""From this season on professional plays are held to the levels of today."""
LEVEL_CAUTION: Final = (
    "Fitted on professional games. High-school and college games run more, throw less and kick "
    "differently: take its odds as a start and fit your own level when you have its plays."
)


def fit_model(
    seasons: Sequence[int] = (),
    *,
    model_id: str,
    folder: Path | None = None,
    sources: Sequence[str] = (),
    prior_path: Path | None = None,
    shrink: bool | None = None,
    prior_plays: float | None = None,
    level: str | None = None,
    plays: pd.DataFrame | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> Path:
    """Fit a model on regular seasons with its kicks and save it; return the path of the arrays.

    `seasons`: Years; by default all that the sources have.
    `model_id`, `folder`: The files are ``<folder>/<id>.npz`` and ``<id>.json``; by default among
        the user's models.
    `sources`: Bundled and imported ones; by default each season's own.
    `prior_path`, `prior_plays`: A model to hold few plays to, by default the bundled one of their
        level, and how many plays it counts for; `SHRINK_PLAYS` by default.
    `shrink`: Whether to; by default unless all plays are bundled.
    `level`: Level of play, for the manifest; by default what the source says of itself.
    `plays`: Canonical plays, kicks included; the stored ones of the sources by default.
    `progress`: Takes a sentence before every part; what it raises ends the fit, and nothing is
        written.

    Raises `InvalidInputError` if the id is no plain file name; `UnknownNameError` if there is no
    such source; `DataError` if there are too few plays, or none of a season.
    """
    from lensyard.model.fitting.fit import fit_outcome
    from lensyard.model.fitting.prior import SHRINK_PLAYS, recentered, require_enough
    from lensyard.model.plays import select_seasons
    from lensyard.plays.store import shared_store

    require_model_id(model_id, own=folder is None)
    if plays is None:
        plays = _stored_plays(seasons, sources)
    seasons = tuple(sorted(seasons or {int(season) for season in plays["season"].unique()}))
    credited = [
        each
        for source in sources or (None,)
        for each in shared_store().attributions(seasons, source=source)
    ]
    level = level or _joined(
        "professional" if each.source == BUNDLED else each.level for each in credited
    )
    if shrink is None:
        shrink = prior_path is not None or not all(each.source == BUNDLED for each in credited)
    chosen = select_seasons(plays, seasons)
    require_enough(chosen, alone=not shrink)
    prior: OutcomeModel | None = None
    if shrink:
        progress("moving the levels of the prior to these plays")
        prior_path = prior_path or model_path(_prior_of(level, since=seasons[0]))
        prior = recentered(load(prior_path), chosen)
    counted = SHRINK_PLAYS if prior_plays is None else prior_plays
    model = fit_outcome(
        plays,
        seasons=seasons,
        model_id=model_id,
        level=level,
        prior=prior,
        prior_plays=counted,
        data_license=_joined(each.license for each in credited),
        attribution=_joined(each.text for each in credited),
        progress=progress,
    )
    model.manifest = replace(
        model.manifest,
        source=_joined(sources) or _joined(each.source for each in credited),
        prior_plays=0.0 if prior is None else counted,
        note=_note(model.manifest.plays, model.manifest.prior, counted),
    )
    progress("counting kicks")
    kicks = _fit_kicks(plays, model, prior_path=prior_path if shrink else None, counted=counted)
    return save(model, _folder(folder), kicks=kicks)


def _stored_plays(seasons: Sequence[int], sources: Sequence[str]) -> pd.DataFrame:
    """Return the stored regular-season plays of sources, of all their seasons where none is said.

    Raises `DataError` if there are none.
    """
    import pandas as pd

    from lensyard.plays.store import load_plays

    wanted = list(seasons) or None
    parts = [
        load_plays(seasons=wanted, season_type="REG", source=source)
        for source in sources or (None,)
    ]
    plays = pd.concat(parts, ignore_index=True) if len(parts) > 1 else parts[0]
    if plays.empty:
        raise DataError(
            f"{_joined(sources) or 'no source'} has no regular-season plays of these seasons; "
            "`lensyard data list` names what there is"
        )
    return plays


def _prior_of(level: str, *, since: int) -> str:
    """Return the bundled model that plays of a level are held to, of today's levels or before."""
    if "college" in level or "high-school" in level:
        return RULE_MODELS["college"]
    return RULE_MODELS["pro"] if since >= PRO_LEVELS_FROM else BASE_MODEL


def _folder(folder: Path | None) -> Path:
    """Return the folder of a new model, made where it is the user's own."""
    if folder is not None:
        return folder
    from lensyard.config import user_data_dir

    user_data_dir(create=True)
    own = user_models_dir()
    own.mkdir(exist_ok=True)
    return own


def _joined(texts: Iterable[str]) -> str:
    return "; ".join(sorted(set(texts)))


def require_model_id(model_id: str, *, own: bool) -> None:
    """Raise `InvalidInputError` if an id is no plain file name, or one's own like a bundled one."""
    if not MODEL_ID.fullmatch(model_id):
        raise InvalidInputError(
            f"the model id {model_id!r} must be letters, digits, dots, dashes and underscores"
        )
    if own and model_id in {BASE_MODEL, *RULE_MODELS.values()}:
        raise InvalidInputError(f"{model_id!r} is the id of a bundled model; choose another")


def _note(plays: int, prior: str, prior_plays: float) -> str:
    """Return how much a model was shrunk, in a sentence, or nothing."""
    if not prior:
        return ""
    share = prior_plays / (prior_plays + plays)
    return (
        f"Held to {prior}, its levels moved to these plays, which counts for {prior_plays:,.0f} "
        f"plays: it decides {share:.0%} of a table that every play teaches, more of rare "
        "situations."
    )


def _fit_kicks(
    plays: pd.DataFrame, model: OutcomeModel, *, prior_path: Path | None, counted: float
) -> KickModel | None:
    """Return the kicks of the same plays, held to the prior's, or the prior's, or none."""
    from lensyard.model.fitting.kicks import fit_kicks
    from lensyard.model.fitting.prior import blend_kicks

    prior: KickModel | None = None
    if prior_path is not None:
        try:
            prior = load_kicks(prior_path)
        except ModelError:
            prior = None
    try:
        fitted = fit_kicks(plays, seasons=model.manifest.seasons, prior=prior)
    except ModelError:
        return prior  # no kick of some kind, and no prior
    if prior is None:
        return fitted
    return blend_kicks(fitted, prior, plays=model.manifest.plays, prior_plays=counted)


def model_info(path: Path) -> dict[str, Any]:
    """Return what a saved model says about itself; a damaged file is refused, not described."""
    manifest = load_manifest(path)
    load(path)
    try:
        load_kicks(path)
        has_kicks = True
    except ModelError:
        has_kicks = False
    return {
        "model": {"id": manifest.model_id, **asdict(manifest)},
        "has_kicks": has_kicks,
        "size_bytes": size_bytes(path),
        "cautions": [LEVEL_CAUTION] if manifest.level in ("professional", "pro") else [],
    }


def choose_model(name: str) -> dict[str, Any]:
    """Store which model answers from now on, and return what it says; "" leaves it to the rules.

    Raises `ModelError` if there is no such model, or it is damaged.
    """
    found = model_info(model_path(name)) if name else None
    use_model(name)
    return models_list() | {"chosen": None if found is None else found["model"]}


def models_list() -> dict[str, Any]:
    """Return the models that there are, which one answers under each rule set, and why."""
    rows: list[dict[str, Any]] = []
    for name, path in model_names().items():
        row: dict[str, Any] = {"id": name, "path": str(path), "issue": None}
        try:
            manifest = load_manifest(path)
            row |= {"level": manifest.level, "plays": manifest.plays}
            row |= {"seasons": list(manifest.seasons), "levels": list(manifest.level_seasons)}
        except LensyardError as error:
            row["issue"] = str(error)
        rows.append(row)
    answers = {rules: chosen_model(rules=rules) for rules in RULE_MODELS}
    return {
        "models": rows,
        "answers": {
            rules: {"id": chosen.name, "chosen_by": chosen.chosen_by}
            for rules, chosen in answers.items()
        },
        "variable": MODEL_VARIABLE,
        "cautions": [],
    }
