"""The choices about one play, and which plays are counted; see `lensyard.options.groups`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from lensyard.domain.field import Direction, FieldRules, HashMark
from lensyard.domain.places import plain_standing, turned_standing
from lensyard.domain.situation import (
    DISTANCES_YD,
    Kick,
    PlayKind,
    Situation,
    ball_text,
    parse_ball,
    parse_clock,
    parse_distances,
)
from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError, ParseError
from lensyard.options.choices import (
    ALL_PLAYS,
    OneOf,
    Switch,
    Text,
    ball_words,
    choice,
    clock_text,
    span_words,
    whole,
)
from lensyard.records import Record

FIRST_DOWN_YD = 10
OWN_HALF_FROM = 50
_ORDINALS = ("1st", "2nd", "3rd", "4th")
_HASH_WORDS = {HashMark.LEFT: "Left", HashMark.MIDDLE: "Mid", HashMark.RIGHT: "Right"}


class SituationOptions(Record):
    """Down, distance, ball and clock; the defaults are a first snap after a touchback.

    ``distance_yd`` is ten yards where nobody said it, or the goal line where that is nearer.
    """

    down: int = choice(1, whole(1, 4), "down", "Down", "1 to 4.", required=True,
        offered=range(1, 5), words=lambda down: _ORDINALS[down - 1])  # fmt: skip
    distance_yd: int = choice(0, whole(1, 99), "distance", "Distance",
        "Yards to the line to gain. Default: 10, or the goal.")  # fmt: skip
    yardline_100: int = choice(75, Text(parse_ball, ball_text), "ball", "Ball on",
        "own20, 50 or opp35.", required=True, offered=range(99, 0, -1),
        words=ball_words)  # fmt: skip
    hash_mark: HashMark | None = choice(None,
        OneOf([mark.value for mark in HashMark], HashMark), "hash", "Hash",
        "Hash mark, as the offense sees it. Default: not known.",
        offered=(HashMark.LEFT, HashMark.MIDDLE, HashMark.RIGHT),
        words=lambda mark: _HASH_WORDS[mark])  # fmt: skip
    score_diff: int = choice(0, whole(-99, 99), "score", "Score, offense less defense",
        "Offense's points less defense's.")  # fmt: skip
    quarter: int = choice(2, whole(1, 5), "quarter", "Quarter", "1 to 4; 5 is overtime.",
        offered=range(1, 6),
        words=lambda quarter: "OT" if quarter == 5 else str(quarter))  # fmt: skip
    clock: str = choice("15:00", Text(clock_text), "clock", "Left in the quarter",
        "Left in the quarter.", example="15:00")  # fmt: skip

    def __post_init__(self) -> None:
        """Fill in the distance that nobody said."""
        if self.distance_yd == 0:
            object.__setattr__(self, "distance_yd", min(FIRST_DOWN_YD, self.yardline_100))

    def situation(self) -> Situation:
        """Return the situation before the snap.

        Raises `InvalidInputError` if it cannot be on a field, or in a game: goal to go begins
        within 10 yards, and no penalties and losses bring it back into one's own half (the farthest
        of the bundled seasons is the 35).
        """
        if self.distance_yd >= self.yardline_100 > OWN_HALF_FROM:
            raise InvalidInputError(
                f"{_ORDINALS[self.down - 1]} and goal at its own {100 - self.yardline_100} comes "
                "in no game; give --distance, the yards to the line to gain, usually 1 to 20"
            )
        return Situation(
            down=self.down,
            distance_yd=self.distance_yd,
            yardline_100=self.yardline_100,
            hash_mark=self.hash_mark,
            score_diff=self.score_diff,
            quarter=self.quarter,
            clock_s=parse_clock(self.clock),
        )


_PLAY_WORDS = {
    PlayKind.SCRIMMAGE: "Run or pass",
    PlayKind.TRY: "Kicked try",
}


class PlayOptions(Record):
    """Whether a snap from scrimmage comes, or which kick."""

    play: PlayKind = choice(PlayKind.SCRIMMAGE, OneOf([play.value for play in PlayKind], PlayKind),
        "play", "Play", "What comes: a snap, or a kick. A kick needs no --down; --ball moves it "
        "from its usual line (a field goal has none).", offered=tuple(PlayKind),
        words=lambda play: _PLAY_WORDS.get(
            play, play.value.replace("-", " ").capitalize()))  # fmt: skip

    def kick(
        self, rules: FieldRules, *, yardline_100: int | None, hash_mark: HashMark | None
    ) -> Kick | None:
        """Return the kick; None for a snap from scrimmage. Raises as `Kick.of`."""
        if self.play is PlayKind.SCRIMMAGE:
            return None
        return Kick.of(self.play, rules, yardline_100=yardline_100, hash_mark=hash_mark)


class StandingOptions(Record):
    """Where one stands, as text for `parse_standing`, and how long there is to walk."""

    standing: str = choice("", Text(), "standing", "You stand",
        "Where you stand: left:opp40, right:own20, left:goal+4, right:back, end:left12.",
        example="tap beside the field, or left:opp40")  # fmt: skip
    changed_hands: bool = choice(False, Switch("no", "yes", is_flag=True), "ball-changed-hands",
        "Time to walk", "With --standing: there is time for a longer walk (110 yd) before this "
        "snap.", address="changed",
        words=lambda changed: "ball changed hands" if changed else "between two plays")  # fmt: skip


class FlipOptions(Record):
    """The ball changes hands: what was typed for one offense, asked for the other."""

    flip: bool = choice(False, Switch("no", "yes", is_flag=True), "flip", "",
        "The ball has just changed hands where it lies: the other team has it, first and ten, "
        "going the other way; the score, the end and where you stand are turned with "
        "it.")  # fmt: skip


def flipped(
    situation: SituationOptions,
    direction: DirectionOptions,
    standing: StandingOptions,
    venue: Venue | None = None,
) -> tuple[SituationOptions, DirectionOptions, StandingOptions]:
    """Return the same ground after the ball changed hands: first and ten, the other way.

    >>> there = flipped(SituationOptions(3, 7, 35), DirectionOptions("A"), StandingOptions())
    >>> there[0].situation().text(), there[1].attacking
    ('1st and 10 at its own 35', 'B')
    """
    yardline = 100 - situation.yardline_100
    hands = {HashMark.LEFT: HashMark.RIGHT, HashMark.RIGHT: HashMark.LEFT}
    mark = situation.hash_mark
    return (
        replace(
            situation,
            down=1,
            distance_yd=min(FIRST_DOWN_YD, yardline),
            yardline_100=yardline,
            hash_mark=None if mark is None else hands.get(mark, mark),
            score_diff=-situation.score_diff,
        ),
        direction.turned(venue),
        replace(standing, standing=_turned_place(standing.standing), changed_hands=True),
    )


def _turned_place(text: str) -> str:
    """Return a typed place as the other offense says it; a venue's own names hold for both."""
    try:
        return turned_standing(plain_standing(text)) if text else ""
    except ParseError:
        return text.partition(" (")[0]


class DirectionOptions(Record):
    """The end that the offense attacks; it matters where a venue's ends differ."""

    attacking: str = choice("", OneOf(("", "A", "B")), "attacking", "Offense attacks",
        "The end that the offense plays toward: A, B or its name. It matters where the two ends "
        "of a venue differ.", typed=Text())  # fmt: skip

    def turned(self, venue: Venue | None = None) -> DirectionOptions:
        """Return the other end; ``venue`` knows an end by its own name."""
        said = self.attacking.strip().casefold()
        if venue is not None and said:
            said = "a" if venue.toward(self.attacking) is Direction.TOWARD_A else "b"
        return replace(self, attacking="B" if said in ("a", "end a") else "A")

    def direction(self, venue: Venue, *, say: Callable[[str], object] | None = None) -> Direction:
        """Return the direction of attack, toward end B where nobody said it.

        - ``venue``: knows the names of its ends.
        - ``say``: takes a sentence on what was assumed, where that matters and was not said.

        Raises `UnknownNameError` if the venue has no such end.
        """
        if self.attacking:
            return venue.toward(self.attacking)
        if say is not None and not (venue.symmetric and venue.names(Direction.TOWARD_B) is None):
            say(
                f"at {venue.name} it matters which end is attacked; taking the "
                f"{venue.end_names[1]} (B). Say --attacking {venue.end_names[0]!r} otherwise"
            )
        return Direction.TOWARD_B


class PlaysOptions(Record):
    """Which plays are counted: down and distance; all where nobody said it."""

    zone_down: int | None = choice(None, whole(1, 4), "down", "Down", "1 to 4. Default: all.",
        address="zone_down", offered=(None, 1, 2, 3, 4),
        words=lambda down: "All" if down is None else _ORDINALS[down - 1])  # fmt: skip
    to_go: str = choice(ALL_PLAYS, OneOf((ALL_PLAYS, *DISTANCES_YD)), "distance", "Yards to go",
        "short (1-3), medium (4-7), long (8 and more), or N-M yards.", address="to_go",
        typed=Text(), words=span_words)  # fmt: skip

    def distances_yd(self) -> tuple[int, int] | None:
        """Return the distances that count, both ends included; None for all. [yd]"""
        return None if self.to_go == ALL_PLAYS else parse_distances(self.to_go)
