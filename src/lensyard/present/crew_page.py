"""A crew's spots as parts of a page."""

from __future__ import annotations

from collections.abc import Sequence

from lensyard.domain.field import Direction, Zone
from lensyard.present.crew import proof_words, zone_words
from lensyard.present.next_play import attribution_of
from lensyard.recommend.crew_game import ZoneSpot
from lensyard.service.crew_games import CrewGame
from lensyard.service.crews import CrewAnswer
from lensyard.views.words import at_place, percent, sentence

Table = tuple[Sequence[str], Sequence[Sequence[str]]]
Figures = tuple[Sequence[str], Sequence[Sequence[object]]]


def play_lead(answer: CrewAnswer) -> tuple[str, tuple[str, ...]]:
    """Return who stands where, and how much of the play at least one of them has."""
    crew = answer.crew
    spots = tuple(sentence(f"{s.shooter}: {at_place(s.label)}") for s in crew.spots)
    alone = percent(answer.alone / max(crew.worth, 1e-9))
    title = f"At least one of {len(crew.spots)} has {percent(crew.p_usable)} of such plays"
    return title, (
        sentence(answer.situation.text()),
        *spots,
        sentence(
            f"together {percent(crew.value / max(crew.worth, 1e-9))} of the worth; one alone has "
            f"{alone}"
        ),
        *_idle(answer),
    )


def _idle(answer: CrewAnswer) -> tuple[str, ...]:
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
    evidence = game.evidence
    seen = "not seen by the model" if evidence.held_out else "that the model was fitted on"
    return (
        "Plans are made one after another, each for what the earlier ones leave, so no bound is "
        "claimed for a game. Where somebody rests stands for the spread of places that the walking "
        'of a game really brings; "adds" is the worth of a play that the earlier ones do not have.',
        f"Over {evidence.games} games of {evidence.season}, {seen}, walking included; at "
        f"{game.request.venue.name}, for {game.request.assignment.name}.",
        attribution_of(game.model),
    )
