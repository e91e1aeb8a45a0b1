"""The words of ``lensyard data``."""

from __future__ import annotations

from typing import Any


def plain(text: str) -> str:
    """Return a text without characters that steer a terminal; line feeds stay."""
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)


def list_text(document: dict[str, Any]) -> str:
    """Return the stored plays as a table for the terminal."""
    lines = ["season  type  games   plays"]
    lines += [
        f"{row['season']:>6}  {row['season_type']:<4}  {row['games']:>5}  {row['plays']:>6,}"
        for row in document["seasons"]
    ]
    if document["imported"]:
        lines += ["", "imported             level        games   plays  rejected  answers"]
    for entry in document["imported"]:
        rejected = sum(part["rows"] for part in entry["rejects"])
        lines.append(
            f"{entry['name']:<20} {entry['level']:<11} {entry['games']:>6}  {entry['plays']:>6,}"
            f"  {rejected:>8,}  {'by default' if entry['answers'] else 'when named'}"
        )
    lines.append("")
    lines += [f"{each['text']} License: {each['license']}" for each in document["attributions"]]
    if "rejects" in document:
        lines += ["", *_reject_lines(document["rejects"])]
    return "\n".join(lines)


def import_text(document: dict[str, Any]) -> str:
    """Return what imports did, for the terminal."""
    blocks = []
    for file in document["files"]:
        lines = [_head(file)]
        if not file["changed"]:
            lines.append(
                f"  nothing changed: its {file['games_there']} games are stored already"
                " (--replace takes this file's copy)"
            )
        else:
            lines.append(f"  stored {file['stored']:,} plays")
            if file["games_there"]:
                lines.append(
                    f"  left {file['games_there']} games as they are (--replace takes this file's)"
                )
            if file["games_replaced"]:
                lines.append(f"  replaced {file['games_replaced']} games")
        blocks.append("\n".join([*lines, *_tally_lines(file), f"  {_credit(file)}"]))
    return "\n".join(blocks)


def check_text(document: dict[str, Any]) -> str:
    """Return what an import would do, for the terminal."""
    file = document["file"]
    verdict = "  an import would store these plays"
    if file["refused"]:
        verdict = (
            f"  an import would refuse this file: {file['p_rejected']:.1%} of its plays are "
            f"unusable, more than {document['limit_rejects']:.1%} (--limit-rejects raises that)"
        )
    lines = [_head(file), verdict, *_tally_lines(file), f"  {_credit(file)}"]
    if file["rejects"]:
        lines += ["", *_reject_lines(file["rejects"])]
    return "\n".join(lines)


def remove_text(document: dict[str, Any]) -> str:
    """Return what was removed, for the terminal."""
    entry = document["removed"]
    return f"removed {entry['source']}/{entry['season']}: {entry['plays']:,} plays"


def compare_text(document: dict[str, Any]) -> str:
    """Return two seasons side by side, for the terminal."""
    first, second = document["seasons"]
    lines = [f"{'':<62} {first:>8} {second:>8}  difference (95 %)"]
    for row in document["measures"]:
        values = [_number(row[key], row["unit"]) for key in ("first", "second")]
        change = ""
        if row["low"] is not None:
            low, high = (_number(row[key], row["unit"], sign=True) for key in ("low", "high"))
            change = f"{_number(row['difference'], row['unit'], sign=True)} ({low} to {high})"
            change += " *" if row["differs"] else ""
        unit = "" if row["unit"] == "share" else f" [{row['unit']}]"
        lines.append(f"{row['meaning'] + unit:<62} {values[0]:>8} {values[1]:>8}  {change}")
    lines += ["", "* the interval of the difference leaves out zero; errors count games, not plays"]
    lines += [f"{each['text']} License: {each['license']}" for each in document["attributions"]]
    return "\n".join(lines)


def _number(value: float | None, unit: str, *, sign: bool = False) -> str:
    if value is None:
        return "-"
    plus = "+" if sign else ""
    return f"{100 * value:{plus}.1f} %" if unit == "share" else f"{value:{plus}.2f}"


def map_text(document: dict[str, Any]) -> str:
    """Return a guessed mapping, for the terminal."""
    lines = [f"{field:<14} <- {column}" for field, column in document["columns"].items()]
    lines += [""] + [f"look at: {doubt}" for doubt in document["doubts"]]
    if document["plays"]:
        report = document["report"]
        lines += ["the first plays, as this mapping reads them:"]
        lines += [f"  {play}" for play in document["plays"]]
        lines += [f"{report['kept']:,} of {report['rows']:,} rows are plays"]
        lines += [f"  rejected {t['rows']:,}: {t['words']}" for t in report["rejected"]]
    return "\n".join([*lines, f"written: {document['written']}"])


def _head(file: dict[str, Any]) -> str:
    seasons = ", ".join(str(season) for season in file["seasons"])
    return (
        f"{file['file']}: {file['title']}, {file['level']}; {file['kept']:,} plays of "
        f"{file['games']} games, season {seasons}, from {file['rows']:,} rows"
    )


def _credit(file: dict[str, Any]) -> str:
    return f"{file['attribution']} License: {file['license']}"


def _tally_lines(file: dict[str, Any]) -> list[str]:
    """Return what was passed over, mended and rejected, by reason."""
    lines = [f"  {note}" for note in file["notes"]]
    for name, key in (
        ("passed over", "passed_over"),
        ("repaired", "repaired"),
        ("rejected", "rejected"),
    ):
        lines += [
            f"  {name} {tally['rows']:,}: {tally['words']} (first: line {tally['first_line']})"
            for tally in file[key]
        ]
    return lines


def _reject_lines(rejects: list[dict[str, Any]]) -> list[str]:
    """Return rejected rows, one a line."""
    if not rejects:
        return ["no row was rejected"]
    lines = ["rejected rows"]
    for row in rejects:
        what = f"{row['column_name']} = {row['value']!r}" if row["column_name"] else row["value"]
        lines.append(f"  {row['file']} line {row['line']}: {row['reason']} ({what})")
    return lines
