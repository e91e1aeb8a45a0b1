"""A plan report and the light of the day as parts of a page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from lensyard.domain.venue import Edge
from lensyard.light.angle import LightKind
from lensyard.light.exposure import shutter_text
from lensyard.light.seen import seen_kind
from lensyard.present.plan import shot_words
from lensyard.service.light_report import LightReport, QuarterLight
from lensyard.service.plan_rows import BreakRow, KickRow, PlanReport, PlanRow
from lensyard.views.light_plot import LightPlot, PlotSpan
from lensyard.views.words import percent, sentence

Table = tuple[tuple[str, ...], Sequence[tuple[str, ...]]]


def lead_words(report: PlanReport) -> tuple[str, tuple[str, ...]]:
    """Return the rule to remember, and what it and the plan earn."""
    card = report.rule_card
    inside = card.inside.value_share > card.rule.value_share
    best, text = (card.inside, card.inside_text) if inside else (card.rule, card.text)
    plan, habit = card.plan, card.habit
    return (
        sentence(text).removesuffix("."),
        (
            f"That rule brings {best.usable_per_game:.0f} usable plays a game and "
            f"{percent(best.value_share)} of the value; the whole plan {plan.usable_per_game:.0f} "
            f"and {percent(plan.value_share)}, the usual habit {habit.usable_per_game:.0f} and "
            f"{percent(habit.value_share)}.",
            f"{report.request.kit.text}; {report.request.venue.name}; "
            f"{report.request.assignment.name}.",
        ),
    )


def plan_table(rows: Iterable[PlanRow], *, title: str) -> Table:
    """Return phases or zones as a table."""
    header = (title, "Where to stand", "Plays a game", "Usable", "Value", "Habit usable")
    return header, [
        (
            row.title,
            row.where + (f"; {row.note}" if row.note else ""),
            f"{row.plays_per_game:.0f}",
            percent(row.p_usable),
            percent(row.value_share),
            percent(row.habit_p_usable),
        )
        for row in rows
    ]


def csv_rows(report: PlanReport) -> tuple[tuple[str, ...], Sequence[tuple[object, ...]]]:
    """Return phases and zones with their places and figures."""
    header = (
        "row", "where", "ball", "x_yd", "y_yd", "plays_per_game", "p_usable", "habit_p_usable",
        "value_share", "habit_value_share",
    )  # fmt: skip
    return header, [
        (
            row.title,
            row.where,
            row.ball,
            round(row.x_yd, 2),
            round(row.y_yd, 2),
            round(row.plays_per_game, 2),
            round(row.p_usable, 4),
            round(row.habit_p_usable, 4),
            round(row.value_share, 4),
            round(row.habit_value_share, 4),
        )
        for row in (*report.phases, *report.zones)
    ]


def kick_lines(rows: Iterable[KickRow]) -> tuple[str, ...]:
    """Return where to stand for kicks."""
    return tuple(
        f"{sentence(row.title)[:-1]}: {row.where}"
        + ("" if row.p_usable is None else f" ({percent(row.p_usable)} usable)")
        + (f"; {row.note}." if row.note else ".")
        for row in rows
    )


def shot_lines(report: PlanReport) -> tuple[str, ...]:
    """Return the shot list: what is had, how long each frame takes, when it pays to go for it."""
    # What has its break stands there.
    rows = [r for r in report.must_have if r.kind == "action" or r.have or r.slot is None]
    return tuple(shot_words(row).replace("[x] ", "Had: ").replace("[ ] ", "") for row in rows)


def break_lines(rows: Iterable[BreakRow]) -> tuple[str, ...]:
    """Return what to get in each break."""
    lines = []
    for row in rows:
        pairs = zip(row.now, row.where, strict=True)
        what = [f"{name} ({where})" if where else name for name, where in pairs]
        if row.last_chance:
            what.append(f"last chance for {', '.join(row.last_chance)}")
        if what:
            lines.append(f"{sentence(row.name)[:-1]}, {row.minutes:g} min: {'; '.join(what)}.")
    return tuple(lines)


def walking_lines(report: PlanReport) -> tuple[str, ...]:
    """Return how much one walks, and what was played again for the figures."""
    walk, evidence = report.walking, report.evidence
    seen = "not seen by the model" if evidence.held_out else "that the model was fitted on"
    return (
        f"The plan walks {walk.yd_per_game:,.0f} yd a game ({walk.minutes_per_game:.0f} min) in "
        f"{walk.walks_per_game:.0f} walks; the habit {walk.habit_yd_per_game:,.0f} yd.",
        f"Shares are of {evidence.games} games of season {evidence.season}, {seen}, walking "
        f"included: at most {walk.drive_limit_yd:g} yd between plays and "
        f"{walk.change_limit_yd:g} when the ball changes hands.",
    )


def light_table(report: LightReport) -> Table:
    """Return the light on the action by edge and quarter."""
    venue = report.request.venue
    quarters = [q for q in report.quarters if q.first is not None]
    header = ("Seen from", *(f"{q.name} {q.start:%H:%M}" for q in quarters))
    rows = [
        (venue.edge_name(edge), *(_kinds(quarter, edge) for quarter in quarters)) for edge in Edge
    ]
    return header, rows


def exposure_table(report: LightReport) -> Table:
    """Return the ISO that each lens needs by quarter."""
    request = report.request
    parts = [(q.name, q.exposure) for q in report.quarters if q.name != "halftime"]
    if report.floodlights is not None:
        parts.append(("floodlights", report.floodlights[1]))
    header = (f"ISO at {shutter_text(request.shutter_s)}", *(name for name, _ in parts))
    rows = []
    for i, lens in enumerate(report.lenses):
        cells = []
        for _, kit in parts:
            finding = None if kit is None else kit.findings[i]
            iso = None if finding is None else finding.iso_setting
            cells.append("none" if iso is None else str(iso))
        rows.append((lens.label, *cells))
    return header, rows


def light_plot(report: LightReport) -> LightPlot | None:
    """Return the sun over the game as what is drawn; None under a roof."""
    if report.events is None or not report.track:
        return None
    venue = report.request.venue
    return LightPlot(
        title=f"{venue.name}, {report.kickoff.at:%Y-%m-%d}",
        rows=report.track,
        edge_names=tuple(venue.edge_name(light.edge) for light in report.track[0].edges),
        quarters=tuple(PlotSpan(q.name, q.start, q.end) for q in report.quarters),
        golden=tuple(PlotSpan("golden", s.start, s.end) for s in report.events.golden_hours),
        sunset=report.events.sunset,
    )


def light_said(report: LightReport) -> str:
    """Return the light of the day in words."""
    parts = []
    for quarter in report.quarters:
        if quarter.first is None or quarter.last is None:
            continue
        parts.append(
            f"{quarter.name} from {quarter.start:%H:%M}: sun {quarter.first.sun_elevation_deg:.0f} "
            f"to {quarter.last.sun_elevation_deg:.0f} degrees up, {quarter.scene.text}"
        )
    return sentence("; ".join(parts))


def _kinds(quarter: QuarterLight, edge: Edge) -> str:
    sides = [side for side in (quarter.first, quarter.last) if side is not None]
    kinds: list[LightKind] = [seen_kind(side.edge(edge)) for side in sides]
    return " to ".join(dict.fromkeys(kind.value for kind in kinds))
