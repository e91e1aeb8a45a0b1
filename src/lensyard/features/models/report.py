"""What a saved model says about itself, as a report."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lensyard.render.report import Fact, Format, Report


def model_report(found: Mapping[str, Any]) -> Report:
    """Describe a saved model: what made it, and whether its files are whole."""
    facts = found["model"]
    seasons = facts["seasons"]
    span = f"{seasons[0]}" if len(seasons) == 1 else f"{seasons[0]}-{seasons[-1]}"
    versions = ", ".join(f"{name} {number}" for name, number in facts["versions"].items())
    return Report(
        headline=(
            f"Model {facts['model_id']}: fitted on {facts['plays']:,} {facts['level']} plays of "
            f"{span}"
        ),
        sentences=(
            "Its files are whole, with hashes as recorded, and hold kicks."
            if found["has_kicks"]
            else "Its files are whole, with hashes as recorded; they hold no kicks.",
            *((facts["note"],) if facts["note"] else ()),
        ),
        facts=(
            Fact("season_for", "Levels set to", str(facts["season_for"])),
            Fact("size", "Size, bytes", found["size_bytes"], Format.COUNT),
            Fact("format_version", "Format", str(facts["format_version"])),
            Fact("data_sha256", "Plays, sha256", facts["data_sha256"]),
            Fact("arrays_sha256", "Arrays, sha256", facts["arrays_sha256"]),
            Fact("versions", "Fitted with", f"{versions}; seed {facts['seed']}"),
            *(Fact(name, name, value) for name, value in sorted(facts["metrics"].items())),
        ),
        notes=("What was measured of the model in use: `lensyard evidence show`.",),
        cautions=tuple(found["cautions"]),
        sources=(f"{facts['attribution']} License: {facts['license']}.",),
    )
