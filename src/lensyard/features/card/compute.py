"""What goes into an offline card: the answers for one kit, venue and assignment.

A card equals the library, exactly: for ``Situation(down, min(distance, 20), yardline_100, hash)``
at an even score in the middle of the second quarter, and without the hash mark at four more
moments (`lensyard.features.card.grid.MOMENTS`), it says what

- `lensyard.planner.decision.decide` says to somebody who stands somewhere (with the plan's longer
  walk on first and ten when the ball has changed hands), and P(usable) there at the plan's
  stations;
- `lensyard.features.next_play.compute.next_play` names first to somebody who does not say;

and of kickoffs, free kicks and kicked tries what ``lensyard next --play`` says.

Lens and run-out exposure are those of a ball of which nobody said where it lies across the field,
at the usual moment.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import IntArray
from lensyard.domain.assignment import (
    DROP_BACK_YD,
    FRAMES,
    LEAST_P_PASS,
    LEAST_P_SACK,
    LEAST_USABLE,
    Coverage,
    MustHave,
)
from lensyard.domain.field import FIELD_WIDTH_YD, Direction
from lensyard.domain.perimeter import Perimeter, perimeter_of, require_open, walk_s
from lensyard.domain.places import spot_label
from lensyard.domain.situation import HASH_CODES, UNKNOWN_HASH
from lensyard.errors import InvalidInputError
from lensyard.features.card.grid import LONGEST_DISTANCE_YD, MOMENTS, USUAL, CardGrid, Moment
from lensyard.features.card.packing import LEAST_LEFT, Packed, Plane, pack
from lensyard.features.card.planes import (
    GAIN_OFFSET_YD,
    CardTables,
    direction_letter,
    hash_name,
    walking_at,
)
from lensyard.features.card.tables import NO_SPOT
from lensyard.game.rules import PENALTIES, game_rules
from lensyard.model.context import Context
from lensyard.model.outcome_grid import UNTOLD_CHOICES
from lensyard.planner.plans import PlanRequest, SolvedPlan
from lensyard.render.words import LIKELY, NAMED
from lensyard.spots.scorer import Scorer

CARD_VERSION = 3
# Written as text the tables grow by a quarter, and the page itself takes less than 100 kB: under
# a megabyte all told.
LARGEST_PAYLOAD_BYTES = 710_000
MOST_STATIONS = 255
SHORTENED_DISTANCE_YD = 10


class CardTooLargeError(InvalidInputError):
    """A card of this kit and venue would not fit."""


@dataclass(frozen=True, slots=True, eq=False)
class CardContent:
    """Everything a card says.

    - ``hash_codes``, ``moments``, ``directions``: what the card tells apart; the unknown hash, the
      usual moment and toward end B stand for the rest
    - ``mirror``: for each position the one across the field, shape (n,)
    """

    solved: SolvedPlan
    model: dict[str, object]
    grid: CardGrid
    hash_codes: tuple[int, ...]
    moments: tuple[Moment, ...]
    directions: tuple[Direction, ...]
    packed: Packed
    mirror: IntArray

    @property
    def request(self) -> PlanRequest:
        """Kit, venue, assignment, walking."""
        return self.solved.request

    @property
    def frames(self) -> tuple[MustHave, ...]:
        """The assignment's shot list, or the usual frames where it has none."""
        return self.request.assignment.must_have or tuple(FRAMES.values())


def card_content(
    context: Context,
    request: PlanRequest,
    *,
    longest_yd: int = LONGEST_DISTANCE_YD,
    solved: SolvedPlan | None = None,
) -> CardContent:
    """Return what a card for a kit, venue and assignment says.

    ``solved`` is the plan where it is another than the request's own: that of one of a crew.

    Distances are exact up to ``longest_yd``; it stands for what is longer. [yd]

    Where the two ends of the venue differ there is less to save on: a ball in the middle then
    counts as one of which nobody said where it lies. Where the tables still grow too large, hash
    marks are left out, then distances beyond 10 yd, then other moments; `CardContent` says so.

    Raises `CardTooLargeError` if even that does not fit, or there are more stations than a byte can
    count.
    """
    stations = len(perimeter_of(request.venue, step_yd=request.step_yd))
    if stations > MOST_STATIONS:
        raise CardTooLargeError(
            f"the plan has {stations} stations; a card holds at most {MOST_STATIONS}. Plan with "
            "stations farther apart"
        )
    tables = CardTables(context, request, solved)
    mirror = _mirror_of(request.scorers[0])
    found = _fitting(tables, mirror, longest_yd)
    if found is None:
        raise CardTooLargeError(
            f"the tables of this card take more than the {LARGEST_PAYLOAD_BYTES:,} bytes that fit "
            "a card. Use a venue with fewer closed stretches, or `lensyard next` itself"
        )
    packed, longest_yd, hash_codes, moments = found
    facts, grid = context.model_facts(), CardGrid.of(longest_yd)
    return CardContent(
        tables.plan(), facts, grid, hash_codes, moments, tables.directions, packed, mirror
    )


_Fitting = tuple[Packed, int, tuple[int, ...], tuple[Moment, ...]]


def _fitting(tables: CardTables, mirror: IntArray, longest_yd: int) -> _Fitting | None:
    """Return the most that fits: tables, longest distance, hash marks and moments.

    What is made first tells what is too large for sure; that is not made at all.
    """

    def packed(planes: list[Plane]) -> Packed | None:
        return pack(planes, mirror, most_bytes=LARGEST_PAYLOAD_BYTES)

    two_ends, unknown = len(tables.directions) > 1, (UNKNOWN_HASH,)
    short_yd = min(longest_yd, SHORTENED_DISTANCE_YD)
    if two_ends and short_yd < longest_yd:
        usual = packed(tables.planes(short_yd, unknown, ()))
        if usual is None:
            return None
        if _is_too_large(_LEAST_OF_ALL * len(usual.payload)):
            found, one = None, packed(tables.planes(short_yd, unknown, MOMENTS[:1]))
            if one is not None:
                a_moment = _LEAST_OF_A_MOMENT * (len(one.payload) - len(usual.payload))
                if not _is_too_large(len(usual.payload) + len(MOMENTS) * a_moment):
                    found = packed(tables.planes(short_yd, unknown, MOMENTS))
            return (found or usual), short_yd, unknown, MOMENTS if found else ()
    for longest, moments in ((longest_yd, MOMENTS), (short_yd, MOMENTS), (short_yd, ())):
        found = packed(tables.planes(longest, unknown, moments))
        if found is None:
            continue
        # Hash marks take more than one moment does.
        room = len(found.payload) * (1.0 + 1.0 / (1 + len(MOMENTS)))
        if (longest, moments) == (longest_yd, MOMENTS) and not _is_too_large(room):
            marks = (UNKNOWN_HASH, 0, 2) if two_ends else (UNKNOWN_HASH, 0, 1, 2)
            more = packed(tables.planes(longest, marks, moments))
            if more is not None:
                return more, longest, marks, moments
        return found, longest, unknown, moments
    return None


# Tables of all distances and moments over those of short distances at the usual moment, and of a
# moment over those of the first one, at least.
_LEAST_OF_ALL = 4.2
_LEAST_OF_A_MOMENT = 0.97


def _is_too_large(payload_bytes: float) -> bool:
    """Whether tables do not fit, however hard they are pressed."""
    return payload_bytes * LEAST_LEFT > LARGEST_PAYLOAD_BYTES


def _mirror_of(scorer: Scorer) -> IntArray:
    """Return for each position the nearest to its mirror image across the field, shape (n,)."""
    x, y = scorer.xy_yd
    away = np.hypot(x[:, None] - x[None, :], (FIELD_WIDTH_YD - y)[:, None] - y[None, :])
    return np.asarray(away.argmin(axis=1), dtype=np.int64)


def card_document(content: CardContent) -> dict[str, Any]:
    """Return the figures of the card but its tables: what its script computes with."""
    request, solved = content.request, content.solved
    venue, assignment = request.venue, request.assignment
    return {
        "card_version": CARD_VERSION,
        "key": solved.key,
        "model": content.model["id"],
        "venue": venue.name,
        "rules": venue.rules.name,
        "ends": venue.end_names,
        "sidelines": venue.sideline_names,
        "hash_y_yd": {
            hash_name(code): round(venue.rules.ball_y_yd(mark), 4)
            for code, mark in enumerate(HASH_CODES)
        },
        "kit": request.kit.text,
        "lenses": [mounted.text for mounted in request.kit.mounted],
        "assignment": assignment.name,
        "coverage": assignment.coverage.value,
        "game_rules": asdict(game_rules(venue.rules.name)),
        "penalties": [asdict(penalty) for penalty in PENALTIES],
        "teams": ["ours"] if assignment.coverage is Coverage.BOTH else ["ours", "theirs"],
        "longest_yd": content.grid.longest_yd,
        "hashes": [hash_name(code) for code in sorted(content.hash_codes)],
        "directions": [direction_letter(d) for d in content.directions],
        "walk_s_per_yd": walk_s(1.0),
        "limit_yd": {
            moment.name: walking_at(request, moment).drive_limit_yd
            for moment in (USUAL, *content.moments)
        },
        "change_limit_yd": request.walking.change_limit_yd,
        "likely": LIKELY,
        "borrowed": UNTOLD_CHOICES in cast("list[str]", content.model["from_prior"]),
        "named": NAMED,
        "least_usable": LEAST_USABLE,
        "least_p_pass": LEAST_P_PASS,
        "least_p_sack": LEAST_P_SACK,
        "drop_back_yd": DROP_BACK_YD,
        "reach_yd": max(mounted.reach_yd for mounted in request.kit.mounted),
        "no_spot": NO_SPOT,
        "gain_offset_yd": GAIN_OFFSET_YD,
        "stations": _stations(solved.scorers[0].perimeter),
        "places": _places(solved.scorers[0]),
        "open": {
            direction_letter(d): "".join("01"[int(o)] for o in solved.scorer(d).open)
            for d in content.directions
        },
        "mirror": content.mirror,
        "planes": content.packed.entries,
    }


def _stations(perimeter: Perimeter) -> dict[str, Any]:
    """Return the ring of stations in stadium coordinates, and where one cannot pass or wait."""
    n = len(perimeter)
    after = (np.arange(n) + 1) % n
    step = (perimeter.along_yd[after] - perimeter.along_yd) % perimeter.length_yd
    shut = perimeter.walk_yd[np.arange(n), after] > step + 1e-6
    return {
        "x_yd": _rounded(perimeter.x_yd),
        "y_yd": _rounded(perimeter.y_yd),
        "along_yd": _rounded(perimeter.along_yd),
        "length_yd": round(perimeter.length_yd, 4),
        "shut": "".join("01"[int(s)] for s in shut),
        "wait": "".join("01"[int(_may_wait(perimeter, i))] for i in range(n)),
    }


def _may_wait(perimeter: Perimeter, station: int) -> bool:
    try:
        require_open(perimeter, station, text=str(station))
    except InvalidInputError:
        return False
    return True


def _places(scorer: Scorer) -> dict[str, Any]:
    """Return positions in play coordinates, the same in both directions, and their names.

    By the end that is attacked; only B where the venue names no sides.
    """
    x, y = scorer.xy_yd
    venue = scorer.perimeter.venue
    named = [d for d in (Direction.TOWARD_B, Direction.TOWARD_A) if venue.names(d)]
    labels = {
        direction_letter(d): [
            spot_label(x_yd=float(a), y_yd=float(b), names=venue.names(d))
            for a, b in zip(x, y, strict=True)
        ]
        for d in named or [Direction.TOWARD_B]
    }
    return {"x_yd": _rounded(x), "y_yd": _rounded(y), "label": labels}


def _rounded(values: NDArray[np.float64]) -> list[float]:
    return [round(float(v), 4) for v in values]
