"""A crew's spots in words.

A crew's spots as parts of a page.

A crew's spots as a picture of the field: for one play, or while the ball is in a zone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from lensyard.domain.field import OPPONENT_GOAL_LINE_X_YD, Direction, PlayPoint
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.venue import Venue
from lensyard.domain.zones import Zone
from lensyard.features.crew.game import CrewGame
from lensyard.features.crew.one_play import CrewAnswer
from lensyard.planner.crew_game import ZoneSpot
from lensyard.planner.crew_plan import Crew
from lensyard.planner.problem import PLAN_STEP_YD
from lensyard.render.field.picture import (
    FieldPicture,
    SpotMark,
    SpotRole,
    closed_marks,
    station_marks,
)
from lensyard.render.text import paragraph, text_table
from lensyard.render.words import at_place, attribution_of, held_out_words, percent, sentence
from lensyard.spots.scorer import Scorer

_NUMBERS = ("no", "One", "Two", "Three", "Four", "Five", "Six")
# A crew that is better by less than this share of its value is as good.
SAME = 0.005


def crew_headline(answer: CrewAnswer) -> str:
    """Return the answer: who stands where, and how much of the play at least one of them has."""
    crew = answer.crew
    where = "; ".join(f"{spot.shooter}: {at_place(spot.label)}" for spot in crew.spots)
    return sentence(
        f"{where}. At least one of them has {percent(crew.p_usable)} of such plays and "
        f"{percent(crew.value / max(crew.value, 1e-9))} of their worth"
    )


def crew_text(answer: CrewAnswer, *, width: int = 80) -> str:
    """Return a crew's answer for one play as plain text, the sentence first."""
    crew = answer.crew
    rows = [
        (
            str(spot.shooter),
            f"{spot.label}: {spot.role}",
            percent(spot.p_usable),
            f"{spot.added:.2f}",
            f"{spot.only:.2f}",
        )
        for spot in crew.spots
    ]
    blocks = [
        paragraph(crew_headline(answer), width=width),
        paragraph(
            f"{answer.situation.text()} - {answer.request.venue.name}; for "
            f"{answer.request.assignment.name}",
            width=width,
        ),
        text_table(
            ("", "spot: what for", "usable", "adds", "alone has"),
            rows,
            wrap=1,
            left=(0,),
            width=width,
        ),
        "\n".join(paragraph(line, width=width) for line in (*_kits(answer), *_idle(crew))),
        paragraph(proof_words(answer), width=width),
        "\n".join(paragraph(f"Caution: {text}", width=width, hang=2) for text in answer.cautions),
        paragraph(attribution_of(answer.model), width=width),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def _kits(answer: CrewAnswer) -> list[str]:
    kits = [kit.text for kit in answer.request.kits]
    if len(set(kits)) == 1:
        return [f"Each with {kits[0]}."]
    return [f"{i} with {kit}." for i, kit in enumerate(kits, start=1)]


def _idle(crew: Crew) -> list[str]:
    if not crew.idle:
        return []
    who = ", ".join(str(number) for number in crew.idle)
    return [f"Nothing is left to add for {who}: look for the life around the game."]


def proof_words(answer: CrewAnswer) -> str:
    """Return how good the answer is: the bound, the usual way, and one photographer alone."""
    crew = answer.crew
    exact = (
        f"No crew does better: worth {crew.value:.3f} of {crew.value:.3f} ordinary plays, bound "
        f"{crew.bound:.3f}"
        if crew.proven
        else f"Worth {crew.value:.3f} of {crew.value:.3f} ordinary plays; no crew gets more than "
        f"{crew.bound:.3f} ({crew.gap:.1%} above)"
    )
    loss = 1.0 - crew.greedy_value / max(crew.value, 1e-9)
    greedy = (
        f"the best spot first, then the best beside it, gets {loss:.1%} less"
        if loss > SAME
        else "the best spot first, then the best beside it, is as good"
    )
    return (
        f"{exact}; {greedy}; one alone has {percent(answer.alone / max(crew.value, 1e-9))} of the "
        "worth."
    )


def crew_game_text(game: CrewGame, *, width: int = 80) -> str:
    """Return a crew's game as plain text, the sentence first."""
    n = len(game.request.kits)
    crew = "One photographer" if n == 1 else f"{_NUMBERS[n]} photographers"
    first = (
        f"{crew} bring {game.usable_per_game:.0f} plays a game that at least one has usable "
        f"({percent(game.p_usable)}), {percent(game.value_share)} of the value; the first alone "
        f"brings {game.alone_usable_per_game:.0f} and {percent(game.alone_value_share)}."
    )
    sample = game.evaluation_sample
    blocks = [
        paragraph(first, width=width),
        "\n".join(paragraph(line, width=width, hang=2) for line in _who(game)),
        *(_zone_table(game, zone, width) for zone in Zone),
        paragraph(
            f'Where each rests while the ball is there; "adds" is the worth of a play that the '
            "earlier ones do not have. Plans are made one after another, each for what is left, so "
            f"no bound is claimed. Over {sample.games} games of {sample.season}, walking "
            f"included, at {game.request.venue.name}, for {game.request.assignment.name}.",
            width=width,
        ),
        "\n".join(paragraph(f"Caution: {text}", width=width, hang=2) for text in game.cautions),
        paragraph(attribution_of(game.model), width=width),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def _who(game: CrewGame) -> list[str]:
    return [
        f"{i}: {kit.text}; adds {added:.1f} usable plays a game, walks {walk:,.0f} yd"
        for i, (kit, added, walk) in enumerate(
            zip(
                game.request.kits,
                game.added_usable_per_game,
                game.walk_yd_per_game,
                strict=True,
            ),
            start=1,
        )
    ]


def _zone_table(game: CrewGame, zone: Zone, width: int) -> str:
    spots = [spot for spot in game.zones if spot.zone is zone]
    rows = []
    for shooter in range(1, len(game.request.kits) + 1):
        mine = {spot.direction: spot for spot in spots if spot.shooter == shooter}
        if not mine:
            continue
        words = {d: zone_words(spot, game.request.venue) for d, spot in mine.items()}
        if len(set(words.values())) == 1:
            rows.append((str(shooter), next(iter(words.values())), _added(mine.values())))
            continue
        for direction, spot in mine.items():
            end = game.request.venue.end_names[1 if direction is Direction.TOWARD_B else 0]
            rows.append((str(shooter), f"toward the {end}: {words[direction]}", _added([spot])))
    if not rows:
        return ""
    return text_table(("", zone.value, "adds"), rows, wrap=1, left=(0,), width=width)


def _added(spots: Iterable[ZoneSpot]) -> str:
    values = [spot.added for spot in spots]
    return f"{sum(values) / len(values):.2f}"


def zone_words(spot: ZoneSpot, venue: Venue) -> str:
    """Return where somebody rests, in words that hold for both directions where they can."""
    sideline = venue.sideline_names[0 if spot.on_sideline_a else 1]
    if not spot.label.startswith("offense's"):
        place = spot.label.replace("left ", "").replace("right ", "")
        return f"{place}, the half of the {sideline}"
    ahead = round(spot.ahead_yd)
    if ahead == 0:
        return f"level with the ball, {sideline}"
    return f"{abs(ahead)} yd {'ahead of' if ahead > 0 else 'behind'} the ball, {sideline}"


Table = tuple[Sequence[str], Sequence[Sequence[str]]]
Figures = tuple[Sequence[str], Sequence[Sequence[object]]]


def play_lead(answer: CrewAnswer) -> tuple[str, tuple[str, ...]]:
    """Return who stands where, and how much of the play at least one of them has."""
    crew = answer.crew
    spots = tuple(sentence(f"{s.shooter}: {at_place(s.label)}") for s in crew.spots)
    alone = percent(answer.alone / max(crew.value, 1e-9))
    title = f"At least one of {len(crew.spots)} has {percent(crew.p_usable)} of such plays"
    return title, (
        sentence(answer.situation.text()),
        *spots,
        sentence(
            f"together {percent(crew.value / max(crew.value, 1e-9))} of the worth; one alone has "
            f"{alone}"
        ),
        *_crew_page_idle(answer),
    )


def _crew_page_idle(answer: CrewAnswer) -> tuple[str, ...]:
    if not answer.crew.idle:
        return ()
    who = ", ".join(str(number) for number in answer.crew.idle)
    return (f"Nothing is left to add for {who}: look for the life around the game.",)


def play_table(answer: CrewAnswer) -> Table:
    """Return the spots with their roles and what each brings."""
    header = ("Who", "Spot", "What for", "Usable", "Adds", "Alone has")
    return header, [
        (
            f"Photographer\u00a0{spot.shooter}",
            sentence(spot.label).removesuffix("."),
            sentence(spot.role).removesuffix("."),
            percent(spot.p_usable),
            f"{spot.added:.2f}",
            f"{spot.only:.2f}",
        )
        for spot in answer.crew.spots
    ]


def play_figures(answer: CrewAnswer) -> Figures:
    """Return the spots as figures."""
    header = (
        "photographer", "spot", "x_yd", "y_yd", "role", "p_usable", "value", "added", "only", "kit",
    )  # fmt: skip
    return header, [
        (
            spot.shooter,
            spot.label,
            round(spot.x_yd, 2),
            round(spot.y_yd, 2),
            spot.role,
            round(spot.p_usable, 4),
            round(spot.value, 4),
            round(spot.added, 4),
            round(spot.only, 4),
            spot.kit,
        )
        for spot in answer.crew.spots
    ]


def play_notes(answer: CrewAnswer) -> tuple[str, ...]:
    """Return how good the answer is, and what its numbers mean."""
    return (
        proof_words(answer),
        'Worth is in ordinary plays, by the assignment. "Adds" is what a photographer has beyond '
        'those with lower numbers; "alone has" is what nobody else of the crew has.',
        *_carried(answer),
        sentence(f"{answer.request.venue.name}; for {answer.request.assignment.name}"),
        attribution_of(answer.model),
    )


def _carried(answer: CrewAnswer) -> list[str]:
    kits = [kit.text for kit in answer.request.kits]
    if len(set(kits)) == 1:
        return [f"Everybody carries {kits[0]}."]
    return [f"Photographer {i} carries {kit}." for i, kit in enumerate(kits, start=1)]


def game_lead(game: CrewGame) -> tuple[str, tuple[str, ...]]:
    """Return what a crew brings home over a game."""
    n = len(game.request.kits)
    title = (
        f"{n} photographers bring {game.usable_per_game:.0f} usable plays a game "
        f"({percent(game.p_usable)})"
    )
    return title, (
        f"That is {percent(game.value_share)} of the value. The first alone brings "
        f"{game.alone_usable_per_game:.0f} and {percent(game.alone_value_share)}.",
    )


def shooters_table(game: CrewGame) -> Table:
    """Return what each photographer adds and walks."""
    header = ("Who", "Adds usable plays a game", "Walks a game", "Carries")
    rows = zip(game.request.kits, game.added_usable_per_game, game.walk_yd_per_game, strict=True)
    return header, [
        (f"Photographer\u00a0{i}", f"{added:.1f}", f"{walk:,.0f} yd", kit.text)
        for i, (kit, added, walk) in enumerate(rows, start=1)
    ]


def zone_table(game: CrewGame) -> Table:
    """Return where each photographer rests by zone, and what that adds to a play."""
    shooters = range(1, len(game.request.kits) + 1)
    header = ("Ball in", *(f"Photographer {number}" for number in shooters))
    return header, [
        (zone.value, *(_places(game, zone, number) for number in shooters)) for zone in Zone
    ]


def _places(game: CrewGame, zone: Zone, shooter: int) -> str:
    """A photographer's places in a zone: one where the words hold for both directions."""
    venue = game.request.venue
    mine = [s for s in game.zones if s.zone is zone and s.shooter == shooter]
    words = [zone_words(spot, venue) for spot in mine]
    if not mine:
        return "free to roam"
    added = sum(spot.added for spot in mine) / len(mine)
    if len(set(words)) == 1:
        return f"{words[0]} (adds {added:.2f})"
    each = [
        f"toward the {_end(spot, game)}: {text}" for spot, text in zip(mine, words, strict=True)
    ]
    return f"{'; '.join(each)} (adds {added:.2f})"


def _end(spot: ZoneSpot, game: CrewGame) -> str:
    return game.request.venue.end_names[1 if spot.direction is Direction.TOWARD_B else 0]


def game_figures(game: CrewGame) -> Figures:
    """Return the resting places of every photographer, zone and direction as figures."""
    header = ("photographer", "zone", "toward", "where", "ahead_yd", "added")
    return header, [
        (
            spot.shooter,
            spot.zone.value,
            _end(spot, game),
            zone_words(spot, game.request.venue),
            round(spot.ahead_yd, 1),
            round(spot.added, 4),
        )
        for spot in game.zones
    ]


def game_notes(game: CrewGame) -> tuple[str, ...]:
    """Return how the plans were made, and over what they were counted."""
    sample = game.evaluation_sample
    seen = held_out_words(sample.held_out)
    return (
        "Plans are made one after another, each for what the earlier ones leave, so no bound is "
        "claimed for a game. Where somebody rests stands for the spread of places that the walking "
        'of a game really brings; "adds" is the worth of a play that the earlier ones do not have.',
        f"Over {sample.games} games of {sample.season}, {seen}, walking included; at "
        f"{game.request.venue.name}, for {game.request.assignment.name}.",
        attribution_of(game.model),
    )


def play_picture(answer: CrewAnswer, *, tappable: bool = False) -> FieldPicture:
    """Return the spots of one play as a picture; tappable ones carry the stations for taps."""
    request, situation = answer.request, answer.situation
    venue, direction = request.venue, request.direction
    marks = tuple(
        SpotMark(spot.x_yd, spot.y_yd, spot.shooter, spot.label, spot.p_usable, SpotRole.BEST)
        for spot in answer.crew.spots
    )
    said = " ".join(
        sentence(
            f"{spot.shooter}: {at_place(spot.label)}, {percent(spot.p_usable)} usable, there for "
            f"{spot.role}"
        )
        for spot in answer.crew.spots
    )
    perimeter = perimeter_of(venue, step_yd=1.0)
    return FieldPicture(
        rules=venue.rules,
        ball=PlayPoint(
            situation.line_of_scrimmage_x_yd, venue.rules.ball_y_yd(situation.hash_mark)
        ),
        line_to_gain_x_yd=situation.line_to_gain_x_yd,
        spots=marks,
        closed=closed_marks(venue, direction),
        stations=station_marks(perimeter, direction) if tappable else (),
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        direction=direction,
        end_names=venue.end_names,
        sideline_names=venue.sideline_names,
        title=f"Where the crew stands: {situation.text()}",
        description=said,
        tappable=tappable,
    )


def zone_picture(
    game: CrewGame, zone: Zone, direction: Direction = Direction.TOWARD_B
) -> FieldPicture:
    """Return where everybody rests while the ball is in a zone, in one direction of attack."""
    venue = game.request.venue
    spots = [s for s in game.zones if s.zone is zone and s.direction is direction]
    scorer = Scorer(
        perimeter_of(venue, step_yd=PLAN_STEP_YD),
        game.request.kits[0],
        direction,
        game.request.assignment.faces,
    )
    x, y = scorer.xy_yd
    return FieldPicture(
        rules=venue.rules,
        ball=PlayPoint(OPPONENT_GOAL_LINE_X_YD - zone.middle, venue.rules.ball_y_yd(None)),
        spots=tuple(
            SpotMark(
                float(x[s.station_index]),
                float(y[s.station_index]),
                s.shooter,
                s.label,
                0.0,
                SpotRole.BEST,
            )
            for s in spots
        ),
        closed=closed_marks(venue, direction),
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        direction=direction,
        end_names=venue.end_names,
        sideline_names=venue.sideline_names,
        title=f"Where the crew rests while the ball is in: {zone.value}",
        description=zone_said(game, zone, direction),
    )


def zone_said(game: CrewGame, zone: Zone, direction: Direction = Direction.TOWARD_B) -> str:
    """Return where everybody rests while the ball is in a zone, in words."""
    spots = [s for s in game.zones if s.zone is zone and s.direction is direction]
    each = "; ".join(
        f"{s.shooter} {at_place(s.label)}, {abs(s.ahead_yd):.0f} yd "
        f"{'ahead of' if s.ahead_yd >= 0 else 'behind'} the ball"
        for s in spots
    )
    return sentence(f"ball in {zone.value}: {each}")
