"""A crew's spots, for one play or over a game, said once for every face."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from lensyard.domain.assignment import FRAMES, FrameKind, MustHave
from lensyard.domain.crew import ROLES, Member, Role
from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    Direction,
    PlayPoint,
)
from lensyard.domain.perimeter import STEP_YD, perimeter_of
from lensyard.domain.situation import Zone
from lensyard.domain.venue import Venue
from lensyard.features.crew.compute import CrewAnswer, CrewGame
from lensyard.planner.crew_game import ZoneSpot
from lensyard.planner.crew_plan import CrewSpot
from lensyard.render.field.picture import (
    FieldPicture,
    SpotMark,
    SpotRole,
)
from lensyard.render.report import Column, FieldView, Format, Report, Section, Table, table_of
from lensyard.render.words import (
    at_place,
    attribution_of,
    held_out_words,
    joined,
    percent,
    sentence,
)
from lensyard.spots.scorer import Scorer

SAME = 0.005
"""A crew that is better by less than this share of its value is as good."""
NOTHING = 0.005
"""Who adds less is free: it would be said as 0.00. [ordinary plays]"""
FREE = "free for features: nothing is left to add"

_ADDS = (
    '"Adds" is what a photographer has beyond those with lower numbers, in ordinary plays by the '
    'assignment; "alone has" is what nobody else of the crew has.'
)


def crew_report(answer: CrewAnswer) -> Report:
    """Return who stands where for one play, and how much of it at least one of them has."""
    crew, names = answer.crew, _names(answer.members)
    where = "; ".join(
        f"{names[spot.shooter]} "
        f"{'is free for features' if not _adds(spot) else at_place(spot.label)}"
        for spot in crew.spots
    )
    nothing = ("", None, None, None)
    rows = [
        (names[s.shooter], s.label, s.role, s.p_usable, s.added, s.only)
        if _adds(s)
        else (names[s.shooter], FREE, *nothing)
        for s in crew.spots
    ]
    rows += [
        (names[number], _idle_words(answer.members[number - 1]), *nothing) for number in crew.idle
    ]
    return Report(
        headline=(
            f"At least one of {len(answer.kits)} has {percent(crew.p_usable)} of such plays: "
            f"{where}"
        ),
        sentences=(
            sentence(f"{answer.situation.text()}; {answer.venue}; for {answer.assignment}"),
            f"Together they have {percent(crew.value / max(crew.total_value, 1e-9))} of the value; "
            f"one alone has {percent(answer.alone / max(crew.total_value, 1e-9))}.",
            *_idle(answer),
        ),
        tables=(
            Table(
                "spots",
                "",
                (
                    Column("shooter", "Photographer"),
                    Column("spot", "Spot"),
                    Column("role", "What for"),
                    Column("p_usable", "Usable", Format.PERCENT),
                    Column("added", "Adds", Format.DECIMAL_2),
                    Column("only", "Alone has", Format.DECIMAL_2),
                ),
                tuple(rows),
            ),
        ),
        notes=(_proof(answer), _ADDS, *_carried(answer.members, answer.kits)),
        cautions=answer.cautions,
        sources=(attribution_of(answer.model),),
    )


def _adds(spot: CrewSpot | ZoneSpot) -> bool:
    """Whether somebody has something of the play that the earlier ones have not."""
    return spot.added >= NOTHING


def _idle(answer: CrewAnswer) -> tuple[str, ...]:
    crew = answer.crew
    free = [
        number
        for number in sorted((*crew.idle, *(s.shooter for s in crew.spots if not _adds(s))))
        if answer.members[number - 1].role is not Role.FEATURES
    ]
    if not free:
        return ()
    names = _names(answer.members)
    who = joined([names[number] for number in free])
    return (
        f"{who} {'is' if len(free) == 1 else 'are'} free for features: nothing is left to add to "
        "the others, so look for the life around the game.",
    )


def _names(members: Sequence[Member]) -> dict[int, str]:
    """What each is called, by number."""
    return {number: member.name for number, member in enumerate(members, start=1)}


def _full_name(member: Member) -> str:
    return f"Photographer {member.name}" if member.name.isdigit() else member.name


def _idle_words(member: Member) -> str:
    return ROLES[Role.FEATURES] if member.role is Role.FEATURES else FREE


def _carried(members: Sequence[Member], kits: tuple[str, ...]) -> tuple[str, ...]:
    roles = [
        f"{_full_name(one)} is there for {ROLES[one.role]}."
        for one in members
        if one.role is not Role.ROAMING
    ]
    if len(set(kits)) == 1:
        return (*roles, f"Everybody carries {kits[0]}.")
    carried = zip(members, kits, strict=True)
    return (*roles, *(f"{_full_name(one)} carries {kit}." for one, kit in carried))


def _proof(answer: CrewAnswer) -> str:
    """Return how good the answer is: the bound, and the greedy choice beside it."""
    crew = answer.crew
    exact = (
        f"No crew does better: {crew.value:.3f} of {crew.total_value:.3f} ordinary plays, bound "
        f"{crew.bound:.3f}"
        if crew.proven
        else f"{crew.value:.3f} of {crew.total_value:.3f} ordinary plays; no crew gets more than "
        f"{crew.bound:.3f} ({crew.gap:.1%} above)"
    )
    loss = 1.0 - crew.greedy_value / max(crew.value, 1e-9)
    greedy = f"gets {loss:.1%} less" if loss > SAME else "is as good"
    return f"{exact}; the best spot first, then the best beside it, {greedy}."


def crew_game_report(game: CrewGame, *, zone: Zone | None = None) -> Report:
    """Return what a crew brings home over a game and where each rests; one zone is drawn."""
    n = len(game.kits)
    sample = game.evaluation_sample
    who = "One photographer brings" if n == 1 else f"{n} photographers bring"
    return Report(
        headline=(
            f"{who} {game.usable_per_game:.0f} usable plays a game ({percent(game.p_usable)})"
        ),
        sentences=(
            f"That is {percent(game.value_share)} of the value. The first alone brings "
            f"{game.alone_usable_per_game:.0f} and {percent(game.alone_value_share)}.",
        ),
        tables=(_shooters(game), _resting(game)),
        fields=() if zone is None else (_zone_view(game, zone),),
        notes=(
            "Plans are made one after another, each for what the earlier ones leave, so no bound "
            "is claimed for a game. Where somebody rests stands for the spread of places that the "
            'walking of a game brings; "adds" is the value of a play that the earlier ones do not '
            "have.",
            f"Over {sample.games} games of {sample.season}, {held_out_words(sample.held_out)}, "
            f"walking included; at {game.venue}, for {game.assignment}.",
        ),
        cautions=game.cautions,
        sources=(attribution_of(game.model),),
    )


def _shooters(game: CrewGame) -> Table:
    added, walk_yd = game.added_usable_per_game, game.walk_yd_per_game
    return table_of(
        "photographers",
        "",
        enumerate(game.members),
        ("shooter", "Photographer", lambda at: at[1].name),
        ("role", "There for", lambda at: at[1].role.replace("-", " ")),
        ("added", "Adds usable plays a game", Format.DECIMAL, lambda at: added[at[0]]),
        ("walk_yd", "Yards walked a game", Format.COUNT, lambda at: round(walk_yd[at[0]])),
        ("kit", "Carries", lambda at: game.kits[at[0]]),
    )


def _resting(game: CrewGame) -> Table:
    """Return where each rests by zone; one row where the words hold for both directions."""
    rows = [
        (zone.value, member.name, *said)
        for zone in Zone
        for shooter, member in enumerate(game.members, start=1)
        for said in _rests(game, zone, shooter)
    ]
    return Table(
        "resting",
        "Where each rests, zone by zone",
        (
            Column("zone", "Ball in"),
            Column("shooter", "Photographer"),
            Column("place", "Place"),
            Column("added", "Adds", Format.DECIMAL_2),
        ),
        tuple(rows),
    )


def _rests(game: CrewGame, zone: Zone, shooter: int) -> list[tuple[str, float | None]]:
    """Where one rests while the ball is in a zone, and what that adds; a line for ends alike."""
    member = game.members[shooter - 1]
    mine = [s for s in game.zones if s.zone is zone and s.shooter == shooter and _adds(s)]
    if member.role is Role.FEATURES or not mine:
        return [(_idle_words(member), None)]
    words = [zone_words(s, game.request.venue) for s in mine]
    if len(set(words)) == 1:
        return [(words[0], sum(s.added for s in mine) / len(mine))]
    return [
        (f"toward the {_end(s, game)}: {text}", s.added)
        for s, text in zip(mine, words, strict=True)
    ]


def member_report(game: CrewGame, shooter: int) -> Report:
    """Return one photographer's sheet: where they rest, what the others cover, what to bring home.

    ``shooter`` counts from 1.
    """
    member, kit = game.members[shooter - 1], game.kits[shooter - 1]
    others = [one for one in game.members if one is not member]
    free = [zone.value for zone in Zone if _rests(game, zone, shooter) == [(FREE, None)]]
    sentences = [sentence(f"{game.venue}, for {game.assignment}; you carry {kit}")]
    if free:
        sentences.append(
            f"While the ball is in {joined(free)} a place of yours adds nothing: shoot features."
        )
    if member.role is not Role.FEATURES:
        sentences.append(
            f"You bring {game.added_usable_per_game[shooter - 1]:.0f} usable plays a game that "
            "nobody before you in the list has."
        )
    return Report(
        headline=f"{_full_name(member)}, {ROLES[member.role]}",
        sentences=tuple(sentences),
        tables=(_covered(game, shooter),),
        sections=(
            Section(
                "The others", tuple(f"{_full_name(one)}, {ROLES[one.role]}." for one in others)
            ),
            Section("Shot list", tuple(_frame_lines(frames_for(game, shooter)))),
        ),
        cautions=game.cautions,
        sources=(attribution_of(game.model),),
    )


def _covered(game: CrewGame, shooter: int) -> Table:
    """Zone by zone: one's own place, and where each of the others is."""

    def said(zone: Zone, number: int) -> str:
        return "; ".join(text for text, _ in _rests(game, zone, number))

    numbers = [n for n in range(1, len(game.members) + 1) if n != shooter]
    return Table(
        "places",
        "Where you rest, and what the others cover",
        (
            Column("zone", "Ball in"),
            Column("place", "You"),
            *(Column(f"other_{n}", _full_name(game.members[n - 1])) for n in numbers),
        ),
        tuple(
            (zone.value, said(zone, shooter), *(said(zone, n) for n in numbers)) for zone in Zone
        ),
    )


def crew_lines(game: CrewGame, shooter: int) -> list[tuple[str, str]]:
    """Return the same as lines with a heading each, for the card."""
    report = member_report(game, shooter)
    table = report.table("places")
    labels = [column.label for column in table.columns]
    return [
        ("Crew", report.headline),
        *(
            (
                f"Ball in {row[0]}",
                ". ".join(
                    f"{label}: {text}" for label, text in zip(labels[1:], row[1:], strict=True)
                ),
            )
            for row in table.rows
        ),
    ]


def frames_for(game: CrewGame, shooter: int) -> tuple[MustHave, ...]:
    """Return whose frame is whose: life is for who shoots features, action for the others.

    Where nobody shoots features everybody looks for both.
    """
    frames = game.request.assignment.must_have or tuple(FRAMES.values())
    if not any(one.role is Role.FEATURES for one in game.members):
        return frames
    mine = game.members[shooter - 1].role is Role.FEATURES
    return tuple(frame for frame in frames if (frame.kind is FrameKind.LIFE) == mine)


def _frame_lines(frames: Sequence[MustHave]) -> list[str]:
    return [
        sentence("; ".join(filter(None, (frame.title, frame.when, frame.where))))
        for frame in frames
    ] or ["None of the list is yours."]


def _end(spot: ZoneSpot, game: CrewGame) -> str:
    return game.request.venue.end_names[1 if spot.direction is Direction.TOWARD_B else 0]


def zone_words(spot: ZoneSpot, venue: Venue) -> str:
    """Return where somebody rests, in words that hold for both directions where they can."""
    sideline = venue.sideline_names[0 if spot.on_sideline_a else 1]
    if not 0.0 <= spot.x_yd <= FIELD_LENGTH_YD:
        in_yd = round(min(spot.y_yd, FIELD_WIDTH_YD - spot.y_yd))
        where = f"{in_yd} yd in from" if in_yd >= 0 else f"{-in_yd} yd outside"
        own = "own " if spot.x_yd < 0 else ""
        return f"behind the {own}end line, {where} the pylon, the half of the {sideline}"
    ahead = round(spot.ahead_yd)
    if ahead == 0:
        return f"level with the ball, {sideline}"
    return f"{abs(ahead)} yd {'ahead of' if ahead > 0 else 'behind'} the ball, {sideline}"


def play_picture(answer: CrewAnswer) -> FieldPicture:
    """Return the spots of one play as a field that takes taps."""
    venue, direction = answer.request.venue, answer.request.direction
    spots = [s for s in answer.crew.spots if _adds(s)]
    names = _names(answer.members)
    return replace(
        FieldPicture.of(venue, direction, answer.situation),
        spots=tuple(
            SpotMark(s.x_yd, s.y_yd, s.shooter, s.label, s.p_usable, SpotRole.BEST) for s in spots
        ),
        title=f"Where the crew stands: {answer.situation.text()}",
        description=" ".join(
            sentence(
                f"{names[s.shooter]}: {at_place(s.label)}, {percent(s.p_usable)} usable, there for "
                f"{s.role}"
            )
            for s in spots
        ),
        tappable=True,
    )


def _zone_view(game: CrewGame, zone: Zone) -> FieldView:
    """Return where everybody rests while the ball is in a zone, toward end B."""
    venue, direction = game.request.venue, Direction.TOWARD_B
    spots = [
        s
        for s in game.zones
        if s.zone is zone
        and s.direction is direction
        and _adds(s)
        and game.members[s.shooter - 1].role is not Role.FEATURES
    ]
    scorer = Scorer(
        perimeter_of(venue, step_yd=STEP_YD),
        game.request.kits[0],
        direction,
        game.request.assignment.faces,
    )
    x, y = scorer.xy_yd
    names = _names(game.members)
    each = "; ".join(f"{names[s.shooter]} {at_place(s.label)}" for s in spots)
    alt_text = sentence(f"ball in {zone.value}: {each}")
    title = f"Where the crew rests while the ball is in: {zone.value}"
    picture = replace(
        FieldPicture.of(venue, direction, None),
        ball=PlayPoint(OPPONENT_GOAL_LINE_X_YD - zone.middle, venue.rules.ball_y_yd(None)),
        spots=tuple(
            SpotMark(
                float(x[s.station_index]),
                float(y[s.station_index]),
                s.shooter,
                s.label,
                None,
                SpotRole.BEST,
            )
            for s in spots
        ),
        title=title,
        description=alt_text,
    )
    return FieldView("crew-zone", title, picture, alt_text)
