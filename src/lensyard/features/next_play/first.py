"""What the page "Next play" asks, and what it says first, before there is a page.

Nothing of the server of the pages is imported here.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from threading import Timer
from urllib.parse import parse_qs

from lensyard.dashboard.controls import KIT_COOKIE, Controls, from_address, from_memory
from lensyard.dashboard.document import first_html
from lensyard.dashboard.gate import guest_cookie
from lensyard.domain.places import standing_text
from lensyard.domain.situation import PlayKind
from lensyard.errors import LensyardError
from lensyard.features.game_log.compute import going_on
from lensyard.features.next_play.compute import NextAnswer, NextRequest, next_play
from lensyard.features.next_play.report import next_report
from lensyard.render.theme import THEMES

PAGE_COMES_S = 3.0
"""Until then a browser's own first run is not held up by what is made for later. [s]"""


def first_answer(query: str, cookies: Mapping[str, str]) -> str:
    """Return what the page says first to an address, as HTML.

    - ``query``: of the address.
    - ``cookies``: of the browser, which remembers its kit.

    What cannot be answered is left to the page, which says why; so is what the owner's game has a
    say in, and guests, who may have one of their own. Once the page has come, the plan is solved
    that a place to stand asks for.
    """
    if any(name.startswith(guest_cookie("")) for name in cookies):
        return ""
    usual = from_memory(cookies.get(KIT_COOKIE, ""))
    address = from_address(parse_qs(query), usual=usual)
    controls = address.controls
    with suppress(LensyardError, ValueError):
        if address.issues or controls.play is not PlayKind.SCRIMMAGE or going_on(None):
            return ""
        answer = answer_to(controls)
        x, y = answer.spot.x_yd, answer.spot.y_yd
        here = standing_text(x_yd=x, y_yd=y, venue=controls.venue())
        solving = Timer(PAGE_COMES_S, answer_to, [replace(controls, standing=here)])
        solving.daemon = True
        solving.start()
        return first_html(next_report(answer), THEMES[controls.theme])
    return ""


def answer_to(controls: Controls, *, have: tuple[str, ...] = ()) -> NextAnswer:
    """Return the answer to a snap; ``have`` are ticked frames of the assignment."""
    return next_play(controls.answering(), request_of(controls, have=have), keep=True)


def request_of(controls: Controls, *, have: tuple[str, ...] = ()) -> NextRequest:
    """Return what the controls ask; ``have`` are ticked frames of the assignment."""
    venue = controls.venue()
    return NextRequest(
        situation=controls.situation(),
        kit=controls.kit(),
        venue=venue,
        assignment=controls.assignment(),
        direction=controls.direction(venue),
        standing=controls.standing or None,
        top=controls.top,
        by_value=controls.by_value,
        ball_changed_hands=controls.changed_hands,
        walk_time=controls.walk_time(),
        least_usable=controls.least_usable,
        have=have,
    )
