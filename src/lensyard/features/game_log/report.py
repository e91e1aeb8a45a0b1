"""The game log in words."""

from __future__ import annotations

from collections.abc import Sequence

from lensyard.domain.field import Direction
from lensyard.domain.shot_list import BreakReport
from lensyard.domain.shots import MustHave, Window
from lensyard.features.game_log.captures import CaptureAnswer
from lensyard.features.game_log.compute import LogAnswer
from lensyard.game.document import GameLog
from lensyard.game.entry import LoggedPlay, Result


def situation_text(play: LoggedPlay) -> str:
    """Return the situation of a logged play in words."""
    situation = play.situation()
    if situation is None:
        side = "own" if play.yardline_100 > 50 else "opp"
        return f"no down, ball at {side}{min(play.yardline_100, 100 - play.yardline_100)}"
    return situation.text()


def result_text(play: LoggedPlay) -> str:
    """Return what became of a play in a few words."""
    if play.result is None:
        return ""
    words = [play.result.value]
    if play.gain_yd is not None and play.result is not Result.INCOMPLETE:
        words.append(f"{play.gain_yd:+d}")
    if play.touchdown:
        words.append("TD")
    if play.out_of_bounds:
        words.append("out")
    return " ".join(words)


def play_line(play: LoggedPlay) -> str:
    """Return one play as a line of the list."""
    frames = "" if play.frames is None else f"{play.frames}f"
    keepers = "" if play.keepers is None else f"{play.keepers}k"
    ticks = f"  [{', '.join(play.ticks)}]" if play.ticks else ""
    quarter = "OT" if play.quarter == 5 else f"Q{play.quarter}"
    return (
        f"{play.number:>4}  {quarter}  {play.offense.value:<4}  {situation_text(play):<38}  "
        f"{play.spot or '-':<14}  {result_text(play):<18}  {frames:>4} {keepers:>4}{ticks}"
    ).rstrip()


def log_text(log: GameLog) -> str:
    """Return a game and its plays as a table for the terminal."""
    game = log.game
    toward = "B" if game.home_direction == int(Direction.TOWARD_B) else "A"
    state = "going on" if game.ended_at is None else "ended"
    lines = [
        f"{game.game_id}: {game.title} ({state})",
        f"{game.venue or f'any {game.rules} field'}; the home team attacks end {toward} in the "
        f"1st quarter; {'kit ' + ' + '.join(game.lenses) if game.lenses else 'the demo kit'}",
        "",
        "  no  qtr ball  situation                               stood           result"
        "              shot kept",
    ]
    lines += [play_line(play) for play in log.plays] or ["  (no play yet)"]
    if log.captures:
        lines += ["", f"{len(log.captures)} captures are matched to this log."]
    return "\n".join(lines)


def missing_text(answer: LogAnswer) -> str:
    """Return what is still missing, in one line; empty without a shot list."""
    if not answer.shot_list:
        return ""
    had = len(answer.shot_list) - len(answer.still_missing)
    if not answer.still_missing:
        return f"Must-haves: all {had} are had."
    keys = ", ".join(frame.key for frame in answer.still_missing)
    return f"Must-haves: {had} of {len(answer.shot_list)} had; missing: {keys}"


def reminder_text(report: BreakReport) -> str:
    """Return the reminder of a break as a block that cannot be overlooked; empty with nothing."""
    if not (report.now or report.later or report.action):
        return ""
    bar = "!" * 72
    lines = [bar, f"  {report.slot.name.upper()}: MUST-HAVES STILL MISSING"]
    for title, frames in (
        ("LAST CHANCE", report.last_chance),
        ("now", [frame for frame in report.now if frame not in report.last_chance]),
    ):
        lines += [f"  {title}: {frame.title} ({frame.where})" for frame in frames]
    over = report.slot.window is Window.AFTER
    action = "not had" if over else "in play"
    lines += [f"  {action}: {frame.title}{_at(frame, over=over)}" for frame in report.action]
    for placed in report.later:
        if placed.gone:
            lines.append(f"  too late: {placed.frame.title}")
            continue
        slot = "in play, it costs plays" if placed.slot is None else placed.slot.name
        lines.append(f"  later: {placed.frame.title} ({slot})")
    return "\n".join([*lines, bar])


def _at(frame: MustHave, *, over: bool) -> str:
    return "" if over or not frame.where else f" ({frame.where})"


def games_text(games: Sequence[GameLog]) -> str:
    """Return the games as a table."""
    if not games:
        return (
            "No game yet. `lensyard log start` starts one, `lensyard demo` puts an invented one in."
        )
    lines = ["game                                      season  plays  frames  state"]
    for log in games:
        frames = sum(play.frames or 0 for play in log.plays)
        state = "going on" if log.game.ended_at is None else "ended"
        game, plays = log.game, len(log.plays)
        lines.append(f"{game.game_id:<40}  {game.season:>6}  {plays:>5}  {frames:>6}  {state}")
    return "\n".join(lines)


def answer_text(answer: LogAnswer) -> str:
    """Return what a change of the log did, in a line or three."""
    lines = [answer.text[:1].upper() + answer.text[1:] + "."]
    if answer.play is not None:
        lines.append(play_line(answer.play).strip())
        if answer.still_missing:
            count = len(answer.still_missing)
            lines.append(f"{count} must-haves are missing; `lensyard log tick` names them.")
        return "\n".join(lines)
    missing = missing_text(answer)
    return "\n".join([*lines, missing] if missing else lines)


def capture_text(answer: CaptureAnswer) -> str:
    """Return what matching captures gave."""
    lines = [
        f"{answer.log.game.game_id}: {answer.frames_in_plays} of {len(answer.captures)} frames "
        f"belong to {answer.plays} of {len(answer.log.plays)} plays."
    ]
    for clock in answer.clocks:
        body = clock.body or "the camera"
        line = f"{body}: {clock.frames} frames, clock {clock.how}"
        if clock.how != "as set":
            line += f", {clock.offset_s:+.1f} s"
        if clock.found is not None:
            line += (
                f" (95 %: {clock.found.low_s:+.1f} to {clock.found.high_s:+.1f} s; right with "
                f"{clock.found.confidence:.1%}; {clock.found.share_in_plays:.0%} of "
                f"{clock.found.bursts} bursts fall in plays)"
            )
        lines.append(line)
    if answer.skipped:
        lines.append(f"{len(answer.skipped)} files gave no time.")
    done = "The log has the counts." if answer.written else "Nothing was written."
    return "\n".join([*lines, done])
