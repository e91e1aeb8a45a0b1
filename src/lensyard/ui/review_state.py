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
        Which; neither is the last game.
    own_reach
        Whether to count again with the own reach.
    """

    folder: Path | None
    stamp: tuple[int, int]
    game_id: str | None
    season: int | None
    own_reach: bool


def request_of(controls: Controls) -> ReviewRequest | None:
    """Return what is reviewed; None where there is no log yet."""
    folder = guard.data_folder()
    try:
        found = ((folder or user_data_dir()) / LOG_NAME).stat()
    except FileNotFoundError:
        return None
    return ReviewRequest(
        folder,
        (found.st_mtime_ns, found.st_size),
        controls.game or None,
        controls.season,
        controls.own_reach,
    )


def games_of(request: ReviewRequest) -> tuple[GameLog, ...]:
    """Return all games of the log, the oldest first; read again when the log has changed.

    Raises
    ------
    StoreError
        If the log is in use or damaged.
    """
    return _games(str(request.folder), request.stamp, request.folder)


@st.cache_resource(show_spinner=False, max_entries=8)
def _games(place: str, stamp: tuple[int, int], _folder: Path | None) -> tuple[GameLog, ...]:
    from lensyard.service.logs import list_games

    return list_games(folder=_folder, wait_s=WAIT_S)


def review_of(request: ReviewRequest, progress: work.Progress) -> Review:
    """Return the review; the first time for a kit and a venue a plan is solved."""
    progress("playing the logged plays again, with the plan of that kit and ground")
    return review_game(
        context(),
        game_id=request.game_id,
        season=request.season,
        own_reach=request.own_reach,
        folder=request.folder,
    )


def chosen_key(controls: Controls, choices: dict[str, str]) -> str:
    """Return which choice the controls stand for; the first where they name none."""
    key = f"game {controls.game}" if controls.game else f"season {controls.season}"
    return key if key in choices else next(iter(choices))


def choose() -> None:
    """Take over what is to be reviewed; the callback of the choice."""
    kind, _, which = str(st.session_state[CHOICE_KEY]).partition(" ")
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
