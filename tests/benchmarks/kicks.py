"""How many returns are in reach of a spot: predicted beside counted on a season held out.

    python -m tests.benchmarks.kicks [--season 2019]

For kickoffs from the usual line and punts, and for kits that reach 20, 30 and 40 yd: the most that
predicted and counted share of kicks differ at any open station, the mean difference, and the share
at the best station, predicted and counted; beside it the baseline of the same run, which has every
return end where returns end on average.
"""

from __future__ import annotations

import argparse

import numpy as np

from lensyard.domain.assignment import Faces
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.venue import standard_venue
from lensyard.model.context import BASE_MODEL, Context, load_context
from lensyard.model.paths import PathMasses
from lensyard.plays.store import load_plays
from lensyard.spots import kicks
from lensyard.spots.scorer import Scorer

KITS = (("70-200",), ("70-200", "300"), ("70-200", "400"))


def return_ends(context: Context, kind: str, season: int) -> tuple[np.ndarray, np.ndarray]:
    """Where returns end, predicted and counted: shares of all such kicks, shape (121,) each."""
    plays, model = load_plays(seasons=[season], season_type="REG", kinds=[kind]), context.kicks()
    if kind == "kickoff":
        line = 100 - round(float(model.kickoff_yard_line[0]))
        plays = plays[plays["yardline_100"].to_numpy() == line]
        predicted = kicks.return_ends(model.kickoff())
    else:
        outlooks = [model.punt(yardline_100=int(y)) for y in plays["yardline_100"]]
        predicted = np.mean([kicks.return_ends(outlook) for outlook in outlooks], axis=0)
    end = 110 - plays["end_yardline_100"].to_numpy(float)
    end = np.where(plays["return_touchdown"].to_numpy(bool), 9.0, end)
    alive = ~np.isin(plays["kick_result"].to_numpy(), ["touchback", "out_of_bounds"])
    end = end[alive & ~np.isnan(end)]
    places = np.clip(np.round(end), 0, 109).astype(int)
    return predicted, np.bincount(places, minlength=121) / len(plays)


def in_reach(scorer: Scorer, *ends: np.ndarray) -> np.ndarray:
    """Share of kicks whose return ends in reach of each open station, shape (k, stations)."""
    masses = np.zeros((len(ends), 121, 18), dtype=np.float32)
    masses[:, :, 1:-1] = np.stack(ends)[:, :, None] / 16
    found = scorer.showing(Faces.DEFENSE).expected_value(PathMasses.of_points(masses))
    return found[:, scorer.open]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--season", type=int, default=2019)
    season, context = parser.parse_args().season, load_context(BASE_MODEL)
    perimeter = perimeter_of(standard_venue("pro"), step_yd=1.0)
    print(f"season {season}; points of all such kicks; largest and mean difference by station")
    for kind in ("kickoff", "punt"):
        predicted, counted = return_ends(context, kind, season)
        mean = np.zeros(121)
        mean[round(float(predicted @ np.arange(121) / predicted.sum()))] = predicted.sum()
        for lenses in KITS:
            scorer = Scorer(perimeter, kit_of(list(lenses)))
            shares = 100 * in_reach(scorer, predicted, counted, mean)
            off, naive = np.abs(shares[0] - shares[1]), np.abs(shares[2] - shares[1])
            best = int(shares[0].argmax())
            print(
                f"{kind:<8} {' + '.join(lenses):<13} {off.max():5.2f} {off.mean():5.2f}   best "
                f"station {shares[0, best]:5.1f} predicted, {shares[1, best]:5.1f} counted   "
                f"all at the mean {naive.max():5.2f} {naive.mean():5.2f}"
            )


if __name__ == "__main__":
    main()
