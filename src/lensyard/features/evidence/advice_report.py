"""Published advice beside the plan, and all evidence that is kept, in words, tables and charts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from lensyard.features.evidence.kept import Evidence
from lensyard.features.evidence.model_reports import (
    Columns,
    Found,
    calibration,
    curve_charts,
    curves,
)
from lensyard.features.evidence.report import (
    MAIN_SCORES,
    SAFETY,
    SCORES,
    brought_home,
    interval_chart,
    models_chart,
    models_table,
    over_habit,
    policies_chart,
    policies_table,
    zones_table,
)
from lensyard.render.report import Chart, Format, Interval, Report, Section, Table, table_of
from lensyard.render.words import attribution_of, format_value, percent

BESIDE_TITLES: Final = {
    "plan": "The plan",
    "rule": "Rule card, two numbers",
    "inside": "Rule card, with a third number",
    "fixed": "Best fixed place",
    "fixed-walks": "The plan, with walks of 30 and 110 yd",
    "unconstrained": "Best spot, no limit of walking: what bounds a plan",
    "hindsight": "Perfect hindsight",
}
KINDS: Final = {
    "published": "published advice",
    "observed": "published observation",
    "practice": "common practice; no source",
}


def _share(score: Mapping[str, Any]) -> Interval:
    return Interval(score["value_share"], score["low"], score["high"])


def _usable(score: Mapping[str, Any]) -> Interval:
    return Interval(score["p_usable"], score["p_usable_low"], score["p_usable_high"])


ADVICE_COLUMNS: Final[Columns] = (
    ("rank", "Rank", Format.COUNT),
    ("rule", "Advice"),
    ("p_usable", "Usable", Format.PERCENT_1, lambda row: _usable(row["best"])),
    ("value_share", "Share of the value", Format.PERCENT_1, lambda row: _share(row["best"])),
    ("literal_share", "Taken literally", Format.PERCENT_1, lambda row: _share(row["literal"])),
    (
        "walk_yd_per_game",
        "Yards walked a game",
        Format.COUNT,
        lambda row: row["best"]["walk_yd_per_game"],
    ),
    ("plan_over", "Plan over it", Format.DECIMAL_2, lambda row: Interval(*row["plan_over"])),
    ("best_reading", "Best reading"),
)
BESIDE_COLUMNS: Final[Columns] = (
    ("way", "Way of working", lambda one: BESIDE_TITLES[one["name"]]),
    ("p_usable", "Usable", Format.PERCENT_1, _usable),
    ("value_share", "Share of the value", Format.PERCENT_1, _share),
    ("walk_yd_per_game", "Yards walked a game", Format.COUNT),
)
NOTES: Final = (
    "Everybody walks under the same limits. Where advice leaves something open, its best reading "
    "is the one with the largest value on this very season, which flatters it; taken literally it "
    "is the middle of what it says, on a sideline unless it says otherwise.",
    "A play counts by the best frame of its path: 1 up to the reach, falling to 0 at the crop "
    "margin times the reach.",
)


def _advice_table(found: Found, key: str) -> Table:
    title = f"Published advice over season {found['season']}: {found['kit']}"
    return table_of(key, title, found["rows"], *ADVICE_COLUMNS, note="95 % intervals over games.")


def _beside_table(found: Found, key: str) -> Table:
    note = f"The best fixed place is {found['best_place']}, found on this season."
    return table_of(key, "Beside it", found["beside"], *BESIDE_COLUMNS, note=note)


def _chart_table(found: Found, key: str) -> Table:
    """The plan, what stands beside it, and every rule, by their share of the value."""
    rows = [{"way": row["rule"], "value_share": _share(row["best"])} for row in found["rows"]]
    rows += [
        {"way": BESIDE_TITLES[one["name"]], "value_share": _share(one)} for one in found["beside"]
    ]
    rows.sort(key=lambda row: -row["value_share"].value)
    return table_of(
        key,
        "All, from the most to the least",
        rows,
        ("way", "Way of working"),
        ("value_share", "Share of the value", Format.PERCENT_1),
        detail=True,
    )


def advice_sentence(found: Found) -> str:
    """Say for one kit what the best published advice has and what the plan.

    The kit, two shares of the value and their ratio; the ratio's interval says whether they differ.
    """
    best = next(row for row in found["rows"] if row["kind"] != "practice")
    plan = next(one for one in found["beside"] if one["name"] == "plan")
    ratio = Interval(*found["plan_over_best"])
    kit = str(found["kit"]).split(" (")[0]
    ends = (
        f"{format_value(ratio, Format.DECIMAL_2)} times as much"
        if ratio.low > 1.0
        else f"no more that one could tell ({format_value(ratio, Format.DECIMAL_2)} times)"
    )
    literal = max(
        row["literal"]["value_share"] for row in found["rows"] if row["kind"] != "practice"
    )
    return (
        f"With {kit} the best published advice has {percent(best['best']['value_share'])} of the "
        f"value in its best reading, {percent(literal)} taken literally, the plan "
        f"{percent(plan['value_share'])}: {ends}"
    )


BOUNDS_NOTE: Final = (
    "95 % intervals over games. Whoever is anywhere at once stands at the best spot before every "
    "snap, however far, knowing no more than the plan; hindsight knows where every play ends and "
    "walks as the plan does. The levels depend on what is assumed alike in all rows: how far "
    "outside the lines one stands, what faces the camera, how plays spread across the field (the "
    "data do not say), a catch in the end zone as one point (lensyard evidence sensitivity). Set "
    "beside another count, ratios say more than shares."
)


def bounds_table(found: Sequence[Found]) -> Table:
    """Return what a plan has between advice and its bounds, a row a way of working, by kit."""
    rows: dict[str, list[Interval | float]] = {}
    for one in found:
        beside = {each["name"]: _share(each) for each in one["beside"]}
        advice = [row for row in one["rows"] if row["kind"] != "practice"]
        ways: tuple[tuple[str, Interval | float], ...] = (
            ("Best fixed place", beside["fixed"]),
            *(
                (words, max((_share(row[reading]) for row in advice), key=lambda had: had.value))
                for words, reading in (
                    ("Best published advice, taken literally", "literal"),
                    ("Best published advice in its best reading", "best"),
                )
            ),
            (BESIDE_TITLES["fixed-walks"], beside["fixed-walks"]),
            (BESIDE_TITLES["plan"], beside["plan"]),
            ("Anywhere at once", beside["unconstrained"]),
            (BESIDE_TITLES["hindsight"], beside["hindsight"]),
            (
                "The plan over anywhere at once",
                beside["plan"].value / beside["unconstrained"].value,
            ),
        )
        for way, share in ways:
            rows.setdefault(way, []).append(share)
    kits = [str(one["kit"]).split(" (")[0] for one in found]
    return table_of(
        "bounds",
        f"What bounds the plan, season {found[0]['season']}",
        rows.items(),
        ("way", "Share of the value", lambda row: row[0]),
        *(
            (f"kit_{i}", kit, Format.PERCENT_1, lambda row, i=i: row[1][i])
            for i, kit in enumerate(kits)
        ),
        note=BOUNDS_NOTE,
    )


def bounds_sentence(advice: Found, sensitivity: Found) -> str:
    """Say for one kit what bounds any plan, and what standing nearer to the lines would bring."""
    anywhere = next(_share(one) for one in advice["beside"] if one["name"] == "unconstrained")
    setbacks = [lead for lead in sensitivity["leads"] if lead["assumption"] == "Setback"]
    usual = next(lead for lead in setbacks if lead["usual"])
    more = setbacks[0]["plan_value_share"] - usual["plan_value_share"]
    return (
        f"With {str(advice['kit']).split(' (')[0]} no plan that knows no more has above "
        f"{format_value(anywhere.value, Format.PERCENT)}, however far one walks; standing "
        f"{setbacks[0]['level']} outside the lines in place of {usual['level']} brings the plan "
        f"{100.0 * more:.1f} points"
    )


def advice_parts(found: Found, key: str = "") -> tuple[tuple[Table, ...], Chart]:
    """Return the tables and the chart of one kit; ``key`` tells kits apart."""
    every = _chart_table(found, f"advice_all{key}")
    title = f"Share of the season's value: {found['kit']}"
    chart = interval_chart(every, x="way", y="value_share", title=title, before=title)
    return (
        _advice_table(found, f"advice{key}"),
        _beside_table(found, f"beside{key}"),
        every,
    ), chart


def advice_report(found: Sequence[Found]) -> Report:
    """Describe what published advice brings with each kit."""
    parts = [advice_parts(one, "" if len(found) == 1 else f"_{i}") for i, one in enumerate(found)]
    sentences = [f"{advice_sentence(one)}." for one in found]
    return Report(
        headline=advice_sentence(found[-1]),
        sentences=tuple(sentences[:-1]),
        tables=(bounds_table(found), *(table for tables, _ in parts for table in tables)),
        charts=tuple(chart for _, chart in parts),
        sections=(Section("Where the advice stands", sources_of(found[0])),),
        notes=NOTES,
        cautions=(SAFETY,),
        sources=(attribution_of(found[0]["model"]),),
    )


def _over(lead: Found) -> Interval:
    return Interval(*lead["over"])


LEAD_COLUMNS: Final[Columns] = (
    ("assumption", "Assumption"),
    ("level", "Level"),
    ("plan_value_share", "Plan's share", Format.PERCENT_1),
    ("advice_value_share", "Best advice's share", Format.PERCENT_1),
    ("over", "Plan over it", Format.DECIMAL_2, _over),
    ("holds", "Lead holds", lambda lead: "yes" if _over(lead).low > 1.0 else "no"),
    ("advice", "Best advice there"),
)


def sensitivity_sentence(found: Found) -> str:
    """Say for one kit how large the plan's lead is over all assumptions, and where it vanishes."""
    leads = found["leads"]
    ratios = [Interval(*lead["over"]) for lead in leads]
    lost = [lead for lead, ratio in zip(leads, ratios, strict=True) if ratio.low <= 1.0]
    least, most = (format_value(of(ratio.value for ratio in ratios), Format.DECIMAL_2)
                   for of in (min, max))  # fmt: skip
    where = "; ".join(f"{lead['assumption'].lower()} {lead['level']}" for lead in lost)
    ending = f"; its lead vanishes with {where}" if lost else "; its lead vanishes under none"
    return (
        f"With {str(found['kit']).split(' (')[0]} the plan brings {least} to {most} times the "
        f"value of the best published advice over {len(leads)} assumptions{ending}"
    )


def sensitivity_parts(found: Found, key: str = "") -> tuple[tuple[Table, ...], Chart]:
    """Return the tables and the chart of one kit; ``key`` tells kits apart."""
    note = (
        f"95 % intervals over games; what is not named is as usual; stations {found['step_yd']:g} "
        "yd apart."
    )
    every = f"One assumption at a time: {found['kit']}"
    table = table_of(f"leads{key}", every, found["leads"], *LEAD_COLUMNS, note=note)
    title = f"The plan's value over the best published advice's: {found['kit']}"
    picture = table_of(
        f"lead{key}",
        title,
        found["leads"],
        ("what", "Assumption", lambda lead: f"{lead['assumption']}: {lead['level']}"),
        ("over", "Plan over the best advice", Format.DECIMAL_2, _over),
        detail=True,
    )
    return (table, picture), interval_chart(picture, x="what", y="over", title=title, before=title)


def sensitivity_report(found: Sequence[Found]) -> Report:
    """Describe under which assumptions the plan leads the best published advice, and how far."""
    parts = [
        sensitivity_parts(one, "" if len(found) == 1 else f"_{i}") for i, one in enumerate(found)
    ]
    return Report(
        headline=sensitivity_sentence(found[-1]),
        sentences=tuple(f"{sensitivity_sentence(one)}." for one in found[:-1]),
        tables=tuple(table for tables, _ in parts for table in tables),
        charts=tuple(chart for _, chart in parts),
        notes=(
            "The best advice is chosen anew under every assumption, on the season itself, which "
            "flatters it; the plan is solved anew from what was known before.",
        ),
        cautions=(SAFETY,),
        sources=(attribution_of(found[0]["model"]),),
    )


def sources_of(found: Found) -> tuple[str, ...]:
    """Return a line for each rule: title, address, kind of source."""
    rows = sorted(found["rows"], key=lambda row: str(row["rule"]))
    return tuple(
        f"{row['rule']}: "
        + ", ".join(part for part in (row["source"], row["address"], KINDS[row["kind"]]) if part)
        for row in rows
    )


LIMITS_TITLE: Final = "What the figures do not say"


LIMITS: Final = (
    "The plays are professional regular-season plays of 2009 to 2019. College and high-school "
    "fields are drawn right, but how those teams play is not in this model.",
    "Nobody can foresee left or right: only the hash mark moves the odds sideways, and the data do "
    "not say where across the field a play ended. That part comes from published shares.",
    "A play is usable as far as the best frame of its path: in reach (less and less beyond it), "
    "not too close, coming toward the camera and with nothing in between. It does not know focus, "
    "expression, or the official who steps into the frame.",
    "Walking is along the edge at an even pace, as far as the usual time between two plays allows. "
    "Crowded sidelines are slower.",
    "Score and clock shift the odds only as far as they did in the seasons it was fitted on.",
    "One season is one draw: its own drift can move a figure by more than its interval shows.",
)


def evidence_report(evidence: Evidence, kits: Sequence[int]) -> Report:
    """Describe the evidence that is kept of some reference kits, and of the model."""
    evaluation, last = evidence.evaluation, evidence.backtests[kits[-1]]
    policies = [policies_table(evidence.backtests[kit], key=f"policies_{kit}") for kit in kits]
    models = models_table(evaluation, tuple(score for score in SCORES if score[0] in MAIN_SCORES))
    advice = [advice_parts(evidence.advice[kit], f"_{kit}") for kit in kits if evidence.advice]
    leads = [
        sensitivity_parts(evidence.sensitivity[kit], f"_{kit}")
        for kit in kits
        if evidence.sensitivity
    ]
    stale = (
        f"Measured with another build of the model ({evidence.model_id}); measure again with "
        "lensyard evidence build.",
    )
    return Report(
        headline=brought_home(last),
        sentences=(
            *over_habit(last),
            *(f"{advice_sentence(evidence.advice[kit])}." for kit in kits if advice),
            *(
                f"{bounds_sentence(evidence.advice[kit], evidence.sensitivity[kit])}."
                for kit in kits
                if advice and leads
            ),
            *(f"{sensitivity_sentence(evidence.sensitivity[kit])}." for kit in kits if leads),
            *(() if evidence.fresh else stale),
            *(
                f"The {part} was measured with an earlier build of the model."
                for part in evidence.stale
            ),
        ),
        tables=(
            *policies,
            zones_table(last),
            *([bounds_table([evidence.advice[kit] for kit in kits])] if advice else []),
            *(table for tables, _ in (*advice, *leads) for table in tables),
            calibration(evaluation),
            *curves(evaluation),
            models,
        ),
        charts=(
            *map(policies_chart, policies),
            *(chart for _, chart in (*advice, *leads)),
            *curve_charts(evaluation),
            models_chart(models),
        ),
        sections=(
            Section(LIMITS_TITLE, LIMITS),
            *(
                Section("Where the advice stands", sources_of(found))
                for found in evidence.advice[:1]
            ),
        ),
        cautions=(SAFETY,),
        sources=_sources(evidence),
    )


def nothing_kept_report() -> Report:
    """Say what figures could not say, where none are kept."""
    return Report(
        headline="Nothing measured is at hand",
        sections=(Section(LIMITS_TITLE, LIMITS),),
        cautions=(SAFETY,),
    )


def _sources(evidence: Evidence) -> tuple[str, ...]:
    facts, evaluation = evidence.provenance, evidence.evaluation
    seasons, fitted = facts["seasons"], evaluation["train_seasons"]
    return (
        f"{facts['attribution']} License: {facts['license']}. Seasons {seasons[0]} to "
        f"{seasons[-1]}.",
        f"Model {evidence.model_id}, fitted on {fitted[0]} to {fitted[-1]} "
        f"({evaluation['model']['plays']:,} plays); season {evidence.season} was held out: "
        f"{evaluation['plays']:,} plays of {evaluation['games']} games.",
        f"Fingerprint of the plays: {str(evaluation['model']['data_sha256'])[:16]}.",
    )
