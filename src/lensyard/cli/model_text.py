"""The documents of ``lensyard model`` as text."""

from __future__ import annotations

from typing import Any


def info_text(document: dict[str, Any]) -> str:
    """Return what a model says about itself."""
    facts = document["model"]
    seasons = facts["seasons"]
    span = f"{seasons[0]}" if len(seasons) == 1 else f"{seasons[0]}-{seasons[-1]}"
    kicks = "with kicks" if document["has_kicks"] else "without kicks"
    versions = ", ".join(f"{name} {number}" for name, number in facts["versions"].items())
    lines = [
        f"{facts['model_id']}: {facts['plays']:,} plays, level of play: {facts['level']}",
        f"seasons {span}, set to {facts['season_for']}; {kicks}",
        f"{document['size_bytes'] / 1e6:.2f} MB, hashes as recorded, format "
        f"{facts['format_version']}",
        f"plays  sha256 {facts['data_sha256']}",
        f"arrays sha256 {facts['arrays_sha256']}",
        f"fitted with {versions}; seed {facts['seed']}",
        f"{facts['attribution']} License: {facts['license']}",
    ]
    if facts["note"]:
        lines.append(facts["note"])
    lines += [f"{name}: {value:.5g}" for name, value in sorted(facts["metrics"].items())]
    lines.append("What was measured of the model in use: `lensyard evidence show`.")
    return "\n".join([*lines, *document["cautions"]])


def simulate_text(document: dict[str, Any]) -> str:
    """Return drawn games beside a season's."""
    season, games = document["season"], document["games"]
    before = document["clock_seasons"]
    lines = [
        f"{games['simulated']:,} games drawn from {document['model']['id']} beside the "
        f"{games['observed']} of {season} (halves without overtime)",
        "",
        f"{'':34}{'drawn':>9}{season:>9}{'+/-':>8}{'differs':>9}"
        f"{f'{before[0]}-{before[-1]}':>11}{'drift':>8}",
    ]
    for row in document["measures"]:
        lines.append(
            f"{row['text']:34}{row['simulated']:9.3f}{row['observed']:9.3f}"
            f"{row['observed_error']:8.3f}{row['difference']:+9.1%}"
            f"{row['seasons_before']:11.3f}{row['drift']:+8.1%}"
        )
    lines += ["", *document["cautions"]]
    return "\n".join(lines)


def points_text(document: dict[str, Any]) -> str:
    """Return expected points beside the published tables."""
    lines = [
        "Expected points of the next score, first and ten",
        "",
        f"{'to goal':>11}{'model':>8}{'early':>8}{'2020':>8}{'differs':>9}{'1969':>8}"
        f"{'differs':>9}",
    ]
    for row in document["rows"]:
        line = f"{row['yardline_100']:11}{row['points']:8.2f}{row['points_early_in_half']:8.2f}"
        for name in ("nflfastr", "carter_machol"):
            value = row[name]
            line += " " * 17 if value is None else f"{value:8.2f}{row['points'] - value:+9.2f}"
        lines.append(line.rstrip())
    lines.append("")
    for name, gaps in document["mean_absolute_difference"].items():
        lines.append(
            f"mean difference {gaps['points']:.3f}, early in a half "
            f"{gaps['points_early_in_half']:.3f}: {document['sources'][name]}"
        )
    return "\n".join([*lines, "", *document["explained"]])


def tendencies_text(document: dict[str, Any]) -> str:
    """Return what knowing the club would add."""
    lines = [
        f"Log-loss of the kind of play on {document['plays']:,} plays of {document['season']}:",
        f"  without clubs {document['log_loss']:.5f}",
        f"  with clubs    {document['log_loss_with_clubs']:.5f}  "
        f"(gain {document['gain']:+.5f} +/- {document['gain_error']:.5f} a play, "
        f"{document['gain_share']:+.2%})",
        document["text"],
    ]
    return "\n".join(lines)
