"""A crew's spots in words."""

from __future__ import annotations

from collections.abc import Iterable

from lensyard.domain.field import Direction, Zone
from lensyard.domain.venue import Venue
from lensyard.present.next_play import attribution_of
from lensyard.recommend.crew import Crew
from lensyard.recommend.crew_game import ZoneSpot
from lensyard.service.crew_games import CrewGame
from lensyard.service.crews import CrewAnswer
from lensyard.views.tables import paragraph, text_table
from lensyard.views.words import at_place, percent, sentence

_NUMBERS = ("no", "One", "Two", "Three", "Four", "Five", "Six")
# A crew that is better by less than this share of its value is as good.
SAME = 0.005


def crew_headline(answer: CrewAnswer) -> str:
    """Return the answer: who stands where, and how much of the play at least one of them has."""
    crew = answer.crew
    where = "; ".join(f"{spot.shooter}: {at_place(spot.label)}" for spot in crew.spots)
    return sentence(
        f"{where}. At least one of them has {percent(crew.p_usable)} of such plays and "
        f"{percent(crew.value / max(crew.worth, 1e-9))} of their worth"
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
        f"No crew does better: worth {crew.value:.3f} of {crew.worth:.3f} ordinary plays, bound "
        f"{crew.bound:.3f}"
        if crew.proven
        else f"Worth {crew.value:.3f} of {crew.worth:.3f} ordinary plays; no crew gets more than "
        f"{crew.bound:.3f} ({crew.gap:.1%} above)"
    )
    loss = 1.0 - crew.greedy_value / max(crew.value, 1e-9)
    greedy = (
        f"the best spot first, then the best beside it, gets {loss:.1%} less"
        if loss > SAME
        else "the best spot first, then the best beside it, is as good"
    )
    return (
        f"{exact}; {greedy}; one alone has {percent(answer.alone / max(crew.worth, 1e-9))} of the "
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
    evidence = game.evidence
    blocks = [
        paragraph(first, width=width),
        "\n".join(paragraph(line, width=width, hang=2) for line in _who(game)),
        *(_zone_table(game, zone, width) for zone in Zone),
        paragraph(
            f'Where each rests while the ball is there; "adds" is the worth of a play that the '
            "earlier ones do not have. Plans are made one after another, each for what is left, so "
            f"no bound is claimed. Over {evidence.games} games of {evidence.season}, walking "
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
