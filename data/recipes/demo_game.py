"""``python -m data.recipes.demo_game data/demo``: build the invented game of `lensyard demo`.

Its log, its capture times, and a few photographs. Nothing in it is real: teams, stadium, plays and
pictures are made up from a fixed seed. Small photographs of nothing serve other tests too.
"""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import numpy as np

from lensyard.domain.field import FIELD_WIDTH_YD, HashMark
from lensyard.domain.places import standing_text
from lensyard.domain.situation import RED_ZONE_FROM
from lensyard.features.game_log.compute import DEMO_ID
from lensyard.game.document import GameLog, log_text
from lensyard.game.entry import Game, LoggedPlay, Result, Team

_EXIF_FOLDER = 0x8769


@dataclass(frozen=True, slots=True)
class DemoFrame:
    """What a demo photograph says.

    - ``local``: by the camera's clock, to the hundredth of a second.
    - ``offset``: from UTC, as the camera writes it, ``-05:00``; empty when it does not.
    - ``model``, ``serial``: the camera.
    - ``focal_length_mm``: as marked. [mm]
    - ``rating``: stars; None for none.
    """

    local: datetime
    offset: str = ""
    model: str = "Invented One"
    serial: str = "0001"
    focal_length_mm: float = 200.0
    rating: int | None = None


def frame_jpeg(frame: DemoFrame, *, gray: int = 128) -> bytes:
    """Return a JPEG of 8 by 8 pixels with EXIF (CIPA DC-008): some 400 bytes."""
    from PIL import Image
    from PIL.TiffImagePlugin import IFDRational

    exif = Image.Exif()
    exif[0x0110] = frame.model
    if frame.rating is not None:
        exif[0x4746] = frame.rating
    folder: dict[int, Any] = {
        0x9003: frame.local.strftime("%Y:%m:%d %H:%M:%S"),
        0x9291: f"{frame.local.microsecond // 10000:02d}",
        0xA431: frame.serial,
        0x920A: IFDRational(round(frame.focal_length_mm * 10), 10),
    }
    if frame.offset:
        folder[0x9011] = frame.offset
    exif.get_ifd(_EXIF_FOLDER).update(folder)
    stream = io.BytesIO()
    Image.new("L", (8, 8), gray).save(stream, "JPEG", exif=exif, quality=30)
    return stream.getvalue()


def burst(first: datetime, *, frames: int, per_s: float = 10.0) -> tuple[datetime, ...]:
    """Return the times of a burst. ``per_s`` frames a second."""
    return tuple(first + timedelta(seconds=i / per_s) for i in range(frames))


SEED: Final = 20261148
KICKOFF: Final = datetime(2026, 10, 3, 19, 0, tzinfo=UTC)
PLAYS_A_QUARTER: Final = 15
SETBACK_YD: Final = 4.0
REACH_YD: Final = 40.0
CLOCK_ERRORS_S: Final = {"Invented One 0001": -47.3, "Invented Two 0002": 3605.5}
"""What the two cameras' clocks are off by; matching must find it."""
PHOTOGRAPHS: Final = 20
_KEEPS: Final = 0.8
_TICKS: Final = {
    Result.COMPLETE: "catch",
    Result.RUN: "carrier",
    Result.SACK: "defense-big-play",
    Result.INTERCEPTION: "defense-big-play",
}


def build_demo(folder: Path) -> None:
    """Write the demo's files: ``game.json``, ``times.csv`` and ``frames/*.jpg``.

    The log and the times are the same bytes each time; the photographs depend on the JPEG library.
    """
    log = demo_log()
    folder.mkdir(parents=True, exist_ok=True)
    text = log_text(log, exported_at=KICKOFF + timedelta(hours=4))
    (folder / "game.json").write_text(text, encoding="utf-8", newline="")
    frames = tuple(_frames(log))
    (folder / "times.csv").write_text(_times_csv(frames), encoding="utf-8", newline="")
    place = folder / "frames"
    place.mkdir(parents=True, exist_ok=True)
    first = [f for f in frames if f.body == next(iter(CLOCK_ERRORS_S)) and f.first_of_burst]
    step = max(len(first) // PHOTOGRAPHS, 1)
    for frame in first[::step][:PHOTOGRAPHS]:
        model, _, serial = frame.body.rpartition(" ")
        data = frame_jpeg(
            DemoFrame(
                local=(frame.captured_at - timedelta(hours=5)).replace(tzinfo=None),
                offset="-05:00",
                model=model,
                serial=serial,
                focal_length_mm=frame.focal_length_mm,
                rating=frame.rating,
            )
        )
        (place / frame.file).write_bytes(data)


@dataclass(frozen=True, slots=True)
class _Frame:
    file: str
    captured_at: datetime
    body: str
    focal_length_mm: float
    rating: int
    first_of_burst: bool


@dataclass(slots=True)
class _State:
    """The game so far: who has the ball and where, and where the photographer stands."""

    rng: np.random.Generator
    now: datetime
    offense: Team = Team.AWAY
    down: int = 1
    distance_yd: int = 10
    yardline_100: int = 75
    score: dict[Team, int] = field(default_factory=lambda: {Team.HOME: 0, Team.AWAY: 0})
    changed: bool = True
    ticked: set[str] = field(default_factory=set)
    on_left: bool = True


def demo_log() -> GameLog:
    """Return the invented game."""
    game = Game(
        game_id=DEMO_ID,
        home="Brindle Prairie Marmots",
        away="Saltgrass Kites",
        season=2026,
        started_at=KICKOFF - timedelta(hours=1),
        venue="brindle-prairie",
        assignment="agency",
        lenses=("70-200", "400"),
        time_zone="America/Chicago",
        ended_at=KICKOFF + timedelta(hours=3, minutes=20),
        ticks=("warm-ups", "introductions", "coaches"),
    )
    state = _State(np.random.default_rng(SEED), KICKOFF)
    plays: list[LoggedPlay] = []
    for quarter in (1, 2, 3, 4):
        for i in range(PLAYS_A_QUARTER):
            last = i == PLAYS_A_QUARTER - 1
            plays.append(_next_play(state, game, quarter=quarter, number=len(plays) + 1, last=last))
        state.now += timedelta(minutes=13 if quarter == 2 else 2)
        if quarter == 2:
            _kick_off(state, Team.HOME)
    return GameLog(game, tuple(plays))


def _kick_off(state: _State, receiver: Team) -> None:
    state.offense, state.changed = receiver, True
    state.down, state.distance_yd, state.yardline_100 = 1, 10, 75


def _next_play(state: _State, game: Game, *, quarter: int, number: int, last: bool) -> LoggedPlay:
    rng = state.rng
    state.now += timedelta(seconds=round(float(rng.uniform(55, 110)), 1))
    direction = game.direction_of(state.offense, quarter=quarter)
    hash_mark = tuple(HashMark)[int(rng.integers(3))]
    result, gain, air = _what_happens(state)
    touchdown = gain is not None and gain >= state.yardline_100
    if touchdown:
        gain = state.yardline_100
    end_y = round(float(rng.uniform(3, FIELD_WIDTH_YD - 3)), 0)
    x_yd, y_yd, spot = _stand(state)
    shot, kept = _shoot(state, (x_yd, y_yd), end_y=end_y, forward=air if gain is None else gain)
    play = LoggedPlay(
        number=number,
        logged_at=state.now + timedelta(seconds=round(float(rng.uniform(14, 28)), 1)),
        snap_at=state.now,
        quarter=quarter,
        offense=state.offense,
        direction=direction,
        yardline_100=state.yardline_100,
        down=state.down,
        distance_yd=state.distance_yd,
        hash_mark=hash_mark,
        score_diff=state.score[state.offense] - state.score[state.offense.other],
        changed_hands=state.changed,
        spot=spot,
        result=result,
        gain_yd=gain,
        air_yd=air,
        end_y_yd=end_y,
        touchdown=touchdown,
        frames=shot,
        keepers=kept,
        ticks=_ticks(state, result, touchdown=touchdown, kept=kept),
        ends_quarter=last,
    )
    _advance(state, play)
    return play


def _what_happens(state: _State) -> tuple[Result, int | None, int | None]:
    """Draw a result, a gain and, where the ball came down, air yards."""
    rng = state.rng
    if state.down == 4 and state.yardline_100 > 8:
        return Result.KICK, None, None
    kind = str(rng.choice(["run", "complete", "incomplete", "sack", "interception"],
                          p=[0.42, 0.33, 0.18, 0.05, 0.02]))  # fmt: skip
    if kind == "run":
        return Result.RUN, int(np.clip(round(rng.gamma(1.6, 3.2) - 1.5), -4, 60)), None
    if kind == "complete":
        return Result.COMPLETE, int(np.clip(round(rng.gamma(1.5, 7.5)), -2, 80)), None
    if kind == "sack":
        return Result.SACK, -int(rng.integers(3, 10)), None
    air = int(np.clip(round(rng.gamma(2.0, 7.0)), 0, min(state.yardline_100 + 6, 60)))
    return (Result.INCOMPLETE, 0, air) if kind == "incomplete" else (Result.INTERCEPTION, 0, air)


def _stand(state: _State) -> tuple[float, float, str]:
    """Stand as most do: some 20 yards ahead on one's own side, in the red zone behind the end."""
    rng = state.rng
    if state.changed:
        state.on_left = not state.on_left
    if state.yardline_100 <= RED_ZONE_FROM:
        in_yd = 6.0 if state.rng.random() < 0.7 else 10.0
        x_yd, y_yd = 120.0 + SETBACK_YD, FIELD_WIDTH_YD - in_yd if state.on_left else in_yd
    else:
        ahead = 20.0 + 5.0 * float(rng.integers(-2, 3))
        x_yd = float(np.clip(110 - state.yardline_100 + ahead, 12, 108))
        if 40 < x_yd < 80:  # the team areas lie between the 30s
            x_yd = 81.0 if x_yd >= 58 else 39.0
        y_yd = FIELD_WIDTH_YD + SETBACK_YD if state.on_left else -SETBACK_YD
    return x_yd, y_yd, standing_text(x_yd=x_yd, y_yd=y_yd)


def _shoot(
    state: _State, stood: tuple[float, float], *, end_y: float, forward: int | None
) -> tuple[int, int]:
    """Return frames and keepers: some chance where the play came into reach."""
    rng = state.rng
    end_x = 110.0 - state.yardline_100 + (forward or 0)
    distance = float(np.hypot(stood[0] - end_x, stood[1] - end_y))
    facing = stood[0] - end_x >= np.cos(np.radians(75.0)) * distance
    if distance > REACH_YD or not facing:
        return int(rng.integers(0, 4)), 0
    shot = int(rng.integers(5, 13))
    return shot, int(rng.integers(1, 4)) if rng.random() < _KEEPS else 0


def _ticks(state: _State, result: Result, *, touchdown: bool, kept: int) -> tuple[str, ...]:
    key = "touchdown" if touchdown else _TICKS.get(result, "")
    if kept == 0 or not key or key in state.ticked:
        return ()
    state.ticked.add(key)
    return (key,)


def _advance(state: _State, play: LoggedPlay) -> None:
    state.changed = False
    if play.touchdown:
        state.score[state.offense] += 7
        _kick_off(state, state.offense.other)
        return
    gained = play.gain_yd or 0
    yardline = int(np.clip(state.yardline_100 - gained, 1, 99))
    if play.result in (Result.KICK, Result.INTERCEPTION):
        if play.result is Result.KICK and state.yardline_100 <= 35:
            state.score[state.offense] += 3
            _kick_off(state, state.offense.other)
            return
        far = 40 if play.result is Result.KICK else play.air_yd or 0
        state.offense, state.changed = state.offense.other, True
        spot = 100 - int(np.clip(state.yardline_100 - far, 20, 99))
        state.down, state.distance_yd, state.yardline_100 = 1, min(10, spot), spot
        return
    if gained >= state.distance_yd:
        state.down, state.distance_yd = 1, min(10, yardline)
    elif state.down == 4:
        spot = 100 - yardline
        state.offense, state.changed = state.offense.other, True
        state.down, state.distance_yd, yardline = 1, min(10, spot), spot
    else:
        state.down += 1
        state.distance_yd = min(state.distance_yd - gained, yardline)
    state.yardline_100 = yardline


def _frames(log: GameLog) -> Iterator[_Frame]:
    """Every frame of the game, by its camera's wrong clock: near with one body, far with two."""
    rng = np.random.default_rng(SEED + 1)
    count = 0
    bodies = tuple(CLOCK_ERRORS_S.items())
    for play in log.plays:
        if not play.frames or play.snap_at is None:
            continue
        body, error_s = bodies[int(rng.random() < 0.45)]
        first = play.snap_at + timedelta(seconds=round(float(rng.uniform(0.5, 4.0)), 2) + error_s)
        for i, moment in enumerate(burst(first, frames=play.frames)):
            count += 1
            yield _Frame(
                file=f"frame{count:04d}.jpg",
                captured_at=moment,
                body=body,
                focal_length_mm=200.0 if body.startswith("Invented One") else 400.0,
                rating=1 if i < (play.keepers or 0) else 0,
                first_of_burst=i == 0,
            )


def _times_csv(frames: tuple[_Frame, ...]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["file", "captured_at", "body", "focal_length_mm", "rating"])
    for f in frames:
        moment = f.captured_at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        writer.writerow([f.file, moment, f.body, f"{f.focal_length_mm:g}", f.rating])
    return stream.getvalue()


if __name__ == "__main__":
    build_demo(Path(sys.argv[1]))
