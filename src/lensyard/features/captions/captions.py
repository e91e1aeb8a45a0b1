"""What every frame shows, in words: a template of the user's, filled from the play in the log.

A template is text with placeholders in square brackets, ``[quarter]``; `PLACEHOLDERS` says what
there are. Bars split it into parts, and a part that holds a placeholder of which nothing is known
is left out whole: ``[offense]|, [clock] left|.`` has no clock where none was noted.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

from lensyard.domain.situation import Situation
from lensyard.errors import InvalidInputError, UnknownNameError
from lensyard.game.course import course_of
from lensyard.game.document import GameLog, read_text
from lensyard.game.entry import Capture, Game, LoggedPlay, Result, Team
from lensyard.game.state import GameState
from lensyard.records import Record

PLACEHOLDERS: Final = {
    "away": "the visiting team",
    "home": "the home team",
    "offense": "the team with the ball",
    "defense": "the other team",
    "quarter": "first quarter to fourth quarter, overtime",
    "clock": "left in the quarter, 8:12",
    "down": "1st to 4th",
    "distance": "yards to the line to gain, or goal",
    "spot": "where the ball was, with the team whose side that is",
    "result": "what happened, 'complete pass for 12 yards, touchdown'",
    "score": "after the play, the visiting team first",
    "note": "what was noted of the play, numbers written out by the roster",
    "play": "the play's number in the log",
    "venue": "the venue's name",
    "date": "the frame's day where the game is, 2026-10-03",
    "time": "the frame's time there, 14:05:33",
    "camera": "model and serial number",
    "file": "the frame's name",
}
"""Every placeholder, and what stands in its place."""
DEFAULT_TEMPLATE: Final = (
    "[away] at [home], [date]|, [quarter]|, [clock] left|. [offense], [down] and [distance]"
    "| at [spot]|: [result]|. [note]|. Score after the play: [score]|."
)
LONGEST_TEMPLATE: Final = 2000
_PLACEHOLDER: Final = re.compile(r"\[([^\[\]]*)\]")
_NUMBER: Final = re.compile(r"(?<![\w#])(d?)#(\d{1,3})(?!\d)")
_QUARTERS: Final = ("first quarter", "second quarter", "third quarter", "fourth quarter")
_DOWNS: Final = ("1st", "2nd", "3rd", "4th")
_RESULTS: Final = {
    Result.GAIN: "gain",
    Result.RUN: "run",
    Result.COMPLETE: "complete pass",
    Result.INCOMPLETE: "incomplete pass",
    Result.SACK: "sack",
    Result.SCRAMBLE: "scramble",
    Result.INTERCEPTION: "interception",
    Result.FUMBLE: "fumble lost",
    Result.KICK: "kick",
    Result.KICK_KEPT: "kick recovered by the kicking team",
    Result.FIELD_GOAL: "field goal",
    Result.MISSED: "missed kick",
    Result.SAFETY: "safety",
    Result.NO_PLAY: "no play, penalty",
}
_TRY_RESULTS: Final = {Result.FIELD_GOAL: "extra point", Result.MISSED: "missed extra point"}


Roster = Mapping[str, str]
"""Names by number, as somebody typed them; nothing is looked up."""


class FrameCaption(Record):
    """One frame with what it shows: its play, and the caption from the template.

    ``sure`` is False where the play could be the neighboring one, for what is known of the clock.
    """

    file: str
    captured_at: datetime
    play: int
    quarter: str
    clock: str
    down: str
    distance: str
    spot: str
    result: str
    score: str
    sure: bool
    caption: str


def check_template(text: str) -> str:
    """Return a template without spaces around it.

    Raises `InvalidInputError` or `UnknownNameError` if it is empty or too long, a bracket is left
    open, or a placeholder is none of `PLACEHOLDERS`.
    """
    template = text.strip()
    if not template or len(template) > LONGEST_TEMPLATE:
        raise InvalidInputError(f"a template has 1 to {LONGEST_TEMPLATE} characters")
    for name in _PLACEHOLDER.findall(template):
        if name not in PLACEHOLDERS:
            raise UnknownNameError(name="a placeholder", value=name, known=PLACEHOLDERS)
    if set("[]") & set(_PLACEHOLDER.sub("", template)):
        raise InvalidInputError("a square bracket of the template has no partner; write [quarter]")
    return template


def read_template(text: str) -> str:
    """Return a template that was typed, or that stands in a file whose name ends in .txt."""
    if text.lower().endswith(".txt"):
        return check_template(read_text(Path(text)))
    return check_template(text)


def fill(template: str, values: Mapping[str, str]) -> str:
    """Return a template with its placeholders filled; see the module.

    >>> fill("[offense]|, [clock] left|.", {"offense": "Kites", "clock": ""})
    'Kites.'
    """
    kept = []
    for part in template.split("|"):
        if all(values[name] for name in _PLACEHOLDER.findall(part)):
            kept.append(_PLACEHOLDER.sub(lambda found: values[found[1]], part))
    return " ".join("".join(kept).split())


def read_rosters(texts: Sequence[str]) -> dict[Team, Roster]:
    """Return the rosters from ``FILE`` (both teams), ``home=FILE`` and ``away=FILE``.

    Raises `InvalidInputError` if a team has two, or a file is no roster; see `read_roster`.
    """
    found: dict[Team, Roster] = {}
    for text in texts:
        head, _, rest = text.partition("=")
        named = head in {team.value for team in Team} and bool(rest)
        teams = (Team(head),) if named else tuple(Team)
        path = Path(rest if named else text)
        roster = read_roster(read_text(path), where=path.name)
        for team in teams:
            if team in found:
                raise InvalidInputError(
                    f"the {team} team has two rosters; give one, or home=FILE and away=FILE"
                )
            found[team] = roster
    return found


def read_roster(text: str, *, where: str) -> Roster:
    """Return names by number from CSV: a first line ``number,name``, then a line a player.

    Raises `InvalidInputError` that names the line if a cell is missing, a number is none from 0 to
    999, or two players have the same one.
    """
    reader = csv.DictReader(io.StringIO(text))
    columns = [column.strip().lower() for column in reader.fieldnames or ()]
    if sorted(columns) != ["name", "number"]:
        raise InvalidInputError(
            f"{where}: expected a first line number,name; got "
            f"{', '.join(columns)[:80] or 'nothing'}"
        )
    reader.fieldnames = columns
    names: dict[str, str] = {}
    for row in reader:
        line = f"{where}, line {reader.line_num}"
        if None in row or None in row.values():
            raise InvalidInputError(f"{line}: expected a number and a name")
        number, name = row["number"].strip().removeprefix("#"), " ".join(row["name"].split())
        if not re.fullmatch(r"[0-9]{1,3}", number) or not name or not name.isprintable():
            raise InvalidInputError(f"{line}: expected a number from 0 to 999 and a name")
        if number in names:
            raise InvalidInputError(
                f"{line}: number {number} is {names[number]} and {name}; one number is one player, "
                "so nothing was written"
            )
        names[number] = name
    return names


def captions_of(
    log: GameLog,
    captures: Sequence[Capture],
    *,
    template: str = DEFAULT_TEMPLATE,
    venue: str = "",
    rosters: Mapping[Team, Roster] | None = None,
    sure: Sequence[bool] | None = None,
) -> tuple[FrameCaption, ...]:
    """Return a caption for every frame of a play, in the order of time.

    ``venue``: its name, empty where not known. ``sure``: beside each capture, whether its play is.
    """
    words = {
        play.number: _play_words(log.game, play, after, rosters or {}) | {"venue": venue}
        for play, after in zip(log.plays, course_of(log.game, log.plays), strict=True)
    }
    found = []
    for capture, certain in zip(captures, sure or [True] * len(captures), strict=True):
        if capture.play is None:
            continue
        local = capture.corrected_at.astimezone(log.game.zone())
        of_frame = {
            "date": local.strftime("%Y-%m-%d"),
            "time": local.strftime("%H:%M:%S"),
            "camera": capture.body,
            "file": Path(capture.file).name,
        }
        values = words[capture.play] | of_frame
        found.append(
            FrameCaption(
                file=capture.file,
                captured_at=local,
                play=capture.play,
                sure=certain,
                caption=fill(template, values),
                **{
                    name: values[name]
                    for name in ("quarter", "clock", "down", "distance", "spot", "result", "score")
                },
            )
        )
    return tuple(found)


def _play_words(
    game: Game, play: LoggedPlay, after: GameState | None, rosters: Mapping[Team, Roster]
) -> dict[str, str]:
    offense, defense = (
        (game.home, game.away) if play.offense is Team.HOME else (game.away, game.home)
    )
    situation = play.situation()
    clock = "" if play.clock_s is None else f"{int(play.clock_s) // 60}:{int(play.clock_s) % 60:02}"
    return {
        "home": game.home,
        "away": game.away,
        "offense": offense,
        "defense": defense,
        "quarter": "overtime" if play.quarter == 5 else _QUARTERS[play.quarter - 1],
        "clock": clock,
        "down": "" if situation is None else _DOWNS[situation.down - 1],
        "distance": "" if situation is None else _distance_words(situation),
        "spot": _spot_words(play.yardline_100, offense, defense),
        "result": _result_words(play),
        "score": ""
        if after is None
        else f"{game.away} {after.away_points}, {game.home} {after.home_points}",
        "note": _named(play, rosters),
        "play": str(play.number),
    }


def _distance_words(situation: Situation) -> str:
    return "goal" if situation.goal_to_go else str(situation.distance_yd)


def _spot_words(yardline_100: int, offense: str, defense: str) -> str:
    if yardline_100 == 50:
        return "midfield"
    own = yardline_100 > 50
    return f"{offense if own else defense} {100 - yardline_100 if own else yardline_100}"


def _result_words(play: LoggedPlay) -> str:
    if play.result is None:
        return "touchdown" if play.touchdown else ""
    words = _RESULTS[play.result]
    if play.down is None:
        words = _TRY_RESULTS.get(play.result, words)
    gain = play.gain_yd
    if gain is not None and play.result not in (Result.INCOMPLETE, Result.INTERCEPTION):
        yards = f"{abs(gain)} yard{'' if abs(gain) == 1 else 's'}"
        words += f" for {yards}" if gain > 0 else f", loss of {yards}" if gain < 0 else ", no gain"
    if play.touchdown:
        words += ", touchdown"
    elif play.out_of_bounds:
        words += ", out of bounds"
    return words


def _named(play: LoggedPlay, rosters: Mapping[Team, Roster]) -> str:
    """The note with ``#12`` (of the offense) and ``d#12`` (of the defense) as names."""

    def name(found: re.Match[str]) -> str:
        roster = rosters.get(play.offense.other if found[1] else play.offense, {})
        known = roster.get(found[2])
        return found[0] if known is None else f"{known} ({found[2]})"

    return _NUMBER.sub(name, play.note)
