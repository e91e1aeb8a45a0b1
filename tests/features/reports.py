"""Every feature's report, made of invented results: one line each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tests.features.gear.invented import comparison_of, three_kits

from lensyard.features.gear.report import gear_report
from lensyard.render.document import document
from lensyard.render.report import Report


@dataclass(frozen=True)
class Case:
    """A result, how it is reported, and how it becomes a JSON document."""

    result: Callable[[], Any]
    report: Callable[[Any], Report]
    document: Callable[[Any], dict[str, Any]] = document


CASES = {
    "gear": Case(three_kits, gear_report),
    "gear, one kit": Case(lambda: comparison_of(("400", (6.0, 6.0))), gear_report),
}
