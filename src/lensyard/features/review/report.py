"""The review in words and as view models of its picture and page.

A review of the log as parts of a page.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from statistics import median

from lensyard.domain.field import Direction, PlayPoint
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import parse_standing, spot_label
from lensyard.domain.shots import FRAMES
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError
from lensyard.features.evidence.charts import IntervalRow
from lensyard.features.review.charts import DistanceBar, ReviewPlot, ShareBar, ZoneBars
from lensyard.features.review.compute import Review, review_document
from lensyard.features.review.keep_rates import PRIOR_PLAYS, Rate
from lensyard.features.review.paper import ReviewPage
from lensyard.features.review.rates import GroupRates, ReviewFigures
from lensyard.game.document import GameLog
from lensyard.render.field.picture import FieldPicture, SpotMark, SpotRole, station_point
from lensyard.render.words import attribution_of, percent, sentence

_MOST_SPOTS = 8
_WIDTH = 96
_NAMES = {"you": "you", "plan": "the plan", "habit": "the usual habit"}


def _share(rate: Rate) -> str:
    return f"{rate.p:4.0%} ({rate.p_low:.0%}-{rate.p_high:.0%})"


def _row(group: GroupRates) -> str:
    return (
        f"{group.name:<24} {group.plays:>5}  {group.predicted:>9.0%}  "
        f"{_share(group.in_reach):<15}  {_share(group.usable):<15}  {_share(group.kept):<15}"
    ).rstrip()


def _table(title: str, groups: tuple[GroupRates, ...]) -> list[str]:
    head = f"{title:<24} plays  predicted  in reach         usable           kept"
    return ["", head, *(_row(group) for group in groups)]


def review_lines(review: Review) -> list[str]:
    """Return a review as lines for the terminal and the page."""
    figures = review.figures
    lines = [
        f"{review.title}: {figures.plays} plays, {figures.placed} with a spot, "
        f"{figures.kept_known} with keepers noted",
        f"{review.venue}; {review.kit}",
        "",
        "What the same plays would have been:                 usable          share of the value",
    ]
    for policy in figures.policies:
        interval = f"({policy.p_usable_low:.0%}-{policy.p_usable_high:.0%})"
        lines.append(
            f"  {_NAMES[policy.name]:<50} {policy.p_usable:4.0%} {interval:<10} "
            f"{policy.value_share:>7.0%}"
        )
    more, low, high = figures.plan_over_you
    lines.append(f"The plan over you: {more:+.1f} usable plays in 100 ({low:+.1f} to {high:+.1f}).")
    if low <= 0 <= high:
        lines.append("So few plays do not tell the two apart.")
    lines += _table("zone", figures.zones)
    lines += _table("spot", figures.spots[:_MOST_SPOTS])
    if len(figures.spots) > _MOST_SPOTS:
        lines.append(f"and {len(figures.spots) - _MOST_SPOTS} more spots with fewer plays (--json)")
    lines += _table("all", (figures.overall,))
    lines += _keeping(figures)
    lines += _own(review)
    lines += _must_haves(review)
    lines += [
        "",
        f"Shares are posterior means with 95 % intervals; the prior is worth {PRIOR_PLAYS:g} plays "
        "at the model's prediction.",
    ]
    return [*lines, *_wrapped(attribution_of(review.model))]


def _keeping(figures: ReviewFigures) -> list[str]:
    if figures.keep is None:
        return ["", "Keepers were not noted, so nothing is said about keeping."]
    lines = ["", f"Of usable plays you kept {_share(figures.keep)}; by distance:"]
    for band in figures.by_distance:
        curve = "" if band.p_monotone is None else f"   curve {band.p_monotone:.0%}"
        lines.append(
            f"  {band.from_yd:>2.0f} to {band.to_yd:.0f} yd  {band.rate.plays:5.1f} plays  "
            f"{_share(band.rate)}{curve}"
        )
    return lines


def _own(review: Review) -> list[str]:
    reach = review.figures.reach
    if reach is None:
        return []
    lines = [
        "",
        f"Own reach: {reach.factor:.2f} of the usual ({reach.low:.2f}-{reach.high:.2f}, from "
        f"{reach.plays} plays, shrunk toward 1): {reach.reach_yd:.0f} yd in place of "
        f"{reach.default_yd:.0f}.",
    ]
    typed = " ".join(f"--lens {lens}" for lens in review.own_lenses)
    if review.own is None:
        lines.append(f"Not used here; --own-reach counts with it, and `{typed}` does elsewhere.")
        return lines
    lines.append("With the own reach:")
    for usual, own in zip(review.figures.policies, review.own.policies, strict=True):
        lines.append(
            f"  {_NAMES[usual.name]:<50} {own.p_usable:4.0%} usable (usual {usual.p_usable:.0%})"
        )
    lines.append(f"To have other commands use it: {typed}")
    return lines


def _must_haves(review: Review) -> list[str]:
    lines = [""]
    for game in review.games:
        if not game.must_haves:
            continue
        had = game.must_haves - len(game.missing)
        text = f"{game.game_id}: {had} of {game.must_haves} must-haves"
        lines += _wrapped(text + (f"; missing: {', '.join(game.missing)}" if game.missing else ""))
    return lines if len(lines) > 1 else ["", "The assignment has no must-haves."]


def _wrapped(text: str) -> list[str]:
    from textwrap import wrap

    return wrap(text, _WIDTH, break_on_hyphens=False)


def review_text(review: Review) -> str:
    """Return a review as text for the terminal."""
    return "\n".join(review_lines(review))


def _bar(rate: Rate) -> ShareBar:
    return ShareBar(rate.p, rate.p_low, rate.p_high)


def review_plot_of(review: Review) -> ReviewPlot:
    """Return the picture of a review."""
    figures = review.figures
    return ReviewPlot(
        title=review.title,
        subtitle=f"{figures.placed} plays with a spot; {review.venue}; {review.kit}",
        zones=tuple(
            ZoneBars(g.name, g.plays, min(g.predicted, 1.0), _bar(g.usable), _bar(g.kept))
            for g in figures.zones
        ),
        distances=tuple(
            DistanceBar(d.from_yd, d.to_yd, _bar(d.rate), d.p_monotone) for d in figures.by_distance
        ),
        default_reach_yd=figures.reach.default_yd if figures.reach else 0.0,
        own_reach_yd=figures.reach.reach_yd if figures.reach else None,
        note=attribution_of(review.model),
    )


def review_page_of(review: Review) -> ReviewPage:
    """Return the printable page of a review."""
    return ReviewPage(review_plot_of(review), tuple(review_lines(review)))


Table = tuple[Sequence[str], Sequence[Sequence[str]]]
Figures = tuple[Sequence[str], Sequence[Sequence[object]]]

WHO = {"you": "You", "plan": "The plan", "habit": "The usual habit"}
MOST_SPOTS = 10
# Without closed stretches every place that a log can name is a station.
_ANY_FIELD = standard_venue("pro", team_area_from_yard_line=50)


def lead_words(review: Review) -> tuple[str, tuple[str, ...]]:
    """Return what one had, what the plan would have had, and whether that tells anything."""
    figures = review.figures
    you, plan, _ = figures.policies
    more, low, high = figures.plan_over_you
    sure = (
        "so few plays do not tell the two apart"
        if low <= 0 <= high
        else "the plan would have had more"
        if more > 0
        else "you had more than the plan would have"
    )
    kept = (
        "Keepers were not noted, so nothing is said about keeping."
        if figures.keep is None
        else f"Of usable plays you kept {_share_words(figures.keep)}."
    )
    placed = f"{figures.placed} of {figures.plays} plays say where you stood"
    return (
        f"You had {percent(you.p_usable)} of {figures.placed} plays usable; the plan would have "
        f"had {percent(plan.p_usable)}",
        (
            sentence(
                f"the plan over you: {more:+.1f} usable plays in 100 ({low:+.1f} to {high:+.1f}); "
                f"{sure}"
            ),
            kept,
            f"{review.title}; {placed}; {review.venue}; {review.kit}.",
        ),
    )


def _share_words(rate: Rate) -> str:
    return f"{percent(rate.p)} ({percent(rate.p_low)} to {percent(rate.p_high)})"


def policy_rows(review: Review) -> tuple[IntervalRow, ...]:
    """Return what you had, and what plan and habit would have had, as what is drawn."""
    return tuple(
        IntervalRow(
            WHO[policy.name],
            100 * policy.p_usable,
            100 * policy.p_usable_low,
            100 * policy.p_usable_high,
            percent(policy.p_usable),
            strong=policy.name == "you",
        )
        for policy in review.figures.policies
    )


def policies_said(review: Review) -> str:
    """Return the same in words."""
    parts = [
        f"{WHO[p.name]} {percent(p.p_usable)} ({percent(p.p_usable_low)} to "
        f"{percent(p.p_usable_high)}), {percent(p.value_share)} of the value"
        for p in review.figures.policies
    ]
    return sentence(f"usable share of the same plays: {'; '.join(parts)}")


def policy_figures(review: Review) -> Figures:
    """Return the same as figures."""
    header = ("who", "p_usable", "p_usable_low", "p_usable_high", "value_share")
    return header, [
        (
            policy.name,
            round(policy.p_usable, 4),
            round(policy.p_usable_low, 4),
            round(policy.p_usable_high, 4),
            round(policy.value_share, 4),
        )
        for policy in review.figures.policies
    ]


def rates_table(groups: Sequence[GroupRates], *, title: str) -> Table:
    """Return rates by zone or spot as a table."""
    header = (title, "Plays", "Predicted", "In reach", "Usable", "Kept")
    return header, [
        (
            group.name,
            str(group.plays),
            percent(group.predicted),
            _share_words(group.in_reach),
            _share_words(group.usable),
            _share_words(group.kept) if group.kept.plays else "not noted",
        )
        for group in groups
    ]


def spots_table(review: Review) -> Table:
    """Return the spots with the most plays as a table, numbered as in the picture."""
    header, rows = rates_table(review.figures.spots[:MOST_SPOTS], title="Spot")
    return header, [
        (f"{i}: {place_of(str(row[0]))}", *row[1:]) for i, row in enumerate(rows, start=1)
    ]


def spots_said(review: Review) -> str:
    """Return where one stood most, in words."""
    parts = [
        f"{i} {place_of(spot.name)}, {spot.plays} plays"
        for i, spot in enumerate(review.figures.spots[:MOST_SPOTS], start=1)
    ]
    more = len(review.figures.spots) - MOST_SPOTS
    return sentence("; ".join(parts) + (f"; and {more} more spots" if more > 0 else ""))


def place_of(spot: str) -> str:
    """Return a spot of the log as photographers say it.

    >>> place_of("left:opp29")
    "offense's left sideline, opponent's 29"
    """
    point = point_of(spot)
    return spot if point is None else spot_label(x_yd=point.x_yd, y_yd=point.y_yd)


def point_of(spot: str) -> PlayPoint | None:
    """Return where a spot of the log lies as the play sees it; None where it cannot be read."""
    perimeter = perimeter_of(_ANY_FIELD)
    try:
        return station_point(
            perimeter, parse_standing(spot, perimeter, Direction.TOWARD_B), Direction.TOWARD_B
        )
    except InvalidInputError:
        return None


def spots_picture(review: Review) -> FieldPicture:
    """Return the spots with the most plays on the field, as the offense sees it."""
    marks = []
    for number, spot in enumerate(review.figures.spots[:MOST_SPOTS], start=1):
        point = point_of(spot.name)
        if point is not None:
            role = SpotRole.BEST if number == 1 else SpotRole.EQUAL
            marks.append(
                SpotMark(point.x_yd, point.y_yd, number, place_of(spot.name), spot.usable.p, role)
            )
    return FieldPicture(
        rules=_ANY_FIELD.rules,
        spots=tuple(marks),
        title="Where you stood",
        description=spots_said(review),
    )


def rate_figures(groups: Sequence[GroupRates], *, by: str) -> Figures:
    """Return rates by zone or spot as figures; empty where keepers were not noted."""
    header = (
        by, "plays", "predicted", "in_reach", "in_reach_low", "in_reach_high", "usable",
        "usable_low", "usable_high", "kept", "kept_low", "kept_high",
    )  # fmt: skip
    return header, [
        (
            group.name,
            group.plays,
            round(group.predicted, 4),
            *_rounded(group.in_reach),
            *_rounded(group.usable),
            *(_rounded(group.kept) if group.kept.plays else (None, None, None)),
        )
        for group in groups
    ]


def _rounded(rate: Rate) -> tuple[float, float, float]:
    return round(rate.p, 4), round(rate.p_low, 4), round(rate.p_high, 4)


def zones_said(review: Review) -> str:
    """Return the shares by zone in words."""
    parts = [
        f"{g.name}, {g.plays} plays: predicted "
        f"{percent(g.predicted)}, usable {_share_words(g.usable)}"
        + (f", kept {_share_words(g.kept)}" if g.kept.plays else "")
        for g in review.figures.zones
    ]
    return sentence("; ".join(parts))


def keeping_said(review: Review) -> str:
    """Return the keep rate by distance in words."""
    bands = [
        f"{band.from_yd:.0f} to {band.to_yd:.0f} yd {_share_words(band.rate)}"
        for band in review.figures.by_distance
    ]
    return sentence(f"usable plays kept, by distance: {'; '.join(bands)}")


def keeping_figures(review: Review) -> Figures:
    """Return the keep rate by distance as figures."""
    header = ("from_yd", "to_yd", "plays", "kept", "kept_low", "kept_high", "falling_curve")
    return header, [
        (
            band.from_yd,
            band.to_yd,
            round(band.rate.plays, 2),
            round(band.rate.p, 4),
            round(band.rate.p_low, 4),
            round(band.rate.p_high, 4),
            None if band.p_monotone is None else round(band.p_monotone, 4),
        )
        for band in review.figures.by_distance
    ]


def reach_words(review: Review) -> tuple[str, ...]:
    """Return the own reach beside the usual one, and how to have it used."""
    reach = review.figures.reach
    if reach is None:
        return ("An own reach needs plays with keepers noted.",)
    lines = [
        f"Your own reach is {reach.factor:.2f} of the usual ({reach.low:.2f} to {reach.high:.2f}, "
        f"from {reach.plays} plays, drawn toward 1): {reach.reach_yd:.0f} yd in place of "
        f"{reach.default_yd:.0f}."
    ]
    if review.own is not None:
        lines.append(
            "To plan with it everywhere, set these lenses under Kit: "
            f"{', '.join(review.own_lenses)}."
        )
    return tuple(lines)


def reach_table(review: Review) -> Table:
    """Return the shares with the usual and with the own reach; no rows unless asked for."""
    header = ("With the own reach", "Usable", "With the usual reach")
    if review.own is None:
        return header, []
    pairs = zip(review.figures.policies, review.own.policies, strict=True)
    return header, [
        (WHO[usual.name], percent(own.p_usable), percent(usual.p_usable)) for usual, own in pairs
    ]


def must_have_lines(review: Review) -> tuple[str, ...]:
    """Return the must-haves that did not come home, game by game."""
    lines = []
    for game in review.games:
        if not game.must_haves:
            lines.append(f"{game.title}: the assignment has no must-haves.")
            continue
        had = game.must_haves - len(game.missing)
        names = ", ".join(FRAMES[k].title if k in FRAMES else k for k in game.missing)
        missing = f"; missing: {names}" if names else ""
        lines.append(f"{game.title}: {had} of {game.must_haves} must-haves{missing}.")
    return tuple(lines)


def frame_lines(review: Review, logs: Sequence[GameLog]) -> tuple[str, ...]:
    """Return frames and keepers, and what the matched capture times say, game by game."""
    by_id = {log.game.game_id: log for log in logs}
    lines = []
    for game in review.games:
        lines.append(f"{game.title}: {game.frames} frames, {game.keepers} of them kept.")
        if game.game_id in by_id:
            lines += capture_lines(by_id[game.game_id])
    return tuple(lines)


def capture_lines(log: GameLog) -> list[str]:
    """Return what the capture times of a game say: by camera, in plays and between them."""
    captures = log.captures
    if not captures:
        return [
            "No capture times are matched yet; the command lensyard capture FOLDER --match reads "
            "them from photographs."
        ]
    inside = [c for c in captures if c.play is not None]
    bursts = Counter(c.play for c in inside)
    first, last = captures[0].corrected_at, captures[-1].corrected_at
    lines = [
        f"{len(captures):,} captures over {(last - first).total_seconds() / 60:.0f} minutes: "
        f"{len(inside):,} in {len(bursts)} plays, {len(captures) - len(inside):,} between plays; "
        f"half of those plays have {median(bursts.values()):.0f} frames or more."
        if bursts
        else f"{len(captures):,} captures, none of them in a play: check the cameras' clocks."
    ]
    for body in sorted({c.body for c in captures}):
        mine = [c for c in captures if c.body == body]
        off = median((c.corrected_at - c.captured_at).total_seconds() for c in mine)
        lines.append(
            f"{body or 'Camera without a name'}: {len(mine):,} captures, clock corrected by "
            f"{off:+.1f} s."
        )
    return lines


def play_figures(review: Review) -> Figures:
    """Return every play of the review with its figures."""
    rows = review_document(review)["plays"]
    header = tuple(rows[0]) if rows else ("game_id",)
    return header, [tuple(row.values()) for row in rows]


def note_lines(review: Review) -> tuple[str, ...]:
    """Return how to read the figures, and where they come from."""
    return (
        *(sentence(text) for text in review.warnings),
        "In reach, usable and kept are shares of the plays with a spot. They are posterior means "
        f"with 95 % intervals; the prior is worth {PRIOR_PLAYS:g} plays at the model's prediction.",
        "Plan and habit walk the same plays under the usual limits. A difference whose interval "
        "holds 0 says nothing.",
        attribution_of(review.model),
    )


def choice_words(logs: Sequence[GameLog]) -> dict[str, str]:
    """Return what can be reviewed, the latest first: key (game or season) and words."""
    found = {
        f"game {log.game.game_id}": f"{log.game.title}, {log.game.started_at:%Y-%m-%d}"
        for log in reversed(logs)
    }
    seasons = Counter(log.game.season for log in logs)
    for season, games in sorted(seasons.items(), reverse=True):
        many = f"{games} game" + ("" if games == 1 else "s")
        found[f"season {season}"] = f"Season {season}, {many}"
    return found
