"""What the page "Review" looks at: the games of the log, the one chosen, and its files."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import streamlit as st

from lensyard.config import user_data_dir
from lensyard.data.log_store import LOG_NAME
from lensyard.fieldlog.document import GameLog
from lensyard.service.reviews import Review, review_game
from lensyard.ui import guard, session, work
from lensyard.ui.context import context
from lensyard.ui.controls import Controls

CHOICE_KEY = "ly_review_of"
WAIT_S = 3.0


@dataclass(frozen=True, slots=True)
class ReviewRequest:
    """What is reviewed.

    Attributes
    ----------
    folder, stamp
        Where the log is (None is the owner's own), and when it last changed.
    game_id, season
        Which of them; the id is empty for a season.
    own_reach
        Whether to count again with the own reach.
    """

    folder: Path | None
    stamp: tuple[int, int]
    game_id: str
    season: int | None
    own_reach: bool


def games() -> tuple[GameLog, ...]:
    """Return all games of the log, the oldest first; none where there is no log yet.

    Raises
    ------
    StoreError
        If the log is in use or damaged.
    """
    folder = guard.data_folder()
    stamp = _stamp(folder)
    return () if stamp is None else _games(str(folder), stamp, folder)


def _stamp(folder: Path | None) -> tuple[int, int] | None:
    """When the log last changed, and its size; None where there is none."""
    try:
        found = ((folder or user_data_dir()) / LOG_NAME).stat()
    except FileNotFoundError:
        return None
    return found.st_mtime_ns, found.st_size


@st.cache_resource(show_spinner=False, max_entries=8)
def _games(place: str, stamp: tuple[int, int], _folder: Path | None) -> tuple[GameLog, ...]:
    from lensyard.service.logs import list_games

    return list_games(folder=_folder, wait_s=WAIT_S)


def request_of(controls: Controls, games: tuple[GameLog, ...]) -> ReviewRequest:
    """Return what is reviewed."""
    folder = guard.data_folder()
    named = controls.game or controls.season is not None
    return ReviewRequest(
        folder,
        _stamp(folder) or (0, 0),
        controls.game if named else latest(games),
        controls.season,
        controls.own_reach,
    )


def latest(games: tuple[GameLog, ...]) -> str:
    """Return the id of the game going on, else of the last one."""
    going_on = [log for log in games if log.game.ended_at is None]
    return (going_on or games)[-1].game.game_id


def review_of(request: ReviewRequest, progress: work.Progress) -> Review:
    """Return the review; the first time for a kit and a venue a plan is solved."""
    progress("playing the logged plays again, with the plan of that kit and ground")
    return review_game(
        context(),
        game_id=request.game_id or None,
        season=request.season,
        own_reach=request.own_reach,
        folder=request.folder,
    )


def chosen_key(controls: Controls, games: tuple[GameLog, ...]) -> str:
    """Return which choice the controls stand for; the latest game where they name none."""
    if controls.game:
        return f"game {controls.game}"
    return f"game {latest(games)}" if controls.season is None else f"season {controls.season}"


def choose() -> None:
    """Take over what is to be reviewed; the callback of the choice."""
    chosen: str | None = st.session_state[CHOICE_KEY]
    if chosen is None:
        return
    kind, _, which = chosen.partition(" ")
    by_season = kind == "season"
    session.set_choices(
        {"game": "" if by_season else which, "season": int(which) if by_season else None}
    )


def pdf_bytes(review: Review) -> bytes:
    """Return the review as a printable page."""
    from tempfile import TemporaryDirectory

    from lensyard.present.review import review_page_of
    from lensyard.sheets.review_page import save_review_page

    with TemporaryDirectory(prefix="lensyard-") as folder:
        path = Path(folder) / "review.pdf"
        save_review_page(review_page_of(review), path)
        return path.read_bytes()
