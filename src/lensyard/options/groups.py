"""The choices that commands and pages share, each group with what its choices turn into.

A command names the groups that it takes (`lensyard.options.click_options.options`); the pages'
`Controls` are made of the same groups, and so are their widgets and their address. Fields hold what
a person chose; a group's methods return domain objects.
"""

from __future__ import annotations

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
from lensyard.domain.field import RULES
from lensyard.domain.kit import (
    CROP_MARGIN,
    DEMO_KIT,
    MOST_CROP_MARGIN,
    Kit,
    kit_of,
    parse_kit,
)
from lensyard.domain.perimeter import PACE_YD_S, SETTLE_S, Tempo, WalkTime
from lensyard.domain.venue import Venue, end_lines_past, standard_venue
from lensyard.options.choices import (
    Number,
    OneOf,
    Switch,
    Text,
    Texts,
    choice,
    crop_factor,
    lines_of,
    parts_of,
    team_area_words,
    time_text,
    whole,
)
from lensyard.records import Record

if TYPE_CHECKING:
    from lensyard.model.context import Context
    from lensyard.planner.solve import Walking
    from lensyard.settings.reading import SettingsKind

THEME_NAMES = ("sunlight", "night", "print")
_PLAIN = "plain: every play counts"


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
    from lensyard.model.context import model_names

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
        from lensyard.planner.usual_walks import usual_walking

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
