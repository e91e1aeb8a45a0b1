"""The review in words and as view models of its picture and page."""

from __future__ import annotations

from lensyard.fieldlog.keep_rates import PRIOR_PLAYS, Rate
from lensyard.fieldlog.review import GroupRates, ReviewFigures
from lensyard.present.next_play import attribution_of
from lensyard.service.reviews import Review
from lensyard.sheets.review_page import ReviewPage
from lensyard.views.review_plot import DistanceBar, ReviewPlot, ShareBar, ZoneBars

_MOST_SPOTS = 8
_WIDTH = 96
_NAMES = {"you": "you", "plan": "the plan", "habit": "20 yd ahead, corner inside the 20"}


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
