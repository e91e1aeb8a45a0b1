"""One game from the logs and cards of a crew: which plays are the same, and who had which.

Every photographer's phone has the right time to some seconds, and a play is logged soon after it
ended, so two logs are laid beside each other in their order: plays of one quarter at most
`SAME_WITHIN_S` apart, `CLOSE_S` where the situation differs, may be the same, and the pairing whose
plays agree best is taken (a global alignment, the dynamic program of Needleman and Wunsch, Journal
of Molecular Biology 48, 1970).

A merged play says in its ``source`` whose plays it was made of, so that merging again adds nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from datetime import datetime
from pathlib import Path
from typing import Final

import numpy as np

from lensyard.errors import InvalidInputError
from lensyard.game.document import (
    CARD_FORMAT,
    GameLog,
    plays_to_add,
    read_card_export,
    read_log,
    read_text,
)
from lensyard.game.entry import Game, LoggedPlay
from lensyard.game.logbook import Logbook
from lensyard.records import Record

MOST_LOGS: Final = 6
"""As many as a crew of a game may have, and as a play has room to name."""
SAME_WITHIN_S: Final = 90.0
CLOSE_S: Final = 20.0
"""Plays of which two say different things are the same only if so close; snaps are 25 s or more
apart nearly always, and who logs does so within some seconds of the whistle. [s]"""
SAME_SPOT_YD: Final = 2
"""Two people read a yard line alike to so much. [yd]"""
PREFIX: Final = "crew "
OWN: Final = "log"
"""Whose the plays are that stood in the game before anybody's log was merged into it."""
NEW: Final = 9999
"""The number of a play until all have theirs."""
_WHO: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,11}")
_FACTS: Final = (
    "offense", "down", "distance_yd", "yardline_100", "hash_mark", "score_diff", "clock_s",
    "result", "gain_yd", "air_yd", "end_y_yd", "end_yardline_100", "touchdown", "out_of_bounds",
    "first_down", "changed_hands", "ends_quarter",
)  # fmt: skip
"""What everybody should say alike of one play."""
_FILLED: Final = (*_FACTS, "snap_at", "direction", "spot", "note")


class PlayShare(Record):
    """One photographer's part of a play: their number for it, and what they shot and kept of it.

    ``frames`` and ``keepers`` are None where they did not say.
    """

    who: str
    number: int
    frames: int | None
    keepers: int | None

    @property
    def had(self) -> bool:
        """Whether they have the play: a keeper of it, or a frame where keepers were not noted."""
        return bool(self.frames if self.keepers is None else self.keepers)


class Conflict(Record):
    """Two logs that disagree on a play: what stays, and what else was said and by whom."""

    play: int
    field: str
    kept: str
    other: str
    who: str


class CrewMerge(Record):
    """A game merged from several logs.

    ``log`` is the game as it is now, ``added`` counts plays that it had not; ``conflicts`` are of
    the plays that were merged now.
    """

    log: GameLog
    names: tuple[str, ...]
    added: int
    conflicts: tuple[Conflict, ...]


class CrewMember(Record):
    """One photographer of a merged game: plays logged, had, and had by nobody else; counts."""

    who: str
    plays: int
    had: int
    alone: int
    frames: int
    keepers: int


class CrewTake(Record):
    """Who had which plays of a merged game, by play number.

    ``nobody``: plays that none of them has; ``several``: plays of two or more, with their names.
    """

    members: tuple[CrewMember, ...]
    plays: int
    nobody: tuple[int, ...]
    several: tuple[tuple[int, tuple[str, ...]], ...]


class MergeAnswer(Record):
    """What merging gave; ``written`` says whether the log has it."""

    game: Game
    names: tuple[str, ...]
    plays: int
    added: int
    conflicts: tuple[Conflict, ...]
    take: CrewTake
    written: bool
    warnings: tuple[str, ...] = field(default=(), metadata={"json": "cautions"})
    model: None = None


def merge_files(
    book: Logbook, files: Sequence[str], *, game_id: str | None, dry_run: bool = False
) -> MergeAnswer:
    """Merge files, ``NAME=FILE`` or ``FILE``, into a game of the log; nothing is half written.

    Raises `InvalidInputError` if a file is no log and no card, two have one name, there are too
    many, or they are of different games.
    """
    if len(files) > MOST_LOGS:
        raise InvalidInputError(f"at most {MOST_LOGS} logs are merged; got {len(files)}")
    there = {game.game_id: game for game in book.games()}
    base = there.get(game_id) if game_id else None
    logs: dict[str, GameLog] = {}
    for text in files:
        head, equals, rest = text.partition("=")
        path = Path(rest if equals else text)
        who = head if equals else path.stem.lower()
        if who in logs:
            raise InvalidInputError(f"two logs are of {who}; give each a name, NAME=FILE")
        known = base or next((log.game for log in logs.values()), None)
        logs[who] = _read(path, known)
    name = game_id or next(iter(logs.values())).game.game_id
    before = book.log(name) if name in there else None
    merged = merge_logs(before, logs, game_id=name)
    if not dry_run:
        book.set_merged(before, merged.log)
    return MergeAnswer(
        game=merged.log.game,
        names=merged.names,
        plays=len(merged.log.plays),
        added=merged.added,
        conflicts=merged.conflicts,
        take=crew_take(merged.log.plays),
        written=not dry_run,
        warnings=tuple(book.warnings),
    )


def _read(path: Path, known: Game | None) -> GameLog:
    text = read_text(path)
    if f'"{CARD_FORMAT}"' not in text[:2000]:
        return read_log(text, where=path.name)
    export = read_card_export(text, where=path.name)
    if known is None:
        raise InvalidInputError(
            f"{path.name} is a card, which does not say the teams; name a log before it, or a game "
            "of yours with --as"
        )
    empty = GameLog(known, ())
    return GameLog(known, plays_to_add(empty, export))


def crew_take(plays: Sequence[LoggedPlay]) -> CrewTake:
    """Return who had which of a merged game's plays; empty where it is no merged one."""
    shares = {play.number: shares_of(play) for play in plays}
    names = dict.fromkeys(share.who for some in shares.values() for share in some)
    had = {
        number: tuple(share.who for share in some if share.had) for number, some in shares.items()
    }
    members = []
    for who in names:
        own = [share for some in shares.values() for share in some if share.who == who]
        members.append(
            CrewMember(
                who=who,
                plays=len(own),
                had=sum(who in some for some in had.values()),
                alone=sum(some == (who,) for some in had.values()),
                frames=sum(share.frames or 0 for share in own),
                keepers=sum(share.keepers or 0 for share in own),
            )
        )
    return CrewTake(
        members=tuple(members),
        plays=len(shares) if names else 0,
        nobody=tuple(number for number, some in had.items() if not some) if names else (),
        several=tuple((number, some) for number, some in had.items() if len(some) > 1),
    )


def shares_of(play: LoggedPlay) -> tuple[PlayShare, ...]:
    """Return who has what of a play; nothing where it is no merged one."""
    if not play.source.startswith(PREFIX):
        return ()
    found = []
    for part in play.source.removeprefix(PREFIX).split("; "):
        who, number, frames, keepers = part.split(" ")
        found.append(PlayShare(who, int(number), _count(frames), _count(keepers)))
    return tuple(found)


def _count(text: str) -> int | None:
    return None if text == "-" else int(text)


def _source(shares: Sequence[PlayShare]) -> str:
    def text(count: int | None) -> str:
        return "-" if count is None else str(count)

    return PREFIX + "; ".join(
        f"{s.who} {s.number} {text(s.frames)} {text(s.keepers)}" for s in shares
    )


def merge_logs(before: GameLog | None, logs: Mapping[str, GameLog], *, game_id: str) -> CrewMerge:
    """Return one game from logs by photographer; ``before`` is what was merged earlier, if any.

    What stands in the game already counts before what is merged into it, and an earlier log before
    a later one; what nobody said before is filled in. Frames and keepers add up.

    Raises `InvalidInputError` if a name is none, or a log is of another game.
    """
    for who, log in logs.items():
        if not _WHO.fullmatch(who) or who == OWN:
            raise InvalidInputError(
                f"a photographer's name is 1 to 12 lower-case letters, digits and hyphens, and not "
                f"{OWN!r}; got {who[:40]!r}. Say it as NAME=FILE"
            )
        _require_same_game(before or next(iter(logs.values())), log, who)
    first = next(iter(logs.values()))
    base = GameLog(replace(first.game, game_id=game_id, ticks=()), ()) if before is None else before
    plays = [_with_own_share(play) for play in base.plays]
    ticks = list(base.game.ticks)
    conflicts: list[Conflict] = []
    for who, log in logs.items():
        plays, found = _merged(plays, log.plays, who)
        conflicts += found
        ticks += [key for key in log.game.ticks if key not in ticks]
    plays = sorted(plays, key=_when)
    by_share = {(s.who, s.number): i for i, p in enumerate(plays, 1) for s in shares_of(p)}
    moved = {play.number: i for i, play in enumerate(plays, 1) if play.number != NEW}
    captures = [
        replace(c, play=None if c.play is None else moved[c.play])
        for c in base.captures
        if c.file.partition("/")[0] not in logs
    ]
    for who, log in logs.items():
        captures += [
            replace(
                c,
                file=f"{who}/{c.file}",
                play=None if c.play is None else by_share[(who, c.play)],
            )
            for c in log.captures
        ]
    merged = tuple(replace(play, number=i) for i, play in enumerate(plays, start=1))
    return CrewMerge(
        log=GameLog(
            replace(base.game, ticks=tuple(ticks)),
            merged,
            tuple(sorted(captures, key=lambda c: (c.corrected_at, c.file))),
        ),
        names=tuple(logs),
        added=len(merged) - len(base.plays),
        conflicts=tuple(replace(c, play=by_share[(c.who, c.play)]) for c in conflicts),
    )


def _require_same_game(one: GameLog, other: GameLog, who: str) -> None:
    teams = [(log.game.home.casefold(), log.game.away.casefold()) for log in (one, other)]
    if teams[0] != teams[1]:
        raise InvalidInputError(
            f"the log of {who} is of {other.game.title}, not of {one.game.title}; nothing was "
            "merged"
        )


def _with_own_share(play: LoggedPlay) -> LoggedPlay:
    if shares_of(play):
        return play
    return replace(play, source=_source([PlayShare(OWN, play.number, play.frames, play.keepers)]))


def _when(play: LoggedPlay) -> tuple[int, datetime]:
    return play.quarter, play.snap_at or play.logged_at


def _merged(
    plays: Sequence[LoggedPlay], theirs: Sequence[LoggedPlay], who: str
) -> tuple[list[LoggedPlay], list[Conflict]]:
    """Lay one log beside what is merged; conflicts name the play by their number for now.

    A play that nobody had has the number `NEW`.
    """
    known = {(s.who, s.number): i for i, play in enumerate(plays) for s in shares_of(play)}
    found = list(plays)
    conflicts: list[Conflict] = []
    fresh = []
    for play in theirs:
        at = known.get((who, play.number))
        if at is None:
            fresh.append(play)
        else:
            found[at] = _shared(found[at], play, who)
    free = [i for i, play in enumerate(found) if who not in {s.who for s in shares_of(play)}]
    pairs = _aligned([found[i] for i in free], fresh)
    for row, play in enumerate(fresh):
        if row not in pairs:
            share = PlayShare(who, play.number, play.frames, play.keepers)
            found.append(replace(play, number=NEW, source=_source([share])))
            continue
        at = free[pairs[row]]
        conflicts += _conflicts(found[at], play, who)
        found[at] = _shared(_filled(found[at], play), play, who)
    return found, conflicts


def _shared(play: LoggedPlay, theirs: LoggedPlay, who: str) -> LoggedPlay:
    """A play with one's part in it as it is now, and the sums."""
    shares = {s.who: s for s in shares_of(play)}
    shares[who] = PlayShare(who, theirs.number, theirs.frames, theirs.keepers)
    frames = [s.frames for s in shares.values() if s.frames is not None]
    keepers = [s.keepers for s in shares.values() if s.keepers is not None]
    return replace(
        play,
        source=_source(tuple(shares.values())),
        frames=max(sum(frames), sum(keepers)) if frames else None,
        keepers=sum(keepers) if keepers and frames else None,
        ticks=tuple(dict.fromkeys([*play.ticks, *theirs.ticks])),
    )


def _filled(play: LoggedPlay, theirs: LoggedPlay) -> LoggedPlay:
    """A play with what it lacks from the other log; a result with all that belongs to it."""
    lacking = {name: getattr(theirs, name) for name in _FILLED if _unsaid(getattr(play, name))}
    if play.result is not None:
        lacking.pop("touchdown", None)
    try:
        return replace(play, **lacking)
    except InvalidInputError:  # what the two say does not go together
        return play


def _unsaid(value: object) -> bool:
    """Whether nobody said it; what is not ticked in a log may only have been left out."""
    return value is None or value is False or value == ""


def _conflicts(play: LoggedPlay, theirs: LoggedPlay, who: str) -> list[Conflict]:
    found = []
    for name in _FACTS:
        ours, other = getattr(play, name), getattr(theirs, name)
        if ours == other or (name != "touchdown" and (_unsaid(ours) or _unsaid(other))):
            continue
        if name != "touchdown" or None not in (play.result, theirs.result):
            found.append(Conflict(theirs.number, name, str(ours), str(other), who))
    return found


def _aligned(plays: Sequence[LoggedPlay], theirs: Sequence[LoggedPlay]) -> dict[int, int]:
    """Return which of the plays each of theirs is, by position; nothing for the others."""
    order = sorted(range(len(plays)), key=lambda i: _when(plays[i]))
    rows = sorted(range(len(theirs)), key=lambda i: _when(theirs[i]))
    score = np.full((len(order), len(rows)), -np.inf)
    for i, at in enumerate(order):
        for j, row in enumerate(rows):
            score[i, j] = _agreement(plays[at], theirs[row])
    best = np.zeros((len(order) + 1, len(rows) + 1))
    for i in range(len(order)):
        for j in range(len(rows)):
            best[i + 1, j + 1] = max(best[i, j] + score[i, j], best[i, j + 1], best[i + 1, j])
    pairs, i, j = {}, len(order), len(rows)
    while i and j:
        if best[i, j] == best[i - 1, j]:
            i -= 1
        elif best[i, j] == best[i, j - 1]:
            j -= 1
        else:
            i, j = i - 1, j - 1
            pairs[rows[j]] = order[i]
    return pairs


def _agreement(one: LoggedPlay, other: LoggedPlay) -> float:
    """How well two entries go together as one play; minus infinity where they cannot be."""
    apart = [
        abs((a - b).total_seconds())
        for a, b in ((one.snap_at, other.snap_at), (one.logged_at, other.logged_at))
        if a is not None and b is not None
    ]
    alike = [
        one.offense is other.offense,
        one.down == other.down,
        one.distance_yd == other.distance_yd,
        abs(one.yardline_100 - other.yardline_100) <= SAME_SPOT_YD,
    ]
    within = SAME_WITHIN_S if all(alike) else CLOSE_S
    if one.quarter != other.quarter or min(apart) > within:
        return -np.inf
    return 1.0 - min(apart) / SAME_WITHIN_S + sum(alike)
