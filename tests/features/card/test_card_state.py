"""The card's rules in JavaScript give what `lensyard.game.state` gives."""

import json
import shutil
import subprocess
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.support.random_games import plain, random_game

from lensyard.features import card
from lensyard.game.rules import GAME_RULES, PENALTIES
from lensyard.game.state import PlayResult

SCRIPT = Path(card.__file__).parent / "state.js"
NODE = shutil.which("node")
_ASK = """
const { rules, penalties, steps } = JSON.parse(require("fs").readFileSync(0, "utf8"));
const found = steps.map(([name, state, [kind, what]]) => {
  const of = rules[name];
  if (kind === "break") return game.endQuarter(state, of);
  if (kind === "other") return game.otherTeam(state);
  if (kind === "out") return game.apply(state, game.kickoffOut(state, of), of);
  if (kind === "flag") return game.apply(state, game.flagResult(state, penalties[what]), of);
  return game.apply(state, what, of);
});
console.log(JSON.stringify(found));
"""


def compared(n, *, seed):
    rng = np.random.default_rng(seed)
    steps: list[Any] = []
    expected = []
    for name in sorted(GAME_RULES):
        for before, (kind, what), after in random_game(GAME_RULES[name], rng, n // 3 + 1):
            said = asdict(what) if isinstance(what, PlayResult) else what
            steps.append((name, plain(before), (kind, said)))
            expected.append(plain(after))
    asked = {
        "rules": {name: asdict(rules) for name, rules in GAME_RULES.items()},
        "penalties": [asdict(penalty) for penalty in PENALTIES],
        "steps": steps,
    }
    done = subprocess.run(
        [str(NODE), "-e", SCRIPT.read_text(encoding="utf-8") + _ASK],
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        check=True,
    )
    found = json.loads(done.stdout)
    assert len(found) >= n
    for step, one, other in zip(steps, found, expected, strict=True):
        assert one == other, step


@pytest.mark.skipif(NODE is None, reason="there is no node to run the card's script in")
@pytest.mark.parametrize(("n", "seed"), [(600, 1), pytest.param(10_000, 2, marks=pytest.mark.slow)])
def test_the_script_has_the_rules_of_the_library(n, seed):
    compared(n, seed=seed)
