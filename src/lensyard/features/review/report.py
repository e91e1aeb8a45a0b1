"""A review as a report: what was had beside plan and habit, zones, spots, keeping, own reach."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Final

from lensyard.domain.assignment import FRAMES
from lensyard.domain.field import Direction
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import parse_standing, standing_label
from lensyard.errors import ParseError
from lensyard.features.game_log.report import crew_lines
from lensyard.features.review.compute import (
    LEAST_NEAR,
    LEAST_PAST,
    CaptureSummary,
    OwnCurve,
    Review,
    ReviewedGame,
)
from lensyard.features.review.figures import GroupRates, OwnReach, Rate
from lensyard.game.entry import Game
from lensyard.render.field.picture import FieldPicture, SpotMark, SpotRole
from lensyard.render.report import (
    Chart,
    ChartKind,
    Column,
    FieldView,
    Format,
    Interval,
    Report,
    Section,
    Table,
    Value,
    table_of,
)
from lensyard.render.words import attribution_of, format_value, percent, sentence, table_words

MOST_SPOTS = 10
_RATES = (
    Column("plays", "Plays", Format.COUNT),
    Column("predicted", "Predicted", Format.PERCENT),
    Column("in_reach", "In reach", Format.PERCENT),
    Column("usable", "Usable", Format.PERCENT),
    Column("kept", "Kept", Format.PERCENT),
)


def review_report(review: Review) -> Report:
    """Describe a game or a season."""
    figures = review.figures
    you, plan, _ = figures.policies
    tables = (
        _policies(review),
        _zones(review),
        _spots(review),
        *((_keeping(review),) if figures.by_distance else ()),
        _plays(review),
    )
    return Report(
        headline=(
            f"You had {percent(you.p_usable)} of {figures.placed} plays usable; the plan would "
            f"have had {percent(plan.p_usable)}"
        ),
        sentences=(_difference(review), _kept(review), _what_it_is_of(review)),
        tables=tables,
        charts=charts_of(tables, review.figures.reach),
        fields=(_field(review),),
        sections=(
            Section("Your own reach", (*_own_reach(review), _own_curve(review.own_curve))),
            *(
                Section(f"Who had which play: {game.title}", crew_lines(game.crew))
                for game in review.games
                if game.crew is not None
            ),
            Section("Must-haves", tuple(_must_haves(game) for game in review.games)),
            Section(
                "Frames and capture times",
                tuple(line for game in review.games for line in _frames(game)),
            ),
        ),
        notes=(
            "In reach, usable and kept are shares of the plays with a spot. They are posterior "
            f"means with 95 % intervals; the prior is worth {review.prior_plays:g} plays at the "
            "model's prediction.",
            "Plan and habit walk the same plays under the usual limits. A difference whose "
            "interval holds 0 says nothing.",
        ),
        cautions=review.warnings,
        sources=(attribution_of(review.model),),
    )


def _interval(rate: Rate) -> Interval:
    return Interval(rate.p, rate.p_low, rate.p_high)


def _difference(review: Review) -> str:
    more, low, high = review.figures.plan_over_you
    if low <= 0 <= high:
        verdict = "so few plays do not tell the two apart"
    elif more > 0:
        verdict = "the plan would have had more"
    else:
        verdict = "you had more than the plan would have"
    over = format_value(Interval(more, low, high), Format.SIGNED)
    return f"The plan over you: {over} usable plays in 100; {verdict}."


def _kept(review: Review) -> str:
    keep = review.figures.keep
    if keep is None:
        return "Keepers were not noted, so nothing is said about keeping."
    return f"Of usable plays you kept {format_value(_interval(keep), Format.PERCENT)}."


def _what_it_is_of(review: Review) -> str:
    figures = review.figures
    placed = f"{figures.placed} of {figures.plays} plays say where you stood"
    return sentence(
        f"{review.title}: {placed}, {figures.kept_known} of them what you kept; {review.venue}; "
        f"{review.kit}"
    )


def _policies(review: Review) -> Table:
    """What one had, and what plan and habit would have had, with the own reach too if counted."""
    who = {"you": "You", "plan": "The plan", "habit": "Habit"}
    columns = [
        Column("who", "The same plays"),
        Column("usable", "Usable", Format.PERCENT),
        Column("value_share", "Of the value", Format.PERCENT),
    ]
    rows: list[list[Value]] = [
        [
            who[policy.name],
            Interval(policy.p_usable, policy.p_usable_low, policy.p_usable_high),
            policy.value_share,
        ]
        for policy in review.figures.policies
    ]
    if review.own_reach_figures is not None:
        columns.append(Column("usable_own_reach", "With your own reach", Format.PERCENT))
        for row, own in zip(rows, review.own_reach_figures.policies, strict=True):
            row.append(Interval(own.p_usable, own.p_usable_low, own.p_usable_high))
    return Table(
        "policies",
        "The same plays, three ways",
        tuple(columns),
        tuple(tuple(row) for row in rows),
        note=sentence(f"the habit is to stand {review.habit}"),
    )


def _rates(group: GroupRates) -> tuple[Value, ...]:
    return (
        group.plays,
        min(group.predicted, 1.0),
        _interval(group.in_reach),
        _interval(group.usable),
        _interval(group.kept) if group.kept.plays else None,
    )


def _zones(review: Review) -> Table:
    groups = (*review.figures.zones, review.figures.overall)
    rows = tuple((group.name, *_rates(group)) for group in groups)
    return Table("zones", "By zone of the field", (Column("zone", "Zone"), *_RATES), rows)


def _spots(review: Review) -> Table:
    columns = (Column("number", "No", Format.COUNT), Column("spot", "Spot"), *_RATES)
    more = len(review.figures.spots) - MOST_SPOTS
    return Table(
        "spots",
        "Where you stood: the spots with the most plays",
        columns,
        tuple(
            (number, standing_label(group.name, review.setup.venue), *_rates(group))
            for number, group in enumerate(review.figures.spots[:MOST_SPOTS], start=1)
        ),
        note=f"{more} more spots have fewer plays." if more > 0 else "",
    )


def _keeping(review: Review) -> Table:
    """The keep rate by distance, and the closest curve that never rises with it."""
    return table_of(
        "keeping",
        "How often you keep a usable play, by distance",
        review.figures.by_distance,
        ("band", "Band", lambda band: f"{band.from_yd:.0f} to {band.to_yd:.0f} yd"),
        (
            "middle_yd",
            "Distance, middle",
            Format.YARDS,
            lambda band: (band.from_yd + band.to_yd) / 2,
        ),
        ("plays", "Usable plays", Format.DECIMAL, lambda band: band.rate.plays),
        ("kept", "Kept", Format.PERCENT, lambda band: _interval(band.rate)),
        ("falling_curve", "Falling curve", Format.PERCENT, lambda band: band.p_monotone),
    )


def _plays(review: Review) -> Table:
    return table_of(
        "plays",
        "Every play",
        review.plays,
        ("game_id", "Game"),
        ("number", "No", Format.COUNT),
        ("zone", "Zone"),
        ("spot", "Spot", lambda play: play.place),
        ("p_usable_before", "Predicted", Format.PERCENT),
        ("p_in_reach", "In reach", Format.PERCENT),
        ("p_usable", "Usable", Format.PERCENT),
        ("distance_yd", "Distance", Format.YARDS),
        ("shot", "Shot"),
        ("kept", "Kept"),
        ("p_usable_plan", "Plan", Format.PERCENT),
        ("p_usable_habit", "Habit", Format.PERCENT),
        detail=True,
    )


def _field(review: Review) -> FieldView:
    """The spots with the most plays, numbered as in their table, as the offense sees the field."""
    venue = review.setup.venue
    perimeter = perimeter_of(venue)
    x, y = perimeter.play_xy_yd(Direction.TOWARD_B)
    marks, told = [], []
    for number, spot in enumerate(review.figures.spots[:MOST_SPOTS], start=1):
        label = standing_label(spot.name, venue)
        told.append(f"{number} {label}, {spot.plays} play{'' if spot.plays == 1 else 's'}")
        try:
            # A venue's own name of a place holds whichever way the offense goes.
            station = parse_standing(spot.name.split(" (")[0], perimeter, Direction.TOWARD_B)
        except ParseError:  # written by a version that knew other places
            continue
        role = SpotRole.BEST if number == 1 else SpotRole.EQUAL
        marks.append(
            SpotMark(float(x[station]), float(y[station]), number, label, spot.usable.p, role)
        )
    alt_text = sentence("; ".join(told))
    picture = FieldPicture(
        rules=venue.rules, spots=tuple(marks), title="Where you stood", description=alt_text
    )
    return FieldView("spots", "Where you stood", picture, alt_text)


def _own_reach(review: Review) -> tuple[str, ...]:
    reach = review.figures.reach
    if reach is None:
        return ("An own reach needs plays with keepers noted.",)
    factor = format_value(Interval(reach.factor, reach.low, reach.high), Format.DECIMAL_2)
    typed = " ".join(f"--lens {lens}" for lens in review.own_reach_lenses)
    lenses = f"`{typed}` on the command line, {', '.join(review.own_reach_lenses)} under Kit."
    if review.own_reach_figures is None:
        use = (
            f"It is not used here; --own-reach counts with it. To have it used elsewhere: {lenses}"
        )
    else:
        use = f"To plan with it everywhere: {lenses}"
    return (
        f"Your own reach is {factor} of the usual, from {reach.plays} plays, shrunk toward 1: "
        f"{reach.reach_yd:.0f} yd in place of {reach.default_yd:.0f}.",
        use,
    )


def _own_curve(curve: OwnCurve) -> str:
    """Say the own keep rate by distance as it is typed, or what is missing for one."""
    if not curve.knots:
        return (
            f"A keep rate by distance of your own takes {LEAST_NEAR} plays well within reach and "
            f"{LEAST_PAST} beyond it with keepers noted; there are {curve.near} and {curve.past}. "
            "Until then reach fades as the crop margin says."
        )
    half = next(at for at, quality in curve.knots if quality <= 0.5)
    return (
        f"Your own keep rate, from {curve.near} plays near at hand and {curve.past} beyond the "
        f"reach, falls to a half by {half:g} times the reach: --use-curve has every answer count "
        f'with it, --keep-curve "{curve.text}" one.'
    )


def _must_haves(game: ReviewedGame) -> str:
    if not game.must_haves:
        return f"{game.title}: the assignment has no must-haves."
    had = game.must_haves - len(game.missing)
    names = ", ".join(FRAMES[key].title if key in FRAMES else key for key in game.missing)
    lacking = f"; missing: {names}" if names else ""
    return f"{game.title}: {had} of {game.must_haves} must-haves{lacking}."


def _frames(game: ReviewedGame) -> list[str]:
    """Frames and keepers, and what the matched capture times say: by camera, in plays, between."""
    with_frames = max(game.plays_with_frames, 1)
    lines = [
        f"{game.title}: {game.frames} frames, {game.keepers} of them kept; "
        f"{game.frames / with_frames:.1f} frames and {game.keepers / with_frames:.1f} keepers a "
        "play with frames."
    ]
    found = game.captures
    if found is None:
        return [
            *lines,
            "No capture times are matched yet; the command lensyard capture FOLDER --match reads "
            "them from photographs.",
        ]
    lines.append(_in_plays(found))
    lines += [
        f"{one.body or 'Camera without a name'}: {one.captures:,} captures, clock corrected by "
        f"{one.offset_s:+.1f} s."
        for one in found.bodies
    ]
    return lines


def _in_plays(found: CaptureSummary) -> str:
    if not found.plays:
        return f"{found.captures:,} captures, none of them in a play: check the cameras' clocks."
    return (
        f"{found.captures:,} captures over {found.minutes:.0f} minutes: {found.in_plays:,} in "
        f"{found.plays} plays, {found.captures - found.in_plays:,} between plays; half of those "
        f"plays have {found.frames_median:.0f} frames or more."
    )


def choice_words(games: Sequence[Game]) -> dict[str, str]:
    """Return what can be reviewed, the latest first: key (game or season) and words."""
    found = {
        f"game {game.game_id}": f"{game.title}, {game.started_at:%Y-%m-%d}"
        for game in reversed(games)
    }
    seasons = Counter(game.season for game in games)
    for season, count in sorted(seasons.items(), reverse=True):
        found[f"season {season}"] = f"Season {season}, {count} game{'' if count == 1 else 's'}"
    return found


_LABELS_APART_YD: Final = 8.0
"""Reference lines nearer to each other share one label. [yd]"""

_CHARTS: Final = (
    ("policies", ChartKind.INTERVALS, "who", ("usable",)),
    ("zones", ChartKind.INTERVALS, "zone", ("predicted", "usable", "kept")),
    ("keeping", ChartKind.LINE, "middle_yd", ("kept", "falling_curve")),
)
"""Table, shape, and the columns of both axes."""


def charts_of(tables: Sequence[Table], reach: OwnReach | None) -> tuple[Chart, ...]:
    """Return the three policies, shares by zone, and the keep rate by distance."""
    by_key = {table.key: table for table in tables}
    return tuple(
        Chart(
            key,
            by_key[key].title,
            kind,
            table=key,
            x=x,
            y="",
            ys=ys,
            alt_text=table_words(by_key[key], x, ys),
            rules=reach_rules(reach) if key == "keeping" else (),
        )
        for key, kind, x, ys in _CHARTS
        if key in by_key
    )


def reach_rules(reach: OwnReach | None) -> tuple[tuple[float, str], ...]:
    """Return the usual and the own reach as reference lines."""
    if reach is None:
        return ()
    usual, own = f"{reach.default_yd:.0f} yd", f"own reach {reach.reach_yd:.0f} yd"
    if abs(reach.reach_yd - reach.default_yd) < _LABELS_APART_YD:
        return (reach.default_yd, ""), (reach.reach_yd, f"{own}, usual {usual}")
    return (reach.default_yd, f"usual reach {usual}"), (reach.reach_yd, own)
