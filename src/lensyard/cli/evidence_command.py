"""``lensyard evidence``: what was measured of the model, kept beside it for the dashboard."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.cli.options import echo_json


@click.group("evidence")
def evidence_command() -> None:
    """What was measured of the model in use: measure it, or show what is kept."""


@evidence_command.command("build")
@click.option("--season", type=int, help="Season. Default: the one the model was made for.")
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Default: beside the model, where the dashboard looks.",
)
def build_command(season: int | None, out: Path | None) -> None:
    """Score the model beside baselines and play a season again for three kits; takes minutes."""
    from lensyard.service.context import load_context
    from lensyard.service.evidence import build_evidence, evidence_path, write_evidence

    context = load_context()
    document = build_evidence(
        context, season=season, progress=lambda text: click.echo(f"lensyard: {text} …", err=True)
    )
    path = out or evidence_path(context.model.model_id)
    write_evidence(document, path)
    click.echo(f"wrote {path}", err=True)


@evidence_command.command("show")
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def show_command(as_json: bool) -> None:
    """Say what was measured, in words; nothing is computed."""
    from dataclasses import asdict

    from lensyard.present.evidence import evidence_text
    from lensyard.service.context import SCHEMA_VERSION, load_context
    from lensyard.service.evidence import read_evidence

    context = load_context()
    evidence = read_evidence(context)
    if as_json:
        document = {"schema_version": SCHEMA_VERSION, **asdict(evidence)}
        echo_json({**document, "model": context.model_facts(), "cautions": []})
        return
    click.echo(evidence_text(evidence))
