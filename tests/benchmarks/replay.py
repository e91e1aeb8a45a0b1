"""How many snaps of a bundled season follow from the play before by the rules of the game.

``python -m tests.benchmarks.replay [SEASON]``. Baseline of the same run: a log that only counts
yards (today's next down after a gain, everything else as it was).
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from itertools import pairwise

from tests.support.replay import Replay, differences, games_of, opening, replay, result_of, state_at

from lensyard.game.state import Phase


def yards_only(season: int) -> Replay:
    """The baseline: down, distance and spot follow a gain, and nothing else is known."""
    found = Replay()
    for game in games_of(season):
        state = opening(game[0])
        for play, then in pairwise(game):
            ball = result_of(state, play, then).yardline_100
            if state.phase is Phase.SCRIMMAGE and state.down and state.distance_yd:
                ball = state.yardline_100 if ball is None else min(max(ball, 1), 99)
                left = ball - (state.yardline_100 - state.distance_yd)
                down, left = (1, min(10, ball)) if left <= 0 else (min(state.down + 1, 4), left)
                state = replace(state, down=down, distance_yd=left, yardline_100=ball)
            group = "flag" if play["penalty"] else "no flag"
            wrong = differences(state, then)
            (found.wrong if wrong else found.right)[group] += 1
            state = state_at(then, like=state)
    return found


def main(season: int) -> None:
    """Print the shares and the reasons of the rest."""
    started = time.perf_counter()
    found = replay(season)
    took = time.perf_counter() - started
    snaps = found.right.total() + found.wrong.total()
    print(f"{season}: {snaps:,} snaps in {took:.1f} s")
    for name, of in (("rules of the game", found), ("yards only", yards_only(season))):
        flag, none = of.share_of("flag"), of.share_of("no flag")
        print(
            f"  {name:18s} {of.share:7.2%}   without a flag {none:7.2%}   with a flag {flag:7.2%}"
        )
    for why, count in found.reasons.most_common():
        print(f"  {count:5d}  {why}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2019)
