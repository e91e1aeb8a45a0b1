"""A crew's spots, for one play or over a game, said once for every face."""

from __future__ import annotations

from dataclasses import replace

from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    Direction,
    PlayPoint,
)
from lensyard.domain.perimeter import STEP_YD, perimeter_of
from lensyard.domain.situation import Situation, Zone
from lensyard.domain.venue import Venue
from lensyard.features.crew.compute import CrewAnswer, CrewGame
from lensyard.planner.crew_game import ZoneSpot
from lensyard.planner.crew_plan import CrewSpot
from lensyard.render.field.picture import (
    FieldPicture,
    SpotMark,
    SpotRole,
    closed_marks,
)
from lensyard.render.report import Column, FieldView, Format, Report, Table
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
    crew = answer.crew
    where = "; ".join(
        f"{spot.shooter} {'is free for features' if not _adds(spot) else at_place(spot.label)}"
        for spot in crew.spots
    )
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
                    Column("shooter", "Photographer", Format.COUNT),
                    Column("spot", "Spot"),
                    Column("role", "What for"),
                    Column("p_usable", "Usable", Format.PERCENT),
                    Column("added", "Adds", Format.DECIMAL_2),
                    Column("only", "Alone has", Format.DECIMAL_2),
                ),
                (
                    *(
                        (s.shooter, s.label, s.role, s.p_usable, s.added, s.only)
                        if _adds(s)
                        else (s.shooter, FREE, "", None, None, None)
                        for s in crew.spots
                    ),
                    *((number, FREE, "", None, None, None) for number in crew.idle),
                ),
            ),
        ),
        notes=(_proof(answer), _ADDS, *_carried(answer.kits)),
        cautions=answer.cautions,
        sources=(attribution_of(answer.model),),
    )


def _adds(spot: CrewSpot | ZoneSpot) -> bool:
    """Whether somebody has something of the play that the earlier ones have not."""
    return spot.added >= NOTHING


def _idle(answer: CrewAnswer) -> tuple[str, ...]:
    crew = answer.crew
    free = sorted((*crew.idle, *(s.shooter for s in crew.spots if not _adds(s))))
    if not free:
        return ()
    who = joined([str(number) for number in free])
    return (
        f"{who} {'is' if len(free) == 1 else 'are'} free for features: nothing is left to add to "
        "the others, so look for the life around the game.",
    )


def _carried(kits: tuple[str, ...]) -> tuple[str, ...]:
    if len(set(kits)) == 1:
        return (f"Everybody carries {kits[0]}.",)
    return tuple(f"Photographer {i} carries {kit}." for i, kit in enumerate(kits, start=1))


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
    rows = zip(game.kits, game.added_usable_per_game, game.walk_yd_per_game, strict=True)
    return Table(
        "photographers",
        "",
        (
            Column("shooter", "Photographer", Format.COUNT),
            Column("added", "Adds usable plays a game", Format.DECIMAL),
            Column("walk_yd", "Yards walked a game", Format.COUNT),
            Column("kit", "Carries"),
        ),
        tuple((i, added, round(walk), kit) for i, (kit, added, walk) in enumerate(rows, start=1)),
    )


def _resting(game: CrewGame) -> Table:
    """Return where each rests by zone; one row where the words hold for both directions."""
    rows: list[tuple[str, int, str, float | None]] = []
    for zone in Zone:
        for shooter in range(1, len(game.kits) + 1):
            mine = [s for s in game.zones if s.zone is zone and s.shooter == shooter and _adds(s)]
            words = [zone_words(s, game.request.venue) for s in mine]
            if not mine:
                rows.append((zone.value, shooter, FREE, None))
            elif len(set(words)) == 1:
                added = sum(s.added for s in mine) / len(mine)
                rows.append((zone.value, shooter, words[0], added))
            else:
                rows += [
                    (zone.value, shooter, f"toward the {_end(s, game)}: {text}", s.added)
                    for s, text in zip(mine, words, strict=True)
                ]
    return Table(
        "resting",
        "Where each rests, zone by zone",
        (
            Column("zone", "Ball in"),
            Column("shooter", "Photographer", Format.COUNT),
            Column("place", "Place"),
            Column("added", "Adds", Format.DECIMAL_2),
        ),
        tuple(rows),
    )


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
    return replace(
        _field(venue, direction, answer.situation),
        spots=tuple(
            SpotMark(s.x_yd, s.y_yd, s.shooter, s.label, s.p_usable, SpotRole.BEST) for s in spots
        ),
        title=f"Where the crew stands: {answer.situation.text()}",
        description=" ".join(
            sentence(
                f"{s.shooter}: {at_place(s.label)}, {percent(s.p_usable)} usable, there for "
                f"{s.role}"
            )
            for s in spots
        ),
        tappable=True,
    )


def _zone_view(game: CrewGame, zone: Zone) -> FieldView:
    """Return where everybody rests while the ball is in a zone, toward end B."""
    venue, direction = game.request.venue, Direction.TOWARD_B
    spots = [s for s in game.zones if s.zone is zone and s.direction is direction and _adds(s)]
    scorer = Scorer(
        perimeter_of(venue, step_yd=STEP_YD),
        game.request.kits[0],
        direction,
        game.request.assignment.faces,
    )
    x, y = scorer.xy_yd
    each = "; ".join(f"{s.shooter} {at_place(s.label)}" for s in spots)
    alt_text = sentence(f"ball in {zone.value}: {each}")
    title = f"Where the crew rests while the ball is in: {zone.value}"
    picture = replace(
        _field(venue, direction, None),
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


def _field(venue: Venue, direction: Direction, situation: Situation | None) -> FieldPicture:
    ball = line_to_gain_x_yd = None
    if situation is not None:
        ball = PlayPoint(
            situation.line_of_scrimmage_x_yd, venue.rules.ball_y_yd(situation.hash_mark)
        )
        line_to_gain_x_yd = situation.line_to_gain_x_yd
    return FieldPicture(
        rules=venue.rules,
        ball=ball,
        line_to_gain_x_yd=line_to_gain_x_yd,
        closed=closed_marks(venue, direction),
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        direction=direction,
        end_names=venue.end_names,
        sideline_names=venue.sideline_names,
    )
