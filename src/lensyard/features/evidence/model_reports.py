"""Calibration, curves, simulated drives, expected points and tendencies in words and tables."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any, Final

from lensyard.features.evidence.compute import (
    ClubTendencies,
    ExpectedPoints,
    PointsRow,
    SimulatedSeason,
)
from lensyard.render.report import (
    Chart,
    ChartKind,
    ColumnOf,
    Fact,
    Format,
    Interval,
    Report,
    Table,
    table_of,
)
from lensyard.render.words import attribution_of

CHECK_TITLES: Final = {
    "gain_10": "Gain of 10 yd or more",
    "touchdown": "Touchdown on this play",
    "first_down": "First down",
    "drive_touchdown": "Drive ends in a touchdown",
    "out_of_bounds": "Out of bounds",
    "pass": "A pass is thrown",
}
Columns = tuple[ColumnOf, ...]
Found = Mapping[str, Any]
CHECK_COLUMNS: Final[Columns] = (
    ("event", "Event"),
    ("plays", "Plays", Format.COUNT),
    ("predicted", "Predicted", Format.PERCENT_1),
    ("observed", "Seen", Format.PERCENT_1),
    ("slope", "Calibration slope", Format.DECIMAL_2),
)


def _over(source: str, row: PointsRow) -> float | None:
    published: float | None = getattr(row, source)
    return None if published is None else row.points - published


POINTS_COLUMNS: Final[Columns] = (
    ("yardline_100", "Yards to goal", Format.COUNT),
    ("points", "Model", Format.DECIMAL_2),
    ("points_early_in_half", "Early in a half", Format.DECIMAL_2),
    ("nflfastr", "2020", Format.DECIMAL_2),
    ("over_nflfastr", "Differs by", Format.DECIMAL_2, partial(_over, "nflfastr")),
    ("carter_machol", "1969", Format.DECIMAL_2),
    ("over_carter_machol", "Differs by", Format.DECIMAL_2, partial(_over, "carter_machol")),
)


def simulation_report(found: SimulatedSeason) -> Report:
    """Describe the drives of simulated games beside a season's."""
    before = f"{found.clock_seasons[0]}-{found.clock_seasons[-1]}"
    points = next(row for row in found.measures if row.name == "points_per_drive")
    columns = (
        ("text", "A game's drives"),
        ("simulated", "Simulated", Format.DECIMAL_3),
        ("observed", f"{found.season}", Format.DECIMAL_3),
        ("observed_error", "Standard error", Format.DECIMAL_3),
        ("difference", "Differs by", Format.PERCENT_1),
        ("seasons_before", before, Format.DECIMAL_3),
        ("drift", "Drift", Format.PERCENT_1),
    )
    return Report(
        headline=(
            f"Simulated drives bring {points.simulated:.2f} points, those of {found.season} "
            f"{points.observed:.2f}"
        ),
        sentences=(
            f"{found.games['simulated']:,} games simulated from {found.model['id']} beside the "
            f"{found.games['observed']} of {found.season} (halves without overtime).",
        ),
        tables=(table_of("measures", "", found.measures, *columns),),
        cautions=found.cautions,
        sources=(attribution_of(found.model),),
    )


def points_report(found: ExpectedPoints) -> Report:
    """Describe expected points on first and ten beside the published tables."""

    gap = found.mean_absolute_difference["nflfastr"]["points"]
    gaps = (
        f"Mean difference {gaps['points']:.3f}, early in a half "
        f"{gaps['points_early_in_half']:.3f}: {found.sources[name]}"
        for name, gaps in found.mean_absolute_difference.items()
    )
    title = "Expected points of the next score"
    return Report(
        headline=(
            f"Expected points on first and ten lie {gap:.2f} from the published ones of 2020, on "
            "average"
        ),
        tables=(table_of("points", title, found.rows, *POINTS_COLUMNS),),
        notes=found.explained,
        sources=(*gaps, attribution_of(found.model)),
    )


def tendencies_report(found: ClubTendencies) -> Report:
    """Describe what knowing the club would add to the odds of the kinds of play."""
    return Report(
        headline=(
            f"Knowing the clubs would gain {found.gain:+.5f} nats a play on season {found.season}"
        ),
        sentences=(found.text,),
        facts=(
            Fact("plays", "Plays", found.plays, Format.COUNT),
            Fact("log_loss", "Log-loss of the kind", found.log_loss, Format.DECIMAL_4),
            Fact("with_clubs", "With clubs", found.log_loss_with_clubs, Format.DECIMAL_4),
            Fact("gain_error", "Standard error of the gain", f"{found.gain_error:.5f}"),
            Fact("gain_share", "Gain, of the log-loss", f"{found.gain_share:+.2%}"),
        ),
        sources=(attribution_of(found.model),),
    )


def calibration(found: Found) -> Table:
    """Return how often events were predicted and seen."""

    def slope(check: Found) -> Interval | None:
        if check["slope"] is None:
            return None
        return Interval(check["slope"], check["slope_low"], check["slope_high"])

    return table_of(
        "calibration",
        "Whether the chances are right",
        _checks(found),
        ("event", "Event", lambda check: CHECK_TITLES[check["name"]]),
        *CHECK_COLUMNS[1:-1],
        (*CHECK_COLUMNS[-1], slope),
        note="A slope of 1 is exact; below it the chances are bolder than they should be.",
    )


def curves(found: Found) -> tuple[Table, ...]:
    """Return a calibration curve an event, as tables."""
    return tuple(
        table_of(
            f"curve_{check['name']}",
            f"Calibration: {CHECK_TITLES[check['name']].lower()}",
            check["groups"],
            ("p_mean", "Predicted", Format.PERCENT_1),
            (
                "observed",
                "Seen",
                Format.PERCENT_1,
                lambda g: Interval(g["observed"], g["low"], g["high"]),
            ),
            ("plays", "Plays", Format.COUNT),
            detail=True,
        )
        for check in _checks(found)
    )


def curve_charts(found: Found) -> tuple[Chart, ...]:
    """Return a calibration curve an event."""
    return tuple(
        Chart(
            key=f"curve_{check['name']}",
            title=CHECK_TITLES[check["name"]],
            kind=ChartKind.POINTS,
            table=f"curve_{check['name']}",
            x="p_mean",
            y="observed",
            diagonal=True,
            alt_text=(
                f"Over the season {100 * check['predicted']:.1f}% predicted, "
                f"{100 * check['observed']:.1f}% seen. Of plays given a chance, so many had it: "
                "dots on the diagonal are right, bars hold 95 % of chance."
            ),
        )
        for check in _checks(found)
    )


def _checks(found: Found) -> list[Found]:
    by_name = {check["name"]: check for check in found["checks"]}
    return [by_name[name] for name in CHECK_TITLES if name in by_name]
