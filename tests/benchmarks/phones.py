"""``python -m tests.benchmarks.phones``: twenty phones on one dashboard, each tapping now and then.

Every phone is a session of its own over the server's WebSocket, as a browser opens it: it presses a
distance, waits until the answer has come whole, and looks whether that is the answer it asked for.
No browser draws here; `tests.benchmarks.dashboard` says what drawing takes.
"""

from __future__ import annotations

import argparse
import subprocess
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from urllib.parse import urlencode

import numpy as np
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.proto.WidgetStates_pb2 import WidgetState
from tests.benchmarks.served import OWNER, served
from websockets.sync.client import ClientConnection, connect

from lensyard.dashboard.gate import token_cookie

PHONES, EVERY_S, LASTS_S = 20, 10.0, 90.0
WAIT_S = 60.0
_MOST_BYTES = 1 << 24


@dataclass
class Phone:
    """One phone: the ball lies on a yard line of its own, so that no two ask the same.

    - ``standing``: where its owner stands, as an address says it; empty where nobody said.
    """

    address: str
    own_yard: int
    standing: str = ""
    times_s: list[float] = field(default_factory=list)
    mixed_up: int = 0

    def use(self, *, until: float, every_s: float, rng: Random) -> None:
        """Open the page and press distances until a time of `time.monotonic`."""
        host = self.address.removeprefix("http://")
        with connect(
            f"ws://{host}/_stcore/stream",
            origin=self.address,
            subprotocols=["streamlit"],
            additional_headers={"Cookie": f"{token_cookie(host.rpartition(':')[2])}={OWNER}"},
            max_size=_MOST_BYTES,
        ) as socket:
            query = self._query(10)
            ask = BackMsg()
            ask.rerun_script.query_string = query
            page = _answer(socket, ask)
            time.sleep(rng.uniform(0, every_s))
            while time.monotonic() < until:
                distance = rng.randint(1, 9)
                start = time.perf_counter()
                said = _answer(socket, page.press(distance, query))
                self.times_s.append(time.perf_counter() - start)
                page.take(said)
                self.mixed_up += f"and {distance} at its own {self.own_yard}" not in said.lead
                query = self._query(distance)
                time.sleep(max(0.0, every_s - (time.perf_counter() - start)))

    def _query(self, distance: int) -> str:
        asked = {"down": 1, "distance": distance, "ball": f"own{self.own_yard}"}
        return urlencode(asked | ({"standing": self.standing} if self.standing else {}))


@dataclass
class Page:
    """What a phone knows of its page: widgets by key with their fragment, and the answer."""

    script: str = ""
    widgets: dict[str, tuple[str, str]] = field(default_factory=dict)
    lead: str = ""

    def take(self, other: Page) -> None:
        """Take over what a later answer said."""
        self.widgets |= other.widgets
        self.script = other.script or self.script

    def press(self, distance: int, query: str) -> BackMsg:
        """Return the request of a browser in which a distance was pressed."""
        widget, fragment = self.widgets["next_distance_yd"]
        ask = BackMsg()
        run = ask.rerun_script
        run.query_string, run.page_script_hash, run.fragment_id = query, self.script, fragment
        state = WidgetState(id=widget)
        state.string_array_value.data.append(str(distance))
        run.widget_states.widgets.append(state)
        return ask


def _answer(socket: ClientConnection, ask: BackMsg) -> Page:
    """Send a request and return what was said until the run that answers it had ended."""
    socket.send(ask.SerializeToString())
    page, message = Page(), ForwardMsg()
    while True:
        message.ParseFromString(socket.recv(WAIT_S))
        kind = message.WhichOneof("type")
        if kind == "new_session":
            page.script = message.new_session.page_script_hash
        elif kind == "delta" and message.delta.WhichOneof("type") == "new_element":
            element = message.delta.new_element
            if element.WhichOneof("type") == "html":
                page.lead += element.html.body
            elif element.WhichOneof("type") == "button_group":
                widget = element.button_group.id
                key = widget.rpartition("-")[2]
                page.widgets[key] = widget, message.delta.fragment_id
        cut_short = message.script_finished == ForwardMsg.FINISHED_EARLY_FOR_RERUN
        if kind == "script_finished" and not cut_short:
            return page


def _memory_mb(port: str) -> float:
    """Return the resident memory of the server that listens on a port, as Linux tells it. [MB]"""
    found = subprocess.run(
        ["pgrep", "-f", f"dashboard.server .* {port}"], capture_output=True, text=True, check=True
    )
    status = Path(f"/proc/{found.stdout.split()[0]}/status").read_text(encoding="ascii")
    peak = next(line for line in status.splitlines() if line.startswith("VmHWM"))
    return float(peak.split()[1]) / 1e3


def main() -> None:
    """Let phones tap, and print how long they waited, the memory, and what was mixed up."""
    parser = argparse.ArgumentParser(description="twenty phones on one dashboard")
    parser.add_argument("--phones", type=int, default=PHONES)
    parser.add_argument("--seconds", type=float, default=LASTS_S)
    asked = parser.parse_args()
    for count in (1, asked.phones):
        with served() as address:
            phones = [Phone(address, own_yard=10 + i) for i in range(count)]
            until = time.monotonic() + (asked.seconds if count > 1 else 20.0)
            threads = [
                threading.Thread(
                    target=phone.use,
                    kwargs={"until": until, "every_s": EVERY_S / (10 if count == 1 else 1)}
                    | {"rng": Random(i)},
                )
                for i, phone in enumerate(phones)
            ]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            memory = _memory_mb(address.rpartition(":")[2])
        times = [time_s for phone in phones for time_s in phone.times_s]
        median, high = np.percentile(times, [50, 95]) * 1e3
        print(
            f"{count:3} phones: {len(times):4} taps, {median:.0f} ms median, {high:.0f} ms at the "
            f"95th percentile, {memory:.0f} MB at most, "
            f"{sum(phone.mixed_up for phone in phones)} answers mixed up"
        )


if __name__ == "__main__":
    main()
