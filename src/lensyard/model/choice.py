"""Which model answers: the one that was named, else the chosen one, else the rule set's.

A name is an id, looked up among the user's fitted models and then the bundled ones, or the path of
an ``.npz`` file. What was chosen and cannot be found is an error, never another model.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from lensyard.config import models_dir, user_config_dir, user_data_dir
from lensyard.errors import ModelError
from lensyard.files import write_atomically

BASE_MODEL: Final = "pro-2009-2018-r2"
"""The shape of every bundled model, fitted on single plays; evidence is measured on it."""
RULE_MODELS: Final = {"pro": "pro", "college": "college", "high-school": "college"}
"""The bundled model of each rule set: the shape with its levels moved to counts."""
MODEL_VARIABLE: Final = "LENSYARD_MODEL"
_SETTING: Final = "model"
_LONGEST: Final = 4096


@dataclass(frozen=True, slots=True)
class ChosenModel:
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
