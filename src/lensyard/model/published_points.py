"""Published expected points on first and ten, to be shown beside the model's."""

from __future__ import annotations

from typing import Final

NFLFASTR: Final = {
    10: 5.0, 15: 4.8, 20: 4.4, 25: 4.1, 30: 3.8, 35: 3.5, 40: 3.2, 45: 2.8, 50: 2.5,
    55: 2.2, 60: 1.8, 65: 1.5, 70: 1.2, 75: 1.1, 80: 0.6, 85: 0.2, 90: -0.1, 95: -0.4,
}  # fmt: skip
"""By yards to the end zone. S. Morris, expected-points cheat sheet, 2020, from nflfastR 2.1.0."""

CARTER_MACHOL: Final = {
    5: 6.041, 15: 4.572, 25: 3.681, 35: 3.167, 45: 2.392,
    55: 1.538, 65: 0.923, 75: 0.236, 85: -0.637, 95: -1.245,
}  # fmt: skip
"""By yards to the goal line, 8,373 plays of 56 professional games of 1969. V. Carter and
R. E. Machol, "Operations Research on Football", Operations Research 19, 1971, 541-544."""

SOURCES: Final = {
    "nflfastr": "S. Morris, expected-points cheat sheet, 2020, from nflfastR 2.1.0",
    "carter_machol": "Carter & Machol, Operations Research 19, 1971 (games of 1969)",
}
