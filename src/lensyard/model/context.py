"""What every use case needs: which model answers, and what is derived from it once a process.

The model that was named answers, else the chosen one, else the rule set's. A name is an id, looked
up among the user's fitted models and then the bundled ones, or the path of an ``.npz`` file. What
was chosen and cannot be found is an error, never another model. Reading happens here, not below.
"""

from __future__ import annotations

import os
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from lensyard.config import models_dir, user_config_dir, user_data_dir
from lensyard.errors import ModelError
from lensyard.files import write_atomically
from lensyard.records import ArrayRecord, Record

if TYPE_CHECKING:
    from lensyard.domain.field import FieldRules
    from lensyard.domain.situation import Situation
    from lensyard.model.kicks import KickModel
    from lensyard.model.lateral import LateralPrior
    from lensyard.model.outcome import Forecast, OutcomeModel
    from lensyard.model.transition import TransitionModel

BASE_MODEL: Final = "pro-2009-2018-r2"
"""The shape of every bundled model, fitted on single plays; evidence is measured on it."""
RULE_MODELS: Final = {"pro": "pro", "college": "college", "high-school": "college"}
"""The bundled model of each rule set: the shape with its levels moved to counts."""
MODEL_VARIABLE: Final = "LENSYARD_MODEL"
_SETTING: Final = "model"
_LONGEST: Final = 4096
SCHEMA_VERSION: Final = 2


class Context(ArrayRecord):
    """A loaded model with its file, and what was derived from it so far.

    ``chosen_by`` says why this model answers, ``rules`` under which rule set.
    """

    model: OutcomeModel
    path: Path | None = None
    chosen_by: str = ""
    rules: str = "pro"

    @lru_cache(maxsize=8)  # noqa: B019 - as many as there are contexts
    def kicks(self) -> KickModel:
        """Return the model's kicks, read once.

        Raises `ModelError` if the model holds none.
        """
        from lensyard.model.artifact import load_kicks

        return load_kicks(self.path or model_path(self.model.model_id))

    @lru_cache(maxsize=8)  # noqa: B019
    def transition(self) -> TransitionModel:
        """Return the transitions to the next snap, built once."""
        from lensyard.model.transition import TransitionModel

        return TransitionModel(self.model)

    def forecast(self, situation: Situation) -> Forecast:
        """Return everything that the model says of one situation."""
        from lensyard.domain.situation import SituationBatch

        return self.model.forecast(SituationBatch.of([situation]))

    def prior(self, rules: FieldRules) -> LateralPrior:
        """Return the lateral prior of a rule set, built once."""
        from lensyard.model.lateral import LateralPrior

        return LateralPrior.build(rules=rules)

    def model_facts(self) -> dict[str, object]:
        """Return what every answer says about the model: what made it, and why it answers."""
        manifest = self.model.manifest
        return {
            "id": manifest.model_id,
            "level": manifest.level,
            "seasons": list(manifest.seasons),
            "plays": manifest.plays,
            "level_seasons": list(manifest.level_seasons),
            "prior": manifest.prior,
            "from_prior": list(manifest.from_prior),
            "chosen_by": self.chosen_by,
            "rules": self.rules,
            "arrays_sha256": manifest.arrays_sha256,
            "data_sha256": manifest.data_sha256,
            "attribution": manifest.attribution,
            "license": manifest.license,
        }


def load_context(name: str = "", *, rules: str = "pro") -> Context:
    """Return the context of the model that answers; each file is read once a process.

    - ``name``, ``rules``: as in `chosen_model`.

    Raises `ModelError` if the model is missing or damaged; no other one takes its place.
    """

    chosen = chosen_model(name, rules=rules)
    try:
        return _load(chosen.path, chosen.key, chosen.chosen_by, rules)
    except ModelError as error:
        raise ModelError(
            f"the model {chosen.name} cannot be used ({chosen.chosen_by}): {error}. "
            "`lensyard model list` names those there are, `lensyard model use ID` chooses one, "
            "and `lensyard model use --rules` leaves it to the rule set"
        ) from None


@lru_cache(maxsize=8)
def _load(path: Path, key: str, chosen_by: str, rules: str) -> Context:
    return Context(_load_model(path, key), path, chosen_by, rules)


@lru_cache(maxsize=8)
def _load_model(path: Path, _key: str) -> OutcomeModel:
    from lensyard.model.artifact import load

    return load(path)


class ChosenModel(Record):
    """A model's name, its array file, and what chose it, in words."""

    name: str
    path: Path
    chosen_by: str

    @property
    def key(self) -> str:
        """A text that changes with the file, for what is kept of its answers."""
        try:
            stamp = self.path.stat()
        except OSError:
            return str(self.path)
        return f"{self.path} {stamp.st_mtime_ns} {stamp.st_size}"


def user_models_dir() -> Path:
    """Return the folder of the user's fitted models."""
    return user_data_dir() / "models"


def model_names() -> dict[str, Path]:
    """Return id -> array file of the models that have a plain name; the user's come first."""
    found: dict[str, Path] = {}
    for folder in (user_models_dir(), models_dir()):
        for path in sorted(folder.glob("*.npz")):
            if path.with_suffix(".json").exists():
                found.setdefault(path.stem, path)
    return found


def model_path(name: str) -> Path:
    """Return the array file of a model by its id, or by its path."""
    if name.endswith(".npz"):
        return Path(name)
    own = user_models_dir() / f"{name}.npz"
    return own if own.exists() else models_dir() / f"{name}.npz"


def chosen_model(name: str = "", *, rules: str = "pro") -> ChosenModel:
    """Return the model that answers.

    - ``name``: what the command or the page names, or nothing.
    - ``rules``: the rule set that picks one where nobody did.

    Raises `ModelError` if the setting cannot be read.
    """
    if name:
        return ChosenModel(name, model_path(name), "it was named")
    if named := os.environ.get(MODEL_VARIABLE, "").strip():
        return ChosenModel(named, model_path(named), f"{MODEL_VARIABLE} names it")
    if named := used_model():
        return ChosenModel(named, model_path(named), "`lensyard model use` chose it")
    named = RULE_MODELS[rules]
    return ChosenModel(named, models_dir() / f"{named}.npz", f"the {rules} rule set chose it")


def used_model() -> str:
    """Return the name that `use_model` stored, or nothing. Raises `ModelError` if unreadable."""
    try:
        with _setting().open(encoding="utf-8") as file:
            return file.read(_LONGEST).strip()
    except FileNotFoundError:
        return ""
    except (OSError, UnicodeDecodeError) as error:
        raise ModelError(
            f"cannot read which model was chosen ({_setting()}: {error}); choose one anew with "
            "`lensyard model use ID`"
        ) from None


def use_model(name: str) -> None:
    """Store the model that answers from now on; nothing gives the choice back to the rule set."""
    user_config_dir(create=True)
    path = str(Path(name).resolve()) if name.endswith(".npz") else name
    write_atomically(_setting(), f"{path}\n".encode())


def _setting() -> Path:
    return user_config_dir() / _SETTING
