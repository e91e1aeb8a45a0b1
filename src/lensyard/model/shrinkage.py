"""Holding a model of few plays to one of many.

First the prior model is recentered: its levels (how often a kind of play, a fourth-down choice or
a drive ending happens, how long gains are) move to the new plays, held back by few plays of its own
(`lensyard.model.recenter`). Then everything finer is learned, held to the recentered prior as if
that stood for K plays:

- Regressions (kinds, drives, fourth downs, gains, yards in the air) are fitted on top of the
  prior's logits; the ridge on what is added is half of the information that K of the prior's
  plays would have carried (`lensyard.model.splines.prior_penalty`).
- Tables of shares become ``(n * new + K * prior) / (n + K)`` for n new plays: the posterior mean
  when the prior stands for K earlier plays. A table that no new play taught stays the prior's.

So no plays give the prior itself, and many give the raw fit. K was chosen by the held-out
likelihood of small samples of two other levels of play (`lensyard.bench.shrinking`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.errors import require_range
from lensyard.model.axes import FloatArray
from lensyard.model.tables import ClassTables

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.kicks import KickModel
    from lensyard.model.outcome import OutcomeModel

SHRINK_PLAYS: Final = 64_000.0
"""How many plays the bundled model counts for when others are held to it: two of its seasons."""


def prior_share(*, plays: float, prior_plays: float) -> float:
    """Return the part of a shared table that the prior keeps, 0 to 1.

    Examples
    --------
    >>> prior_share(plays=12_000, prior_plays=4_000)
    0.25
    >>> prior_share(plays=0, prior_plays=4_000)
    1.0
    """
    require_range(low=0.0, high=1e12, plays=plays)
    require_range(low=0.0, high=1e12, prior_plays=prior_plays)
    return 1.0 if plays == 0 else prior_plays / (prior_plays + plays)


def blend(fitted: FloatArray, prior: FloatArray, *, plays: float, prior_plays: float) -> FloatArray:
    """Return the mixture of a fitted table of shares and the prior's, both of one shape."""
    share = prior_share(plays=plays, prior_plays=prior_plays)
    return np.asarray(share * prior + (1.0 - share) * fitted)


def on_top_of(prior: ClassTables | None, added: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """Return tables of logits that are the prior's plus what a fit added to them."""
    tables = dict(added)
    for name, table in {} if prior is None else prior.by_name().items():
        tables[name] = table + tables.get(name, np.zeros(1))
    return tables


def blend_kicks(
    fitted: KickModel, prior: KickModel, *, plays: float, prior_plays: float
) -> KickModel:
    """Return kicks held to a prior's.

    Kickoffs are the new ones as they are: they follow the rule of their own games, and another
    rule's do not help.
    """
    from lensyard.model.kicks import KickModel

    old = prior.to_arrays()
    return KickModel.from_arrays(
        {
            name: array
            if name.startswith("kicks_kickoff")
            else blend(array, old[name], plays=plays, prior_plays=prior_plays)
            for name, array in fitted.to_arrays().items()
        }
    )


def held_out_loss(model: OutcomeModel, plays: pd.DataFrame) -> float:
    """Return the mean log-loss of kind and gain on live plays nobody fitted, in nats a play."""
    from lensyard.model.axes import axis_codes
    from lensyard.model.outcome import GAIN_MIN_YD, KINDS
    from lensyard.model.plays import batch_of, gains_of, kind_index, live_plays

    live = live_plays(plays)
    codes = axis_codes(batch_of(live))
    kind, gain = kind_index(live), gains_of(live) - GAIN_MIN_YD
    row = np.arange(kind.shape[0])
    total = -np.log(model.kind.probabilities(codes)[row, kind]).sum()
    for name, tables in model.gain.items():
        some = np.flatnonzero(kind == KINDS.index(name))
        pmf = tables.pmf({axis: code[some] for axis, code in codes.items()})
        total -= np.log(np.maximum(pmf[np.arange(some.shape[0]), gain[some]], 1e-9)).sum()
    return float(total / kind.shape[0])
