"""What every use case needs: the model and what is derived from it once a process.

Reading happens here, not below.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from lensyard.domain.field import FieldRules
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.model.lateral import LateralPrior
from lensyard.model.outcome import Forecast, OutcomeModel

if TYPE_CHECKING:
    from lensyard.model.kicks import KickModel
    from lensyard.model.transition import TransitionModel

SCHEMA_VERSION = 1


@dataclass
class Context:
    """A loaded model with its file, and what was derived from it so far."""

    model: OutcomeModel
    path: Path | None = None
    _priors: dict[str, LateralPrior] = field(default_factory=dict, repr=False)
    _transition: TransitionModel | None = field(default=None, repr=False)
    _kicks: KickModel | None = field(default=None, repr=False)

    def kicks(self) -> KickModel:
        """Return the model's kicks, read once.

        Raises `ModelError` if the model holds none.
        """
        if self._kicks is None:
            from lensyard.model.artifact import load_kicks, model_path

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
        """Return what every answer says about the model: id, level, seasons, plays, data."""
        manifest = self.model.manifest
        return {
            "id": manifest.model_id,
            "level": manifest.level,
            "seasons": list(manifest.seasons),
            "plays": manifest.plays,
            "data_sha256": manifest.data_sha256,
            "attribution": manifest.attribution,
            "license": manifest.license,
        }


@cache
def load_context(model_path: Path | None = None) -> Context:
    """Return the context of a model file; by default the bundled one.

    Raises `ModelError` if the model is missing or damaged.
    """
    from lensyard.model.artifact import default_model_path, load

    path = model_path or default_model_path()
    return Context(load(path), path)
