"""The game log as reports: a game, all games, what a change did, what a break reminds of."""

from __future__ import annotations

from collections.abc import Sequence

from lensyard.domain.assignment import MustHave, Window
from lensyard.domain.shot_list import BreakReport
from lensyard.domain.situation import ball_text
from lensyard.features.game_log.compute import DemoAnswer, GameList, LogAnswer
from lensyard.features.game_log.merge import CrewTake, MergeAnswer
from lensyard.game.course import next_text
from lensyard.game.entry import Game, LoggedPlay, Result, Team
from lensyard.game.state import GameState, Phase
from lensyard.render.report import Format, Report, Section, Table, table_of

RESULT_WORDS = {
    "incomplete": "Incomplete",
    "score": "Score",
    "flag": "Flag",
    "turnover": "Turnover",
    "kick": "Kick",
    "quarter": "Quarter ends",
    "touchdown": "Touchdown",
    "good": "Kick good",
    "missed": "No good",
    "two": "Two points",
    "safety": "Safety",
    "touchback": "Touchback",
    "returned": "Run back all the way",
    "out": "Out of bounds",
    "kept": "Kickers recover",
    "first": "First down, tap the spot",
    "back": "Back",
}
"""What a play can turn into, as buttons say it; penalties have their own titles."""


def _situation(play: LoggedPlay) -> str:
    situation = play.situation()
    if situation is None:
        side = "own" if play.yardline_100 > 50 else "opp"
        return f"no down, ball at {side}{min(play.yardline_100, 100 - play.yardline_100)}"
    return situation.text()


def _result(play: LoggedPlay) -> str:
    if play.result is None:
        return ""
    words = [play.result.value]
    if play.gain_yd is not None and play.result is not Result.INCOMPLETE:
        words.append(f"{play.gain_yd:+d}")
    elif play.end_yardline_100 is not None:
        words.append(f"to {_end_text(play.end_yardline_100)}")
    if play.touchdown:
        words.append("TD")
    if play.out_of_bounds:
        words.append("out")
    return " ".join(words)


def _end_text(yardline_100: int) -> str:
    """A spot, or a goal line."""
    return {0: "goal", 100: "own-goal"}.get(yardline_100) or ball_text(yardline_100)


def _plays_table(plays: Sequence[LoggedPlay]) -> Table:
    return table_of(
        "plays",
        "",
        plays,
        ("number", "No", Format.COUNT),
        ("quarter", "Qtr", lambda play: "OT" if play.quarter == 5 else f"Q{play.quarter}"),
        ("offense", "Ball", lambda play: play.offense.value),
        ("situation", "Situation", _situation),
        ("spot", "Stood", lambda play: play.spot or None),
        ("result", "Result", lambda play: _result(play) or None),
        ("frames", "Shot", Format.COUNT),
        ("keepers", "Kept", Format.COUNT),
        ("ticks", "Ticked", lambda play: ", ".join(play.ticks) or None),
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def answer_report(answer: LogAnswer) -> Report:
    """Describe what a change of the log did."""
    if answer.play is None:
        return Report(
            headline=_capital(answer.text),
            sentences=_must_haves(answer),
            cautions=answer.warnings,
        )
    count = len(answer.missing)
    left = f"{count} must-haves are missing; `lensyard log tick` names them." if count else ""
    return Report(
        headline=f"{_capital(answer.text)} in {answer.game.game_id}",
        sentences=tuple(filter(None, (next_sentence(answer), left))),
        tables=(_plays_table([answer.play]),),
        cautions=answer.warnings,
    )


def next_sentence(answer: LogAnswer) -> str:
    """Return the play that follows, or what must be said first; empty before the first play."""
    if answer.next is not None:
        return f"Next: {answer.next.text}."
    return "What follows is not known until the last play has a result." if answer.plays else ""


def bar_text(game: Game, state: GameState | None) -> str:
    """Return which game is logged, and what the next play is."""
    if state is None:
        return f"{game.title}: say what the last play became"
    return f"{game.title}: {next_text(state, game)}"


def possession_text(game: Game, state: GameState) -> str:
    """Return who has the ball and where they attack, for the toggle that turns both."""
    name = game.home if state.offense is Team.HOME else game.away
    what = {Phase.KICKOFF: "kick off", Phase.TRY: "try"}.get(state.phase, "ball")
    return f"{name} {what}, end B ▶" if state.direction == 1 else f"◀ end A, {name} {what}"


def game_report(answer: LogAnswer) -> Report:
    """Describe a game and its plays."""
    game = answer.game
    toward = "B" if game.home_direction == 1 else "A"
    state = "going on" if game.ended_at is None else "ended"
    kit = f"kit {' + '.join(game.lenses)}" if game.lenses else "the demo kit"
    captures, plays = answer.captures, len(answer.plays)
    following = "" if game.ended_at else next_sentence(answer)
    return Report(
        headline=f"{game.title}, {plays} play{'' if plays == 1 else 's'}, {state}",
        sentences=(
            f"Game {game.game_id}; {game.venue or f'any {game.rules} field'}; the home team "
            f"attacks end {toward} in the 1st quarter; {kit}.",
            *((f"{captures:,} captures are matched to this log.",) if captures else ()),
            *((following,) if following else ()),
            *_must_haves(answer),
        ),
        tables=(_plays_table(answer.plays),),
        cautions=answer.warnings,
    )


def _must_haves(answer: LogAnswer) -> tuple[str, ...]:
    """Return what is still missing, in one sentence; none without a shot list."""
    if not answer.shot_list:
        return ()
    had = len(answer.shot_list) - len(answer.missing)
    if not answer.missing:
        return (f"Must-haves: all {had} are had.",)
    keys = ", ".join(answer.missing)
    return (f"Must-haves: {had} of {len(answer.shot_list)} had; missing: {keys}.",)


def games_report(found: GameList) -> Report:
    """List all games."""
    if not found.games:
        return Report(
            headline="No game yet",
            sentences=(
                "`lensyard log start` starts one, `lensyard demo` puts an invented one in.",
            ),
        )
    table = table_of(
        "games",
        "",
        found.games,
        ("game_id", "Game", lambda one: one.game.game_id),
        ("season", "Season", lambda one: str(one.game.season)),
        ("plays", "Plays", Format.COUNT),
        ("frames", "Frames", Format.COUNT),
        ("state", "State", lambda one: "going on" if one.game.ended_at is None else "ended"),
    )
    count = len(found.games)
    return Report(
        headline=f"{count} game{'' if count == 1 else 's'} in the log",
        tables=(table,),
        cautions=found.cautions,
    )


def demo_report(demo: DemoAnswer) -> Report:
    """Say that the demo game is in the log, and what to try on it."""
    columns = (("command", "Command"), ("what", "What it does"))
    return Report(
        headline=_capital(demo.answer.text),
        tables=(table_of("next", "Now try", demo.next, *columns),),
        cautions=demo.answer.warnings,
    )


def reminder_section(report: BreakReport) -> Section | None:
    """Return what is still missing at a break, one frame a line; None where nothing is."""
    over = report.slot.window is Window.AFTER
    lines = [f"LAST CHANCE: {_title(frame)}" for frame in report.last_chance]
    lines += [f"now: {_title(frame)}" for frame in report.now if frame not in report.last_chance]
    lines += [
        f"not had: {frame.title}" if over else f"in play: {_title(frame)}"
        for frame in report.action
    ]
    for placed in report.later:
        if placed.gone:
            lines.append(f"too late: {placed.frame.title}")
            continue
        slot = "in play, it costs plays" if placed.slot is None else placed.slot.name
        lines.append(f"later: {placed.frame.title} ({slot})")
    return Section(f"{report.slot.name}: must-haves still missing", tuple(lines)) if lines else None


def _title(frame: MustHave) -> str:
    return frame.title + (f" ({frame.where})" if frame.where else "")


def merge_report(found: MergeAnswer) -> Report:
    """Describe a merged game: what is new, where logs disagree, and who had which play."""
    count = len(found.names)
    done = "" if found.written else "; nothing was written"
    new = f"{found.added} of them new" if found.added else "none of them new"
    conflicts = table_of(
        "conflicts",
        "Where the logs disagree",
        found.conflicts,
        ("play", "No", Format.COUNT),
        ("field", "What"),
        ("kept", "Stays"),
        ("other", "Also said"),
        ("who", "By"),
        note="What was said first stays; `lensyard log edit` changes it.",
    )
    return Report(
        headline=(
            f"{count} log{'' if count == 1 else 's'} merged into {found.game.game_id}: "
            f"{found.plays} plays, {new}, {len(found.conflicts)} conflicts{done}"
        ),
        tables=(members_table(found.take), *((conflicts,) if found.conflicts else ())),
        sections=(Section("Who had which play", crew_lines(found.take)),),
        cautions=found.warnings,
    )


def members_table(take: CrewTake) -> Table:
    """A row a photographer of a merged game."""
    return table_of(
        "crew",
        "The crew",
        take.members,
        ("who", "Photographer"),
        ("plays", "Plays logged", Format.COUNT),
        ("had", "Had", Format.COUNT),
        ("alone", "Only they had", Format.COUNT),
        ("frames", "Shot", Format.COUNT),
        ("keepers", "Kept", Format.COUNT),
        note="Had: a keeper, or a frame where keepers were not noted.",
    )


def crew_lines(take: CrewTake) -> tuple[str, ...]:
    """What each had, what nobody had and what two or more had, with the numbers of the plays."""
    several = ", ".join(f"{number} ({' and '.join(who)})" for number, who in take.several)
    nobody = ", ".join(map(str, take.nobody))
    return (
        *(f"{m.who} had {m.had} of {take.plays} plays, {m.alone} alone." for m in take.members),
        f"Nobody had {len(take.nobody)} plays{f': {nobody}' if nobody else ''}.",
        f"Two or more had {len(take.several)} plays{f': {several}' if several else ''}.",
    )
