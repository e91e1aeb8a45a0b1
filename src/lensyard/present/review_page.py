"""A review of the log as parts of a page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from statistics import median

from lensyard.domain.frames import FRAMES
from lensyard.fieldlog.document import GameLog
from lensyard.fieldlog.keep_rates import PRIOR_PLAYS, Rate
from lensyard.fieldlog.review import GroupRates
from lensyard.present.next_play import attribution_of
from lensyard.service.reviews import Review, review_document
from lensyard.views.evidence_plot import IntervalRow
from lensyard.views.words import percent, sentence

Table = tuple[tuple[str, ...], list[tuple[str, ...]]]
Figures = tuple[tuple[str, ...], list[tuple[object, ...]]]

WHO = {"you": "You", "plan": "The plan", "habit": "20 yd ahead, corner inside the 20"}
MOST_SPOTS = 10


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
        else f"Of usable plays you kept {_share(figures.keep)}."
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


def _share(rate: Rate) -> str:
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
            _share(group.in_reach),
            _share(group.usable),
            _share(group.kept),
        )
        for group in groups
    ]


def spots_table(review: Review) -> Table:
    """Return the spots with the most plays as a table."""
    return rates_table(review.figures.spots[:MOST_SPOTS], title="Spot")


def rate_figures(review: Review) -> Figures:
    """Return all rates by zone and spot as figures."""
    header = (
        "by", "name", "plays", "predicted", "in_reach", "in_reach_low", "in_reach_high", "usable",
        "usable_low", "usable_high", "kept", "kept_low", "kept_high",
    )  # fmt: skip
    figures = review.figures
    named = [
        *(("zone", group) for group in figures.zones),
        *(("spot", group) for group in figures.spots),
        ("all", figures.overall),
    ]
    return header, [
        (
            by,
            group.name,
            group.plays,
            round(group.predicted, 4),
            *(
                round(value, 4)
                for rate in (group.in_reach, group.usable, group.kept)
                for value in (rate.p, rate.p_low, rate.p_high)
            ),
        )
        for by, group in named
    ]


def zones_said(review: Review) -> str:
    """Return the shares by zone in words."""
    parts = [
        f"{g.name}, {g.plays} plays: predicted {percent(g.predicted)}, usable {_share(g.usable)}, "
        f"kept {_share(g.kept)}"
        for g in review.figures.zones
    ]
    return sentence("; ".join(parts))


def keeping_said(review: Review) -> str:
    """Return the keep rate by distance in words."""
    bands = [
        f"{band.from_yd:.0f} to {band.to_yd:.0f} yd {_share(band.rate)}"
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
            f"To plan with it everywhere, set these lenses under Kit: {', '.join(review.own_lenses)}."
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
            "No capture times are matched yet; `lensyard capture FOLDER --match` reads them from "
            "photographs."
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
