"""Who may see this dashboard, and whose log they write: only on a network does it matter.

`lensyard dashboard --network` makes two random words and hands them over in the environment: one
for the owner, one for guests. Who brings neither gets a plain refusal. The owner writes the owner's
log; every guest's browser has a folder of its own, so that nobody sees another's game.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from enum import StrEnum
from pathlib import Path

import streamlit as st

from lensyard.config import user_data_dir
from lensyard.dashboard import cookies
from lensyard.dashboard.serve import GUEST_VARIABLE, OWNER_VARIABLE

REFUSAL = (
    "This dashboard is open only to those who have its whole address. Ask its owner for the "
    "address with its token, and open that."
)
_ROLE = "ly_role"


class Role(StrEnum):
    """Who somebody is."""

    OWNER = "owner"
    GUEST = "guest"


def role() -> Role | None:
    """Return who this session belongs to; None where it may see nothing."""
    words = {
        Role.OWNER: os.environ.get(OWNER_VARIABLE, ""),
        Role.GUEST: os.environ.get(GUEST_VARIABLE, ""),
    }
    if not any(words.values()):
        # Started without --network: whoever is not at this computer has no business here.
        return None if isinstance(st.context.ip_address, str) else Role.OWNER
    known: Role | None = st.session_state.get(_ROLE)
    given = st.query_params.get(cookies.TOKEN_NAME) or cookies.secret(cookies.TOKEN_COOKIE)
    if given:
        for name, word in words.items():
            if word and hmac.compare_digest(given.encode(), word.encode()):
                st.session_state[_ROLE] = known = name
                cookies.write(cookies.TOKEN_COOKIE, word)
    return known


def admitted() -> bool:
    """Return whether this session may see the dashboard; where not, say so and nothing else."""
    if role() is not None:
        return True
    st.error(REFUSAL)
    return False


def data_folder() -> Path | None:
    """Return the folder of this session's log; None is the owner's own."""
    if role() is not Role.GUEST:
        return None
    word = cookies.secret(cookies.GUEST_COOKIE)
    if not word:
        word = secrets.token_urlsafe(24)
        cookies.write(cookies.GUEST_COOKIE, word)
    # Hashed, so that nothing of what a browser sends becomes part of a path.
    folder = user_data_dir() / "guests" / hashlib.sha256(word.encode()).hexdigest()[:32]
    folder.mkdir(parents=True, exist_ok=True)
    return folder
