"""The page "Plays": a chart or a season goes in, with at most three questions.

What follows (fitting a model on it, and choosing the model that answers) is the models' page.
"""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import Any, Final

import streamlit as st

from lensyard.dashboard import guard
from lensyard.dashboard.shell import Shell, plain
from lensyard.dashboard.work import Progress
from lensyard.features.plays import chart
from lensyard.features.plays.compute import stored_plays
from lensyard.features.plays.report import (
    check_report,
    import_report,
    mapping_report,
    new_words_lines,
    stored_report,
)
from lensyard.plays.bundled import provenance
from lensyard.plays.importing.guess import GuessedMapping, guess_mapping, new_words, with_words
from lensyard.plays.importing.import_file import check_file, import_file
from lensyard.plays.importing.mapping import FIELDS, load_mapping, parse_mapping
from lensyard.plays.importing.stage import REJECT_LIMIT, ImportReport, Request
from lensyard.plays.store import shared_store

TYPES: Final = ("csv", "txt", "tsv", "xlsx", "xls", "ods", "json", "parquet", "zip", "gz")
SOURCE: Final = "charted"
US: Final = "US"
_PRESSED: Final = "ly_plays_pressed"
GUEST: Final = "Plays and models are the owner's of this dashboard; guests use what is there."


def page(shell: Shell) -> None:
    """Show the page."""
    if guard.role() is guard.Role.GUEST:
        shell.lead("Plays are imported by the owner", (GUEST,))
        return
    given = st.file_uploader("A chart or a season of plays", type=TYPES, key="ly_plays_file")
    if given is None:
        shell.show(stored_report(stored_plays(shared_store(), provenance())))
        return
    file = chart.keep_upload(given.name, given.getvalue())
    pressed = st.session_state.get(_PRESSED)
    if pressed and pressed[0] == str(file):
        _import(shell, file, pressed)
    elif chart.is_known_source(file):
        _known_source(shell, file)
    elif mapping := chart.mapping_for(file):
        _mapped(shell, file, mapping)
    else:
        _ask(shell, file)


def _known_source(shell: Shell, file: Path) -> None:
    """Show what an import of a file that needs no mapping would do."""
    found = shell.run(
        str(file), lambda _: check_file(Request(file)), title="reading the file", by_model=False
    )
    if found is not None:
        _offer(file, "")
        shell.show(check_report(found, limit=REJECT_LIMIT))


def _mapped(shell: Shell, file: Path, mapping: Path) -> None:
    """Show how a chart reads by a mapping that is there, with the words that are new in it."""
    words = new_words(file, load_mapping(mapping))
    for line in new_words_lines(words, file=mapping.name):
        st.info(plain(line))
    text = with_words(mapping.read_text(encoding="utf-8"), words)
    request = Request(file, mapping=parse_mapping(text))
    found = shell.run(
        (str(file), text), lambda _: check_file(request), title="reading the chart", by_model=False
    )
    if found is not None:
        _offer(file, text)
        shell.show(check_report(found, limit=REJECT_LIMIT))


def _ask(shell: Shell, file: Path) -> None:
    """Ask what a chart does not say, and show how it reads."""
    asked = chart.questions_of(file)
    columns: dict[str, str] = {}
    season, us = (None if asked.dated else chart.this_season()), US
    with st.container(key="ly_filters"):
        for field in asked.columns:
            column = st.selectbox(
                f"Which column is {FIELDS[field]}?",
                asked.header,
                index=None,
                key=f"ly_plays_{field}",
                placeholder="Choose a column",
            )
            if column is not None:
                columns[field] = column
        if asked.season:
            season = st.number_input(
                "Season", 1990, 2100, chart.this_season(), key="ly_plays_season"
            )
        if asked.club:
            us = st.text_input("The club that charts", US, max_chars=60, key="ly_plays_us") or US
    if len(columns) < len(asked.columns):
        shell.lead("Which columns are these?", ("The chart's header does not say.",))
        return

    def guess(progress: Progress) -> GuessedMapping:
        progress("guessing what its columns and words mean")
        return guess_mapping(file, columns, source=SOURCE, us=us, season=season)

    key = (str(file), columns, season, us)
    guessed = shell.run(key, guess, title="reading the chart", by_model=False)
    if guessed is not None:
        if guessed.report is not None:
            _offer(file, guessed.toml)
        shell.show(mapping_report(guessed, written=""))


def _offer(file: Path, mapping: str) -> None:
    """Show the button that imports; what is pressed is told from what was pressed before."""
    st.button(
        "Import these plays",
        key="ly_plays_import",
        type="primary",
        on_click=_press,
        args=(str(file), mapping, secrets.token_hex(8)),
    )


def _press(*what: Any) -> None:
    st.session_state[_PRESSED] = what


def _import(shell: Shell, file: Path, pressed: tuple[str, str, str]) -> None:
    """Import a file, with its mapping kept for the next one."""

    def take(progress: Progress) -> ImportReport:
        progress("importing")
        mapping = parse_mapping(pressed[1]) if pressed[1] else None
        report = import_file(Request(file, mapping=mapping))
        if mapping is not None:
            chart.keep_mapping(mapping.source, pressed[1])
        return report

    report = shell.run(pressed, take, title="the import", by_model=False)
    if report is not None:
        shell.show(import_report([report]))
