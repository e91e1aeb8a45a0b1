"""``python -m tests.benchmarks.next_play``: the answer's time, from the shell and in process."""

from __future__ import annotations

import numpy as np
from tests.benchmarks.timing import compare_starts, median_s, medians_in_turn_s, processor_s

from lensyard.domain.assignment import Assignment
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.domain.venue import standard_venue
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.spots.masses import Masses
from lensyard.spots.path_values import expected_values
from lensyard.spots.ranking import rank
from lensyard.spots.scorer import Scorer

STEP_YD = 2.0

SEASON_PLAYS = 32_000


def from_the_shell() -> None:
    """Print the time of ``lensyard next`` beside the same Python importing numpy and click.

    Wall time includes whatever else the machine does; processor time hardly does.
    """
    answer = ["-m", "lensyard", "next", "--down", "3", "--distance", "7", "--ball", "opp35"]
    compare_starts({"lensyard next": answer, "import numpy, click": ["-c", "import numpy, click"]})


def in_process() -> None:
    """Print the time of ranking one situation over all spots, beside the bare products in it.

    Stations 2 yd apart, as the command has them, and 1 yd apart.
    """
    context, venue, assignment = load_context(BASE_MODEL), standard_venue(), Assignment()
    situation, prior = Situation(3, 7, 35), context.prior(venue.rules)
    for step_yd in (STEP_YD, 1.0):
        scorer = Scorer(perimeter_of(venue, step_yd=step_yd), DEMO_KIT)
        path, mass = scorer.paths[0], np.ones((2, scorer.paths[0].point.shape[1]), np.float32)

        def once(scorer: Scorer = scorer) -> None:
            masses = Masses.of(context.forecast(situation), prior, assignment.weights)
            rank(scorer, masses, situation)

        def bare(path=path, mass: np.ndarray = mass) -> None:
            mass @ path.reach_from.T - mass @ path.missed_from.T

        n = len(scorer.perimeter)
        print(
            f"one situation over {n} stations  {1e3 * median_s(once, runs=40):7.2f} ms wall  "
            f"{1e3 * processor_s(once):7.2f} ms processor; bare products "
            f"{1e3 * processor_s(bare):5.2f} ms"
        )


def season() -> None:
    """Print the time of a season of situations beside a bare product of the same size."""
    context, venue, assignment = load_context(BASE_MODEL), standard_venue(), Assignment()
    scorer = Scorer(perimeter_of(venue), DEMO_KIT)
    rng = np.random.default_rng(1)
    yardline = rng.integers(1, 100, SEASON_PLAYS)
    batch = SituationBatch.neutral(
        down=rng.integers(1, 5, SEASON_PLAYS),
        distance_yd=np.minimum(rng.integers(1, 16, SEASON_PLAYS), yardline),
        yardline_100=yardline,
    )
    prior = context.prior(venue.rules)
    cells = scorer.paths[0].point.shape[1]
    block = 2000
    bare_mass = rng.random((block, cells)).astype(np.float32)

    def ours() -> None:
        expected_values(scorer, context.model.forecast(batch), prior, assignment.weights)

    def bare() -> None:
        for _ in range(0, SEASON_PLAYS, block):
            bare_mass @ scorer.paths[0].point.T

    full, base = medians_in_turn_s([ours, bare], runs=3)
    print(f"{SEASON_PLAYS:,} situations as a batch       {full:7.2f} s")
    print(f"bare NumPy product, same size     {base:7.2f} s   ratio {full / base:.2f}")


if __name__ == "__main__":
    from_the_shell()
    in_process()
    season()
