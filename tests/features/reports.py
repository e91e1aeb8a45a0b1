"""Every feature's reports, as its commands make them: one line each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from click.testing import CliRunner

from lensyard.cli import group
from lensyard.options.click_options import Output
from lensyard.plays.store import close_shared_store
from lensyard.render.report import Report
from lensyard.render.text import document

DEMO = Path(__file__).parents[2] / "data" / "demo"
CHART = Path(__file__).parents[1] / "plays" / "importing" / "files" / "chart.csv"
PLAY = ("--down", "3", "--distance", "7", "--ball", "opp35")
START = ("log", "start", "--home", "Otters", "--away", "Herons", "--id", "g")
ADD = ("log", "add", *PLAY, "--spot", "left:opp20", "--result", "run", "--gain", "4",
       "--frames", "5", "--keepers", "2")  # fmt: skip
DRIVE = tuple(
    ("log", "add", "--ball", ball, "--down", "1", "--spot", spot, "--result", "run", "--gain", gain,
     "--ended", "middle", "--frames", "5", "--keepers", keepers)
    for ball, gain, spot, keepers in (
        ("own30", "6", "left:opp20", "2"), ("own36", "6", "left:opp20", "0"),
        ("own42", "12", "end:left12", "1"), ("opp46", "20", "left:opp20", "3"),
        ("opp26", "6", "end:left12", "0"), ("opp20", "20", "end:left12", "1"),
    )
)  # fmt: skip
CHART_IMPORT = ("data", "import", str(CHART), "--mapping", str(CHART.with_name("riverton.toml")))

# The last command of each is the one whose report it is.
CASES: dict[str, tuple[tuple[str, ...], ...]] = {
    "next": (("next", *PLAY, "--standing", "left:own40", "--more"),),
    "next, a kick": (("next", "--play", "punt", "--ball", "own30"),),
    "plan": (("plan",),),
    "plan, prices": (("plan", "--price-curve", "prices.svg"),),
    "gear": (("gear", "--kit", "70-200 + 400", "--kit", "400"),),
    "crew, one play": (("crew", "--shooters", "3", *PLAY),),
    "crew, a game": (("crew", "--shooters", "2", "--game"),),
    "zones": (("zones", "--down", "3", "--seasons", "2019", "--zone", "red-zone"),),
    "light": (("light", "--venue", "tamarack-fork", "--at", "2026-10-09T19:00"),),
    "plays, stored": (CHART_IMPORT, ("data", "list", "--rejects")),
    "plays, imported": (CHART_IMPORT,),
    "plays, mapped": (("data", "map", str(CHART), "--yes", "--out", "otters.toml"),),
    "plays, compared": (("data", "compare", "2018", "2019"),),
    "models": (("model", "list"),),
    "a model": (("model", "info"),),
    "venue": (("venue", "show", "tamarack-fork"),),
    "assignment": (("assignment", "show", "agency"),),
    "evaluation": (
        ("evidence", "evaluate", "--model", "pro-2009-2018-r2", "--models", "lensyard"),
    ),
    "backtest": (("evidence", "backtest"),),
    "advice": (("evidence", "advice"),),
    "sensitivity": (("evidence", "sensitivity"),),
    "evidence": (("evidence", "show"),),
    "simulated drives": (("evidence", "simulate", "--games", "64"),),
    "expected points": (("evidence", "points"),),
    "club tendencies": (("evidence", "tendencies"),),
    "demo": (("demo",),),
    "log, a change": (START, ADD),
    "log, a game": (START, ADD, ("log", "list")),
    "log, all games": (START, ("log", "games")),
    "captures": (("demo",), ("capture", str(DEMO / "times.csv"), "--match", "--game", "demo")),
    "review": (START, *DRIVE, ("review", "--own-reach")),
    "drill, progress": (("drill", "--progress"),),
}


@dataclass(frozen=True)
class Made:
    """A report, and the document that the command would print in its place."""

    report: Report
    document: dict[str, Any]


@cache
def made(name: str) -> Made:
    """Run the commands of a case in a folder of their own; return what the last one shows."""
    shown: list[Made] = []

    def keep(_: Output, found: Any, report: Callable[..., Report], said: Any = document) -> None:
        shown.append(Made(report(found), said(found)))

    with TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setenv("LENSYARD_DATA_DIR", f"{folder}/data")
        patch.chdir(folder)
        patch.setattr(Output, "show", keep)
        close_shared_store()  # it looks for imported plays in the data folder
        for command in CASES[name]:
            CliRunner().invoke(group, command, catch_exceptions=False)
        close_shared_store()
    return shown[-1]
