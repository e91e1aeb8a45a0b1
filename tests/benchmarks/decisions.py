"""How often a face names a closed place, or one out of reach, over many random questions.

    python -m tests.benchmarks.decisions [20000]

Prints what was decided, by action, and how many answers broke a law: the place is open, within the
walk before the snap (or the named end of a crossing), as good by the plan's values as every other
walk, and the short and the long report say the same. Beside it stands the baseline of the same run:
how often the best free spot of the play, which knows no walk, would have been out of reach.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace

import numpy as np
from tests.features.next_play.random_questions import asked, check

from lensyard.features.next_play.compute import next_play
from lensyard.model.context import load_context


def main() -> None:
    """Print the counts."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    context, rng = load_context(), np.random.default_rng(20_000)
    actions: Counter[str] = Counter()
    broken = far = standing = total = 0
    for question in asked(rng, count, setups=max(count // 200, 1)):
        total += 1
        try:
            action = check(context, question)
            actions[action] += 1
        except AssertionError as error:
            broken += 1
            print("broken:", str(error).splitlines()[0][:200])
            continue
        if question.request.standing is not None and action != "refused" and total % 20 == 0:
            standing += 1
            free = next_play(context, replace(question.request, standing=None)).spot
            here = next_play(context, question.request)
            assert here.standing_index is not None
            walk = here.scorer.walk_yd[here.standing_index, free.station_index]
            far += bool(walk > question.request.limit_yd)
    print(f"{total} questions: {broken} broken")
    print("  decided:", ", ".join(f"{name} {n}" for name, n in sorted(actions.items())))
    print(f"  the best free spot is out of reach in {far} of {standing}")


if __name__ == "__main__":
    main()
