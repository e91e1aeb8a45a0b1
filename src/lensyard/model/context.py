"""What every use case needs: the model and what is derived from it once a process.

Reading happens here, not below.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from lensyard.domain.field import FieldRules
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.errors import ModelError
from lensyard.model.lateral import LateralPrior
from lensyard.model.outcome import Forecast, OutcomeModel

if TYPE_CHECKING:
    from lensyard.model.kicks import KickModel
    from lensyard.model.transition import TransitionModel

SCHEMA_VERSION = 2


@dataclass
class Context:
    """A loaded model with its file, and what was derived from it so far.

    ``chosen_by`` says why this model answers, ``rules`` under which rule set.
    """

    model: OutcomeModel
    path: Path | None = None
    chosen_by: str = ""
    rules: str = "pro"
    _priors: dict[str, LateralPrior] = field(default_factory=dict, repr=False)
    _transition: TransitionModel | None = field(default=None, repr=False)
    _kicks: KickModel | None = field(default=None, repr=False)

    def kicks(self) -> KickModel:
        """Return the model's kicks, read once.

        Raises `ModelError` if the model holds none.
        """
        if self._kicks is None:
            from lensyard.model.artifact import load_kicks
            from lensyard.model.choice import model_path

            self._kicks = load_kicks(self.path or model_path(self.model.model_id))
        return self._kicks

    def transition(self) -> TransitionModel:
        """Return the transitions to the next snap, built once."""
        if self._transition is None:
            from lensyard.model.transition import TransitionModel

            self._transition = TransitionModel(self.model)
        return self._transition

    def forecast(self, situation: Situation) -> Forecast:
        """Return everything that the model says of one situation."""
        return self.model.forecast(SituationBatch.of([situation]))

    def prior(self, rules: FieldRules) -> LateralPrior:
        """Return the lateral prior of a rule set, built once."""
        if rules.name not in self._priors:
            self._priors[rules.name] = LateralPrior.build(rules=rules)
        return self._priors[rules.name]

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

    - ``name``, ``rules``: as in `lensyard.model.choice.chosen_model`.

    Raises `ModelError` if the model is missing or damaged; no other one takes its place.
    """
    from lensyard.model.choice import chosen_model

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
