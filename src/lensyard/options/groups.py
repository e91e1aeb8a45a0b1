"""The choices that commands and pages share, each group with what its choices turn into.

A command names the groups that it takes (`lensyard.options.click_options.options`); the pages'
`Controls` are made of the same groups, and so are their widgets and their address. Fields hold what
a person chose; a group's methods return domain objects.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from lensyard.domain.assignment import (
    LEAST_USABLE,
    Assignment,
    Faces,
    LightPreference,
    assignment_for,
)
from lensyard.domain.crew import Member, Role, members_of, parse_member
from lensyard.domain.field import RULES, Direction, FieldRules, HashMark
from lensyard.domain.kit import (
    CROP_MARGIN,
    DEMO_KIT,
    MOST_CROP_MARGIN,
    Kit,
    kit_of,
    parse_kit,
)
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
from lensyard.domain.tempo import PACE_YD_S, SETTLE_S, Tempo, WalkTime
from lensyard.domain.venue import Venue, end_lines_past, standard_venue
from lensyard.errors import InvalidInputError, ParseError
from lensyard.options.choices import (
    ALL_PLAYS,
    Number,
    OneOf,
    Switch,
    Text,
    Texts,
    ball_words,
    choice,
    clock_text,
    crop_factor,
    lines_of,
    parts_of,
    span_words,
    team_area_words,
    time_text,
    whole,
)
from lensyard.records import Record

if TYPE_CHECKING:
    from lensyard.model.context import Context
    from lensyard.planner.solve import Walking
    from lensyard.settings.reading import SettingsKind

FIRST_DOWN_YD = 10
OWN_HALF_FROM = 50
THEME_NAMES = ("sunlight", "night", "print")
_PLAIN = "plain: every play counts"
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


def _require_lens(text: str) -> None:
    """Raise `InvalidInputError` for what cannot stand beside a lens: another, or ``1 body``."""
    kit_of(["400", text])


FALLOFF: Final = frozenset({"crop_margin", "keep_curve"})
"""Choices of every kit alike: how frames lose their quality beyond the reach."""


class LensOptions(Record):
    """Lenses, crop factors, cameras and a converter: one's own kit."""

    lenses: str = choice("70-200, 400", Texts(parts_of, ", ", _require_lens),
        "lens", "Lenses, mm", "A lens: 70-200, 400, 70-200/2.8, 300 x1.4, 70-200 on 1.5. Repeat "
        "for more. Default: the demo kit, 70-200 and 400.", remembered=True,
        example="70-200, 400")  # fmt: skip
    crop_factors: str = choice("1", Texts(parts_of, ", "), "body",
        "Crop factor, one for all or one a lens", "Crop factor: one for all, or one a lens in "
        "the same order. Default: 1.0.", remembered=True, example="1, 1.5")  # fmt: skip
    bodies: int | None = choice(None, whole(1, 6), "bodies", "Cameras",
        "How many cameras. Default: one a lens.", remembered=True, offered=(None, 1, 2, 3),
        words=lambda bodies: "one each" if bodies is None else str(bodies))  # fmt: skip
    converter: float = choice(1.0, Number(1, 3), "converter", "Converter on the longest",
        "Teleconverter on the longest lens.", remembered=True, offered=(1.0, 1.4, 2.0),
        words=lambda converter: "none" if converter == 1.0 else f"x{converter:g}")  # fmt: skip
    crop_margin: float = choice(CROP_MARGIN, Number(1, MOST_CROP_MARGIN), "crop-margin",
        "Crop margin", "Up to so many times the reach a frame is still worth something, less and "
        "less; 1 is a hard wall.", remembered=True, offered=(1.0, 1.25, 1.5),
        words=lambda margin: f"{margin:g} x the reach")  # fmt: skip
    keep_curve: str = choice("", Text(), "keep-curve", "Own keep curve",
        "Your own keep rate by distance over the reach, in place of the crop margin: \"0.9:1 "
        "1.25:0.4 1.6:0\"; slope for none. Default: what `lensyard review --use-curve` kept.",
        remembered=True, example="0.9:1 1.25:0.4 1.6:0")  # fmt: skip

    def falloff(self) -> dict[str, Any]:
        """Return how frames lose their quality beyond the reach, as fields of a kit.

        Raises `InvalidInputError` if the curve, typed or kept, is none.
        """
        from lensyard.settings.own_curve import own_curve

        return {"crop_margin": self.crop_margin, "keep_curve": own_curve(self.keep_curve)}

    def kit(self) -> Kit:
        """Return the kit; the demo kit where nothing was chosen.

        Raises `InvalidInputError` if a lens, a crop factor or their number cannot be right.
        """
        own = (self.lenses, self.crop_factors, self.bodies, self.converter)
        if own == (LensOptions.lenses, LensOptions.crop_factors, None, 1.0):
            return replace(DEMO_KIT, **self.falloff())
        typed = kit_of(
            parts_of(self.lenses),
            crop_factors=[crop_factor(part) for part in parts_of(self.crop_factors)] or None,
            bodies=self.bodies,
            converter=self.converter,
        )
        return replace(typed, **self.falloff())


class KitOptions(LensOptions):
    """One kit for a command: lens by lens, or as one text."""

    kit_text: str = choice("", Text(), "kit", "", 'The kit in one text, in place of --lens: '
        '"70-200 + 300 x1.4", "70-200 on 1.5", "70-200 + 400, 1 body".',
        in_place_of=("lenses", "crop_factors", "bodies", "converter"))  # fmt: skip

    def kit(self) -> Kit:
        """Return the kit that the text or the lenses say; raises as `LensOptions.kit`."""
        if self.kit_text:
            return replace(parse_kit(self.kit_text), **self.falloff())
        return super().kit()


def _venues() -> SettingsKind[Venue]:
    """The kind of venue files, imported when one is named."""
    from lensyard.settings.files import VENUES

    return VENUES


def _assignments() -> SettingsKind[Assignment]:
    """The kind of assignment files; see `_venues`."""
    from lensyard.settings.files import ASSIGNMENTS

    return ASSIGNMENTS


class NamedVenueOptions(Record):
    """A venue by its name; on the command line also by the path of its file."""

    venue_name: str = choice("", OneOf(lambda: ("", *_venues().names())), "venue", "Venue",
        "A venue's name, or the path of its TOML file. `lensyard venue list` names them.",
        typed=Text(), in_place_of=("rules", "team_area"), remembered=True,
        words=lambda name: name.replace("-", " ").title() if name else "any field")  # fmt: skip

    def venue(self) -> Venue:
        """Return the venue.

        Raises `InvalidInputError` if there is no such venue, or its file is not usable.
        """
        return _venues().load(self.venue_name)


class VenueOptions(NamedVenueOptions):
    """A venue by name, or any field of a rule set."""

    rules: str = choice("pro", OneOf(tuple(RULES)), "rules", "Field", "Rule set of the field.",
        remembered=True, words=lambda name: name.replace("-", " ").capitalize())  # fmt: skip
    team_area: float | None = choice(None, Number(0, 50), "team-area", "Team areas between the",
        "Team areas lie between this yard line and its twin; 50 closes nothing. Default: the "
        "rule set's.", remembered=True, offered=(None, 20, 25, 30, 35, 50),
        words=team_area_words)  # fmt: skip
    end_line_open: float | None = choice(None, Number(0, 26), "end-line-open",
        "End line open from each pylon", "Yards from each pylon; nobody gets past that toward the "
        "posts. Default: all of it.", remembered=True, offered=(None, 6, 12, 18),
        words=lambda open_yd: "all" if open_yd is None else f"{open_yd:g} yd")  # fmt: skip

    def venue(self) -> Venue:
        """Return the venue, or any field of the rule set; raises as `NamedVenueOptions.venue`."""
        found = (
            super().venue()
            if self.venue_name
            else standard_venue(self.rules, team_area_from_yard_line=self.team_area)
        )
        if self.end_line_open is None:
            return found
        return replace(found, closed=(*found.closed, *end_lines_past(self.end_line_open)))


SOURCE_HELP = "Whose plays: bundled, or an imported source. Default: each season's own."


def _model_names() -> tuple[str, ...]:
    from lensyard.model.choice import model_names

    return tuple(model_names())


class ModelOptions(Record):
    """The model that answers."""

    model_name: str = choice("", OneOf(lambda: ("", *_model_names())), "model", "Model",
        "A model: its id (`lensyard model list`), or its .npz file. Default: the one chosen with "
        "`lensyard model use`, else the rule set's.", typed=Text(), remembered=True,
        words=lambda name: name or "chosen, or the field's")  # fmt: skip

    def context(self, venue: Venue) -> Context:
        """Return the model of a venue's rule set, or the named one, ready to answer.

        Raises `ModelError` if it is missing or damaged.
        """
        from lensyard.model.context import load_context

        return load_context(self.model_name, rules=venue.rules.name)


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


class AssignmentOptions(Record):
    """What one is sent for, by name; ``faces`` in place of the assignment's own."""

    assignment_name: str = choice("", OneOf(lambda: ("", *_assignments().names())), "assignment",
        "Assignment", "What you are sent for: a name (`lensyard assignment list`), or the path "
        "of a TOML file. It brings weights, faces, whose plays count, the shot list and what "
        "light should do.", typed=Text(), remembered=True,
        words=lambda name: name.replace("-", " ").capitalize() or _PLAIN)  # fmt: skip
    faces: Faces | None = choice(None, OneOf([faces.value for faces in Faces], Faces), "faces",
        "Faces of the", "Whose faces the frames must show. Default: the assignment's own, else "
        "offense.", remembered=True, offered=tuple(Faces), words=str.capitalize)  # fmt: skip

    def assignment(self) -> Assignment:
        """Return the assignment, or the plain one for whose faces are wanted.

        Raises `InvalidInputError` if there is no such assignment, or its file is not usable.
        """
        if not self.assignment_name:
            return assignment_for(self.faces or Faces.OFFENSE)
        assignment = _assignments().load(self.assignment_name)
        return assignment if self.faces is None else replace(assignment, faces=self.faces)


class HaveOptions(Record):
    """Frames of the shot list that one has."""

    have: str = choice("", Texts(parts_of, ","), "have", "", "A frame of the shot list that you "
        "have: drop-back. Repeat for more, or separate with commas. What is left of its bonus "
        "counts.")  # fmt: skip

    def ticked(self) -> tuple[str, ...]:
        """Return the keys of the frames, each once.

        >>> HaveOptions("drop-back,carrier,carrier").ticked()
        ('drop-back', 'carrier')
        """
        return tuple(dict.fromkeys(parts_of(self.have)))


class RankingOptions(Record):
    """How many spots are named, and what they are ranked by."""

    top: int = choice(5, whole(1, 20), "top", "", "Spots to name.")
    by_value: bool = choice(False, Switch("usable", "value"), "by", "Rank spots by",
        "Rank by how likely the play is usable, or by what it is worth to the assignment.",
        words=lambda by_value: "value" if by_value else "usable plays")  # fmt: skip
    least_usable: float = choice(LEAST_USABLE, Number(0, 1), "least", "",
        "Below this chance of a usable play within the walk nothing pays on this snap, and the "
        "answer says what to do instead.")  # fmt: skip


class TempoOptions(Record):
    """How much time there is between two snaps, and how fast one walks."""

    tempo: Tempo = choice(Tempo.USUAL, OneOf([tempo.value for tempo in Tempo], Tempo), "tempo",
        "Tempo of the offense", "From snap to snap: usual 38 s, hurry 19 s, medians of the bundled "
        "clock.", words=str.capitalize)  # fmt: skip
    pace_yd_s: float = choice(PACE_YD_S, Number(0.3, 6), "pace", "Pace, yd/s", "How fast one "
        "walks, yd/s: with gear some 1.5, a jog 2.5.", offered=(1.0, 1.5, 2.0, 2.5),
        words="{:g}".format)  # fmt: skip
    settle_s: float = choice(SETTLE_S, Number(0, 60), "settle", "", "Seconds to settle down before "
        "the snap.")  # fmt: skip

    def walk_time(self) -> WalkTime:
        """Return how far one gets before a snap."""
        return WalkTime.of(self.tempo, pace_yd_s=self.pace_yd_s, settle_s=self.settle_s)


class WalkLimitOptions(TempoOptions):
    """How far one walks along the perimeter: by the time there is, or so many yards."""

    between_yd: float | None = choice(None, Number(0, 400), "between", "", "Yards one walks "
        "between plays, in place of what --tempo, --pace and --settle make. Default: by "
        "those.")  # fmt: skip
    at_change_yd: float | None = choice(None, Number(0, 400), "at-change", "", "Yards when the "
        "ball changes hands. Default: by the pace.")  # fmt: skip

    def walk_time(self) -> WalkTime:
        """Return how far one gets before a snap."""
        found = super().walk_time()
        return replace(
            found,
            drive_yd=found.drive_yd if self.between_yd is None else self.between_yd,
            change_yd=found.change_yd if self.at_change_yd is None else self.at_change_yd,
        )

    def limits(self) -> Walking:
        """Return the walking at the usual price of a yard for every kit."""
        from lensyard.planner.solve import Walking

        time = self.walk_time()
        return Walking(drive_limit_yd=time.drive_yd, change_limit_yd=time.change_yd)


class WalkingOptions(WalkLimitOptions):
    """How far one walks, and what a yard costs."""

    price: float | None = choice(None, Number(0, 10), "price", "",
        "Of a yard walked, in usable plays. Default: by reach.")  # fmt: skip

    def walking(self, kit: Kit, assignment: Assignment) -> Walking:
        """Return the walking; at the usual price for the kit where none was said."""
        from lensyard.planner.plans import usual_walking

        usual = usual_walking(kit, assignment)
        return replace(
            self.limits(), price_per_yd=usual.price_per_yd if self.price is None else self.price
        )


class TimeOptions(Record):
    """When: the kickoff, or the moment that is asked for; empty where nobody said it."""

    kickoff: str = choice("", Text(time_text), "at", "Kickoff, on the venue's clock",
        "When: 2026-10-03T15:30 (the venue's clock), or with an offset. It brings the light; "
        "needs a --venue with its place.", address="kickoff",
        example="2026-10-03 15:30")  # fmt: skip

    def at(self) -> datetime | None:
        """Return the date and time, with a zone only if one was given."""
        return datetime.fromisoformat(self.kickoff) if self.kickoff else None


class LightOptions(TimeOptions):
    """When, and what light should do to the order of spots."""

    light: LightPreference | None = choice(None,
        OneOf([preference.value for preference in LightPreference], LightPreference), "light",
        "", "With --at: what light should do to the order. Default: as the assignment "
        "says.")  # fmt: skip


class IsoOptions(Record):
    """The highest ISO that one accepts."""

    max_iso: float = choice(6400.0, Number(50, 1_000_000), "iso-max", "",
        "The highest ISO that you accept; what the venue's lamps allow is judged "
        "by it.")  # fmt: skip


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


class GearOptions(Record):
    """Kits to compare with one's own, one a line."""

    kits: str = choice("", Texts(lines_of, "\n", parse_kit), "kit",
        "Compare your kit with these, one a line", 'A kit: "70-200 + 300 x1.4", "70-200 on '
        '1.5", "70-200 + 400, 1 body". Repeat to compare; one alone is compared with what one '
        'usually thinks of next.', example="empty: what one usually thinks of next\n70-200 + "
        "300 x1.4\n70-200 on 1.5")  # fmt: skip


class CrewOptions(Record):
    """How many photographers, who they are and carry (a line each), for one play or a game."""

    shooters: int | None = choice(None, whole(1, 12), "shooters", "Photographers",
        "How many. Default: 2, or one a --kit or --who.", offered=(2, 3, 4, 5, 6))  # fmt: skip
    carried: str = choice("", Texts(lines_of, "\n", parse_kit), "kit",
        "One kit a line: one for all, or one each", 'Who carries what, in order: --kit "70-200 '
        '+ 400" --kit "24-70 + 70-200". One for all, or one each; in place of --lens.',
        address="carried",
        example="empty: your own kit for all\n70-200 + 400\n24-70 + 70-200")  # fmt: skip
    who: str = choice("", Texts(lines_of, "\n", parse_member), "who", "Names and roles, one a line",
        f"Who is sent, in order: NAME or NAME=ROLE; roles: {', '.join(Role)}.",
        address="who", example="Ann=end-zone\nBen\nCleo=features")  # fmt: skip
    whole_game: bool = choice(False, Switch("play", "game", is_flag=True), "game", "Plan for",
        "Plans for a whole game in place of one play.", address="crew",
        words=lambda whole_game: "a whole game" if whole_game else "one play")  # fmt: skip

    def carried_kits(self, own: Kit) -> list[Kit]:
        """Return one kit for all, or one a photographer; ``own`` where nobody said any."""
        return [own.falling_alike(parse_kit(line)) for line in lines_of(self.carried)] or [own]

    def crew_size(self) -> int:
        """Return how many photographers there are: 2, or one a kit, where nobody said it."""
        named = max(len(lines_of(self.carried)), len(lines_of(self.who)))
        return self.shooters or max(named, 2)

    def members(self) -> tuple[Member, ...]:
        """Return everybody's name and role."""
        return members_of(lines_of(self.who), size=self.crew_size())


class ReviewOptions(Record):
    """What is reviewed: a game by its id or all games of a season; neither is the last game."""

    game: str = choice("", Text(), "game", "Game",
        "A game's id. Default: the one going on, else the last.")  # fmt: skip
    season: int | None = choice(None, whole(1900, 2200), "season", "Season",
        "All games of a season in place of one.")  # fmt: skip
    own_reach: bool = choice(False, Switch("usual", "own", is_flag=True), "own-reach", "Reach",
        "Count again with your own reach, from what you kept.", address="reach")  # fmt: skip


class ThemeOptions(Record):
    """The colors."""

    theme: str = choice(THEME_NAMES[0], OneOf(THEME_NAMES), "theme", "Screen",
        "Colors: for sunlight, for the night, or for print.", older=("look",), remembered=True,
        words=str.capitalize)  # fmt: skip
