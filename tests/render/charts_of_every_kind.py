"""One report with a chart of every kind, for tests and for looking at it."""

from lensyard.render.report import (
    Chart,
    ChartKind,
    Column,
    Fact,
    Format,
    Interval,
    Report,
    Section,
    Table,
)

KITS = Table(
    "kits",
    "",
    (
        Column("zone", "Zone"),
        Column("a", "A: 70-200 + 400", Format.DECIMAL),
        Column("b", "B: 70-200 + 300 x1.4 (2 bodies)", Format.DECIMAL),
        Column("c", "C: 100-400", Format.DECIMAL),
    ),
    (("own 1 to 20", 4.2, 5.1, 3.3), ("midfield", 11.0, 12.4, 9.1), ("red zone", 8.0, 8.1, None)),
)
GAINS = Table(
    "gains",
    "",
    (Column("kit", "Kit"), Column("gain", "More usable plays a game", Format.SIGNED)),
    (
        ("B: 70-200 + 300 x1.4 (2 bodies)", Interval(3.1, 2.0, 4.2)),
        ("C: 100-400", Interval(-2.2, -3.0, -1.5)),
        ("D: none", None),
    ),
)
BANDS = Table(
    "bands",
    "",
    (
        Column("kit", "Kit"),
        Column("low", "From", Format.YARDS),
        Column("high", "Distance, yd", Format.YARDS),
    ),
    (("A: 400", 12.0, 40.0), ("B: 70-200 + 600", 0.0, 20.0), ("B: 70-200 + 600", 24.0, 60.0)),
)
CURVE = Table(
    "curve",
    "",
    (
        Column("yd", "Distance, yd", Format.COUNT),
        Column("who", "Who"),
        Column("kept", "Kept", Format.PERCENT),
    ),
    tuple(
        (10 * i, who, Interval(p - 0.08 * i, max(p - 0.08 * i - 0.05, 0), p - 0.08 * i + 0.05))
        for who, p in (("you", 0.9), ("usual", 0.7))
        for i in range(7)
    ),
)
POINTS = Table(
    "points",
    "",
    (
        Column("said", "Predicted", Format.PERCENT),
        Column("seen", "Observed", Format.PERCENT),
        Column("of", "Zone"),
    ),
    (
        (0.1, 0.12, "red zone"),
        (0.5, 0.47, "red zone"),
        (0.2, 0.22, "midfield"),
        (0.9, 0.93, "midfield"),
    ),
)
EVERY_KIND = Report(
    headline="B brings the most.",
    sentences=("It brings 26 usable plays a game.",),
    facts=(Fact("walk", "Walk", 1806, Format.YARDS), Fact("p", "Usable", 0.58, Format.PERCENT)),
    tables=(KITS, GAINS, BANDS, CURVE, POINTS),
    charts=(
        Chart("bars", "Bars", ChartKind.BARS, "kits", "zone", "", "Bars in words.",
              ys=("a", "b", "c")),
        Chart("stacked", "Stacked", ChartKind.STACKED, "kits", "zone", "", "Stacked in words.",
              ys=("a", "b", "c")),
        Chart("gains", "Intervals", ChartKind.INTERVALS, "gains", "kit", "gain", "Gains in words.",
              rules=((0.0, "A"),)),
        Chart("bands", "Ranges", ChartKind.RANGES, "bands", "kit", "", "Reach in words.",
              low="low", high="high"),
        Chart("curve", "Line", ChartKind.LINE, "curve", "yd", "kept", "A curve in words.",
              series="who", rules=((40.0, "reach"),)),
        Chart("points", "Points", ChartKind.POINTS, "points", "said", "seen", "Points in words.",
              series="of", diagonal=True),
    ),
    sections=(Section("Light", ("Lamps allow 1/500 s.",)),),
    notes=("Games drawn again.",),
    cautions=("Keep clear of the sideline.",),
    sources=("Plays: invented.",),
)  # fmt: skip
