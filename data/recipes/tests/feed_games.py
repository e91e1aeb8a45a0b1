"""An invented game feed: clubs, players and plays that never were, in the feed's own shape."""

from __future__ import annotations

import gzip
import json
import zipfile
from dataclasses import dataclass, field
from typing import Any

from data.recipes.bundled_plays.build import build_plays, parse_game, plays_table
from data.recipes.bundled_plays.play import ScheduledGame

HOME, AWAY = "XYZ", "QRS"
PASSER, RUNNER, CATCHER, KICKER, STOPPER = (
    "A.Example",
    "B.Sample",
    "C.Specimen",
    "D.Muster",
    "E.Invented",
)
Fact = tuple[int, int, str] | tuple[int, int, str, str]


@dataclass
class FeedGame:
    """Builds one game of the feed row by row; row ids fall, as they may in the real feed."""

    game_id: str = "2031010100"
    totals: tuple[int, int] = (0, 0)
    drives: dict[str, Any] = field(default_factory=dict)
    summary: dict[str, Any] = field(default_factory=dict)
    next_id: int = 9000

    def drive(self, **post_play):
        """Open a drive; the feed stores how it ended beside its plays."""
        fields = {"result": "Punt", "ydsgained": 7, "fds": 1, "penyds": 0, **post_play}
        self.drives[str(len(self.drives) + 1)] = {**fields, "plays": {}}
        return self

    def row(
        self,
        desc,
        facts=(),
        *,
        at=f"{HOME} 40",
        down=1,
        togo=10,
        club=HOME,
        quarter=1,
        time="10:00",
        **post_play,
    ):
        """Add a row to the open drive; return its id. A fact is (code, yards, club[, player])."""
        if not self.drives:
            self.drive()
        players: dict[str, list[dict[str, Any]]] = {}
        for code, yards, who, *player in facts:
            booked = {"statId": code, "yards": yards, "clubcode": who, "playerName": PASSER}
            players.setdefault(player[0] if player else f"p{code}", []).append(booked)
        self.next_id -= 10
        play_id = str(self.next_id)
        self.drives[str(len(self.drives))]["plays"][play_id] = {
            "sp": 0,
            "qtr": quarter,
            "down": down,
            "time": time,
            "yrdln": at,
            "ydstogo": togo,
            "ydsnet": 99,
            "posteam": club,
            "desc": desc,
            "note": None,
            "players": players,
            **post_play,
        }
        return play_id

    def run(self, yards=4, **where):
        """Add a plain carry."""
        club = where.get("club", HOME)
        desc = f"({where.get('time', '10:00')}) {RUNNER} left tackle for {yards} yards ({STOPPER})."
        return self.row(desc, [(10, yards, club)], **where)

    def kickoff(self, **where):
        """Add a touchback kickoff of the home club; it opens the receiver's drive."""
        self.drive()
        desc = f"{KICKER} kicks 65 yards from {HOME} 35 to end zone, Touchback."
        facts: list[Fact] = [(44, 65, HOME), (51, 0, AWAY)]
        return self.row(desc, facts, **{"at": f"{HOME} 35", "down": 0, "togo": 0, **where})

    def scored(self, play_id, kind, club, desc=""):
        """Add an entry of the summary of scoring plays."""
        self.summary[play_id] = {"type": kind, "desc": desc, "qtr": 1, "team": club, "players": {}}

    def raw(self):
        """Return the game as the feed's file holds it under its id."""

        def side(abbr, total):
            return {"abbr": abbr, "score": {"T": total}, "stats": {}, "players": {}}

        return {
            "home": side(HOME, self.totals[0]),
            "away": side(AWAY, self.totals[1]),
            "drives": {**self.drives, "crntdrv": len(self.drives)},
            "scrsummary": self.summary,
        }

    def parse(self, raw=None, **schedule):
        """Return the canonical plays, of `raw` where it is given."""
        fields = {"season": 2030, "season_type": "POST", "week": 1, **schedule}
        scheduled = ScheduledGame(game_id=self.game_id, **fields)
        return parse_game(self.raw() if raw is None else raw, scheduled=scheduled)

    def plays(self, **schedule):
        """Return the canonical plays alone."""
        return self.parse(**schedule).plays

    def possessions(self):
        """Return (index, end) of every play's possession."""
        rows = plays_table(self.plays()).to_pylist()
        return [(row["drive_index"], row["drive_end"]) for row in rows]

    def only(self):
        """Return the one play of a game of one play."""
        (play,) = self.plays()
        return play


def a_short_game(game_id="2031010100"):
    """A game with a bit of everything, for the whole way from archive to store."""
    game = FeedGame(game_id=game_id, totals=(7, 3))
    game.kickoff(time="15:00")
    game.run(3, club=AWAY, at=f"{AWAY} 20", time="14:50")
    game.row(
        f"(14:20) {PASSER} pass incomplete deep right to {CATCHER}.",
        [(14, 0, AWAY), (112, 22, AWAY)],
        club=AWAY,
        at=f"{AWAY} 23",
        down=2,
        togo=7,
        time="14:20",
    )
    field_goal = game.row(
        f"(14:10) {KICKER} 45 yard field goal is GOOD, Center-{STOPPER}.",
        [(70, 45, AWAY)],
        club=AWAY,
        at=f"{HOME} 27",
        down=4,
        togo=7,
        time="14:10",
    )
    game.scored(field_goal, "FG", AWAY, f"{KICKER} 45 yd. Field Goal")
    game.drive()
    touchdown = game.row(
        f"(14:00) {PASSER} pass deep left to {CATCHER} for 60 yards, TOUCHDOWN.",
        [(16, 60, HOME), (22, 60, HOME), (111, 35, HOME), (113, 25, HOME), (4, 0, HOME)],
        time="14:00",
    )
    extra = f"({KICKER} kick is good) Drive: 1 plays, 60 yards in 0:10"
    game.scored(touchdown, "TD", HOME, f"{CATCHER} 60 yd. pass from {PASSER} {extra}")
    game.row(
        f"{KICKER} extra point is GOOD, Center-{STOPPER}.",
        [(72, 0, HOME)],
        at=f"{AWAY} 15",
        down=0,
        togo=0,
        time="13:50",
    )
    return game


def write_wheel(folder, games, *, extra=(), empty=(), reverse=False):
    """Write invented games as an archive in the source's layout."""
    listed = [
        [g.game_id, {"year": 2030, "season_type": "REG", "week": 1 + at, "home": HOME}]
        for at, g in enumerate(games)
    ]
    listed += [[game_id, fields] for game_id, fields in extra]
    contents = {game.game_id: {game.game_id: game.raw()} for game in games}
    contents |= {game_id: {} for game_id in empty}
    wheel = folder / "invented-1.0-py3-none-any.whl"
    with zipfile.ZipFile(wheel, "w") as archive:
        schedule = listed[::-1] if reverse else listed
        archive.writestr("nflgame/schedule.json", json.dumps({"games": schedule}))
        for game_id, content in contents.items():
            packed = gzip.compress(json.dumps(content).encode(), mtime=0)
            archive.writestr(f"nflgame/gamecenter-json/{game_id}.json.gz", packed)
    return wheel


def short_games():
    """Two invented games with a bit of everything."""
    return [a_short_game("2031010100"), a_short_game("2031010800")]


def invented_parquet(folder, games=2):
    """Write invented games in a folder as the recipe would, and return the file of plays."""
    wheel, out = write_wheel(folder, short_games()[:games]), folder / "plays.parquet"
    build_plays(wheel=wheel, out=out, expected_sha256=None)
    return out
