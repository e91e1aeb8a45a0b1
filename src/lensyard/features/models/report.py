"""What a saved model says about itself, as a report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from lensyard.model.artifact import ModelManifest
from lensyard.render.report import Fact, Format, Report, table_of
from lensyard.render.words import joined


def model_report(found: Mapping[str, Any]) -> Report:
    """Describe a saved model: what made it, and whether its files are whole."""
    facts = found["model"]
    seasons = facts["seasons"]
    span = _years(seasons)
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
            *_prior_words(facts["from_prior"], facts["prior"]),
        ),
        facts=(
            Fact("season_for", "Set to", str(facts["season_for"])),
            *(
                (Fact("level_seasons", "Levels counted on", _years(facts["level_seasons"])),)
                if facts["level_seasons"]
                else ()
            ),
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


def _years(seasons: Sequence[int]) -> str:
    return f"{seasons[0]}" if len(seasons) == 1 else f"{seasons[0]}-{seasons[-1]}"


def _prior_words(parts: Sequence[str], prior: str) -> tuple[str, ...]:
    """Return what the plays could not tell, in a sentence, or nothing."""
    if not parts:
        return ()
    return (f"The plays do not tell {joined(list(parts))}: those are as in {prior}.",)


def fit_words(manifest: ModelManifest) -> tuple[str, ...]:
    """Return what a new model was made of, in sentences."""
    made = f"model {manifest.model_id} is fitted on {manifest.plays:,} {manifest.level} plays"
    return (
        made,
        *((manifest.note,) if manifest.note else ()),
        *_prior_words(manifest.from_prior, manifest.prior),
    )


def models_report(found: Mapping[str, Any]) -> Report:
    """Say which model answers under which rule set, and which others there are."""
    answers = found["answers"]
    ids = {answer["id"] for answer in answers.values()}
    if len(ids) == 1:
        answer = next(iter(answers.values()))
        headline = f"{answer['id']} answers everywhere"
    else:
        headline = ", ".join(f"{rules}: {answer['id']}" for rules, answer in answers.items())
    table = table_of(
        "models",
        "Models",
        found["models"],
        ("id", "Model"),
        ("level", "Level", lambda row: row.get("level", "")),
        ("plays", "Plays", Format.COUNT, lambda row: row.get("plays")),
        ("seasons", "Seasons", lambda row: _years(row["seasons"]) if row.get("seasons") else ""),
        ("levels", "Levels of", lambda row: _years(row["levels"]) if row.get("levels") else ""),
        ("issue", "Issue", lambda row: row["issue"] or ""),
    )
    return Report(
        headline=headline,
        sentences=tuple(
            f"Under {rules} rules {answer['id']}: {answer['chosen_by']}."
            for rules, answer in answers.items()
        ),
        tables=(table,),
        notes=(
            "`lensyard model use ID` chooses one for every command and page, `--model ID` for one "
            f"command, the variable {found['variable']} for a shell.",
        ),
    )
