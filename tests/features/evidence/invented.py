"""Invented results of measurements of the model."""

from lensyard.features.evidence.compute import (
    MEASURES,
    ClubTendencies,
    DriveMeasure,
    ExpectedPoints,
    PointsRow,
    SimulatedSeason,
)

FACTS = {
    "id": "invented",
    "level": "professional",
    "seasons": [2001, 2004],
    "plays": 1000,
    "attribution": "Invented.",
}


def simulated_season():
    return SimulatedSeason(
        season=2005,
        games={"simulated": 64, "observed": 250},
        seed=1,
        clock_seasons=(2001, 2004),
        touchdown_points=6.9,
        measures=tuple(
            DriveMeasure(name, text, 2.2, 0.1, 2.0, 0.05, 0.1, 1.9, 0.05)
            for name, text in MEASURES.items()
        ),
        model=FACTS,
    )


def expected_points():
    return ExpectedPoints(
        touchdown_points=6.9,
        rows=(
            PointsRow(5, 5.5, 5.7, 0.8, 0.1, None, 6.041),
            PointsRow(50, 2.31, 2.48, 0.3, 0.2, 2.5, None),
        ),
        mean_absolute_difference={
            "nflfastr": {"points": 0.19, "points_early_in_half": 0.02},
            "carter_machol": {"points": 0.5, "points_early_in_half": 0.4},
        },
        model=FACTS,
    )


def club_tendencies():
    return ClubTendencies(
        season=2005,
        plays=30_000,
        doubt_plays=100.0,
        log_loss=1.3,
        log_loss_with_clubs=1.297,
        gain=0.003,
        gain_error=0.001,
        gain_share=0.0023,
        gain_of_season=-0.0004,
        text="Clubs are not used in any answer.",
        model=FACTS,
    )
