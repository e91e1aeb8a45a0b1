"""The choices that commands and pages share, each group with what its choices turn into.

A command names the groups that it takes (`lensyard.options.click_options.options`); the pages'
`Controls` are made of the same groups, and so are their widgets and their address. Fields hold what
a person chose; a group's methods return domain objects.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from lensyard.domain.assignment import Assignment, Faces, LightPreference, assignment_for
from lensyard.domain.field import RULES, Direction, HashMark
from lensyard.domain.kit import DEMO_KIT, Kit, kit_of, parse_kit
from lensyard.domain.situation import DISTANCES_YD, Situation, parse_ball, parse_clock
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import InvalidInputError, ParseError
from lensyard.options.choices import (
    Number,
    OneOf,
    Switch,
    Text,
    Texts,
    Whole,
    choice,
    lines_of,
    parts_of,
)
from lensyard.settings.assignment_file import ASSIGNMENTS
from lensyard.settings.venue_file import VENUES

if TYPE_CHECKING:
    from lensyard.planner.solve import Walking

FIRST_DOWN_YD = 10
ALL_PLAYS = "all"
THEME_NAMES = ("sunlight", "night", "print")
_ORDINALS = ("1st", "2nd", "3rd", "4th")
_HASH_WORDS = {HashMark.LEFT: "Left", HashMark.MIDDLE: "Mid", HashMark.RIGHT: "Right"}


def ball_text(yardline_100: int) -> str:
    """Return a spot of the ball as `parse_ball` reads it.

    >>> ball_text(75), ball_text(50), ball_text(8)
    ('own25', '50', 'opp8')
    """
    if yardline_100 == 50:
        return "50"
    return f"own{100 - yardline_100}" if yardline_100 > 50 else f"opp{yardline_100}"


def ball_words(yardline_100: int) -> str:
    """Return a spot of the ball as a slider shows it.

    >>> ball_words(75), ball_words(8)
    ('own 25', "opponent's 8")
    """
    return ball_text(yardline_100).replace("own", "own ").replace("opp", "opponent's ")


def clock_text(text: str) -> str:
    """Return a game clock that `parse_clock` reads, without blanks around it."""
    parse_clock(text)
    return text.strip()


@dataclass(frozen=True)
class SituationOptions:
    """Down, distance, ball and clock; the defaults are a first snap after a touchback.

    ``distance_yd`` is ten yards where nobody said it, or the goal line where that is nearer.
    """

    down: int = choice(
        1,
        Whole(1, 4),
        label="Down",
        help="1 to 4.",
        flags=("--down",),
        address="down",
        required=True,
        offered=(1, 2, 3, 4),
        words=lambda down: _ORDINALS[down - 1],
    )
    distance_yd: int = choice(
        0,
        Whole(1, 99),
        label="Distance",
        help="Yards to the line to gain. Default: 10, or the goal.",
        flags=("--distance",),
        address="distance",
    )
    yardline_100: int = choice(
        75,
        Text(parse_ball, ball_text),
        label="Ball on",
        help="own20, 50 or opp35.",
        flags=("--ball",),
        address="ball",
        required=True,
        offered=tuple(range(99, 0, -1)),
        words=ball_words,
    )
    hash_mark: HashMark | None = choice(
        None,
        OneOf([mark.value for mark in HashMark], HashMark),
        label="Hash",
        help="Hash mark, as the offense sees it. Default: not known.",
        flags=("--hash",),
        address="hash",
        offered=(HashMark.LEFT, HashMark.MIDDLE, HashMark.RIGHT),
        words=lambda mark: _HASH_WORDS[mark],
    )
    score_diff: int = choice(
        0,
        Whole(-99, 99),
        label="Score, offense less defense",
        help="Offense's points less defense's.",
        flags=("--score",),
        address="score",
    )
    quarter: int = choice(
        2,
        Whole(1, 5),
        label="Quarter",
        help="1 to 4; 5 is overtime.",
        flags=("--quarter",),
        address="quarter",
        offered=(1, 2, 3, 4, 5),
        words=lambda quarter: "OT" if quarter == 5 else str(quarter),
    )
    clock: str = choice(
        "15:00",
        Text(clock_text),
        label="Left in the quarter",
        help="Left in the quarter.",
        flags=("--clock",),
        address="clock",
        example="15:00",
    )

    def __post_init__(self) -> None:
        """Fill in the distance that nobody said."""
        if self.distance_yd == 0:
            object.__setattr__(self, "distance_yd", min(FIRST_DOWN_YD, self.yardline_100))

    def situation(self) -> Situation:
        """Return the situation before the snap.

        Raises
        ------
        InvalidInputError
            If it cannot be on a field.
        """
        return Situation(
            down=self.down,
            distance_yd=self.distance_yd,
            yardline_100=self.yardline_100,
            hash_mark=self.hash_mark,
            score_diff=self.score_diff,
            quarter=self.quarter,
            clock_s=parse_clock(self.clock),
        )


@dataclass(frozen=True)
class StandingOptions:
    """Where one stands, as text for `parse_standing`, and how long there is to walk."""

    standing: str = choice(
        "",
        Text(),
        label="You stand",
        help="Where you stand: left:opp40, right:own20, left:goal+4, right:back, end:left12.",
        flags=("--standing",),
        address="standing",
        example="tap beside the field, or left:opp40",
    )
    changed_hands: bool = choice(
        False,
        Switch("no", "yes", is_flag=True),
        label="Time to walk",
        help="With --standing: there is time for a longer walk (110 yd) before this snap.",
        flags=("--ball-changed-hands",),
        address="changed",
        words=lambda changed: "ball changed hands" if changed else "between two plays",
    )


@dataclass(frozen=True)
class LensOptions:
    """Lenses, crop factors, cameras and a converter: one's own kit."""

    lenses: str = choice(
        "70-200, 400",
        Texts(parts_of, ", ", lambda text: kit_of([text])),
        label="Lenses, mm",
        help="A lens: 70-200, 400, 70-200/2.8, 300 x1.4, 70-200 on 1.5. Repeat for more. "
        "Default: the demo kit, 70-200 and 400.",
        flags=("--lens",),
        address="lens",
        remembered=True,
        example="70-200, 400",
    )
    crop_factors: str = choice(
        "1",
        Texts(parts_of, ", "),
        label="Crop factor, one for all or one a lens",
        help="Crop factor: one for all, or one a lens in the same order. Default: 1.0.",
        flags=("--body",),
        address="body",
        remembered=True,
        example="1, 1.5",
    )
    bodies: int | None = choice(
        None,
        Whole(1, 6),
        label="Cameras",
        help="How many cameras. Default: one a lens.",
        flags=("--bodies",),
        address="bodies",
        remembered=True,
        offered=(None, 1, 2, 3),
        words=lambda bodies: "one each" if bodies is None else str(bodies),
    )
    converter: float = choice(
        1.0,
        Number(1, 3),
        label="Converter on the longest",
        help="Teleconverter on the longest lens.",
        flags=("--converter",),
        address="converter",
        remembered=True,
        offered=(1.0, 1.4, 2.0),
        words=lambda converter: "none" if converter == 1.0 else f"x{converter:g}",
    )

    def kit(self) -> Kit:
        """Return the kit; the demo kit where nothing was chosen.

        Raises
        ------
        InvalidInputError
            If a lens, a crop factor or their number cannot be right.
        """
        own = (self.lenses, self.crop_factors, self.bodies, self.converter)
        if own == (LensOptions.lenses, LensOptions.crop_factors, None, 1.0):
            return DEMO_KIT
        return kit_of(
            parts_of(self.lenses),
            crop_factors=[_crop_factor(part) for part in parts_of(self.crop_factors)] or None,
            bodies=self.bodies,
            converter=self.converter,
        )


@dataclass(frozen=True)
class KitOptions(LensOptions):
    """One kit for a command: lens by lens, or as one text."""

    kit_text: str = choice(
        "",
        Text(),
        help='The kit in one text, in place of --lens: "70-200 + 300 x1.4", "70-200 on 1.5", '
        '"70-200 + 400, 1 body".',
        flags=("--kit",),
        in_place_of=("lenses", "crop_factors", "bodies", "converter"),
    )

    def kit(self) -> Kit:
        """Return the kit that the text or the lenses say; raises as `LensOptions.kit`."""
        return parse_kit(self.kit_text) if self.kit_text else super().kit()


def _crop_factor(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise ParseError(
            name="crop factor", text=text, expected="1 for full frame, 1.5 or 1.6, say"
        ) from None


def _team_area_words(yard_line: float | None) -> str:
    if yard_line is None:
        return "usual"
    return "none" if yard_line == 50 else f"{yard_line:g}s"


@dataclass(frozen=True)
class NamedVenueOptions:
    """A venue by its name; on the command line also by the path of its file."""

    venue_name: str = choice(
        "",
        OneOf(lambda: ("", *VENUES.names())),
        typed=Text(),
        label="Venue",
        help="A venue's name, or the path of its TOML file. `lensyard venue list` names them.",
        flags=("--venue",),
        address="venue",
        in_place_of=("rules", "team_area"),
        remembered=True,
        words=lambda name: name.replace("-", " ").title() if name else "any field",
    )

    def venue(self) -> Venue:
        """Return the venue.

        Raises
        ------
        InvalidInputError
            If there is no such venue, or its file is not usable.
        """
        return VENUES.load(self.venue_name)


@dataclass(frozen=True)
class VenueOptions(NamedVenueOptions):
    """A venue by name, or any field of a rule set."""

    rules: str = choice(
        "pro",
        OneOf(tuple(RULES)),
        label="Field",
        help="Rule set of the field.",
        flags=("--rules",),
        address="rules",
        remembered=True,
        words=lambda name: name.replace("-", " ").capitalize(),
    )
    team_area: float | None = choice(
        None,
        Number(0, 50),
        label="Team areas between the",
        help="Team areas lie between this yard line and its twin; 50 closes nothing. "
        "Default: the rule set's.",
        flags=("--team-area",),
        address="team_area",
        remembered=True,
        offered=(None, 20, 25, 30, 35, 50),
        words=_team_area_words,
    )

    def venue(self) -> Venue:
        """Return the venue, or any field of the rule set; raises as `NamedVenueOptions.venue`."""
        if self.venue_name:
            return super().venue()
        return standard_venue(self.rules, team_area_from_yard_line=self.team_area)


@dataclass(frozen=True)
class DirectionOptions:
    """The end that the offense attacks; it matters where a venue's ends differ."""

    attacking: str = choice(
        "",
        OneOf(("", "A", "B")),
        typed=Text(),
        label="Offense attacks",
        help="The end that the offense plays toward: A, B or its name. It matters where the two "
        "ends of a venue differ.",
        flags=("--attacking",),
        address="attacking",
    )

    def direction(self, venue: Venue, *, say: Callable[[str], object] | None = None) -> Direction:
        """Return the direction of attack, toward end B where nobody said it.

        Parameters
        ----------
        venue
            Knows the names of its ends.
        say
            Takes a sentence on what was assumed, where that matters and was not said.

        Raises
        ------
        UnknownNameError
            If the venue has no such end.
        """
        if self.attacking:
            return venue.toward(self.attacking)
        if say is not None and not venue.symmetric:
            say(
                f"the two ends of {venue.name} differ; taking the offense to play toward the "
                f"{venue.end_names[1]} (B). Say --attacking {venue.end_names[0]!r} otherwise"
            )
        return Direction.TOWARD_B


@dataclass(frozen=True)
class AssignmentOptions:
    """What one is sent for, by name; ``faces`` in place of the assignment's own."""

    assignment_name: str = choice(
        "",
        OneOf(lambda: ("", *ASSIGNMENTS.names())),
        typed=Text(),
        label="Assignment",
        help="What you are sent for: a name (`lensyard assignment list`), or the path of a TOML "
        "file. It brings weights, faces, whose plays count, the shot list and what light should "
        "do.",
        flags=("--assignment",),
        address="assignment",
        remembered=True,
        words=lambda name: (
            name.replace("-", " ").capitalize() if name else "plain: every play counts"
        ),
    )
    faces: Faces | None = choice(
        None,
        OneOf([faces.value for faces in Faces], Faces),
        label="Faces of the",
        help="Whose faces the frames must show. Default: the assignment's own, else offense.",
        flags=("--faces",),
        address="faces",
        remembered=True,
        offered=tuple(Faces),
        words=str.capitalize,
    )

    def assignment(self) -> Assignment:
        """Return the assignment, or the plain one for whose faces are wanted.

        Raises
        ------
        InvalidInputError
            If there is no such assignment, or its file is not usable.
        """
        if not self.assignment_name:
            return assignment_for(self.faces or Faces.OFFENSE)
        assignment = ASSIGNMENTS.load(self.assignment_name)
        return assignment if self.faces is None else replace(assignment, faces=self.faces)


@dataclass(frozen=True)
class HaveOptions:
    """Frames of the shot list that one has."""

    have: str = choice(
        "",
        Texts(parts_of, ","),
        help="A frame of the shot list that you have: drop-back. Repeat for more, or separate with "
        "commas. What is left of its bonus counts.",
        flags=("--have",),
    )

    def ticked(self) -> tuple[str, ...]:
        """Return the keys of the frames, each once.

        >>> HaveOptions("drop-back,carrier,carrier").ticked()
        ('drop-back', 'carrier')
        """
        return tuple(dict.fromkeys(parts_of(self.have)))


@dataclass(frozen=True)
class RankingOptions:
    """How many spots are named, and what they are ranked by."""

    top: int = choice(5, Whole(1, 20), help="Spots to name.", flags=("--top",))
    by_value: bool = choice(
        False,
        Switch("usable", "value"),
        label="Rank spots by",
        help="Rank by how likely the play is usable, or by what it is worth to the assignment.",
        flags=("--by",),
        address="by",
        words=lambda by_value: "value" if by_value else "usable plays",
    )


@dataclass(frozen=True)
class WalkLimitOptions:
    """How far one walks along the perimeter."""

    between_yd: float = choice(
        30.0, Number(0, 400), help="Yards one walks between plays.", flags=("--between",)
    )
    at_change_yd: float = choice(
        110.0, Number(0, 400), help="Yards when the ball changes.", flags=("--at-change",)
    )

    def limits(self) -> Walking:
        """Return the walking at the usual price of a yard for every kit."""
        from lensyard.planner.solve import Walking

        return Walking(drive_limit_yd=self.between_yd, change_limit_yd=self.at_change_yd)


@dataclass(frozen=True)
class WalkingOptions(WalkLimitOptions):
    """How far one walks, and what a yard costs."""

    price: float | None = choice(
        None,
        Number(0, 10),
        help="Of a yard walked, in usable plays. Default: by reach.",
        flags=("--price",),
    )

    def walking(self, kit: Kit, assignment: Assignment) -> Walking:
        """Return the walking; at the usual price for the kit where none was said."""
        from lensyard.planner.problem import usual_walking

        usual = usual_walking(kit, assignment)
        return replace(
            self.limits(), price_per_yd=usual.price_per_yd if self.price is None else self.price
        )


def time_text(text: str) -> str:
    """Return a date and a time of day as the address writes them; nothing for nothing.

    >>> time_text("2026-10-03 15:30"), time_text("2026-10-03T15:30-05:00"), time_text(" ")
    ('2026-10-03T15:30', '2026-10-03T15:30-05:00', '')

    Raises
    ------
    ParseError
        If it is no date with a time.
    """
    given = text.strip()
    if not given:
        return ""
    expected = (
        "a date and a time on the venue's clock such as 2026-10-03T15:30, or with an offset: "
        "…15:30-05:00"
    )
    try:
        at = datetime.fromisoformat(given)
    except ValueError:
        raise ParseError(name="date and time", text=text, expected=expected) from None
    if "T" not in given.upper() and " " not in given:
        raise ParseError(name="date and time", text=text, expected=expected)
    return at.isoformat(timespec="seconds" if at.second else "minutes")


@dataclass(frozen=True)
class TimeOptions:
    """When: the kickoff, or the moment that is asked for; empty where nobody said it."""

    kickoff: str = choice(
        "",
        Text(time_text),
        label="Kickoff, on the venue's clock",
        help="When: 2026-10-03T15:30 (the venue's clock), or with an offset. It brings the light; "
        "needs a --venue with its place.",
        flags=("--at",),
        address="kickoff",
        example="2026-10-03 15:30",
    )

    def at(self) -> datetime | None:
        """Return the date and time, with a zone only if one was given."""
        return datetime.fromisoformat(self.kickoff) if self.kickoff else None


@dataclass(frozen=True)
class LightOptions(TimeOptions):
    """When, and what light should do to the order of spots."""

    light: LightPreference | None = choice(
        None,
        OneOf([preference.value for preference in LightPreference], LightPreference),
        help="With --at: what light should do to the order. Default: as the assignment says.",
        flags=("--light",),
    )


@dataclass(frozen=True)
class IsoOptions:
    """The highest ISO that one accepts."""

    max_iso: float = choice(
        6400.0,
        Number(50, 1_000_000),
        help="The highest ISO that you accept; what the venue's lamps allow is judged by it.",
        flags=("--iso-max",),
    )


def _span_words(name: str) -> str:
    if name == ALL_PLAYS:
        return "All"
    low, high = DISTANCES_YD[name]
    return f"{low}-{high}" if high < 99 else f"{low}+"


def parse_distances(text: str) -> tuple[int, int]:
    """Return the distances that a text names, both ends included. [yd]

    Raises
    ------
    InvalidInputError
        If it is neither a name nor N-M nor N.

    Examples
    --------
    >>> parse_distances("long"), parse_distances("3-5"), parse_distances("1")
    ((8, 99), (3, 5), (1, 1))
    """
    if text.strip().lower() in DISTANCES_YD:
        return DISTANCES_YD[text.strip().lower()]
    first, _, last = text.partition("-")
    try:
        low, high = int(first), int(last or first)
    except ValueError:
        low, high = 0, 0
    if not 1 <= low <= high <= 99:
        raise InvalidInputError(
            f"cannot read a distance from {text!r}; expected short (1-3), medium (4-7), long (8 "
            "and more), or yards such as 2-6 or 1, from 1 to 99"
        )
    return low, high


@dataclass(frozen=True)
class PlaysOptions:
    """Which plays are counted: down and distance; all where nobody said it."""

    zone_down: int | None = choice(
        None,
        Whole(1, 4),
        label="Down",
        help="1 to 4. Default: all.",
        flags=("--down",),
        address="zone_down",
        offered=(None, 1, 2, 3, 4),
        words=lambda down: "All" if down is None else _ORDINALS[down - 1],
    )
    to_go: str = choice(
        ALL_PLAYS,
        OneOf((ALL_PLAYS, *DISTANCES_YD)),
        typed=Text(),
        label="Yards to go",
        help="short (1-3), medium (4-7), long (8 and more), or N-M yards.",
        flags=("--distance",),
        address="to_go",
        words=_span_words,
    )

    def distances_yd(self) -> tuple[int, int] | None:
        """Return the distances that count, both ends included; None for all. [yd]"""
        return None if self.to_go == ALL_PLAYS else parse_distances(self.to_go)


@dataclass(frozen=True)
class GearOptions:
    """Kits to compare with one's own, one a line."""

    kits: str = choice(
        "",
        Texts(lines_of, "\n", parse_kit),
        label="Compare your kit with these, one a line",
        help='A kit: "70-200 + 300 x1.4", "70-200 on 1.5", "70-200 + 400, 1 body". Repeat to '
        "compare; one alone is compared with what one usually thinks of next.",
        flags=("--kit",),
        address="kit",
        example="empty: what one usually thinks of next\n70-200 + 300 x1.4\n70-200 on 1.5",
    )


@dataclass(frozen=True)
class CrewOptions:
    """How many photographers, who carries what (a kit a line), and one play or a whole game."""

    shooters: int | None = choice(
        None,
        Whole(1, 12),
        label="Photographers",
        help="How many. Default: 2, or one a --kit.",
        flags=("--shooters",),
        address="shooters",
        offered=(2, 3, 4, 5, 6),
    )
    carried: str = choice(
        "",
        Texts(lines_of, "\n", parse_kit),
        label="One kit a line: one for all, or one each",
        help='Who carries what, in order: --kit "70-200 + 400" --kit "24-70 + 70-200". One for '
        "all, or one each; in place of --lens.",
        flags=("--kit",),
        address="carried",
        example="empty: your own kit for all\n70-200 + 400\n24-70 + 70-200",
    )
    whole_game: bool = choice(
        False,
        Switch("play", "game", is_flag=True),
        label="Plan for",
        help="Plans for a whole game in place of one play.",
        flags=("--game",),
        address="crew",
        words=lambda whole_game: "a whole game" if whole_game else "one play",
    )

    def carried_kits(self, own: Kit) -> list[Kit]:
        """Return one kit for all, or one a photographer; ``own`` where nobody said any."""
        return [parse_kit(line) for line in lines_of(self.carried)] or [own]

    def crew_size(self) -> int:
        """Return how many photographers there are: 2, or one a kit, where nobody said it."""
        return self.shooters or max(len(lines_of(self.carried)), 2)


@dataclass(frozen=True)
class ReviewOptions:
    """What is reviewed: a game by its id or all games of a season; neither is the last game."""

    game: str = choice(
        "",
        Text(),
        label="Game",
        help="A game's id. Default: the one going on, else the last.",
        flags=("--game",),
        address="game",
    )
    season: int | None = choice(
        None,
        Whole(1900, 2200),
        label="Season",
        help="All games of a season in place of one.",
        flags=("--season",),
        address="season",
    )
    own_reach: bool = choice(
        False,
        Switch("usual", "own", is_flag=True),
        label="Reach",
        help="Count again with your own reach, from what you kept.",
        flags=("--own-reach",),
        address="reach",
    )


@dataclass(frozen=True)
class ThemeOptions:
    """The colors."""

    theme: str = choice(
        THEME_NAMES[0],
        OneOf(THEME_NAMES),
        label="Screen",
        help="Colors: for sunlight, for the night, or for print.",
        flags=("--theme",),
        address="theme",
        older=("look",),
        remembered=True,
        words=str.capitalize,
    )
